"""The report: one page with every sheet, table and finding of a stage, complete in itself.

    html = whole(laid_out(Content(stage, rigs, reports, sheets, tables)))

Same text, same bytes.
"""

from __future__ import annotations

from ..checks.verdicts import told
from . import report_names, report_tables, report_views
from .markup import Markup, data, el, join
from .report_findings import findings
from .report_frame import FIRST, VIEWS, detail, find, top
from .report_page import Page, whole
from .report_sheets import Album
from .report_source import listing
from .report_views import Content

__all__ = ["Content", "Page", "laid_out", "whole"]


def laid_out(content: Content) -> Page:
    """The content as a page."""
    album = Album(content.sheets, content.stage.rig)
    rig = content.stage.rig
    return Page(f"{rig.label}, stage {rig.stage}", body(content, album), album.style())


def body(content: Content, album: Album) -> Markup:
    """Everything that changes with the text of the rig."""
    rig = content.stage.rig
    found = told(content.reports, rig.stage)
    tables = [*report_tables.wiring(content.stage), *content.tables]
    files = {name: index for index, name in enumerate(rig.sources)}
    known = report_names.document(content.stage, [each.finding for each in found])
    known |= {"files": list(files), "rig": rig.label, "stage": rig.stage}
    parts = {
        "overview": report_views.overview(content),
        "sheets": report_views.sheets(album),
        "findings": join((report_views.left("findings"), findings(found, rig, files))),
        "tables": report_views.tables(tables),
        "source": listing(rig, found),
    }
    views = (
        el("section", el("h2", name), parts[view], id=view, cls="view" + " on" * (view == FIRST))
        for view, name in VIEWS.items()
    )
    return join(
        (
            top(rig, len(found)),
            el(
                "div",
                find(rig, known["names"], found),
                el("main", join(views), id="main", tabindex="-1"),
                detail(),
                id="app",
            ),
            el("script", data(known), type="application/json", id="data"),
        ),
        "\n",
    )
