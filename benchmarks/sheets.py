"""How good the sheets are, in figures: ``python benchmarks/sheets.py [RIG …]``.

Without arguments a line a rig, for the diagrams of the examples as last built and of twenty rigs
made by ``generate.py`` (``GENERATED``).  With rigs, files or names of made ones, a line a sheet of
the whole set.  ``--pictures FOLDER`` writes the diagrams of the rigs as PNG, to be looked at.

sheets      of the diagrams: single-line, overviews, strips

overlaps    breaches of the audit: text on text, on a line or a symbol, or nearer than 1 mm
crossings   points where a line of one conductor (or run) crosses another's
bends       corners of conductors and runs
used, %     share of 10 mm squares of the drawing space with something in them; 100 is a wall
off, mm     how far the middle of what is drawn lies from the middle of the drawing space, across
least, mm   the smallest lettering, height of capitals
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from ferrule.checks.tracing.trace import Stage, analyse
from ferrule.dsl.reader import read, read_text
from ferrule.render.audit import audit
from ferrule.render.canvas import Sheet
from ferrule.render.draw import draw
from ferrule.render.frame import area
from ferrule.render.marks import Arc, Box, Close, Open, Point, Poly, Text, box_of, union
from ferrule.render.mpl import png
from generate import TOPOLOGIES, generate

EXAMPLES = sorted((Path(__file__).parent.parent / "examples").glob("*.rig"))
SIZES = {5: 1, 14: 2, 30: 3, 70: 4, 200: 5}
"""Circuits of the made rigs, with the seed of each."""
GENERATED = tuple(f"{topology}-{circuits}" for topology in TOPOLOGIES for circuits in SIZES)
DIAGRAMS = ("single-line", "overview", "strips")
DPI = 100
MESH = 10.0
LINES = frozenset({"run", "conductor"})
GROUND = frozenset({"frame", "place"})
"""Classes of groups that show nothing of the rig: the sheet's frame, the frames of places."""


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of one sheet; lengths in mm, ``used`` from 0 to 1."""

    number: int
    title: str
    overlaps: int
    crossings: int
    bends: int
    used: float
    off: float
    least: float


def figures(sheet: Sheet) -> Figures:
    """Measures a finished sheet."""
    lines = list(dict.fromkeys(_lines(sheet)))
    boxes = list(_boxes(sheet))
    room = area(sheet)
    texts = [mark.size for mark in sheet.items if isinstance(mark, Text)]
    return Figures(
        number=sheet.number,
        title=f"{sheet.doc}: {sheet.title}",
        overlaps=len(audit(sheet)),
        crossings=len(_crossings(lines)),
        bends=sum(_bends(points) for _, points in lines),
        used=_used(boxes, room),
        off=abs(union(boxes).centre[0] - room.centre[0]) if boxes else 0.0,
        least=min(texts, default=0.0),
    )


def _marks(sheet: Sheet) -> Iterator[tuple[tuple[Open, ...], Poly | Arc | Text]]:
    """Every mark with the groups it lies in."""
    groups: list[Open] = []
    for item in sheet.items:
        if isinstance(item, Open):
            groups.append(item)
        elif isinstance(item, Close):
            groups.pop()
        else:
            yield tuple(groups), item


def _lines(sheet: Sheet) -> Iterator[tuple[str, tuple[Point, ...]]]:
    """The square lines of conductors and runs, each with the name of its group; no symbols."""
    signs = {
        id(item) for placed in sheet.placed for item in sheet.items[placed.first : placed.last]
    }
    for groups, mark in _marks(sheet):
        if id(mark) in signs:
            continue
        own = next((group for group in groups if LINES & set(group.cls.split())), None)
        if own and isinstance(mark, Poly) and not mark.closed and _square(mark.points):
            yield own.id.rpartition("-")[0] or own.id, mark.points


def _square(points: tuple[Point, ...]) -> bool:
    return all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(points))


def _bends(points: tuple[Point, ...]) -> int:
    upright = [a[0] == b[0] for a, b in pairwise(points)]
    return sum(one != two for one, two in pairwise(upright))


def _crossings(lines: list[tuple[str, tuple[Point, ...]]]) -> set[Point]:
    """Where one line crosses another, inside of both."""
    pieces = [(points, a, b) for _, points in lines for a, b in pairwise(points)]
    level = [piece for piece in pieces if piece[1][1] == piece[2][1]]
    upright = [piece for piece in pieces if piece[1][0] == piece[2][0]]
    found = set()
    for _, (x0, y), (x1, _y) in level:
        left, right = min(x0, x1), max(x0, x1)
        for _, (x, y0), (_x, y1) in upright:
            if left + 0.1 < x < right - 0.1 and min(y0, y1) + 0.1 < y < max(y0, y1) - 0.1:
                found.add((round(x, 2), round(y, 2)))
    return found


def _boxes(sheet: Sheet) -> Iterator[Box]:
    """The boxes of what shows the rig; a line's pieces each have their own."""
    room = area(sheet)
    for groups, mark in _marks(sheet):
        if any(GROUND & set(group.cls.split()) for group in groups):
            continue
        whole = isinstance(mark, Text | Arc) or mark.closed
        found = [box_of(mark)] if whole else [_span(a, b) for a, b in pairwise(mark.points)]
        yield from (box for box in found if room.grown(1).holds(box))


