"""Trip bands: when an overcurrent device opens, at the soonest and at the latest.

    band(device, rig).times(160.0)

The points come from the standards (``bands.toml``, each with its source); between them the edges
are straight on logarithmic scales, past the last one I2t stays as it is there.  What no standard
fixes comes back as ``Missing``, with what would be needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import exp, inf, log, sqrt
from typing import Any

from ...dsl.model import Device, Rig
from ...dsl.records import record
from ..books.book import book
from ..books.figures import Figure, Missing
from .table import TABLE

__all__ = ["Band", "band", "residual_time"]

Points = tuple[tuple[float, float], ...]
LIMITS_AT = 0.01
"""The time, s, for which the let-through of a current-limiting fuse is given."""


@record
class Band:
    """When one device opens.  Currents in A, times in s, let-through in A2s.

    ``shortest`` and ``longest`` are the points of its edges; an empty ``shortest`` means that no
    standard fixes one.  ``holds``: never opens up to here; ``trips``: opens within the
    conventional time (I2).  ``instantaneous``: may open at once above the first, has opened within
    ``at_once`` above the second.  ``energy``: (prospective current, let-through), rising.
    ``assumed``: no standard fixes ``instantaneous``.
    """

    device: str
    rating: float
    title: str
    clause: str
    source: str
    status: str
    holds: float
    trips: float
    shortest: Points
    longest: Points
    instantaneous: tuple[float, float] | None = None
    at_once: float = 0.0
    energy: Points = ()
    assumed: bool = False

    def times(self, amps: float) -> tuple[float, float]:
        """The soonest and the latest it opens at a current; infinite: it need not open."""
        return self.soonest(amps), self.latest(amps)

    def soonest(self, amps: float) -> float:
        """The soonest it opens at a current, s; infinite: it never does."""
        if amps <= self.holds:
            return inf
        if not self.shortest or (self.instantaneous and amps > self.instantaneous[0]):
            return 0.0
        return _edge(self.shortest, amps)

    def latest(self, amps: float) -> float:
        """The latest it opens at a current, s; infinite: it need not open."""
        if self.instantaneous and amps >= self.instantaneous[1]:
            return self.at_once
        return _edge(self.longest, amps)

    def opens_within(self, seconds: float) -> float:
        """The least current, A, at which it has opened within a time for certain."""
        if self.instantaneous and seconds >= self.at_once:
            thermal = _current(self.longest, seconds)
            return min(self.instantaneous[1], thermal)
        return inf if self.instantaneous else _current(self.longest, seconds)

    def let_through(self, amps: float) -> float | None:
        """The most I2t, A2s, it lets pass at a prospective current; None: no figure is known."""
        if self.instantaneous and amps >= self.instantaneous[1]:
            return next((i2t for most, i2t in self.energy if amps <= most), None)
        longest = self.latest(amps)
        return None if longest == inf else amps * amps * longest


def _edge(points: Points, amps: float) -> float:
    """The time on an edge: straight on log scales between its points, I2t constant past the last.

    A current below the first point is never opened.
    """
    if not points or amps < points[0][0]:
        return inf
    last_a, last_s = points[-1]
    if amps >= last_a:
        return last_s * (last_a / amps) ** 2
    after = next(i for i, point in enumerate(points) if point[0] > amps)
    (a, s), (b, t) = points[after - 1], points[after]
    return exp(log(s) + log(t / s) * log(amps / a) / log(b / a))


def _current(points: Points, seconds: float) -> float:
    """The current at which an edge falls to a time (infinite: it has no points)."""
    if not points:
        return inf
    if seconds >= points[0][1]:
        return points[0][0]
    for (a, s), (b, t) in pairwise(points):
        if seconds >= t:
            return exp(log(a) + log(b / a) * log(seconds / s) / log(t / s))
    last_a, last_s = points[-1]
    return last_a * sqrt(last_s / seconds)


def band(device: Device, rig: Rig) -> Band | Missing:
    """The trip band of a breaker or a fuse, or what is missing to know it."""
    rating = device.number("rating")
    if not rating:
        return Missing(f"{device.name} does not say its rating")
    if device.kind == "fuse":
        return _fuse(device, rating)
    return _breaker(device, rating, book(rig.book).name)


def _upto(rows: Sequence[Sequence[float]], rating: float) -> Sequence[float] | None:
    """The first row whose upper end is not below the rating."""
    return next((row for row in rows if rating <= row[0]), None)


def _shape(device: Device, book: str) -> tuple[Mapping[str, Any], bool] | Missing:
    """The standard's table for a breaker, and whether the standard is only taken to be so."""
    shapes = TABLE["breakers"]
    standard = device.text("standard").replace(" ", "")
    if standard in TABLE["unknown"]:
        return Missing(TABLE["unknown"][standard])
    for shape in shapes.values():
        if standard in shape["standards"]:
            return shape, False
    direct = device.flag("dc") and not device.flag("ac")
    if "curve" in device.attrs:
        usual = "iec60947" if direct else "iec60898" if book == "iec60364" else "ul489"
        return shapes[usual], True
    if direct or book == "iec60364":
        return Missing(f"{device.name} says neither standard= nor curve=")
    return shapes["ul489"], True


