"""The cut list: every cable and wire with the length to cut, grouped by type, with totals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from math import ceil

from ..checks.tracing.trace import Stage
from ..dsl.model import Cable, Conductor, Rig
from ..dsl.records import record
from .colours import colours_of
from .ends import is_ready
from .schedule import RIGHT, TICK, Column, Row, Schedule, Section
from .units import spaced_size
from .wiring import conductor_id, natural, place_name

DOC = "Cut list"


@record
class Allowance:
    """What is cut more than the length: m for each end, a share for the way, up to a step in m."""

    end_m: float = 0.0
    share: float = 0.0
    step_m: float = 0.01

    def cut_m(self, length_m: float) -> float:
        """The length to cut, m, for a conductor of that length from terminal to terminal."""
        steps = (length_m * (1 + self.share) + 2 * self.end_m) / self.step_m
        return round(ceil(round(steps, 6)) * self.step_m, 2)


READY = Allowance()
"""A ready-made cord is bought as long as it is."""
LINK, HEAVY = Allowance(0.03, 0.05, 0.01), Allowance(0.06, 0.05, 0.01)
"""Wires from terminal to terminal within one panel or place: an end can be made once more."""
RUN = Allowance(0.15, 0.05, 0.05)
"""Cables, and wires from place to place: free conductor at either end, to strip and to dress."""
HEAVY_MM2 = 10.0
"""Above this an end is made with a lug, which takes more when it is made once more."""

ABSENT = ("planned", "removed")
"""What is not there yet, or no longer: neither cut nor bought."""

COLUMNS = (
    Column("Conductor", bold=True),
    Column("Colour"),
    Column("From"),
    Column("To"),
    Column("Place", "from, to"),
    Column("Route"),
    Column("Length", "m", RIGHT),
    Column("Cut", "m", RIGHT),
    Column("Cut", fill=TICK),
    Column("Pulled", fill=TICK),
)
REMARKS = (
    f"Cut = length from terminal to terminal + {RUN.end_m:g} m for each end + {RUN.share:.0%} for "
    f"the way, to the next {RUN.step_m:g} m; single wires within one panel or place "
    f"{LINK.end_m:g} m for each end (above {HEAVY_MM2:g} mm² {HEAVY.end_m:g} m), to the next "
    f"{LINK.step_m:g} m (common practice, no published source). Ready-made cords: as long as they "
    "are, nothing is added. Measure the way on the rig before cutting.",
    "What is planned or removed is not in the list.",
)


@record
class Piece:
    """One piece off a reel: ``reel`` says which, ``type`` leaves out its colour; lengths in m."""

    name: str
    reel: str
    type: str
    colour: str
    a: str
    b: str
    place: str
    route: str
    length_m: float
    allowance: Allowance
    rank: tuple[float, int, str]

    @property
    def ready(self) -> bool:
        """Whether it is bought as it is, with its plug."""
        return self.allowance is READY

    @property
    def cut_m(self) -> float:
        return self.allowance.cut_m(self.length_m)


@lru_cache(maxsize=8)
def pieces(stage: Stage) -> tuple[Piece, ...]:
    """Every cable, wire and bond of the stage that is to be cut or bought, in natural order."""
    rig = stage.rig
    singles = [c for c in rig.conductors.values() if c.kind in ("wire", "bond")]
    found = [_single(stage, single) for single in singles if single.status not in ABSENT]
    found += [_cable(stage, c) for c in rig.cables.values() if c.status not in ABSENT]
    return tuple(sorted(found, key=lambda piece: natural(piece.name)))


def _single(stage: Stage, conductor: Conductor) -> Piece:
    size = conductor.size
    colour = colours_of(stage)[conductor.name]
    code = colour.code or colour.name
    text = spaced_size(size.text) if size else ""
    reel, kind = (_reel(conductor, " ".join(filter(None, words)))
                  for words in ((text, "single", code), (text, "single")))  # fmt: skip
    ends = (conductor.a.name, conductor.b.name)
    mm2 = size.mm2 if size else 0.0
    there = {conductor.a.device, conductor.b.device}
    near = (HEAVY if mm2 > HEAVY_MM2 else LINK) if _within(stage.rig, there) else RUN
    return _piece(stage.rig, conductor, (reel, kind), code, ends, near, (mm2, 1, reel))


def _within(rig: Rig, names: Iterable[str]) -> bool:
    """Whether all these devices stand in one panel, or in one place that the text names."""
    devices = [rig.devices[name] for name in names if name in rig.devices]
    spots = {device.panel or rig.place_of(device) for device in devices}
    places = {rig.place_of(device) for device in devices}
    return any(len(where) == 1 and where != {None} for where in (spots, places))


def _cable(stage: Stage, cable: Cable) -> Piece:
    rig = stage.rig
    cores = [rig.conductors[name] for name in cable.cores]
    colours = (colours_of(stage)[core.name] for core in cores)
    reel = _reel(cable, spaced_size(f"{len(cores)}×{cable.size}"))
    ready = _is_ready(rig, cores)
    reel += ", ready made" if ready else ""
    ends = (_both(core.a.device for core in cores), _both(core.b.device for core in cores))
    code = " ".join(c.code or c.name for c in colours)
    rank = (cable.size.mm2, len(cores), reel)
    return _piece(rig, cable, (reel, reel), code, ends, READY if ready else RUN, rank)


def _is_ready(rig: Rig, cores: Sequence[Conductor]) -> bool:
    """Whether a cable is a cord bought with its plug."""
    ends = ((core, rig.devices.get(end.device)) for core in cores for end in (core.a, core.b))
    return any(device is not None and is_ready(core, device) for core, device in ends)


def _reel(what: Cable | Conductor, size: str) -> str:
    """What comes off one reel: size, type, and what the text says of strands and insulation."""
    kind = what.text("type") or ("cord" if what.flag("cord") else "")
    strands = " ".join(word for word in ("solid", "fine", "tinned") if what.flag(word))
    return " ".join(filter(None, (size, kind, strands, what.text("insulation"))))


def _piece(
    rig: Rig, what: Cable | Conductor, reel: tuple[str, str], colour: str, ends: tuple[str, str],
    allowance: Allowance, rank: tuple[float, int, str],
) -> Piece:  # fmt: skip
    places = (place_name(rig, end.partition(",")[0].partition(".")[0]) for end in ends)
    place = " to ".join(dict.fromkeys(filter(None, places)))
    via = what.attrs.get("via", ())
    route = " ".join(via) if isinstance(via, tuple) else str(via)
    return Piece(what.name, *reel, colour, *ends, place, route, what.length_m, allowance, rank)


def _both(devices: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(devices))


def schedule(stage: Stage) -> Schedule:
    """The pieces by type, thickest first, with totals by what comes off one reel and by type."""
    types: dict[str, list[Piece]] = {}
    for piece in sorted(pieces(stage), key=lambda p: (-p.rank[0], p.rank[1:], natural(p.name))):
        types.setdefault(piece.type, []).append(piece)
    sections = tuple(Section(kind, tuple(_rows(found))) for kind, found in types.items())
    return Schedule("Cables and wires to cut", DOC, COLUMNS, sections, REMARKS)


def _rows(found: Sequence[Piece]) -> Iterator[Row]:
    """The pieces of one type, those of one colour with a total of their own where it has more."""
    reels: dict[str, list[Piece]] = {}
    for piece in found:
        reels.setdefault(piece.reel, []).append(piece)
    for same in reels.values():
        yield from map(_row, same)
        if len(reels) > 1:
            yield _total(f"All {same[0].colour}", same)
    yield _total("Total", found)


def _row(p: Piece) -> Row:
    lengths = (f"{p.length_m:.2f}", f"{p.cut_m:.2f}")
    cut = "" if p.ready else TICK
    return Row((p.name, p.colour, p.a, p.b, p.place, p.route, *lengths, cut, TICK),
               conductor_id(p.name))  # fmt: skip


def _total(word: str, found: Sequence[Piece]) -> Row:
    lengths = (f"{sum(p.length_m for p in found):.2f}", f"{sum(p.cut_m for p in found):.2f}")
    count = f"{len(found)} piece" + "s" * (len(found) > 1)
    return Row((word, count, *[""] * 4, *lengths, "", ""), strong=True)
