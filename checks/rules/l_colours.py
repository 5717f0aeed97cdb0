"""L: the colours the text gives against the book's for the traced role."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor
from ..findings import ERROR, NOTE, SEVERITIES, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import EARTH, LINES, Stage
from ..trade.colours import Colour, code_of, known, written

Wrong = tuple[Conductor, str, str]
PRACTICE = "common practice, no published source"
BOOKS = {
    "nfpa70": "NFPA 70 200.6, 250.119; 200.7 (from memory)",
    "abyc-e11": "ABYC E-11 Tables XIV, XV",
    "iec60364": "IEC 60445:2021",
}
GREEN = ("GN", "GNYE")
ROLES = {
    "N": "a neutral",
    EARTH: "protective earth",
    "+": "a DC positive",
    "-": "a DC negative",
}
# What a book does not fix, and so is no more than a note: its lines and its direct current.
FREE = {"nfpa70": (*LINES, "+", "-")}


def _coloured(stage: Stage) -> Iterator[tuple[Conductor, str, str]]:
    """The conductors whose colour is written, with it and their role; the dead ones left out."""
    for conductor in stage.rig.conductors.values():
        if "colours" in conductor.attrs and conductor.kind != "bond":
            role = stage.conductor_role(conductor.name)
            if role:
                yield conductor, written(conductor), role


def _aboard(stage: Stage) -> bool:
    """Whether a source in some mode gives alternating current."""
    return any(not source.dc for view in stage.modes for source in view.live.values())


def _said(role: str) -> str:
    return ROLES.get(role, f"a line ({role})")


@rule("L02", "green-is-live", clauses=BOOKS)
def green_is_live(stage: Stage) -> Iterator[Hit]:
    """A green or green-yellow conductor that is not protective earth.

    Why: whoever opens the box takes hold of the green one, because it is earth.
    Breaks it: the third core of a cable, green, used as a second line; a green DC negative.
    Does not: a green `bond`; green for protective earth; green with a stripe of another colour.
    """
    found: dict[str, list[Wrong]] = {}
    for conductor, colour, role in _coloured(stage):
        if code_of(colour) in GREEN and role != EARTH:
            what = f"{conductor.name} is {colour} and {_said(role)}"
            found.setdefault(conductor.statement, []).append((conductor, what, ERROR))
    yield from map(_hit, found.values())


@rule(
    "L01",
    "colour-against-role",
    WARNING,
    clauses=BOOKS,
    yields_to=("S08", "S15", "B04"),
    follows=("L02",),
)
def colour_against_role(stage: Stage) -> Iterator[Hit]:
    """A conductor whose colour is not one that its book has for the role it was traced to.

    White (or blue) for a line, a line's colour for a neutral, and anything but green for earth are
    errors: the colour names another role.  A colour the book merely does not list is a warning, or
    a note where the book fixes none.
    Why: the colour is what the next person believes.
    Breaks it: `colours=white,black,green` on a cable whose first core is the line.
    Does not: conductors without `colours=`, which are drawn in the book's own; a book's second
    choice (brown for a line in North America).
    """
    aboard = _aboard(stage)
    found: dict[str, list[Wrong]] = {}
    for conductor, colour, role in _coloured(stage):
        if not known(colour) or (code_of(colour) in GREEN and role != EARTH):
            continue
        allowed = stage.book.colours(role, aboard)
        if not allowed or _is_one_of(colour, allowed) or (colour == "bare" and role == EARTH):
            continue
        usual = " or ".join(own.name for own in allowed[:2])
        what = f"{conductor.name} is {colour} and {_said(role)}, which is {usual}"
        wrong = (conductor, what, _gravity(stage, role, colour))
        found.setdefault(conductor.statement, []).append(wrong)
    yield from map(_hit, found.values())


def _is_one_of(colour: str, allowed: tuple[Colour, ...]) -> bool:
    code = code_of(colour)
    return any(colour == own.name or (code and code == own.code) for own in allowed)


def _gravity(stage: Stage, role: str, colour: str) -> str:
    """How bad a colour is for a role: an error where it is what the book keeps for another."""
    reserved = role in LINES and _is_one_of(colour, stage.book.colours("N"))
    if reserved or role in ("N", EARTH):
        return ERROR
    return NOTE if role in FREE.get(stage.book.name, ()) else WARNING


def _hit(found: list[Wrong]) -> Hit:
    """One finding for all wrong cores of a cable, as grave as the worst."""
    first = found[0][0]
    return Hit(
        on=tuple(conductor.name for conductor, _, _ in found),
        span=first.span_of("colours"),
        message="; ".join(what for _, what, _ in found),
        fix=f"land the cores of {first.statement} by their colours, or put its colours right"
        if first.cable
        else f"take another conductor for {first.name}, of a colour for what it is",
        severity=min((severity for _, _, severity in found), key=SEVERITIES.index),
        cause=first.statement,
    )


@rule(
    "L03",
    "black-twice",
    WARNING,
    clauses={"abyc-e11": "ABYC E-11: yellow where AC black is aboard (from memory)", "": PRACTICE},
)
def black_twice(stage: Stage) -> Iterator[Hit]:
    """A black DC negative in the place, panel or route of a black AC line.

    Why: the one is dead to touch, the other kills, and they look alike.
    Breaks it: black DC negatives in a panel with the black lines of a shore supply.
    Does not: yellow for the DC negative; brown for the line; two that never come near each other.
    """
    lines: dict[str, Conductor] = {}
    negatives: dict[str, list[tuple[Conductor, str]]] = {}
    for conductor, colour, role in _coloured(stage):
        if code_of(colour) != "BK":
            continue
        for where in _where(stage, conductor):
            if role in LINES:
                lines.setdefault(where, conductor)
            elif role == "-":
                negatives.setdefault(where, []).append((conductor, where))
    told: dict[str, tuple[Conductor, str]] = {}
    for where, found in negatives.items():
        if where in lines:
            told.update({conductor.name: (conductor, where) for conductor, _ in found})
    if told:
        first, where = next(iter(told.values()))
        yield Hit(
            on=(*told, lines[where].name),
            span=first.span_of("colours"),
            message=f"the DC negative {first.name} and the AC line {lines[where].name} are both "
            f"black in {where}",
            fix="take yellow for the DC negative, or brown for the line",
            related=(Related(lines[where].span_of("colours"), "black and live"),),
        )


def _where(stage: Stage, conductor: Conductor) -> set[str]:
    """The places, panels and routes a conductor is in."""
    found = set(conductor.via)
    for end in (conductor.a, conductor.b):
        device = stage.rig.devices.get(end.device)
        if device:
            found |= {name for name in (device.panel, stage.rig.place_of(device)) if name}
    return found


@rule(
    "L04",
    "systems-of-one-colour",
    WARNING,
    clauses={"nfpa70": "NFPA 70 210.5(C) (from memory)", "": PRACTICE},
)
def systems_of_one_colour(stage: Stage) -> Iterator[Hit]:
    """Lines of two AC systems of different voltage in one colour.

    Why: 208 V on a 120 V tool, because black was black.
    Breaks it: black for the lines of a 120 V supply and of a 240 V generator.
    Does not: a shore supply and an inverter of the same voltage, which feed the same circuits.
    """
    seen: dict[str, dict[tuple[float, int], Conductor]] = {}
    for conductor, colour, role in _coloured(stage):
        if role in LINES:
            system = _system(stage, conductor)
            if system:
                seen.setdefault(code_of(colour), {}).setdefault(system, conductor)
    for code, systems in seen.items():
        if len(systems) > 1 and code:
            (one, first), (two, second) = list(systems.items())[:2]
            yield Hit(
                on=(second.name, first.name),
                span=second.span_of("colours"),
                message=f"the lines of the {one[0]:g} V and the {two[0]:g} V system are both "
                f"{written(first)}: {first.name}, {second.name}",
                fix="give each system a colour of its own, and post the key at each panel",
                related=(Related(first.span_of("colours"), "the other system"),),
            )


def _system(stage: Stage, conductor: Conductor) -> tuple[float, int] | None:
    """Nominal voltage and number of lines of the system a conductor belongs to."""
    for view in stage.modes:
        for name in view.sources(conductor.a.device, conductor.a.terminal):
            source = view.live[name]
            if source.volts and not source.dc:
                return source.volts, len(source.lines)
    return None


@rule("L09", "colour-unknown", WARNING, clauses={"": "IEC 60757:2021"})
def colour_unknown(stage: Stage) -> Iterator[Hit]:
    """A word in `colours=` that names no colour.

    Why: it cannot be drawn or bought, and no rule on colours looks at it.
    Breaks it: `colours=blak,white,green`.
    Does not: the names of the trade, the letter codes of IEC 60757, `bare`, two joined by a hyphen.
    """
    for conductor in stage.rig.conductors.values():
        if "colours" in conductor.attrs and not known(written(conductor)):
            yield Hit(
                on=(conductor.name,),
                span=conductor.span_of("colours"),
                message=f"`{written(conductor)}` of {conductor.name} is no colour",
                fix="take a name or a letter code: black BK, brown BN, red RD, blue BU, white WH …",
            )


@rule("L11", "colour-changes", NOTE, clauses={"": PRACTICE}, yields_to=("L01", "L02"))
def colour_changes(stage: Stage) -> Iterator[Hit]:
    """A conductor that goes on in another colour behind a splice or a terminal of a row.

    Why: at the far end nobody can tell which of the conductors in the duct it is.
    Breaks it: a black core and a red one on the two sides of `XB.1`.
    Does not: one colour through; colours that the text does not give; a bar, where many meet.
    """
    found: dict[str, list[tuple[Conductor, str]]] = {}
    for (name, terminal), ends in stage.landings.items():
        kind = stage.rig.devices[name].kind
        if kind in ("block", "joint"):
            where = name if kind == "joint" else f"{name}.{terminal}"
            said = [(c, written(c)) for c, _ in ends if "colours" in c.attrs]
            found.setdefault(where, []).extend(said)
    for where, here in found.items():
        first = here[0] if here else None
        other = next((pair for pair in here if first and pair[1] != first[1]), None)
        if first and other:
            yield Hit(
                on=(other[0].name, first[0].name, where.split(".")[0]),
                span=other[0].span_of("colours"),
                message=f"{first[0].name} is {first[1]} and goes on as {other[0].name}, "
                f"{other[1]}, at {where}",
                fix="keep one colour from end to end, or mark both ends",
                related=(Related(first[0].span_of("colours"), "comes as"),),
            )
