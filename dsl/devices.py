"""Devices: their terminals, and where they stand."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from .items import Given
from .kinds import Kind, Variant, kinds
from .model import Device, Part, Quantity, Range, Span, Terminal
from .problems import did_you_mean, listed
from .records import record
from .units import Bad

GRIPS = ("stud", "screw", "plate", "loop", "spring")
POLES = {"1": 1, "2": 2, "3": 3, "4": 4, "1N": 2, "3N": 4}
_AT = re.compile(r"([A-Za-z][A-Za-z0-9_-]*)(?:\.(\d{1,4})(?:-(\d{1,4}))?)?")


class Nowhere(Bad):
    """``at=`` names something that is not there, or not so; ``place`` is the name it gives."""

    def __init__(self, place: str, message: str, expected: str, hint: str = "") -> None:
        super().__init__(message, expected, hint)
        self.place = place


@record
class Draft:
    """A device as its statement (and the changes to it) say, before its part is applied."""

    kind: str
    name: str
    label: str
    given: Given
    span: Span


def with_part(draft: Draft, parts: Mapping[str, Part]) -> Given:
    """Everything said about a device: its own items on top of its part's."""
    part = parts.get(draft.given.part)
    if part is None:
        return draft.given
    spans = {key: part.attr_spans[key] for key in part.attrs if key in part.attr_spans}
    return draft.given.over(Given(dict(part.attrs), spans))


def build(
    draft: Draft,
    parts: Mapping[str, Part],
    places: Mapping[str, object],
    panels: Mapping[str, object],
) -> Device:
    """The device of a draft; raises ``Bad`` where its terminals or its place cannot be told."""
    kind = kinds()[draft.kind]
    given = with_part(draft, parts)
    variant = kind.choose(given.attrs)
    place, panel, ways = stands(kind, given, places, panels)
    return Device(
        name=draft.name,
        label=draft.label,
        attrs=given.attrs,
        span=draft.span,
        attr_spans=given.spans,
        kind=draft.kind,
        variant=variant.name,
        terminals=terminals(kind, variant, given),
        place=place,
        panel=panel,
        ways=ways,
        part=given.part or None,
    )


def terminals(kind: Kind, variant: Variant, given: Given) -> tuple[Terminal, ...]:
    """The device's terminals in the kind's order, under the names its part gives them."""
    names = _names(kind, variant, given)
    holds = given.attrs.get("holds")
    clamp, torque, stud = (given.attrs.get(key) for key in ("clamp", "torque", "stud"))
    return _landings(
        names,
        holds if isinstance(holds, int) else (kind.holds or None),
        clamp if isinstance(clamp, Range) else None,
        stud if isinstance(stud, str) else None,
        torque if isinstance(torque, Quantity) else None,
        next((grip for grip in GRIPS if grip in given.attrs), "clamp"),
    )


@lru_cache(maxsize=4096)
def _landings(
    names: tuple[str, ...],
    holds: int | None,
    clamp: Range | None,
    stud: str | None,
    torque: Quantity | None,
    grip: str,
) -> tuple[Terminal, ...]:
    return tuple(Terminal(name, holds, clamp, stud, torque, grip) for name in names)


def _names(kind: Kind, variant: Variant, given: Given) -> tuple[str, ...]:
    renamed = given.attrs.get("terminals")
    own = variant.terminals
    if variant.numbered in ("all", "alone"):
        count = given.attrs.get("positions", len(renamed) if isinstance(renamed, tuple) else None)
        if not isinstance(count, int):
            raise Bad(f"how many terminals has this {kind.name}?", "positions=…", "add positions=N")
        own = tuple(str(n) for n in range(1, count + 1))
    if not isinstance(renamed, tuple):
        return own
    if len(renamed) != len(own):
        raise Bad(
            f"{len(renamed)} terminal names for {len(own)} terminals",
            "a name for each of: " + listed(own),
        )
    return renamed


