"""Neutral, negative and earth: a rail for each system's neutral, the joints, and the chassis.

The power path leaves these out.  Here each source that stands alone in some mode has a rail with
the bars it owns, every joint of it with earth says in which modes it is closed, and one rail of
protective earth runs below them all, down to the chassis.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ..checks.tracing.trace import ModeView, Stage
from ..dsl.kinds import kinds
from ..dsl.model import Conductor, Rig
from .marks import Box
from .metrics import T18, wrap
from .single_line_graph import OneLine
from .single_line_look import Look
from .single_line_parts import GAP, Dot, Glyph, Label, Options, Piece, Plain, Rail, text_size
from .single_line_text import conductor_words

COLUMN = 46.0  # of one joint with its words
TEXT = 34.0
TEXT_X = 5.0
TOP = 2.0
_AT = {kind: f"at the {kind}" for kind in ("supply", "generator", "transformer")}
OPEN_WORDS = "no joint with earth"


@dataclass(slots=True)
class System:
    """What is one neutral, or one negative, in some mode: its sources, bars and joints with earth.

    ``joints`` gives, for each joint's owner and manner, the modes it is closed in.
    """

    pole: str
    sources: list[str] = field(default_factory=list)
    bars: list[str] = field(default_factory=list)
    joints: dict[tuple[str, str], list[str]] = field(default_factory=dict)

    @property
    def key(self) -> str:
        return f"{self.pole}-{self.sources[0]}"


def systems(stage: Stage, graph: OneLine) -> list[System]:
    """The neutrals and negatives of all modes: what any mode joins is drawn as one."""
    union: dict[tuple[str, str], tuple[str, str]] = {}

    def top(item: tuple[str, str]) -> tuple[str, str]:
        while union.setdefault(item, item) != item:
            item = union[item]
        return item

    for mode in stage.modes:
        nets: dict[int, tuple[str, str]] = {}
        for name, source in mode.live.items():
            me = (name, source.grounded)
            node = source.nodes.get(source.grounded)
            union[top(me)] = top(nets.setdefault(mode.net[node], me) if node is not None else me)
        for bar in graph.apart:
            for owner in _owners(mode, stage, bar):
                union[top(("bar " + bar, owner[1]))] = top(owner)
    order = {name: i for i, name in enumerate(stage.rig.devices)}
    found: dict[tuple[str, str], System] = {}
    for item in sorted(union, key=lambda it: order[it[0].removeprefix("bar ")]):
        system = found.setdefault(top(item), System(item[1]))
        into = system.bars if item[0].startswith("bar ") else system.sources
        into.append(item[0].removeprefix("bar "))
    _joints(stage, {key: found[top(key)] for key in union})
    return [system for system in found.values() if system.sources]


def _owners(mode: ModeView, stage: Stage, bar: str) -> Iterator[tuple[str, str]]:
    """The sources whose neutral or negative a bar carries in a mode."""
    for terminal in stage.rig.devices[bar].terminals:
        role = mode.role(bar, terminal.name)
        if role in ("N", "-"):
            for source in mode.sources(bar, terminal.name):
                if source in mode.live and mode.live[source].grounded == role:
                    yield source, role


def _joints(stage: Stage, found: Mapping[tuple[str, str], System]) -> None:
    """Enters every closed joint of every mode under its system."""
    for mode in stage.modes:
        for bond in mode.bonds:
            source = mode.live[bond.source]
            system = found[(bond.source, source.grounded)]
            modes = system.joints.setdefault((bond.owner, bond.how), [])
            modes += [mode.name] if mode.name not in modes else []


def earthed(stage: Stage, graph: OneLine) -> list[str]:
    """The devices that carry earth and nothing else: bars, panels, the chassis."""
    def role(name: str) -> str:
        if stage.rig.devices[name].kind == "earth":
            return "PE"
        landed = [t.name for t in stage.rig.devices[name].terminals]
        roles = (mode.role(name, t) for mode in stage.modes for t in landed)
        return next((r for r in roles if r), "") or _by_wires(graph, name)

    return [name for name in graph.apart if role(name) == "PE"]


def _by_wires(graph: OneLine, name: str) -> str:
    for c in graph.rig.conductors.values():
        if name in (c.a.device, c.b.device) and graph.roles[c.name]:
            return graph.roles[c.name]
    return ""


def piece(stage: Stage, look: Look, width: float) -> tuple[list[Piece], list[str]]:
    """The pieces of neutral and earth, and the names of what stands in none of them."""
    found = systems(stage, look.graph)
    earth = earthed(stage, look.graph)
    shown = {name for system in found for name in system.bars} | set(earth)
    left = [name for name in look.graph.apart if name not in shown]
    pieces = []
    groups = list(_groups(found, width)) or ([[]] if earth else [])
    for index, group in enumerate(groups):
        pieces.append(_draw(stage, look, group, earth if index == 0 else [], index, width))
    return pieces, left


def _groups(found: Sequence[System], width: float) -> Iterator[list[System]]:
    group: list[System] = []
    used = 0.0
    for system in found:
        mine = _width(system)
        if group and used + mine > width - 8:
            yield group
            group, used = [], 0.0
        group.append(system)
        used += mine
    if group:
        yield group


def _width(system: System) -> float:
    return COLUMN * max(1, len(system.joints))


def _draw(
    stage: Stage, look: Look, group: Sequence[System], earth: Sequence[str], index: int,
    width: float,
) -> Piece:  # fmt: skip
    piece = Piece("earth", index=index)
    heads = [_heading(stage, look, system) for system in group]
    head_high = max((text_size(lines, True)[1] for lines in heads), default=0.0)
    title = ("Neutral, negative and earth" + (", continued" if index else ""),)
    piece.add(Label("earth", 0.0, TOP, title, True))
    rail_y = TOP + 6.0 + head_high + GAP + 0.7
    words = [[_joint_words(stage, key, modes) for key, modes in s.joints.items()] for s in group]
    joint_high = max([14.0, *(text_size(w, True)[1] + 4 for ws in words for w in ws)])
    earth_y = rail_y + joint_high
    x = 0.0
    for system, lines, texts in zip(group, heads, words, strict=True):
        wide = _width(system)
        _rail(piece, f"neutral-{system.key}", " ".join(lines), x, x + wide - 6, rail_y)
        piece.add(Label(system.key, x, rail_y - head_high - GAP - 0.7, lines, True))
        for number, (key, text) in enumerate(zip(system.joints, texts, strict=True)):
            owner = stage.rig.devices.get(key[0])
            relay = owner is not None and owner.flag("bonds")
            _joint(piece, look, key[0], text, x + 6 + number * COLUMN, rail_y, earth_y, relay)
        x += wide
    right = max(x - 6, COLUMN - 6, min(width, 44.0 * _hung_columns(stage.rig, earth)) - 6)
    _rail(piece, "protective-earth", "Protective earth", 0.0, right, earth_y)
    _earth(piece, look, stage.rig, earth, right, earth_y)
    return piece


def _heading(stage: Stage, look: Look, system: System) -> tuple[str, ...]:
    wide = _width(system) - 8
    made = dict.fromkeys(look.source_system(source) for source in system.sources)
    about = ", ".join(word for word in made if word.endswith("DC") == (system.pole == "-"))
    name = "N" if system.pole == "N" else "−"
    lines = [f"of {', '.join(system.sources)}", about]
    lines += [f"bars {', '.join(system.bars)}"] if system.bars else []
    lines += [] if system.joints else [OPEN_WORDS]
    return (name, *(part for line in lines for part in wrap(line, T18, wide)))


def _joint_words(stage: Stage, key: tuple[str, str], modes: Sequence[str]) -> tuple[str, ...]:
    owner, how = key
    device = stage.rig.devices.get(owner)
    conductor = stage.rig.conductors.get(owner)
    what = {"inside": "inside", "bond": "bond", "joined": "joined by it"}[how]
    if conductor is not None:
        what = " ".join(conductor_words(conductor)).removeprefix(owner).strip()
    elif device is not None:
        what = "its relay" if device.flag("bonds") else _AT.get(device.kind, what)
    always = len(modes) == len(stage.modes)
    when = "closed in all modes" if always else "closed in " + ", ".join(modes)
    return (owner, *wrap(what, T18, TEXT), *wrap(when, T18, TEXT))


def _joint(
    piece: Piece, look: Look, owner: str, text: Sequence[str],
    x: float, top: float, bottom: float, relay: bool,
) -> None:  # fmt: skip
    """A joint between a neutral's rail and the rail of earth, with the modes it is closed in."""
    options: Options = (("switched", True),) if relay else ()
    stencil = look.glyph("bond", options)
    sign = Glyph(f"bond-{owner}", "bond", x, top, options, " ".join(text))
    piece.add(sign, stencil.box.moved(x, top))
    piece.add(Plain(((x, top + stencil.height), (x, bottom))))
    piece.add(Dot(x, top))
    piece.add(Dot(x, bottom))
    piece.add(Label(f"bond-{owner}", x + TEXT_X, top + 2.2, tuple(text), True))


