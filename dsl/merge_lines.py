"""The lines of a text that was put together, conflicts between marks, in one layout."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from .reader import cleaned
from .writer import Unreadable, format_text

HIDDEN = "#@"  # a line that the layout takes for a comment: a mark, or one that would unpair braces


@dataclass(frozen=True, slots=True)
class Marks:
    """How a conflict is marked: how many signs, and what the two sides are called."""

    size: int = 7
    ours: str = "ours"
    theirs: str = "theirs"

    def around(self) -> tuple[str, str, str]:
        """The lines before, between and after the two sides."""
        signs = ("<" * self.size, "=" * self.size, ">" * self.size)
        return f"{signs[0]} {self.ours}", signs[1], f"{signs[2]} {self.theirs}"


@dataclass(frozen=True, slots=True)
class Clash:
    """The lines of a statement as it was and as each side has it; none where it is not there."""

    was: tuple[str, ...]
    ours: tuple[str, ...]
    theirs: tuple[str, ...]


Line = str | Clash


def laid_out(lines: Sequence[Line], sources: Iterable[str], marks: Marks) -> str:
    """The lines as a text: laid out the canonical way where all of its sources are."""
    if not all(_canonical(source) for source in sources):
        rows = [row for line in lines for row in _marked(line, marks)]
        return "".join(f"{row}\n" for row in rows)
    hidden: list[str] = []
    rows = [row for line in lines for row in _hiding(line, marks, hidden)]
    told = format_text("".join(f"{row}\n" for row in rows))
    return "".join(f"{_shown(row, hidden)}\n" for row in told.splitlines())


def _canonical(text: str) -> bool:
    try:
        return not text or format_text(text) == cleaned(text)
    except Unreadable:
        return False


def _marked(line: Line, marks: Marks) -> Iterator[str]:
    if isinstance(line, str):
        yield line
        return
    before, between, after = marks.around()
    yield from (before, *line.ours, between, *line.theirs, after)


def _hiding(line: Line, marks: Marks, hidden: list[str]) -> Iterator[str]:
    """A line as it can be laid out; what cannot is put aside and stands there by its number."""
    if isinstance(line, str):
        yield _hide(line, hidden) if line.strip().startswith(HIDDEN) else line
        return
    before, between, after = marks.around()
    yield _hide(before, hidden)
    yield from line.ours
    yield _hide(between, hidden)
    # One of two openings of a stage must do for the layout.
    opening = any(row.split(None, 1)[:1] == ["stage"] for row in (*line.ours, *line.theirs))
    twice = opening and bool(line.ours)
    yield from (_hide(row, hidden) for row in line.theirs) if twice else line.theirs
    yield _hide(after, hidden)


def _hide(row: str, hidden: list[str]) -> str:
    hidden.append(row)
    return f"{HIDDEN}{len(hidden) - 1}"


def _shown(row: str, hidden: Sequence[str]) -> str:
    number = row.strip().removeprefix(HIDDEN)
    return hidden[int(number)] if row.strip().startswith(HIDDEN) else row
