"""Places as the protocol has them: addresses, ranges and edits of the texts at a desk."""

from __future__ import annotations

from collections.abc import Iterable

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

from ...dsl.model import Span
from .desk import Desk
from .spots import Edit, Lines, Spot
from .texts import name_of, path_of


class Places:
    """The files of a desk as one editor names them and counts in them."""

    def __init__(self, server: LanguageServer, desk: Desk) -> None:
        self.server, self.desk = server, desk
        self.uris: dict[str, str] = {}
        self._lines: dict[str, Lines] = {}

    def uri(self, file: str) -> str:
        """The address of a file, as the editor itself wrote it where it has."""
        return self.uris.get(file) or uri_of(file)

    def lines(self, file: str) -> Lines:
        """The text of a file, counted as this editor counts."""
        told = self.server.server_capabilities.position_encoding or "utf-16"
        text, encoding = self.desk.text(file), str(getattr(told, "value", told))
        known = self._lines.get(file)
        if known is None or known.text != text:
            known = self._lines[file] = Lines(text, encoding)
        return known

    def offset(self, file: str, position: lsp.Position) -> int:
        """The index in a file's text that an editor's position means."""
        return self.lines(file).offset(Spot(position.line, position.character))

    def range(self, span: Span) -> lsp.Range:
        """A span in the text as it is now."""
        start, end = self.lines(span.file).spots(span)
        return lsp.Range(lsp.Position(*start), lsp.Position(*end))

    def location(self, span: Span) -> lsp.Location:
        """A span with its file's address."""
        return lsp.Location(self.uri(span.file), self.range(span))

    def edit(self, edit: Edit) -> lsp.TextEdit:
        """A change, its lines ended as those of the editor's text are."""
        return lsp.TextEdit(self.range(edit.span), self.desk.ended(edit.span.file, edit.text))

    def edits(self, edits: Iterable[Edit]) -> lsp.WorkspaceEdit:
        """Changes of several files."""
        changes: dict[str, list[lsp.TextEdit]] = {}
        for edit in edits:
            changes.setdefault(self.uri(edit.span.file), []).append(self.edit(edit))
        return lsp.WorkspaceEdit(changes=dict(changes))

    def folders(self) -> list[str]:
        """The folders that the editor works in."""
        space = self.server.workspace
        uris = list(space.folders) or [space.root_uri or ""]
        return [path for uri in uris if (path := to_fs_path(uri))]

    def forget(self, file: str) -> None:
        """The editor has closed the file."""
        self.uris.pop(file, None)
        self._lines.pop(file, None)


def uri_of(file: str) -> str:
    """The address of a file that spans name; one that the editor has not saved is its own."""
    path = path_of(file)
    return path if "://" in path or path.startswith("untitled:") else from_fs_path(path) or path


def file_of(uri: str) -> str:
    """The file that an address means."""
    path = to_fs_path(uri) if uri.startswith("file:") else None
    return name_of(path) if path else uri
