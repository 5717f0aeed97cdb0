"""The protocol: what editors ask over standard input, answered from the other modules.

The one place where pygls and lsprotocol are imported.  Nothing that goes wrong here reaches the
editor but as a line in its log: a request that fails is answered with nothing.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import os
import sys
import time
from collections.abc import Awaitable, Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import redirect_stdout
from functools import partial
from typing import Any, TypeVar

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

from ...checks.findings import ERROR, NOTE, WARNING
from ...dsl import VERSION
from ...dsl.model import Span
from ..terminal import printable
from . import navigate, offers
from .complaints import HINT, Complaint, complaints
from .complete import complete
from .desk import Desk, Judgement, name_of, path_of
from .hover import Traced, hover
from .layout import layout
from .mend import Mending, mendings
from .outline import Symbol, outline
from .spots import Edit, Lines, Spot

QUIET_S, PATIENCE = 0.02, 10
"""How long a text has to stay as it is before it is looked at, s; a tenth of the last look more."""
REQUEST_FAILED = -32803
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
T = TypeVar("T")


class Session:
    """One editor: what it holds, what was last found in it, and the work that is under way."""

    def __init__(self, server: LanguageServer) -> None:
        self.server = server
        self.desk = Desk()
        self.traced = Traced()
        self.judged: dict[str, Judgement] = {}
        self.shown: dict[str, dict[str, list[Complaint]]] = {}
        self.waiting: dict[str, asyncio.Task[None]] = {}
        self.took_s: dict[str, float] = {}
        self.uris: dict[str, str] = {}
        # One at a time: readings and tracings are kept, and are not made to be shared.
        self.worker = ThreadPoolExecutor(max_workers=1)

    # -- places --------------------------------------------------------------------------------

    def uri(self, file: str) -> str:
        """The address of a file, as the editor itself wrote it where it has."""
        return self.uris.get(file) or uri_of(file)

    def lines(self, file: str) -> Lines:
        """The text of a file, counted as this editor counts."""
        encoding = self.server.server_capabilities.position_encoding or "utf-16"
        return Lines(self.desk.text(file), str(getattr(encoding, "value", encoding)))

    def offset(self, file: str, position: lsp.Position) -> int:
        return self.lines(file).offset(Spot(position.line, position.character))

    def range(self, span: Span, lines: Lines | None = None) -> lsp.Range:
        start, end = (lines or self.lines(span.file)).spots(span)
        return lsp.Range(lsp.Position(*start), lsp.Position(*end))

    def location(self, span: Span) -> lsp.Location:
        return lsp.Location(self.uri(span.file), self.range(span))

    def edit(self, edit: Edit, lines: Lines | None = None) -> lsp.TextEdit:
        file = edit.span.file
        return lsp.TextEdit(self.range(edit.span, lines), self.desk.ended(file, edit.text))

    def edits(self, edits: Iterable[Edit]) -> lsp.WorkspaceEdit:
        changes: dict[str, list[lsp.TextEdit]] = {}
        for edit in edits:
            changes.setdefault(self.uri(edit.span.file), []).append(self.edit(edit))
        return lsp.WorkspaceEdit(changes=dict(changes))

    def folders(self) -> list[str]:
        """The folders that the editor works in."""
        uris = list(self.server.workspace.folders)
        return [path for uri in uris if (path := to_fs_path(uri))]

    # -- work ----------------------------------------------------------------------------------

    async def at_work(self, job: Callable[[], T]) -> T:
        """Runs a job beside the reading of messages, after those before it."""
        return await asyncio.get_running_loop().run_in_executor(self.worker, job)

    def changed(self, file: str) -> None:
        """A text has changed: looks anew at all that it has to do with, once it stays so."""
        for root in dict.fromkeys((file, *self.desk.concerned(file))):
            task = self.waiting.pop(root, None)
            if task is not None:
                task.cancel()
            self.waiting[root] = asyncio.ensure_future(self.look(root))

    async def look(self, root: str) -> None:
        """Judges a file when it has been quiet, and shows what is found."""
        await asyncio.sleep(QUIET_S + self.took_s.get(root, 0.0) / PATIENCE)
        try:
            if root in self.desk.open:
                started = time.perf_counter()
                self.judged[root] = await self.at_work(partial(self.desk.judged, root))
                self.took_s[root] = time.perf_counter() - started
                self.show(root, complaints(self.judged[root]))
            else:
                self.judged.pop(root, None)
                self.show(root, {})
        except Exception as error:
            tell(self.server, error)

    def show(self, root: str, found: dict[str, list[Complaint]]) -> None:
        """Shows what was found from one root, beside what others found in the same files."""
        before = self.shown.pop(root, {})
        if found:
            self.shown[root] = found
        for file in dict.fromkeys((*before, *found)):
            rows = [row for every in self.shown.values() for row in every.get(file, ())]
            if rows or file in self.desk.open or before.get(file):
                self.publish(file, list(dict.fromkeys(rows)))

    def publish(self, file: str, rows: list[Complaint]) -> None:
        lines = self.lines(file)
        shown = [self.diagnostic(row, lines) for row in rows]
        self.server.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(self.uri(file), shown)
        )

    def diagnostic(self, row: Complaint, lines: Lines) -> lsp.Diagnostic:
        related = [
            lsp.DiagnosticRelatedInformation(self.location(span), words)
            for span, words in row.related
        ]
        return lsp.Diagnostic(
            range=self.range(row.span, lines),
            message=f"{row.message}\nabout {row.code}: {row.about}" if row.about else row.message,
            severity=SEVERITY[row.severity],
            code=row.code,
            source=SOURCE,
            related_information=related,
            data={"about": row.about},
        )

    # -- answers -------------------------------------------------------------------------------

    def item(
        self, offer: offers.Offer, number: int, span: Span, lines: Lines
    ) -> lsp.CompletionItem:
        return lsp.CompletionItem(
            label=offer.label,
            kind=ITEM[offer.what],
            detail=printable(offer.detail) or None,
            sort_text=f"{offer.rank}{number:05}",
            filter_text=offer.written,
            text_edit=lsp.TextEdit(self.range(span, lines), offer.written),
        )

    def symbol(self, symbol: Symbol, lines: Lines) -> lsp.DocumentSymbol:
        return lsp.DocumentSymbol(
            name=symbol.name,
            detail=symbol.detail,
            kind=SYMBOL.get(symbol.what, lsp.SymbolKind.Field),
            range=self.range(symbol.span, lines),
            selection_range=self.range(symbol.at, lines),
            children=[self.symbol(child, lines) for child in symbol.children],
        )

    def action(self, mending: Mending, given: Sequence[lsp.Diagnostic]) -> lsp.CodeAction:
        where = self.range(mending.span)
        return lsp.CodeAction(
            title=mending.title,
            kind=lsp.CodeActionKind.QuickFix,
            is_preferred=mending.preferred or None,
            diagnostics=[d for d in given if d.range == where and d.code == mending.code],
            edit=self.edits(mending.edits),
        )


def uri_of(file: str) -> str:
    """The address of a file that spans name; one that the editor has not saved is its own."""
    path = path_of(file)
    return path if "://" in path or path.startswith("untitled:") else from_fs_path(path) or path


def file_of(uri: str) -> str:
    """The file that an address means."""
    path = to_fs_path(uri) if uri.startswith("file:") else None
    return name_of(path) if path else uri


def tell(server: LanguageServer, error: Exception) -> None:
    """A line in the editor's log."""
    words = f"a defect of ferrule, not of your text: {type(error).__name__}: {error}"
    server.window_log_message(lsp.LogMessageParams(lsp.MessageType.Error, words))


