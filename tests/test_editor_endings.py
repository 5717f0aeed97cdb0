"""How the server ends: as the protocol says, and when an editor goes without a word.

LSP 3.17: after `shutdown` and `exit` the server ends with code 0, after `exit` alone with 1, and
with the process that its client named.
"""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from ferrule.cli.editor.session import ALIVE_S
from lsp_client import PATIENCE_S, Client

EXAMPLE = Path(__file__).parents[1] / "examples/mobile_clinic.rig"
TEXT = EXAMPLE.read_text(encoding="utf-8")


@pytest.fixture
def client() -> Iterator[Client]:
    client = Client()
    client.open(EXAMPLE, TEXT)
    yield client
    client.process.kill()
    client.process.wait()


def ended(client: Client) -> int:
    """The exit code, once the server has ended; it has said nothing where errors go."""
    code = client.process.wait(PATIENCE_S)
    assert client.process.stderr is not None and client.process.stderr.read() == b""
    return code


def framed(**message: Any) -> bytes:
    body = json.dumps({"jsonrpc": "2.0", **message}).encode()
    return b"Content-Length: %d\r\n\r\n%s" % (len(body), body)


def checking(client: Client) -> None:
    """Some work under way: changes of all sizes, and a question."""
    uri = EXAMPLE.as_uri()
    for number in range(2, 20):
        text = TEXT[:-number] if number % 3 else TEXT
        client.change(uri, text, number)
    client.start("textDocument/hover", client.at(uri, 60, 8))


def test_in_order_at_any_moment() -> None:
    for number in range(6):
        other = Client()
        other.open(EXAMPLE, TEXT)
        if number % 2:
            checking(other)
        time.sleep(random.Random(number).random() * 0.2)
        assert other.close() == 0
        assert ended(other) == 0


def test_shutdown_does_not_wait_for_a_check(client: Client) -> None:
    """20,000 wires take a check seconds; whether to end is answered in the midst of it."""
    rows = "\n".join(
        f"wire X{n} 14AWG 1m J{n // 500}.{n} -> J{n // 500 + 1}.{n}" for n in range(20_000)
    )
    joints = "\n".join(f"joint J{n}" for n in range(42))
    rig = f'rig "A"\nrules abyc-e11\nbattery GB 12V 100Ah fault=1kA\n{joints}\n{rows}\n'
    client.change(EXAMPLE.as_uri(), rig, 2)
    time.sleep(0.5)
    assert client.close() == 0
    published = "textDocument/publishDiagnostics"
    found = [note["params"] for note in client.notes if note.get("method") == published]
    assert all(params.get("version") != 2 for params in found), "it was done before: more wires"


def test_exit_without_shutdown(client: Client) -> None:
    checking(client)
    client.tell("exit", None)
    assert ended(client) == 1


@pytest.mark.parametrize("words", [b"", b"Content-Le", b"Content-Length: 500\r\n\r\n{"])
def test_an_editor_that_closes_its_end(client: Client, words: bytes) -> None:
    checking(client)
    client.input.write(words)
    client.input.close()
    assert ended(client) == 1


def test_an_editor_that_does_not_listen_any_more() -> None:
    """What is found has nowhere to go: no complaint, and the server ends with its input."""
    command = [sys.executable, "-m", "ferrule.cli.main", "editor"]
    pipe = subprocess.PIPE
    server = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe)
    assert server.stdin and server.stdout and server.stderr
    document = {"uri": EXAMPLE.as_uri(), "languageId": "rig", "version": 1, "text": TEXT}
    server.stdin.write(framed(id=1, method="initialize", params={"capabilities": {}}))
    server.stdin.flush()
    assert server.stdout.readline().startswith(b"Content-Length")
    server.stdout.close()
    server.stdin.write(framed(method="textDocument/didOpen", params={"textDocument": document}))
    server.stdin.flush()
    time.sleep(1.0)
    server.stdin.close()
    assert server.wait(PATIENCE_S) == 1
    assert server.stderr.read() == b""


@pytest.mark.skipif(sys.platform == "win32", reason="interrupts are sent otherwise there")
def test_an_interrupt_ends_it_although_the_input_is_open(client: Client) -> None:
    """It hung here: the end waited for the thread that reads, which waited for the editor."""
    client.diagnostics(EXAMPLE.as_uri())
    client.process.send_signal(signal.SIGINT)
    assert ended(client) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="there it is not asked for")
def test_it_does_not_outlive_the_process_that_is_named() -> None:
    editor = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    client = Client(process=editor.pid)
    time.sleep(0.2)
    assert client.process.poll() is None
    editor.communicate(b"\n")
    assert client.process.wait(ALIVE_S + PATIENCE_S) == 1
