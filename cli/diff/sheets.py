"""Comparisons as sheets: SVG files, one bound PDF, or a page of its own, old and new over each
other."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from pathlib import Path

from ...render.canvas import Sheet
from ...render.change_rows import Line, grouped
from ...render.difference import difference
from ...render.frame import slug
from ...render.markup import Markup, el, join
from ...render.svg import svg
from ...render.writing import pack, write
from .comparison import Comparison
from .words import CAUTION, changing

DRAWN = ("svg", "pdf", "html")
"""Formats that are drawings; the others are texts."""
STYLE = """
body{font:16px/1.5 system-ui,sans-serif;margin:1.5rem auto;max-width:90rem;padding:0 1rem}
body{background:#fff;color:#111}
h1{font-size:1.5rem}h2{font-size:1.2rem;margin-top:2rem}h3{font-size:1rem;margin-bottom:.2rem}
img{width:100%;border:1px solid #767676;margin:.5rem 0}ul{margin-top:.2rem}
summary{cursor:pointer;font-weight:bold}@media print{details{break-inside:avoid}}
"""


def write_sheets(comparisons: Sequence[Comparison], format: str, folder: Path) -> list[Path]:
    """Write the comparisons that change something as files of a format; returns their paths.

    Whole or not at all, as ``ferrule draw``; OSError where the folder cannot be written to.
    """
    some, _ = changing(comparisons)
    made: dict[str, dict[str, bytes]] = {}
    for comparison in some:
        stem = f"{slug(comparison.new.rig.label)}-{slug(comparison.new.rig.stage)}-difference"
        sheets = difference(comparison.old.rig, comparison.new.rig)
        if format == "html":
            made[stem] = {f"{stem}.html": page(comparison, sheets).encode()}
        else:
            made[stem] = pack(sheets, {}, stem, (format,), comparison.title)
    files = {name: data for each in made.values() for name, data in each.items()}
    return write(files, folder, *made) if made else []


def page(comparison: Comparison, sheets: Sequence[Sheet]) -> str:
    """One self-contained page: verdict, changes by panel and place, the sheets."""
    shown = (el("details", el("summary", s.title), _picture(s), open=True) for s in sheets)
    body = el(
        "main",
        el("h1", comparison.title),
        el("p", el("strong", comparison.verdict)),
        el("p", comparison.size),
        el("h2", "Changes"),
        join(_changes(comparison)),
        el("h2", "Sheets"),
        el("p", "Added is dashed, changed a chain line, removed dotted and thin; solid stays."),
        join(shown),
        el("p", CAUTION),
    )
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", comparison.title),
        el("style", Markup(STYLE)),
    )
    return f"<!doctype html>\n{el('html', head, el('body', body), lang='en')}\n"


def _changes(comparison: Comparison) -> list[Markup]:
    found = []
    for title, lines in grouped(comparison.lines):
        rows = (
            el("li", " ".join(filter(None, (line.verb, line.name, line.label, _values(line)))))
            for line in lines
        )
        found += [el("h3", title), el("ul", join(rows))]
    return found


def _values(line: Line) -> str:
    old, new = line.old, line.new
    return f"{old} → {new}" if old and new else old or new


def _picture(sheet: Sheet) -> Markup:
    """A sheet as a picture: nothing in it can act, and ids do not meet those of another."""
    data = b64encode(svg(sheet).encode()).decode()
    return el("img", src=f"data:image/svg+xml;base64,{data}", alt=f"{sheet.doc}: {sheet.title}")