def build() -> LanguageServer:
    """A server for one editor."""
    server = LanguageServer(SOURCE, VERSION, text_document_sync_kind=lsp.TextDocumentSyncKind.Full)
    session = Session(server)

    for name, note in NOTES.items():
        server.feature(name)(safe_note(session, note))
    for name, (answer, options) in ANSWERS.items():
        server.feature(name, options)(safe_answer(session, answer))
    return server


def safe_note(session: Session, note: Callable[[Session, Any], None]) -> Callable[[Any], None]:
    """What takes a notice of the editor; whatever fails is told in its log."""

    def take(params: Any) -> None:
        try:
            note(session, params)
        except Exception as error:
            tell(session.server, error)

    return take


def safe_answer(
    session: Session, answer: Callable[[Session, Any], Awaitable[Any]]
) -> Callable[[Any], Awaitable[Any]]:
    """What answers a request; one that fails is answered with nothing, and told in the log."""

    async def safe(params: Any) -> Any:
        try:
            return await answer(session, params)
        except JsonRpcException:
            raise  # a refusal, in words for the author
        except Exception as error:
            tell(session.server, error)
            return None

    return safe


# -- texts ----------------------------------------------------------------------------------------


def opened(session: Session, params: lsp.DidOpenTextDocumentParams) -> None:
    file = file_of(params.text_document.uri)
    session.uris[file] = params.text_document.uri
    session.desk.put(file, params.text_document.text)
    session.changed(file)


