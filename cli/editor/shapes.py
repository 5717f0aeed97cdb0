"""Answers in the protocol's shapes: diagnostics, completions, entries of the outline, actions."""

from __future__ import annotations

from collections.abc import Sequence

from lsprotocol import types as lsp

from ...checks.findings import ERROR, NOTE, WARNING
from ...dsl.model import Span
from ..terminal import printable
from . import offers
from .complaints import HINT, Complaint
from .mend import Mending
from .outline import Symbol
from .places import Places

SOURCE = "ferrule"
SEVERITY = {
    ERROR: lsp.DiagnosticSeverity.Error,
    WARNING: lsp.DiagnosticSeverity.Warning,
    NOTE: lsp.DiagnosticSeverity.Information,
    HINT: lsp.DiagnosticSeverity.Hint,
}
ITEM = {
    offers.WORD: lsp.CompletionItemKind.Keyword,
    offers.KIND: lsp.CompletionItemKind.Class,
    offers.KEY: lsp.CompletionItemKind.Property,
    offers.FLAG: lsp.CompletionItemKind.Keyword,
    offers.VALUE: lsp.CompletionItemKind.EnumMember,
    offers.UNIT: lsp.CompletionItemKind.Unit,
    offers.NAME: lsp.CompletionItemKind.Variable,
    offers.TERMINAL: lsp.CompletionItemKind.Field,
    offers.FILE: lsp.CompletionItemKind.File,
}
SYMBOL = {
    "stage": lsp.SymbolKind.Namespace,
    "panel": lsp.SymbolKind.Package,
    "place": lsp.SymbolKind.Package,
    "route": lsp.SymbolKind.Interface,
    "device": lsp.SymbolKind.Object,
    "part": lsp.SymbolKind.Class,
    "mode": lsp.SymbolKind.Event,
    "group": lsp.SymbolKind.Array,
}


def diagnostic(places: Places, row: Complaint) -> lsp.Diagnostic:
    """A mistake or a finding, to be underlined."""
    related = [
        lsp.DiagnosticRelatedInformation(places.location(span), words)
        for span, words in row.related
    ]
    return lsp.Diagnostic(
        range=places.range(row.span),
        message=f"{row.message}\nabout {row.code}: {row.about}" if row.about else row.message,
        severity=SEVERITY[row.severity],
        code=row.code,
        source=SOURCE,
        related_information=related,
        data={"about": row.about},
    )


def item(
    places: Places, offer: offers.Offer, number: int, span: Span, whole: Span | None
) -> lsp.CompletionItem:
    """A completion that takes the place of a span; ``number`` is its place in their order.

    ``whole`` is the word with what stands of it behind the place, for editors that let one choose.
    """
    start = places.range(span)
    edit: lsp.TextEdit | lsp.InsertReplaceEdit = lsp.TextEdit(start, offer.written)
    if whole is not None:
        edit = lsp.InsertReplaceEdit(offer.written, start, places.range(whole))
    return lsp.CompletionItem(
        label=offer.label,
        kind=ITEM[offer.what],
        detail=printable(offer.detail) or None,
        sort_text=f"{offer.rank}{number:05}",
        filter_text=offer.written,
        text_edit=edit,
    )


def symbol(places: Places, entry: Symbol) -> lsp.DocumentSymbol:
    """An entry of the outline with all beneath it."""
    return lsp.DocumentSymbol(
        name=entry.name,
        detail=entry.detail,
        kind=SYMBOL.get(entry.what, lsp.SymbolKind.Field),
        range=places.range(entry.span),
        selection_range=places.range(entry.at),
        children=[symbol(places, child) for child in entry.children],
    )


def action(places: Places, mending: Mending, given: Sequence[lsp.Diagnostic]) -> lsp.CodeAction:
    """A mending, with those of the diagnostics the editor gave that it is for."""
    where = places.range(mending.span)
    return lsp.CodeAction(
        title=mending.title,
        kind=lsp.CodeActionKind.QuickFix,
        is_preferred=mending.preferred or None,
        diagnostics=[d for d in given if d.range == where and d.code == mending.code],
        edit=places.edits(mending.edits),
    )
