"""From a traced stage to its set of sheets.

    sheets = draw(stage)                                    every document
    sheets = draw(stage, only=("single-line",), symbols="iec60617", paper="A3")
    texts = tables(stage)                                   by the end of their file's name
    write(pack(sheets, texts, stem(stage.rig), ("svg", "pdf")), out_dir)     see ``writing``

Sheets are numbered over the whole set and framed when all are known.  The legend of the symbols
that they use stands beside the single-line diagram where it has room, else on the last sheet.
Sheets of labels come last, without a frame, numbered for themselves: they are printed on stock of
their own.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from functools import partial

from ..checks.tracing.trace import Stage
from ..dsl.model import Rig
from ..dsl.records import replace
from . import (
    chart,
    cover,
    curves,
    directory,
    labels,
    legend,
    loads_plot,
    overview,
    panel,
    single_line,
    strips,
    volts_plot,
)
from .canvas import Sheet
from .frame import finish, slug, titles_of
from .options import Options, options
from .schedule import csv_text, markdown
from .schedules import SCHEDULES, csv_of, layout_of, markdown_of, told

Layout = Callable[[Stage, Options], list[Sheet]]
Text = Callable[[], str]
Step = Callable[[int, int, str], None]
# In the order of the set; the names are those of ``--only``.
DOCUMENTS: Mapping[str, Layout] = {
    "cover": cover.sheets,
    "single-line": single_line.sheets,
    "overview": overview.sheets,
    "strips": strips.sheets,
    "chart": chart.sheets,
    "panel": panel.sheets,
    **{name: layout_of(name) for name in SCHEDULES},
    "directory": directory.sheets,
    "loads": loads_plot.sheets,
    "curves": curves.sheets,
    "volts": volts_plot.sheets,
    "markers": labels.marker_sheets,
    "labels": labels.device_sheets,
}
LEGEND = "legend"
CHART = {"csv": chart.csv_text, "md": chart.markdown, "txt": chart.aligned}
LABELS = {"markers": labels.marker_table, "labels": labels.device_table}
TEXTS = ("chart", *SCHEDULES, *LABELS)
"""The documents that are written as texts too, whose files are named after them."""


def _silent(done: int, total: int, what: str) -> None:
    """Progress that nobody watches."""


def draw(
    stage: Stage, only: Collection[str] = (), symbols: str = "", paper: str = "",
    stocks: tuple[str, ...] = (), step: Step = _silent,
) -> list[Sheet]:  # fmt: skip
    """The finished sheets of one stage; all documents, or those named in ``only``.

    ``symbols`` and ``paper`` default to what goes with the rig's rule book and its size, ``stocks``
    (of markers, of device labels) to what goes with the paper; ``step(done, total, document)`` is
    told of progress.  KeyError for a document, a symbol set, a paper or a stock that is not there.
    """
    unknown = set(only) - {*DOCUMENTS, LEGEND}
    if unknown:
        raise KeyError(", ".join(sorted(unknown)))
    chosen = options(stage.book.name, symbols, paper, len(stage.rig.devices))
    chosen = replace(chosen, stocks=labels.stocks(chosen.paper, stocks))
    if not only or "overview" in only:
        chosen = replace(chosen, also=overview.symbols_of(stage.rig, chosen.symbols))
    drawn: list[Sheet] = []
    for done, (name, layout) in enumerate(DOCUMENTS.items()):
        if not only or name in only:
            step(done, len(DOCUMENTS), name)
            drawn += layout(stage, replace(chosen, first=len(drawn) + 1))
    if (not only or LEGEND in only) and not legend.shown(drawn):
        drawn += _legend(stage, drawn, chosen)
    return bound(drawn, stage.rig)


def _legend(stage: Stage, drawn: list[Sheet], chosen: Options) -> list[Sheet]:
    """The legend of the sheets drawn; asked for alone, that of the single-line diagram."""
    return legend.sheets(drawn or single_line.sheets(stage, chosen), chosen)


def bound(sheets: list[Sheet], rig: Rig) -> list[Sheet]:
    """The sheets numbered and framed, those without a frame after them and for themselves."""
    titles = titles_of(rig)
    framed, bare = ([s for s in sheets if s.framed is has] for has in (True, False))
    for series in (framed, bare):
        for index, sheet in enumerate(series):
            sheet.number, sheet.of = index + 1, len(series)
    cover.fill(framed, bare)
    for sheet in framed:
        finish(sheet, titles)
    return [*framed, *bare]


def stem(rig: Rig) -> str:
    """The beginning of every file name of a stage: ``<rig>-<stage>``."""
    return f"{slug(rig.label)}-{slug(rig.stage)}"


def tables(stage: Stage, only: Collection[str] = ()) -> dict[str, Text]:
    """The documents that are texts, by the end of their file's name; made when they are called.

    The wiring chart as CSV, Markdown and aligned text; schedules and labels as CSV and Markdown;
    the overview of each place as DOT source.
    """
    found: dict[str, Text] = {}
    if not only or "chart" in only:
        found |= {f"chart.{end}": partial(make, stage) for end, make in CHART.items()}
    for name in told(stage):
        if not only or name in only:
            found[f"{name}.csv"] = partial(csv_of, name, stage)
            found[f"{name}.md"] = partial(markdown_of, name, stage)
    for name in LABELS:
        if not only or name in only:
            found[f"{name}.csv"] = partial(_labels_csv, name, stage)
            found[f"{name}.md"] = partial(_labels_md, name, stage)
    if not only or "overview" in only:
        for place in dict.fromkeys(overview.homes(stage.rig).values()):
            found[f"overview-{slug(place)}.dot"] = partial(overview.dot, stage, place)
    return found


def _labels_csv(name: str, stage: Stage) -> str:
    """Labels for a label printer: a row each, in the order they are printed."""
    return csv_text(LABELS[name](stage))


def _labels_md(name: str, stage: Stage) -> str:
    return markdown(LABELS[name](stage), stage.rig)
