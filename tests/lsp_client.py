"""A small client of the Language Server Protocol over a server's standard input and output.

It knows nothing of the server but the protocol's own framing (LSP 3.17, base protocol).
"""

from __future__ import annotations

import json
import queue
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any, BinaryIO

PATIENCE_S = 60.0
"""How long an answer may take.  A server that was started where ten other programs wanted the two
cores of a machine took 9 s to be loaded; it hung in nothing.
"""


class Client:
    """Starts the server; ``ask`` waits for an answer, ``tell`` sends a notification."""

    def __init__(
        self,
        encodings: tuple[str, ...] = (),
        root: Path | None = None,
        process: int | None = None,
        able: dict[str, Any] | None = None,
        folders: bool = True,
    ) -> None:
        command = [sys.executable, "-X", "faulthandler"]
        command += ["-m", "ferrule.cli.main", "editor", "--stdio"]
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe)
        assert self.process.stdin and self.process.stdout
        self.input: BinaryIO = self.process.stdin  # type: ignore[assignment]
        self.raw = b""
        self.arrived: queue.Queue[dict[str, Any]] = queue.Queue()
        self.notes: list[dict[str, Any]] = []
        self.number = 0
        threading.Thread(target=self._read, args=(self.process.stdout,), daemon=True).start()
        general = {"positionEncodings": list(encodings)} if encodings else {}
        within = [{"uri": root.as_uri(), "name": "rigs"}] if root and folders else None
        self.able = self.ask(
            "initialize",
            {
                "processId": process,
                "rootUri": root.as_uri() if root else None,
                "workspaceFolders": within,
                "capabilities": {"general": general, **(able or {})},
            },
        )["result"]["capabilities"]
        self.tell("initialized", {})

    def _read(self, stream: BinaryIO) -> None:
        while head := stream.readline():
            self.raw += head
            length = 0
            while head.strip():
                name, _, value = head.partition(b":")
                if name.lower() == b"content-length":
                    length = int(value)
                head = stream.readline()
            body = stream.read(length)
            self.raw += body
            self.arrived.put(json.loads(body))

    def _next(self, end: float) -> dict[str, Any]:
        """The next message; where none comes, says what became of the server."""
        try:
            return self.arrived.get(timeout=max(end - time.monotonic(), 0.01))
        except queue.Empty:
            ended = self.process.poll()
            self.process.send_signal(signal.SIGABRT)
            _, errors = self.process.communicate(timeout=10)
            told = errors.decode(errors="replace")[-4000:]
            raise AssertionError(f"no answer; ended: {ended}; {told}") from None

    def _send(self, message: dict[str, Any]) -> None:
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        self.input.write(b"Content-Length: %d\r\n\r\n%s" % (len(body), body))
        self.input.flush()

    def tell(self, method: str, params: Any) -> None:
        self._send({"method": method, "params": params})

    def start(self, method: str, params: Any) -> int:
        """Sends a request and does not wait; gives its number."""
        self.number += 1
        self._send({"id": self.number, "method": method, "params": params})
        return self.number

    def answer(self, number: int) -> dict[str, Any]:
        """The whole answer of a request; answers need not come in the order of the requests."""
        for note in self.notes:
            if note.get("id") == number and "method" not in note:
                self.notes.remove(note)
                return note
        end = time.monotonic() + PATIENCE_S
        while True:
            message = self._next(end)
            if message.get("id") == number and "method" not in message:
                return message
            self.notes.append(message)

    def ask(self, method: str, params: Any) -> dict[str, Any]:
        return self.answer(self.start(method, params))

    def result(self, method: str, params: Any) -> Any:
        """The result of a request that has to succeed."""
        answer = self.ask(method, params)
        assert "error" not in answer, answer
        return answer["result"]

    def open(self, path: Path, text: str) -> str:
        """Opens a file with a text of the editor's own; gives its address."""
        uri = path.as_uri()
        document = {"uri": uri, "languageId": "rig", "version": 1, "text": text}
        self.tell("textDocument/didOpen", {"textDocument": document})
        return uri

    def change(self, uri: str, text: str, version: int = 2) -> None:
        self.tell(
            "textDocument/didChange",
            {
                "textDocument": {"uri": uri, "version": version},
                "contentChanges": [{"text": text}],
            },
        )

    def diagnostics(self, uri: str) -> list[dict[str, Any]]:
        """The next diagnostics of a file."""
        end = time.monotonic() + PATIENCE_S
        while True:
            for note in list(self.notes):
                if note.get("method") == "textDocument/publishDiagnostics":
                    self.notes.remove(note)
                    if note["params"]["uri"] == uri:
                        found: list[dict[str, Any]] = note["params"]["diagnostics"]
                        return found
            self.notes.append(self._next(end))

    def at(self, uri: str, line: int, character: int, **more: Any) -> dict[str, Any]:
        """The parameters of a question about a place."""
        return {
            "textDocument": {"uri": uri},
            "position": {"line": line, "character": character},
            **more,
        }

    def close(self) -> int:
        """Ends the server as the protocol says; gives its exit code."""
        self.ask("shutdown", None)
        self.tell("exit", None)
        try:
            return self.process.wait(PATIENCE_S)
        finally:
            self.process.kill()