def _breaker(device: Device, rating: float, book: str) -> Band | Missing:
    found = _shape(device, book)
    if isinstance(found, Missing):
        return found
    shape, taken = found
    curve = device.text("curve")
    at_once = shape["instantaneous"].get(curve)
    conventional = _upto(shape["conventional"], rating)
    if at_once is None or conventional is None:
        lack = "says no curve= of its standard" if conventional else "is beyond its standard"
        return Missing(f"{device.name} {lack}", shape["clause"])
    low, high = at_once
    gates = list(_gates(shape["gates"], rating))
    seconds = conventional[1]
    shortest = [(shape["holds"], seconds), *((m, s) for m, _, s, _ in gates if m < low)]
    longest = [(shape["trips"], seconds), *((m, t) for m, _, _, t in gates if m < high)]
    last_m, last_t = longest[-1]
    shortest.append((low, shape["at_once"]))
    longest.append((high, max(shape["at_once"], last_t * (last_m / high) ** 2)))
    unlettered = shape.get("assumed_without_letter", False) and not curve
    return Band(
        device=device.name,
        rating=rating,
        title=f"{shape['title']}{f', band {curve}' if curve else ''}",
        clause=shape["clause"],
        source=shape["source"] + (f"; {shape['note']}" if unlettered else ""),
        status="assumed" if taken or unlettered else shape["status"],
        holds=shape["holds"] * rating,
        trips=shape["trips"] * rating,
        shortest=_times(shortest, rating),
        longest=_times(longest, rating),
        instantaneous=(low * rating, high * rating),
        at_once=shape["at_once"],
        energy=tuple(_energy(device, shape, rating, curve)),
        assumed=unlettered or shape["status"] == "assumed",
    )


def _gates(gates: Sequence[Sequence[float]], rating: float) -> Iterator[Sequence[float]]:
    """Of the gates at each multiple, the one for this rating."""
    for multiple in dict.fromkeys(gate[0] for gate in gates):
        rows = [gate for gate in gates if gate[0] == multiple and rating <= gate[1]]
        yield from rows[:1]


def _times(points: Sequence[tuple[float, float]], rating: float) -> Points:
    return tuple((multiple * rating, seconds) for multiple, seconds in points)


def _energy(
    device: Device, shape: Mapping[str, Any], rating: float, curve: str
) -> Iterator[tuple[float, float]]:
    """The let-through above the instantaneous region, by prospective current."""
    breaks = device.number("breaks") or inf
    rows = shape.get("energy", {}).get(curve, ())
    ends = [most for most, _, _ in rows if rating <= most]
    for most, amps, i2t in rows:
        if ends and most == ends[0] and amps <= breaks:
            yield amps, i2t


