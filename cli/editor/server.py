"""The server of one editor: the protocol over standard input and output, from its start to its end.

Nothing that goes wrong here reaches the editor but as a line in its log: a request that fails is
answered with nothing.
"""

from __future__ import annotations

import gc
import logging
import os
import sys
from collections.abc import Awaitable, Callable
from contextlib import redirect_stdout, suppress
from typing import Any

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException
from pygls.lsp.server import LanguageServer

from ...dsl import VERSION
from .answers import ANSWERS, NOTES
from .session import Session, tell
from .shapes import SOURCE

Note = Callable[[Session, Any], None]
Answer = Callable[[Session, Any], Awaitable[Any]]


class Server(LanguageServer):
    """A server that ends when it is told to, whatever its threads still wait for."""

    def shutdown(self) -> None:
        """Ends without waiting for the thread that reads: no more may come, and no end either."""
        if self._thread_pool is not None:
            self._thread_pool.shutdown(wait=False, cancel_futures=True)


def serve(outside: bool = False) -> bool:
    """Answers the editor on standard input and output until it ends; whether it ended in order.

    What anything else would print goes where errors go: standard output is the editor's alone.
    """
    logging.getLogger("pygls").setLevel(logging.CRITICAL)
    gc.enable()  # a run of the command line is short and goes without; this one is not
    gc.freeze()
    server, session = build(outside)
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    with suppress(BrokenPipeError), out, redirect_stdout(sys.stderr):
        server.start_io(stdout=out)
    return session.ended


def build(outside: bool = False) -> tuple[Server, Session]:
    """A server for one editor, and its session."""
    server = Server(SOURCE, VERSION, text_document_sync_kind=lsp.TextDocumentSyncKind.Full)
    session = Session(server, outside)
    server.feature(lsp.SHUTDOWN)(lambda _: session.end())
    for name, note in NOTES.items():
        server.feature(name)(safe_note(session, note))
    for name, (answer, options) in ANSWERS.items():
        server.feature(name, options)(safe_answer(session, answer))
    return server, session


def safe_note(session: Session, note: Note) -> Callable[[Any], None]:
    """What takes a notice of the editor; whatever fails is told in its log."""

    def take(params: Any) -> None:
        try:
            note(session, params)
        except Exception as error:
            tell(session.server, error)

    return take


def safe_answer(session: Session, answer: Answer) -> Callable[[Any], Awaitable[Any]]:
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