def _rail(piece: Piece, id: str, title: str, x: float, right: float, y: float) -> None:
    piece.add(Rail(id, title, x, right, y), Box(x, y - 0.8, right, y + 0.8))


# ---- below the rail of earth ---------------------------------------------------------------------


def _hung(rig: Rig, earth: Sequence[str]) -> list[str]:
    """What is hung below the rail with its symbol: the chassis, hull or electrode."""
    return [name for name in earth if rig.devices[name].kind == "earth"]


def _hung_columns(rig: Rig, earth: Sequence[str]) -> int:
    return len(_hung(rig, earth)) + 1


def _earth(
    piece: Piece, look: Look, rig: Rig, earth: Sequence[str], right: float, y: float
) -> None:
    hung = _hung(rig, earth)
    others = [name for name in earth if name not in hung]
    words = ", ".join(f"{name} {rig.devices[name].label}".strip() for name in others)
    lines = ("PE", *wrap(words, T18, TEXT + 2))
    piece.add(Label("protective-earth", 0.0, y + GAP + 0.7, lines, True))
    x = 44.0
    row_y = y
    for name in hung:
        _chassis(piece, look, rig, name, x + 4, row_y)
        x += 44.0


def _chassis(piece: Piece, look: Look, rig: Rig, name: str, x: float, y: float) -> None:
    """An earth device hung on the rail, with the conductors that land on it."""
    stencil = look.glyph("chassis", ())
    device = rig.devices[name]
    landed = [c for c in rig.conductors.values() if name in (c.a.device, c.b.device)]
    facts = [" ".join((*conductor_words(c), _other(c, name))) for c in landed]
    told = (word for fact in (device.label, *facts) for word in wrap(fact, T18, TEXT))
    words = (name, *told)
    sign = Glyph(f"dev-{name}", "chassis", x, y, (), f"{name} {device.label}")
    piece.add(sign, stencil.box.moved(x, y))
    piece.add(Dot(x, y))
    piece.add(Label(name, x + TEXT_X, y + GAP + 0.9, tuple(words), True))