def _fuse(device: Device, rating: float) -> Band | Missing:
    name = device.text("class") or device.text("standard").replace(" ", "")
    if not name:
        return Missing(f"{device.name} does not say its class=")
    if name in TABLE["unknown"]:
        return Missing(f"{device.name}: {TABLE['unknown'][name]}")
    shape = next((s for s in TABLE["fuses"].values() if name in s["classes"]), None)
    if shape is None:
        return Missing(f"{device.name}: no times are known for class {name}")
    edges = _fuse_edges(shape, rating)
    if edges is None:
        return Missing(f"{device.name}: {rating:g} A is beyond its class", shape["clause"])
    shortest, longest = edges
    holds = _upto(shape.get("holds", ()), rating)
    return Band(
        device=device.name,
        rating=rating,
        title=shape["title"],
        clause=shape["clause"],
        source=shape["source"],
        status=shape["status"],
        holds=holds[1] * rating if holds else shortest[0][0],
        trips=longest[0][0],
        shortest=shortest,
        longest=longest,
    )


def _fuse_edges(shape: Mapping[str, Any], rating: float) -> tuple[Points, Points] | None:
    """Both edges of a fuse, in A and s; None where its class has no such rating."""
    if "rows" in shape:
        return _absolute(shape, rating)
    gates = list(_gates(shape["gates"], rating))
    if not gates:
        return None
    shortest = [(m * rating, s) for m, _, s, _ in gates if s]
    longest = [(m * rating, t) for m, _, _, t in gates if t]
    if "energy" in shape:
        energy, conventional = _upto(shape["energy"], rating), _upto(shape["conventional"], rating)
        trips = _upto(shape["trips"], rating)
        if energy is None or conventional is None or trips is None:
            return None
        longest.insert(0, (trips[1] * rating, conventional[1]))
        longest.append((sqrt(energy[1] / LIMITS_AT), LIMITS_AT))
    return tuple(shortest), tuple(longest)


def _absolute(shape: Mapping[str, Any], rating: float) -> tuple[Points, Points] | None:
    """The edges from gates in amperes.

    A rating between two rows has the shorter of the smaller one and the longer of the larger one.
    """
    rows = {float(key): row for key, row in shape["rows"].items()}
    below = max((r for r in rows if r <= rating), default=None)
    above = min((r for r in rows if r >= rating), default=None)
    holds, trips = _upto(shape["holds"], rating), _upto(shape["trips"], rating)
    conventional = _upto(shape["conventional"], rating)
    if below is None or above is None or not (holds and trips and conventional):
        return None
    soon, late = rows[below], rows[above]
    shortest = ((holds[1] * rating, conventional[1]), (soon[0], 10.0), (soon[2], 0.1))
    longest = ((trips[1] * rating, conventional[1]), (late[1], 5.0), (late[3], 0.1))
    return (
        (*shortest, (sqrt(soon[4] / LIMITS_AT), LIMITS_AT)),
        (*longest, (sqrt(late[5] / LIMITS_AT), LIMITS_AT)),
    )


def residual_time(device: Device, amps: float) -> Figure | None:
    """The latest, s, a residual-current device opens at a residual current, A; None: not surely.

    By its kind: class A of UL 943 up to 6 mA, 30 mA protection of craft, type S, general.
    """
    gfci, rated = device.number("gfci"), device.number("gfci") or device.number("rcd")
    if rated is None:
        return None
    groups = TABLE["residual"]
    people = gfci is not None and gfci <= 0.006
    key = "gfci" if people else "elci" if gfci is not None else ""
    row = groups[key or ("delayed" if device.flag("delayed") else "general")]
    reached = [gate for gate in row["times"] if amps >= gate[0] * rated]
    if not reached:
        return None
    steps = (f"{amps / rated:.3g} times its rated residual current: {reached[-1][2]:g} s",)
    return Figure(reached[-1][2], "s", row["clause"], steps, row["status"])