def changed(session: Session, params: lsp.DidChangeTextDocumentParams) -> None:
    file = file_of(params.text_document.uri)
    document = session.server.workspace.get_text_document(params.text_document.uri)
    session.desk.put(file, document.source)
    session.changed(file)


def saved(session: Session, params: lsp.DidSaveTextDocumentParams) -> None:
    session.desk.stale()
    session.changed(file_of(params.text_document.uri))


def watched(session: Session, params: lsp.DidChangeWatchedFilesParams) -> None:
    session.desk.stale()
    for change in params.changes:
        session.changed(file_of(change.uri))


def closed(session: Session, params: lsp.DidCloseTextDocumentParams) -> None:
    file = file_of(params.text_document.uri)
    concerned = session.desk.concerned(file)
    session.desk.drop(file)
    for other in concerned:
        session.changed(other)


# -- questions ------------------------------------------------------------------------------------


async def hovered(session: Session, params: lsp.HoverParams) -> lsp.Hover | None:
    file = file_of(params.text_document.uri)
    offset = session.offset(file, params.position)
    found = await session.at_work(partial(hover, session.desk, file, offset, session.traced))
    if found is None:
        return None
    shown = lsp.MarkupContent(lsp.MarkupKind.Markdown, found.markdown)
    return lsp.Hover(shown, session.range(found.span))


async def completed(session: Session, params: lsp.CompletionParams) -> lsp.CompletionList:
    file = file_of(params.text_document.uri)
    lines = session.lines(file)
    offset = session.offset(file, params.position)
    judged = session.judged.get(session.desk.roots(file)[0])
    known = judged.report.findings if judged and judged.report else ()
    found = await session.at_work(partial(complete, session.desk, file, offset, known))
    span = lines.span(file, found.begun, offset)
    items = [session.item(offer, n, span, lines) for n, offer in enumerate(found.offers)]
    return lsp.CompletionList(is_incomplete=True, items=items)


async def defined(session: Session, params: lsp.DefinitionParams) -> list[lsp.Location]:
    file = file_of(params.text_document.uri)
    offset = session.offset(file, params.position)
    job = partial(navigate.definition, session.desk, file, offset)
    return [session.location(span) for span in await session.at_work(job)]


async def referred(session: Session, params: lsp.ReferenceParams) -> list[lsp.Location]:
    file = file_of(params.text_document.uri)
    offset = session.offset(file, params.position)
    all_of_them = params.context.include_declaration
    job = partial(navigate.references, session.desk, file, offset, session.folders(), all_of_them)
    return [session.location(span) for span in await session.at_work(job)]


