"""The single-line diagram: from the traced rig to its sheets.

    sheets(stage, options) -> list[Sheet]

The one-line view (``single_line_graph``) is cut into trees (``_plan``), laid out (``_tree``,
``_layout``), packed onto sheets (``_pack``) and drawn (``_draw``); lines from tree to tree are
routed on the sheet (``_route``) or become references by sheet and zone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..checks.tracing.trace import Stage
from ..dsl.kinds import kinds
from ..dsl.records import record
from . import single_line_earth as earth
from .canvas import Sheet
from .frame import area, blank, zone_of
from .legend import notes_of
from .marks import MEDIUM, Box, Pen, Point
from .metrics import T18, pitch
from .options import Options
from .remarks import remark
from .single_line_draw import draw
from .single_line_graph import Run, one_line
from .single_line_layout import Room, pieces
from .single_line_legend import legend
from .single_line_look import REFERENCE_X, Look
from .single_line_pack import Page, aside, pack, spread
from .single_line_parts import Bar, Label, Link, Open, Part, Piece, Sign, Tally, Wire
from .single_line_plan import Plan
from .single_line_roles import roles
from .single_line_route import route, streets

DOC = "Single-line diagram"
ARROW = 1.4
NEAR = 8.0  # how far from a run's open end its own words stand
CHANNEL = 5.0  # above the pieces, for lines over their tops
ROOMY = ((35.0, 4.0), (30.0, 2.0))  # pitch of columns and lead of runs, mm, where there is room
SMALL, GROWTH = 70, 4  # of more nodes nothing moves aside for what is added: bars have room


@record
class _End:
    """An open end on a sheet."""

    page: int
    end: Open


def sheets(stage: Stage, options: Options) -> list[Sheet]:
    """The sheets of one stage's single-line diagram, numbered from ``options.first``."""
    paper = area(blank(options.paper, "", DOC))
    look, pages = _filled(stage, options, paper)
    told = aside(pages, legend(look, options.also, paper.width))
    if len(look.graph.nodes) <= SMALL:
        for page in pages:
            spread(page)
    drawn = [blank(options.paper, _title(page, look), DOC) for page in pages]
    through = _routed(pages, paper, look)
    for sheet, page in zip(drawn, pages, strict=True):
        draw(sheet, look, _kept(page, through))
        if told and any(piece.name == "legend" for piece in page.pieces):
            remark(sheet, notes_of(options.symbols))
    _join(drawn, pages, through, look, options)
    _continue(drawn, pages, options)
    return drawn


def _filled(stage: Stage, options: Options, paper: Box) -> tuple[Look, list[Page]]:
    """The pages; what a single sheet holds easily is drawn as roomy as the sheet allows."""
    graph = one_line(stage.rig, roles(stage.rig, stage.conductor_role))
    tight = Look(graph, options.symbols, growth=1 if len(graph.nodes) <= SMALL else GROWTH)
    pages = _packed(stage, tight, paper)
    if len(pages) > 1:
        return tight, pages
    for least, lead in ROOMY:
        look = Look(graph, options.symbols, least=least, lead=lead)
        roomy = _packed(stage, look, paper)
        if [len(page.pieces) for page in roomy] == [len(page.pieces) for page in pages]:
            return look, roomy
    return tight, pages


def _packed(stage: Stage, look: Look, paper: Box) -> list[Page]:
    floor = Box(paper.left, paper.top + CHANNEL, paper.right, paper.bottom)
    plan, found = pieces(look, Room(floor.width, floor.height))
    grounded, left = earth.piece(stage, look, paper.width)
    lone = earth.elsewhere(look, left, paper.width)
    return pack([[piece] for piece in (*_ordered(plan, found), *grounded, *lone)], floor)


def _parts(pages: Sequence[Page]) -> Iterator[Part]:
    return (part for page in pages for piece in page.pieces for part in piece.parts)


_TITLES = (("earth", "Neutral, negative and earth"),)


def _title(page: Page, look: Look) -> str:
    """What a sheet shows: the systems of its bars and sources, each once."""
    words = dict.fromkeys(
        _system(part, look) for piece in page.pieces for part in piece.parts
    )
    named = [word for word in words if word]
    if named:
        return "Distribution " + ", ".join(named)
    parts = {piece.name for piece in page.pieces}
    return next((title for name, title in _TITLES if name in parts), "Distribution")


def _system(part: Part, look: Look) -> str:
    """The system of a bar, or of a source that feeds without one; else nothing."""
    if isinstance(part, Bar):
        return look.system.get(part.node, "")
    if isinstance(part, Sign) and look.device(part.node).kind in ("supply", "generator", "battery"):
        return look.source_system(look.device(part.node).name)
    return ""


def _ordered(plan: Plan, found: Sequence[Piece]) -> list[Piece]:
    """Pieces in the order power flows, alternating current before direct where both are free."""
    waiting = list(dict.fromkeys(piece.name for piece in found))
    before = {name: _feeders(plan, name) & set(waiting) - {name} for name in waiting}
    order: list[str] = []
    while waiting:
        free = [name for name in waiting if not before[name] - set(order)]
        name = (free or waiting)[0]
        waiting.remove(name)
        order.append(name)
    rank = {name: i for i, name in enumerate(order)}
    return sorted(found, key=lambda piece: (rank[piece.name], piece.index))


def _feeders(plan: Plan, head: str) -> set[str]:
    """The pieces a piece gets power from."""
    heads, found = [head], set()
    while heads:
        at = heads.pop()
        heads += [plan.head_of[run.a] for run in plan.claims.get(at, ())]
        found |= {_root(plan, plan.head_of[run.a]) for run in plan.foreign[at]}
    return found