def _other(conductor: Conductor, name: str) -> str:
    far = conductor.b if conductor.a.device == name else conductor.a
    return f"to {far.device}"


# ---- what stands nowhere else --------------------------------------------------------------------


def elsewhere(look: Look, names: Sequence[str], width: float) -> list[Piece]:
    """Devices in no power path, neutral or earth that is reached: their symbols and names."""
    if not names:
        return []
    across = max(1, int(width // COLUMN))
    rows = [names[i : i + across] for i in range(0, len(names), across)]
    pieces = []
    for index, row in enumerate(rows):
        piece = Piece("elsewhere", index=index)
        piece.add(Label("elsewhere", 0.0, TOP, ("Not in a power path",), True))
        for column, name in enumerate(row):
            _lone(piece, look, name, column * COLUMN + 6, TOP + 7.0)
        pieces.append(piece)
    return pieces


def _lone(piece: Piece, look: Look, name: str, x: float, y: float) -> None:
    device = look.graph.rig.devices[name]
    glyph = kinds()[device.kind].symbol
    options: Options = (("length", 8.0),) if glyph == "bus" else ()
    stencil = look.glyph(glyph, options)
    left = x - 4 if glyph == "bus" else x
    sign = Glyph(f"dev-{name}", glyph, left, y, options, f"{name} {device.label}")
    piece.add(sign, stencil.box.moved(left, y))
    text_x = max(x + TEXT_X, left + stencil.box.right + GAP)
    piece.add(Label(name, text_x, y, (name, *wrap(device.label, T18, TEXT - 2)), True))
