"""One editor's session: what it holds, what was last found in it, and the work under way."""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import NoReturn, TypeVar

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException
from pygls.lsp.server import LanguageServer

from .complaints import Complaint, complaints
from .desk import Desk, Judgement
from .hover import Traced
from .places import Places
from .shapes import diagnostic

QUIET_S, PATIENCE = 0.02, 10
"""How long a text has to stay as it is before it is looked at, s; a tenth of the last look more."""
ALIVE_S = 3.0
"""How often it is asked whether the editor's process is still there, s."""
CONTENT_MODIFIED = -32801  # LSP 3.17, ErrorCodes
WATCHED = ("**/*.rig", "**/*.book")
T = TypeVar("T")


class Session:
    """Texts are taken at once; whatever asks the desk about them waits for its one worker."""

    def __init__(self, server: LanguageServer, outside: bool = False) -> None:
        self.server = server
        self.desk = Desk(outside)
        self.places = Places(server, self.desk)
        self.traced = Traced()
        self.judged: dict[str, Judgement] = {}
        self.shown: dict[str, dict[str, list[Complaint]]] = {}
        self.waiting: dict[str, asyncio.Task[None]] = {}
        self.took_s: dict[str, float] = {}
        self.versions: dict[str, int] = {}
        self.lasting: asyncio.Task[NoReturn] | None = None
        self.ended = False
        # One at a time: readings and tracings are kept, and are not made to be shared.
        self.worker = ThreadPoolExecutor(max_workers=1)

    def begin(self) -> None:
        """The editor is ready: asks it to tell of files that change on the disk."""
        if self.server.process_id is not None and os.name == "posix":
            self.lasting = asyncio.ensure_future(ended(self.server.process_id))
        able = self.server.client_capabilities.workspace
        watches = able.did_change_watched_files if able else None
        if watches and watches.dynamic_registration:
            watchers = [lsp.FileSystemWatcher(glob_pattern) for glob_pattern in WATCHED]
            options = lsp.DidChangeWatchedFilesRegistrationOptions(watchers)
            kind = lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES
            asked = lsp.RegistrationParams([lsp.Registration("files", kind, options)])
            self.server.client_register_capability(asked)

    def replaces(self) -> bool:
        """Whether the editor can put a completion in the place of a whole word, or of its start."""
        able = self.server.client_capabilities.text_document
        item = able.completion.completion_item if able and able.completion else None
        return bool(item and item.insert_replace_support)

    async def at_work(self, job: Callable[[], T]) -> T:
        """Runs a job beside the reading of messages, after those before it."""
        return await asyncio.get_running_loop().run_in_executor(self.worker, job)

    async def unchanged(self, job: Callable[[], T]) -> T:
        """As ``at_work``, for edits: refused where a text has changed by the time it is done."""
        before = self.desk.generation
        done = await self.at_work(job)
        if self.desk.generation != before:
            raise JsonRpcException(code=CONTENT_MODIFIED, message="the text has changed meanwhile")
        return done

    def changed(self, file: str) -> None:
        """A text has changed: looks anew at all that it has to do with, once it stays so."""
        self.look_at((file, *self.concerned(file)))

    def concerned(self, file: str) -> list[str]:
        """The open files that are judged in another way when a file changes or is closed."""
        used = [other for other in self.desk.uses(file) if other in self.desk.open]
        return [*self.desk.concerned(file), *used]

    def look_at(self, roots: Iterable[str]) -> None:
        """Looks anew at some files, once they stay as they are."""
        for root in dict.fromkeys(roots):
            task = self.waiting.pop(root, None)
            if task is not None:
                task.cancel()
            self.waiting[root] = asyncio.ensure_future(self.look(root))

    async def look(self, root: str) -> None:
        """Judges a file when it has been quiet, and shows what is found.

        A part of an open rig is judged with that rig, not for itself.
        """
        await asyncio.sleep(QUIET_S + self.took_s.get(root, 0.0) / PATIENCE)
        try:
            if root in self.desk.open and root in self.desk.roots(root):
                started = time.perf_counter()
                self.judged[root] = await self.at_work(partial(self.desk.judged, root))
                self.took_s[root] = time.perf_counter() - started
                self.show(root, complaints(self.judged[root]))
            else:
                self.judged.pop(root, None)
                self.took_s.pop(root, None)
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
        """Sends what there is to underline in a file."""
        shown = [diagnostic(self.places, row) for row in rows]
        self.server.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(self.places.uri(file), shown, self.versions.get(file))
        )

    def end(self) -> None:
        """The editor wants no more: whatever waits is given up, what runs is not waited for."""
        self.ended = True
        for task in self.waiting.values():
            task.cancel()
        self.worker.shutdown(wait=False, cancel_futures=True)


async def ended(process: int) -> NoReturn:
    """Ends the server when a process is there no more; its pipes may be held open by others."""
    while True:
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            raise SystemExit from None
        except (OverflowError, OSError):
            pass  # another's, or none that can be asked
        await asyncio.sleep(ALIVE_S)


def tell(server: LanguageServer, error: Exception) -> None:
    """A line in the editor's log, if there still is an editor."""
    if isinstance(error, BrokenPipeError):
        return  # it does not listen any more; the end of its own words ends the server
    words = f"a defect of ferrule, not of your text: {type(error).__name__}: {error}"
    server.window_log_message(lsp.LogMessageParams(lsp.MessageType.Error, words))