def _span(a: Point, b: Point) -> Box:
    return Box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))


def _used(boxes: list[Box], room: Box) -> float:
    """The share of squares that a box reaches into; the last of a row or column may be cut."""
    across, down = int(room.width // MESH), int(room.height // MESH)
    taken = {
        (column, row)
        for box in boxes
        for column in _squares(box.left - room.left, box.right - room.left, across)
        for row in _squares(box.top - room.top, box.bottom - room.top, down)
    }
    return len(taken) / ((across + 1) * (down + 1))


def _squares(low: float, high: float, last: int) -> range:
    return range(max(0, int(low // MESH)), min(last, int(high // MESH)) + 1)


def made(name: str) -> str:
    """The text of a rig by its name, ``dc-30``: shape and circuits; the seed goes with the size."""
    topology, _, circuits = name.rpartition("-")
    return generate(topology, int(circuits), seed=SIZES[int(circuits)])


def stage_of(rig: str) -> Stage:
    """A rig as last built, from a file or by the name of a made one."""
    found = read_text(made(rig)) if rig in GENERATED else read(Path(rig))
    return analyse(found.rigs[-1])


def measured(path: Path, stage: int = -1) -> list[Figures]:
    """The figures of every sheet of a rig's stage, by default the last."""
    return [figures(sheet) for sheet in draw(analyse(read(path).rigs[stage]))]


def whole(rig: str) -> None:
    """A line for every sheet of a rig."""
    head = f"{'overlaps':>8} {'crossings':>9} {'bends':>5} {'used, %':>7} {'off, mm':>7} least, mm"
    print(f"{Path(rig).stem}\n{'':4}{head}")
    for f in map(figures, draw(stage_of(rig))):
        print(
            f"{f.number:3} {f.overlaps:8} {f.crossings:9} {f.bends:5} {100 * f.used:7.0f}"
            f" {f.off:7.0f} {f.least:9.1f}  {f.title}"
        )


def summary(rigs: list[str]) -> None:
    """A line for the diagrams of every rig."""
    print(f"{'':16}sheets overlaps crossings bends used, % (least) least, mm")
    for rig in rigs:
        found = [figures(sheet) for sheet in draw(stage_of(rig), only=DIAGRAMS)]
        used = [100 * f.used for f in found]
        print(
            f"{Path(rig).stem:16}{len(found):6} {sum(f.overlaps for f in found):8}"
            f" {sum(f.crossings for f in found):9} {sum(f.bends for f in found):5}"
            f" {sum(used) / len(used):7.0f} {min(used):7.0f} {min(f.least for f in found):9.1f}",
            flush=True,
        )


def pictures(rigs: list[str], folder: Path) -> None:
    """The diagrams of every rig as PNG files."""
    folder.mkdir(parents=True, exist_ok=True)
    for rig in rigs:
        for sheet in draw(stage_of(rig), only=DIAGRAMS):
            name = f"{Path(rig).stem}-{sheet.number:02d}.png"
            (folder / name).write_bytes(png(sheet, dpi=DPI))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("rigs", nargs="*", help="files, or names such as dc-30")
    options.add_argument("--pictures", type=Path, metavar="FOLDER")
    given = options.parse_args()
    rigs = given.rigs or [*map(str, EXAMPLES), *GENERATED]
    if given.pictures:
        pictures(rigs, given.pictures)
    elif given.rigs:
        for rig in rigs:
            whole(rig)
    else:
        summary(rigs)


if __name__ == "__main__":
    main()