def _root(plan: Plan, head: str) -> str:
    """The piece a head is drawn in: its own, or that of the head which claimed it."""
    owner = {plan.head_of[r.a]: h for h, runs in plan.claims.items() for r in runs}
    while head in owner:
        head = owner[head]
    return head


# ---- from tree to tree ------------------------------------------------------------------------


def _routed(
    pages: Sequence[Page], paper: Box, look: Look
) -> Mapping[str, tuple[Point, ...]]:
    """The lines from tree to tree that can be drawn, by the run's key."""
    outs, ins = _ends(pages, False), _ends(pages, True)
    ways = [streets(paper, page.pieces) for page in pages]
    found: dict[str, tuple[Point, ...]] = {}
    for key, start in outs.items():
        end = ins.get(key)
        if end is not None and end.page == start.page:
            node = look.graph.nodes[end.end.run.b]
            coupling = node.bar or kinds()[node.kind].acts in ("converter", "switching")
            points = route(ways[start.page], start.end, end.end, coupling)
            if points is not None:
                found[key] = points
    return found


def _kept(page: Page, through: Mapping[str, tuple[Point, ...]]) -> Iterator[Part]:
    """A sheet's parts, without what a line drawn through would say twice."""
    for piece in page.pieces:
        for part in piece.parts:
            key = part.name if isinstance(part, Label) else ""
            key = part.run.key if isinstance(part, Tally) else key
            if key in through and isinstance(part, Label | Tally):
                x, y = through[key][0]
                if abs(part.x - x) < NEAR and y - NEAR - 6 < part.y <= y:
                    continue
            yield part


def _join(
    drawn: Sequence[Sheet], pages: Sequence[Page], through: Mapping[str, tuple[Point, ...]],
    look: Look, options: Options,
) -> None:  # fmt: skip
    """Joins the open ends: by the lines found, else by references."""
    outs, ins = _ends(pages, False), _ends(pages, True)
    stands = _stands(drawn, pages, options)
    for key, start in outs.items():
        run, end = start.end.run, ins.get(key)
        if key in through:
            draw(drawn[start.page], look, [Wire(run, through[key])])
            _arrow(drawn[start.page], *through[key][-1])
        else:
            there = _place(drawn, end, options) if end else stands.get(run.b, "")
            _reference(drawn[start.page], start.end, f"to {run.b}", there)
    for key, end in ins.items():
        if key not in through:
            here = _place(drawn, outs[key], options) if key in outs else stands[end.end.run.a]
            _reference(drawn[end.page], end.end, f"from {end.end.run.a}", here)


def _stands(drawn: Sequence[Sheet], pages: Sequence[Page], options: Options) -> Mapping[str, str]:
    """The sheet and zone in which each node's symbol stands."""
    return {
        part.node: f"{options.first + index}/{zone_of(drawn[index], part.x, part.y)}"
        for index, page in enumerate(pages) for piece in page.pieces
        for part in piece.parts if isinstance(part, Sign | Bar)
    }


def _ends(pages: Sequence[Page], inward: bool) -> Mapping[str, _End]:
    return {
        end.run.key: _End(index, end)
        for index, page in enumerate(pages) for piece in page.pieces
        for end in piece.opens(inward)
    }


def _place(drawn: Sequence[Sheet], end: _End, options: Options) -> str:
    zone = zone_of(drawn[end.page], end.end.x, end.end.y)
    return f"{options.first + end.page}/{zone}"


def _continue(drawn: Sequence[Sheet], pages: Sequence[Page], options: Options) -> None:
    """At each break of a bar: where it goes on, and what it continues."""
    links = [
        (index, part) for index, page in enumerate(pages) for piece in page.pieces
        for part in piece.parts if isinstance(part, Link)
    ]
    at = {(link.node, link.index, link.outward): (page, link) for page, link in links}
    for page, link in links:
        step = 1 if link.outward else -1
        far, other = at[(link.node, link.index + step, not link.outward)]
        place = f"{options.first + far}/{zone_of(drawn[far], *other.spot)}"
        words = f"to {place}" if link.outward else f"continued from {place}"
        with drawn[page].group(f"dev-{link.node}", "device bus reference", title=words):
            drawn[page].text(*link.spot, words, T18, level="middle")


def _reference(sheet: Sheet, end: Open, words: str, place: str) -> None:
    """An arrow and where the run goes on, below an outgoing end or above an incoming one."""
    run: Run = end.run
    x, y = end.x, end.y
    pen = Pen(MEDIUM, cap="butt")
    tip = y + 4 if not end.inward else y - 1
    lines = [words, place] if place else [words]
    with sheet.group(f"run-{run.statements[0]}", "run reference", title=" ".join(lines)):
        sheet.line([(x, y), (x, tip)] if not end.inward else [(x, y - 5), (x, y)], pen)
        _arrow(sheet, x, tip)
        top = y + 0.5 if not end.inward else y - 6
        block = sheet.block()
        for index, line in enumerate(lines):
            sheet.text(x + REFERENCE_X, top + T18 + index * pitch(T18), line, T18, block=block)




def _arrow(sheet: Sheet, x: float, tip: float) -> None:
    """An arrowhead that points down to ``tip``."""
    sheet.poly([(x - ARROW, tip - 2.4), (x + ARROW, tip - 2.4), (x, tip)], None, "#000000")