async def renamable(
    session: Session, params: lsp.PrepareRenameParams
) -> lsp.PrepareRenamePlaceholder:
    file = file_of(params.text_document.uri)
    offset = session.offset(file, params.position)
    job = partial(navigate.renamable, session.desk, file, offset, session.folders())
    found = await _unless_refused(session, job)
    return lsp.PrepareRenamePlaceholder(session.range(found.span), found.name)


async def renamed(session: Session, params: lsp.RenameParams) -> lsp.WorkspaceEdit:
    file = file_of(params.text_document.uri)
    offset = session.offset(file, params.position)
    job = partial(navigate.rename, session.desk, file, offset, params.new_name, session.folders())
    return session.edits(await _unless_refused(session, job))


async def _unless_refused(session: Session, job: Callable[[], T]) -> T:
    try:
        return await session.at_work(job)
    except navigate.Refused as refused:
        raise JsonRpcException(code=REQUEST_FAILED, message=str(refused)) from None


async def laid_out(session: Session, params: lsp.DocumentFormattingParams) -> list[lsp.TextEdit]:
    file = file_of(params.text_document.uri)
    lines = session.lines(file)
    edits = await session.at_work(partial(layout, lines.text, file))
    return [session.edit(edit, lines) for edit in edits]


async def mended(session: Session, params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
    file = file_of(params.text_document.uri)
    start = session.offset(file, params.range.start)
    end = session.offset(file, params.range.end)
    found: list[Mending] = []
    for root in session.desk.roots(file):
        judged = session.judged.get(root)
        if judged is not None:
            job = partial(mendings, session.desk, root, judged, file, start, end)
            found += await session.at_work(job)
    return [session.action(mending, params.context.diagnostics) for mending in found]


async def outlined(session: Session, params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol]:
    file = file_of(params.text_document.uri)
    lines = session.lines(file)
    parsed = await session.at_work(partial(session.desk.parsed, file))
    return [session.symbol(symbol, lines) for symbol in outline(parsed)]


NOTES: dict[str, Callable[[Session, Any], None]] = {
    lsp.TEXT_DOCUMENT_DID_OPEN: opened,
    lsp.TEXT_DOCUMENT_DID_CHANGE: changed,
    lsp.TEXT_DOCUMENT_DID_SAVE: saved,
    lsp.TEXT_DOCUMENT_DID_CLOSE: closed,
    lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES: watched,
}
ANSWERS: dict[str, tuple[Callable[[Session, Any], Awaitable[Any]], Any]] = {
    lsp.TEXT_DOCUMENT_HOVER: (hovered, None),
    lsp.TEXT_DOCUMENT_COMPLETION: (
        completed,
        lsp.CompletionOptions(trigger_characters=list('.=("{,/ ')),
    ),
    lsp.TEXT_DOCUMENT_DEFINITION: (defined, None),
    lsp.TEXT_DOCUMENT_REFERENCES: (referred, None),
    lsp.TEXT_DOCUMENT_PREPARE_RENAME: (renamable, None),
    lsp.TEXT_DOCUMENT_RENAME: (renamed, lsp.RenameOptions(prepare_provider=True)),
    lsp.TEXT_DOCUMENT_FORMATTING: (laid_out, None),
    lsp.TEXT_DOCUMENT_CODE_ACTION: (
        mended,
        lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix]),
    ),
    lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL: (outlined, None),
}


def serve() -> None:
    """Answers the editor on standard input and output until it ends.

    What anything else would print goes where errors go: standard output is the editor's alone.
    """
    logging.getLogger("pygls").setLevel(logging.CRITICAL)
    gc.enable()  # a run of the command line is short and goes without; this one is not
    gc.freeze()
    with os.fdopen(os.dup(sys.stdout.fileno()), "wb") as out, redirect_stdout(sys.stderr):
        build().start_io(stdout=out)
