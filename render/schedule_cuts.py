"""The cut list: every cable and wire with the length to cut, grouped by what comes off one reel."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..checks.trace import Stage
from ..dsl.model import Cable, Conductor, Rig
from .colours import colours_of
from .schedule import RIGHT, TICK, Column, Row, Schedule, Section
from .units import spaced_size
from .wiring import conductor_id, natural, place_name

DOC = "Cut list"
END_M, SLACK = 0.15, 0.05
"""Allowance: for making and dressing each end, m, and for the way, as a share.  Common practice,
no published source."""

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
    f"Cut = length + {END_M:g} m for each end + {SLACK:.0%} for the way, to the next 0.05 m "
    "(common practice, no published source). Measure the way on the rig before cutting.",
    "What is planned or removed is not in the list.",
)


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece off a reel: ``reel`` says which; lengths in m."""

    name: str
    reel: str
    colour: str
    a: str
    b: str
    place: str
    route: str
    length_m: float
    rank: tuple[float, int, str]

    @property
    def cut_m(self) -> float:
        return cut_m(self.length_m)


def cut_m(length_m: float) -> float:
    """The length to cut, m, for a conductor of that length (see the allowance above)."""
    steps = (length_m * (1 + SLACK) + 2 * END_M) / 0.05
    return round(-(-round(steps, 6) // 1) * 0.05, 2)


@lru_cache(maxsize=8)
def pieces(stage: Stage) -> tuple[Piece, ...]:
    """Every cable, wire and bond of the stage that is to be cut, in natural order."""
    rig = stage.rig
    singles = [c for c in rig.conductors.values() if c.kind in ("wire", "bond")]
    found = [_single(stage, single) for single in singles if single.status not in ABSENT]
    found += [_cable(stage, c) for c in rig.cables.values() if c.status not in ABSENT]
    return tuple(sorted(found, key=lambda piece: natural(piece.name)))


def _single(stage: Stage, conductor: Conductor) -> Piece:
    size = conductor.size
    colour = colours_of(stage)[conductor.name]
    code = colour.code or colour.name
    words = (spaced_size(size.text) if size else "", "single", code)
    reel = _reel(conductor, " ".join(filter(None, words)))
    ends = (conductor.a.name, conductor.b.name)
    rank = (size.mm2 if size else 0.0, 1, reel)
    return _piece(stage.rig, conductor, reel, code, ends, rank)


def _cable(stage: Stage, cable: Cable) -> Piece:
    rig = stage.rig
    cores = [rig.conductors[name] for name in cable.cores]
    colours = (colours_of(stage)[core.name] for core in cores)
    reel = _reel(cable, spaced_size(f"{len(cores)}×{cable.size}"))
    ends = (_both(core.a.device for core in cores), _both(core.b.device for core in cores))
    rank = (cable.size.mm2, len(cores), reel)
    return _piece(rig, cable, reel, " ".join(c.code or c.name for c in colours), ends, rank)


def _reel(what: Cable | Conductor, size: str) -> str:
    """What comes off one reel: size, type, and what the text says of strands and insulation."""
    kind = what.text("type") or ("cord" if what.flag("cord") else "")
    strands = " ".join(word for word in ("solid", "fine", "tinned") if what.flag(word))
    return " ".join(filter(None, (size, kind, strands, what.text("insulation"))))


def _piece(
    rig: Rig, what: Cable | Conductor, reel: str, colour: str, ends: tuple[str, str],
    rank: tuple[float, int, str],
) -> Piece:  # fmt: skip
    places = (place_name(rig, end.partition(",")[0].partition(".")[0]) for end in ends)
    place = " to ".join(dict.fromkeys(filter(None, places)))
    via = what.attrs.get("via", ())
    route = " ".join(via) if isinstance(via, tuple) else str(via)
    return Piece(what.name, reel, colour, *ends, place, route, what.length_m, rank)


def _both(devices: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(devices))


def schedule(stage: Stage) -> Schedule:
    """The pieces by reel, thickest first, each reel with its totals."""
    reels: dict[str, list[Piece]] = {}
    for piece in sorted(pieces(stage), key=lambda p: (-p.rank[0], p.rank[1:], natural(p.name))):
        reels.setdefault(piece.reel, []).append(piece)
    sections = tuple(_section(reel, found) for reel, found in reels.items())
    return Schedule("Cables and wires to cut", DOC, COLUMNS, sections, REMARKS)


def _section(reel: str, found: Sequence[Piece]) -> Section:
    rows = [
        Row(
            (p.name, p.colour, p.a, p.b, p.place, p.route, f"{p.length_m:.2f}", f"{p.cut_m:.2f}",
             TICK, TICK),
            conductor_id(p.name),
        )
        for p in found
    ]
    lengths = (f"{sum(p.length_m for p in found):.2f}", f"{sum(p.cut_m for p in found):.2f}")
    word = "piece" if len(found) == 1 else "pieces"
    total = Row(("Total", f"{len(found)} {word}", *[""] * 4, *lengths, "", ""), strong=True)
    return Section(reel, (*rows, total))