def stands(
    kind: Kind, given: Given, places: Mapping[str, object], panels: Mapping[str, object]
) -> tuple[str | None, str | None, tuple[int, ...]]:
    """Place, panel and ways of a device, from ``at=``; raises ``Bad``.

    ``at=AP.4`` takes as many ways from 4 on as ``ways=`` says, or else as the device has poles (a
    switched neutral counts).  ``at=AP.4-5`` takes exactly those.
    """
    text = given.attrs.get("at")
    if text is None:
        return None, None, ()
    found = _AT.fullmatch(str(text))
    if not found:
        expected = "a place, a panel, or ways of one: REAR, AP, AP.3, AP.3-4"
        raise Nowhere("", f"`at` cannot be {str(text)[:40]}", expected)
    name, first, last = found.groups()
    if name in panels:
        return None, name, _ways(kind, given, int(first), last) if first else ()
    if name not in places:
        known = [*places, *panels]
        message, hint = f"there is no place or panel `{name}`", did_you_mean(name, known)
        expected = "one of: " + listed(known) if known else "a `place` or `panel` of that name"
        raise Nowhere(name, message, expected, hint)
    if first:
        raise Nowhere(
            name, f"`{name}` is a place, it has no ways", f"at={name}, or ways of a panel"
        )
    return name, None, ()


def _ways(kind: Kind, given: Given, first: int, last: str | None) -> tuple[int, ...]:
    wide = ways_of(kind, given)
    if last is None:
        return tuple(range(first, first + wide))
    taken = tuple(range(first, int(last) + 1))
    if not taken or ("ways" in given.attrs and len(taken) != wide):
        raise Nowhere(
            "",
            f"at={given.attrs['at']} is {len(taken)} ways, the device covers {wide}",
            f"ways {first}-{first + wide - 1}" if wide > 1 else f"way {first} alone",
        )
    return taken


def ways_of(kind: Kind, given: Given) -> int:
    """How many ways of a panel a device covers: what ``ways=`` says, or one a pole."""
    ways = given.attrs.get("ways")
    if isinstance(ways, int):
        return ways
    poles = str(given.attrs.get("poles", kind.choose(given.attrs).name))
    return POLES.get(poles, 1)


def missing_terminal(device: Device, terminal: str) -> tuple[str, str, str]:
    """Message, expectation and hint for a terminal that a device has not got."""
    names = [t.name for t in device.terminals]
    has = f"it has {listed(names)}" if names else "it has none"
    message = f"{device.name} ({_article(device.kind)}) has no terminal {terminal[:40]}"
    hint = "" if "terminals" in device.attrs else _comes_with(device, terminal)
    return message, has, hint or did_you_mean(terminal, names)


def _comes_with(device: Device, terminal: str) -> str:
    """What would give a device a terminal that its kind has in another form; empty if nothing."""
    kind = kinds()[device.kind]
    ways: dict[str, None] = {}
    for variant in reversed(kind.variants):  # the simplest first
        needs = [_worded(w, kind) for w in variant.when if not _met(w, device)]
        if (
            terminal in variant.terminals
            and needs
            and kind.choose(_with(device, variant)) is variant
        ):
            ways.setdefault(" and ".join(needs))
    if ways:
        return f"{terminal} comes with {' or '.join(ways)}"
    if any(terminal in variant.terminals for variant in kind.variants):
        own = next(v for v in kind.variants if v.name == device.variant)
        return f"with {' and '.join(_worded(w, kind) for w in own.when)} it has none"
    return ""


def _with(device: Device, variant: Variant) -> dict[str, object]:
    """A device's attributes with those that a form of its kind asks for."""
    asked = (condition.partition("=") for condition in variant.when)
    return {**device.attrs, **{key: value or True for key, _, value in asked}}


def _met(condition: str, device: Device) -> bool:
    key, _, value = condition.partition("=")
    return key in device.attrs and (not value or str(device.attrs[key]) == value)


def _worded(condition: str, kind: Kind) -> str:
    if "=" in condition:
        return condition
    return f"{condition}=" if condition in kind.attrs else f"the flag `{condition}`"


def _article(noun: str) -> str:
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"
