"""What is done with each notice of the editor, and how each of its questions is answered."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any, Protocol, TypeVar

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException

from . import navigate
from .complete import complete
from .hover import hover
from .layout import layout
from .mend import mendings
from .outline import outline
from .places import file_of
from .session import Session
from .shapes import action, item, symbol
from .words_at import end_of_word

REQUEST_FAILED = -32803
QUICK_FIX = lsp.CodeActionKind.QuickFix
T = TypeVar("T")


class Placed(Protocol):
    """A question about a place in a text."""

    text_document: lsp.TextDocumentIdentifier
    position: lsp.Position


# -- texts ----------------------------------------------------------------------------------------


def opened(session: Session, params: lsp.DidOpenTextDocumentParams) -> None:
    """The editor's text of a file goes before the saved one from now on."""
    document = params.text_document
    file = file_of(document.uri)
    session.places.uris[file] = document.uri
    session.versions[file] = document.version
    session.desk.put(file, document.text)
    session.changed(file)


def changed(session: Session, params: lsp.DidChangeTextDocumentParams) -> None:
    """Another text; pygls has put it together."""
    document = params.text_document
    file = file_of(document.uri)
    session.versions[file] = document.version
    session.desk.put(file, session.server.workspace.get_text_document(document.uri).source)
    session.changed(file)


def saved(session: Session, params: lsp.DidSaveTextDocumentParams) -> None:
    """Other files may have changed meanwhile."""
    session.desk.stale()
    session.changed(file_of(params.text_document.uri))


def watched(session: Session, params: lsp.DidChangeWatchedFilesParams) -> None:
    """Files have changed on the disk."""
    session.desk.stale()
    for change in params.changes:
        session.changed(file_of(change.uri))


def closed(session: Session, params: lsp.DidCloseTextDocumentParams) -> None:
    """The saved text counts again."""
    file = file_of(params.text_document.uri)
    concerned = session.concerned(file)
    session.desk.drop(file)
    session.versions.pop(file, None)
    session.look_at((file, *concerned))


# -- questions ------------------------------------------------------------------------------------


def _place(session: Session, params: Placed) -> tuple[str, int]:
    """The file and the index in its text that a question is about."""
    file = file_of(params.text_document.uri)
    return file, session.places.offset(file, params.position)


async def hovered(session: Session, params: lsp.HoverParams) -> lsp.Hover | None:
    """What is known of a word."""
    file, offset = _place(session, params)
    found = await session.at_work(partial(hover, session.desk, file, offset, session.traced))
    if found is None:
        return None
    shown = lsp.MarkupContent(lsp.MarkupKind.Markdown, found.markdown)
    return lsp.Hover(shown, session.places.range(found.span))


async def completed(session: Session, params: lsp.CompletionParams) -> lsp.CompletionList:
    """What may be written at a place."""
    file, offset = _place(session, params)
    lines = session.places.lines(file)
    judged = session.judged.get(session.desk.roots(file)[0])
    known = judged.report.findings if judged and judged.report else ()
    found = await session.at_work(partial(complete, session.desk, file, offset, known))
    span = lines.span(file, found.begun, offset)
    whole = None
    if session.replaces():
        whole = lines.span(file, found.begun, end_of_word(lines.text, offset))
    items = [item(session.places, offer, n, span, whole) for n, offer in enumerate(found.offers)]
    return lsp.CompletionList(is_incomplete=True, items=items)


async def defined(session: Session, params: lsp.DefinitionParams) -> list[lsp.Location]:
    """Where a name is declared."""
    job = partial(navigate.definition, session.desk, *_place(session, params))
    return [session.places.location(span) for span in await session.at_work(job)]


async def referred(session: Session, params: lsp.ReferenceParams) -> list[lsp.Location]:
    """Where else a name stands."""
    asked = (session.places.folders(), params.context.include_declaration)
    job = partial(navigate.references, session.desk, *_place(session, params), *asked)
    return [session.places.location(span) for span in await session.at_work(job)]


async def renamable(
    session: Session, params: lsp.PrepareRenameParams
) -> lsp.PrepareRenamePlaceholder:
    """The name that may be given another."""
    folders = session.places.folders()
    job = partial(navigate.renamable, session.desk, *_place(session, params), folders)
    found = await _unless_refused(session, job)
    return lsp.PrepareRenamePlaceholder(session.places.range(found.span), found.name)


async def renamed(session: Session, params: lsp.RenameParams) -> lsp.WorkspaceEdit:
    """The edits of all files that give a name another."""
    asked = (params.new_name, session.places.folders())
    job = partial(navigate.rename, session.desk, *_place(session, params), *asked)
    return session.places.edits(await _unless_refused(session, job))


async def _unless_refused(session: Session, job: Callable[[], T]) -> T:
    try:
        return await session.unchanged(job)
    except navigate.Refused as refused:
        raise JsonRpcException(code=REQUEST_FAILED, message=str(refused)) from None


async def laid_out(session: Session, params: lsp.DocumentFormattingParams) -> list[lsp.TextEdit]:
    """The edits that lead to the canonical layout."""
    file = file_of(params.text_document.uri)
    edits = await session.unchanged(partial(layout, session.desk.text(file), file))
    return [session.places.edit(edit) for edit in edits]


async def mended(session: Session, params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
    """What can be mended in a stretch of a text."""
    if params.context.only and not any(map(_covers, params.context.only)):
        return []
    places, file = session.places, file_of(params.text_document.uri)
    stretch = places.offset(file, params.range.start), places.offset(file, params.range.end)
    job = partial(mendings, session.desk, file, *stretch)
    given = params.context.diagnostics
    return [action(places, mending, given) for mending in await session.unchanged(job)]


def _covers(kind: str) -> bool:
    """Whether a kind of action that the editor asks for, as ``quickfix``, takes in ours."""
    asked = str(getattr(kind, "value", kind))
    return not asked or f"{QUICK_FIX.value}.".startswith(f"{asked}.")


async def outlined(session: Session, params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol]:
    """The outline of a file."""
    job = partial(session.desk.parsed, file_of(params.text_document.uri))
    entries = outline(await session.at_work(job))
    return [symbol(session.places, entry) for entry in entries]


NOTES: dict[str, Callable[[Session, Any], None]] = {
    lsp.INITIALIZED: lambda session, _: session.begin(),
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
