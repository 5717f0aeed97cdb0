"""The parts of the page: overview, sheets, tables (findings and text have modules of their own)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from ..checks.findings import Report
from ..checks.tracing.trace import Stage
from ..checks.verdicts import verdicts
from ..dsl.model import Rig
from . import report_tables
from .canvas import Sheet
from .markup import Markup, el, join
from .report_findings import level, plural, verdict_table
from .report_sheets import Album, key, title
from .report_tables import Table
from .wiring import CAUTION

BOARD = (
    "The sheet. Arrow keys move it, plus and minus enlarge and reduce it, 0 shows all of it, "
    "Page Up and Page Down turn to another sheet."
)
STEPS = (
    ("before", "‹", "Sheet before"), ("after", "›", "Next sheet"), ("zoom-out", "−", "Reduce"),
    ("zoom-in", "+", "Enlarge"), ("fit", "Fit", "Show all of the sheet"),
    ("left", "←", "Move left"), ("up", "↑", "Move up"), ("down", "↓", "Move down"),
    ("right", "→", "Move right"),
)  # fmt: skip


class Content(NamedTuple):
    """What the page shows: a stage, the reports of all stages, its sheets, and further tables."""

    stage: Stage
    rigs: Sequence[Rig]
    reports: Sequence[Report]
    sheets: Sequence[Sheet]
    tables: Sequence[Table] = ()


def overview(content: Content) -> Markup:
    """The verdicts, what the rig is, and its sheets."""
    rig = content.stage.rig
    (report,) = (r for r in content.reports if r.stages == (rig.stage,))
    modes = len(rig.modes)
    facts = (
        ("Rule book", content.stage.book.title),
        ("Ambient", f"{rig.ambient_c:g} °C where the text gives no other"),
        ("In this stage", f"{plural(len(rig.devices), 'device')}, "
         f"{plural(len(rig.conductors), 'conductor')}, {plural(modes, 'mode')}"),
    )  # fmt: skip
    worst = max(verdicts(rig, report), key=lambda v: tuple(v.counts.values()))
    passed = "does not pass" if report.failed else "passes"
    note = "Do not wire from these sheets." if report.failed else ""
    return join(
        (
            el("p", f"Stage {rig.stage} {passed} the check. {note}",
               cls=f"verdict big {level(worst) if report.failed else 'clean'}"),
            el("p", CAUTION, cls="caution"),
            el("h3", "Verdicts"),
            verdict_table(content.rigs, content.reports, rig.stage),
            el("h3", "About"),
            el("dl", join(join((el("dt", k), el("dd", v))) for k, v in facts), cls="facts"),
            el("h3", "Sheets"),
            _contents(content.sheets),
        )
    )  # fmt: skip


def _grouped(titles: Iterable[tuple[str, str]], entry: Callable[[int, str], Markup],
             around: Callable[[str, Markup], Markup]) -> Markup:  # fmt: skip
    """Entries under their groups, in order; the index counts through all."""
    groups: dict[str, list[Markup]] = {}
    for index, (group, name) in enumerate(titles):
        groups.setdefault(group, []).append(entry(index, name))
    return join(around(group, join(entries)) for group, entries in groups.items())


def _contents(sheets: Sequence[Sheet]) -> Markup:
    """Links to the sheets, by document."""
    return el(
        "dl",
        _grouped(
            ((sheet.doc, sheet.title or sheet.doc) for sheet in sheets),
            lambda index, name: el("dd", el("a", name, href=f"#{key(index)}")),
            lambda doc, entries: join((el("dt", doc), entries)),
        ),
        cls="contents",
    )


def sheets(album: Album) -> Markup:
    """The board with every sheet, and what moves them."""
    options = _grouped(
        ((sheet.doc, f"{sheet.number}/{sheet.of} {title(sheet)}") for sheet in album.sheets),
        lambda index, name: el("option", name, value=key(index)),
        lambda doc, entries: el("optgroup", entries, label=doc),
    )
    buttons = (
        el("button", sign, type="button", data_step=step, aria_label=said, title=said)
        for step, sign, said in STEPS
    )
    bar = el(
        "div",
        el("label", "Sheet", for_="sheet", cls="unseen"),
        el("select", options, id="sheet"),
        join(buttons),
        el("output", "100 %", id="zoom", aria_label="Enlargement"),
        cls="bar",
    )
    papers = join(map(album.figure, range(len(album.sheets))), "\n")
    board = el("div", papers, id="board", tabindex="0", role="group", aria_label=BOARD)
    return join((bar, board))


def tables(tables: Sequence[Table]) -> Markup:
    """Every table, one to be chosen."""
    options = _grouped(
        ((table.group, table.title) for table in tables),
        lambda index, name: el("option", name, value=f"table-{index + 1}"),
        lambda group, entries: el("optgroup", entries, label=group),
    )
    choice = el("div", el("label", "Table", for_="table"), el("select", options, id="table"),
                cls="bar")  # fmt: skip
    blocks = (report_tables.block(t, f"table-{i}") for i, t in enumerate(tables, 1))
    end = el("p", CAUTION, cls="caution")
    return join((choice, left("rows"), join(blocks, "\n"), end))


def left(what: str) -> Markup:
    """Where the page says that search and filters leave something out."""
    return el("p", id=f"{what}-left", cls="hint", hidden=True)
