"""The lines of a text that was put together, conflicts between marks, in one layout."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from .reader import cleaned
from .writer import Unreadable, format_text


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
    hiding = _Hiding([row for line in lines for row in _marked(line, marks)])
    rows = [row for line in lines for row in hiding.rows(line, marks)]
    told = format_text("".join(f"{row}\n" for row in rows))
    return "".join(f"{hiding.shown(row)}\n" for row in told.splitlines())


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


class _Hiding:
    """Lines that cannot be laid out stand as comments meanwhile: marks, one opening of two."""

    def __init__(self, rows: Sequence[str]) -> None:
        self.mark = "#@"  # no line of the text begins so
        while any(row.lstrip().startswith(self.mark) for row in rows):
            self.mark += "@"
        self.hidden: list[str] = []

    def rows(self, line: Line, marks: Marks) -> Iterator[str]:
        """A line as it can be laid out."""
        if isinstance(line, str):
            yield line
            return
        before, between, after = marks.around()
        yield self._hide(before)
        yield from line.ours
        yield self._hide(between)
        # A stage that both open, each in its own words, is closed once.
        twice = bool(line.ours) and any(row.split(None, 1)[:1] == ["stage"] for row in line.theirs)
        yield from (self._hide(row) for row in line.theirs) if twice else line.theirs
        yield self._hide(after)

    def _hide(self, row: str) -> str:
        self.hidden.append(row)
        return f"{self.mark}{len(self.hidden) - 1}"

    def shown(self, row: str) -> str:
        """A line that has been laid out as it is to be written."""
        bare = row.lstrip()
        return self.hidden[int(bare[len(self.mark) :])] if bare.startswith(self.mark) else row
