"""Serves one page on this machine alone: no files, no folders, no other hosts.

``/`` is the page, ``/events`` a stream of its versions (server-sent events).  The server listens on
the loopback address; a request that was sent to another name than that is refused, so that no site
can reach it by a name of its own that leads here.
"""

from __future__ import annotations

from contextlib import suppress
from errno import EADDRINUSE
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from .errors import Unusable
from .watching import Picture

HOST = "127.0.0.1"
NAMES = (HOST, "localhost")
ALIVE_S = 10.0
"""A stream says that it is alive this often, s, and so learns whether anybody listens."""
HEADERS = (
    ("Cache-Control", "no-store"),
    ("X-Content-Type-Options", "nosniff"),
    ("X-Frame-Options", "DENY"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Referrer-Policy", "no-referrer"),
)


class Server(ThreadingHTTPServer):
    """Listens on the loopback address; raises ``Unusable`` where the port is not to be had."""

    daemon_threads = True

    def __init__(self, port: int, picture: Picture) -> None:
        self.picture = picture
        try:
            super().__init__((HOST, port), Handler)
        except (OSError, OverflowError) as error:
            taken = isinstance(error, OSError) and error.errno == EADDRINUSE
            why = "is taken" if taken else f"cannot be used: {error}"
            hint = "name another with --port, or 0 for any that is free"
            raise Unusable(f"port {port} of {HOST} {why}", hint) from None

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://{HOST}:{self.server_port}/"

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A reader that went away is nothing to tell of."""


class Handler(BaseHTTPRequestHandler):
    """One request."""

    server: Server
    server_version = "ferrule"
    sys_version = ""
    timeout = 30

    def do_GET(self) -> None:
        """The page, or the stream of its versions."""
        if self.headers.get("Host") not in {f"{name}:{self.server.server_port}" for name in NAMES}:
            self._plain(HTTPStatus.MISDIRECTED_REQUEST, "only for this machine")
        elif self.path == "/":
            self._begin(HTTPStatus.OK, "text/html; charset=utf-8")
            self.wfile.write(self.server.picture.html.encode())
        elif self.path == "/events":
            with suppress(OSError):  # the reader went away
                self._events()
        elif self.path == "/favicon.ico":  # which browsers ask for by themselves
            self._begin(HTTPStatus.NO_CONTENT, "image/x-icon")
        else:
            self._plain(HTTPStatus.NOT_FOUND, "there is nothing here")

    def _events(self) -> None:
        self._begin(HTTPStatus.OK, "text/event-stream")
        self.wfile.write(b"retry: 500\n\n")
        seen = 0
        while True:
            version = self.server.picture.wait(seen, ALIVE_S)
            told = f"data: {version}" if version != seen else ": alive"
            self.wfile.write(f"{told}\n\n".encode())
            seen = version

    def _begin(self, status: HTTPStatus, kind: str) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        for header in HEADERS:
            self.send_header(*header)
        self.end_headers()

    def _plain(self, status: HTTPStatus, words: str) -> None:
        self._begin(status, "text/plain; charset=utf-8")
        self.wfile.write(f"{words}\n".encode())

    def log_message(self, format: str, *args: Any) -> None:
        """Requests are not worth a line each."""
