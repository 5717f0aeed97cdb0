"""One session: edits are for the texts that they were worked out from."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest
from editor_rigs import PARTS, RIG
from ferrule.cli.editor.server import build
from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException


def test_edits_for_a_text_that_has_changed_meanwhile_are_refused(tmp_path: Path) -> None:
    """LSP 3.17, ErrorCodes: ContentModified is -32801."""
    _, session = build()
    file = str(tmp_path / "bus.rig")
    session.desk.put(file, RIG)
    assert asyncio.run(session.unchanged(lambda: 7)) == 7
    with pytest.raises(JsonRpcException) as refused:
        asyncio.run(session.unchanged(lambda: session.desk.put(file, RIG + "\n")))
    assert refused.value.code == lsp.LSPErrorCodes.ContentModified.value == -32801
    session.end()


def test_what_is_kept_is_of_the_texts_as_they_are(tmp_path: Path) -> None:
    _, session = build()
    desk, file, kit = session.desk, str(tmp_path / "bus.rig"), tmp_path / "kit.rig"
    kit.write_text(PARTS, encoding="utf-8")
    desk.put(file, RIG)
    first = desk.judged(file)
    assert desk.judged(file) is first and not first.problems
    kit.write_text(PARTS.replace("fuse10", "fuse12"), encoding="utf-8")
    assert desk.judged(file) is first, "the disk is looked at when something is said to change"
    desk.stale()
    assert [problem.span.file for problem in desk.judged(file).problems] == [file]
    desk.drop(file)
    assert desk.text(file) == "" and not desk.good
    session.end()
