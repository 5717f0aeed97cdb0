"""The canonical layout, as the edits that lead to it."""

from __future__ import annotations

from difflib import SequenceMatcher

from ...dsl.model import Span
from ...dsl.writer import Unreadable, format_text
from .spots import Edit


def layout(text: str, file: str) -> list[Edit]:
    """What ``ferrule fmt`` would change, a stretch of lines each; nothing where a text is broken.

    What is right already is not touched, so that an editor's marks stay where they are.
    """
    try:
        laid_out = format_text(text, file)
    except Unreadable:
        return []
    old, new = text.split("\n"), laid_out.split("\n")
    matcher = SequenceMatcher(None, old, new, autojunk=False)
    return [
        _edit(file, old, (start, end), new[first:last])
        for tag, start, end, first, last in matcher.get_opcodes()
        if tag != "equal"
    ]


def _edit(file: str, old: list[str], rows: tuple[int, int], new: list[str]) -> Edit:
    """Lines put in the place of others; where none are left, the line's end goes with them."""
    start, end = rows
    if end < len(old):
        return Edit(Span(file, start + 1, 1, end + 1, 1), "".join(line + "\n" for line in new))
    last = len(old[-1]) + 1
    if start == 0:
        return Edit(Span(file, 1, 1, len(old), last), "\n".join(new))
    ahead = len(old[start - 1]) + 1
    return Edit(Span(file, start, ahead, len(old), last), "".join("\n" + line for line in new))
