"""The canonical layout of a text: columns aligned within a run of like statements.

Comments stay, nothing changes its order, at most one blank line stands between statements, and
a statement that its author carried on to further lines stays carried on.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence

from .kinds import kinds
from .parse import QUOTED, Token
from .problems import Problem
from .records import record, replace
from .source import Chunk, Statement, chunks, masked, statements

INDENT, CARRIED = 2, 4
WIDEST = 28  # a wider cell does not widen its column
_GAP = re.compile(r"\s+")
_COMMENT = re.compile(QUOTED + r"|(#[^\n]*)")
_CLASSES = {
    **dict.fromkeys(("place", "route"), "place"),
    **dict.fromkeys(("wire", "cable", "link", "bond"), "run"),
    **{word: word for word in ("part", "move", "mode", "revision")},
}


class Unreadable(Exception):
    """The text does not parse, so it cannot be laid out; ``problems`` says where."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__(f"{len(problems)} problem(s) in the text")
        self.problems = tuple(problems)


@record
class _Row:
    """One line to write: its class, its cells, its comment.  A ``text`` is written as it is."""

    kind: str
    cells: tuple[str, ...] = ()
    comment: str = ""
    depth: int = 0


def format_text(text: str, file: str = "<text>") -> str:
    """The text in canonical layout; raises ``Unreadable`` where it does not parse."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    problems: list[Problem] = []
    parsed = list(statements(text, file, problems))
    if problems:
        raise Unreadable(problems)
    rows = _rows(text, [s for s in parsed if isinstance(s, Statement)])
    return "".join(line.rstrip() + "\n" for line in _lines(rows))


def _rows(text: str, parsed: list[Statement]) -> list[_Row]:
    """The text as rows, one a line of the layout; blank lines come as rows of class ``blank``."""
    lines = text.split("\n")
    rows: list[_Row] = []
    depth = done = 0
    for chunk, statement in zip(chunks(text), parsed, strict=True):
        rows += [_between(line, depth) for line in lines[done : chunk.line - 1]]
        depth -= statement.word == "}" and depth > 0
        rows += _statement_rows(chunk, statement, depth)
        depth += statement.word == "stage"
        done = max(done, chunk.line + chunk.text.count("\n"))
    rows += [_between(line, depth) for line in lines[done:]]
    return _thinned(rows)


def _between(line: str, depth: int) -> _Row:
    return _Row("comment" if line.strip() else "blank", (), line.strip(), depth)


def _thinned(rows: Iterable[_Row]) -> list[_Row]:
    """Rows with no blank one at the start or the end, and never two in a row."""
    kept: list[_Row] = []
    for row in rows:
        if row.kind != "blank" or (kept and kept[-1].kind != "blank"):
            kept.append(row)
    if kept and kept[-1].kind == "blank":
        kept.pop()
    return kept


def _statement_rows(chunk: Chunk, statement: Statement, depth: int) -> list[_Row]:
    lines = _cut_lines(chunk, statement) if "\n" in chunk.text else []
    if len(lines) > 1:
        return _carried(lines, statement, depth)
    kind = _CLASSES.get(statement.word) or ("device" if statement.word in kinds() else "single")
    return [_Row(kind, CELLS[kind](statement), comment_of(chunk.text), depth)]


def tidy(token: Token) -> str:
    """A word with single spaces inside its brackets."""
    if token.type in ("END", "ATTR") and "(" in token:
        head, _, inner = token.partition("(")
        if '"' not in head:
            return f"{head}({' '.join(inner[:-1].split())})"
    return str(token)


def comment_of(line: str) -> str:
    """The comment on a line, with its `#`; "" where there is none."""
    return next((found[1].strip() for found in _COMMENT.finditer(line) if found[1]), "")


def _after_label(statement: Statement) -> tuple[str, ...]:
    first = 3 if statement.label else 2
    return tuple(tidy(t) for t in statement.tokens[first:])


def _labelled_cells(statement: Statement) -> tuple[str, ...]:
    """Word, name, label, items."""
    label = str(statement.label or "")
    return (statement.word, str(statement.name), label, " ".join(_after_label(statement)))


def _mode_cells(statement: Statement) -> tuple[str, ...]:
    """Word, name, label, brace, settings, brace."""
    brace, *settings = _after_label(statement)
    label = str(statement.label or "")
    return (statement.word, str(statement.name), label, brace, *settings)


def _part_cells(statement: Statement) -> tuple[str, ...]:
    """Word, name, kind, items."""
    words = [tidy(t) for t in statement.tokens]
    return (*words[:3], " ".join(words[3:]))


def _words(statement: Statement) -> tuple[str, ...]:
    return tuple(tidy(t) for t in statement.tokens)


def _sentence(statement: Statement) -> tuple[str, ...]:
    return (" ".join(_words(statement)),)


def _run_cells(statement: Statement) -> tuple[str, ...]:
    """Word, name, label, size, length, what else stands there, ends, arrow, ends, items."""
    rest = [t for t in statement.tokens[2:] if t.type != "LABEL"]
    first = next(i for i, t in enumerate(rest) if t.type == "END")
    arrow = next(i for i, t in enumerate(rest) if t.type == "ARROW")
    last = arrow + len(statement.far)
    before = [tidy(t) for t in rest[:first]]
    return (
        statement.word,
        str(statement.name),
        str(statement.label or ""),
        *[*before[:2], "", ""][:2],
        " ".join(before[2:]),
        " ".join(tidy(t) for t in rest[first:arrow]),
        "->",
        " ".join(tidy(t) for t in rest[arrow + 1 : last + 1]),
        " ".join(tidy(t) for t in rest[last + 1 :]),
    )


CELLS: dict[str, Callable[[Statement], tuple[str, ...]]] = {
    "device": _labelled_cells,
    "place": _labelled_cells,
    "revision": _labelled_cells,
    "part": _part_cells,
    "run": _run_cells,
    "mode": _mode_cells,
    "move": _words,
    "single": _sentence,
}


def _cut_lines(chunk: Chunk, statement: Statement) -> list[tuple[str, bool]]:
    """A statement as its author cut it into lines, and whether each goes on with a ``\\``."""
    lines: list[tuple[str, bool]] = []
    for number, line in enumerate(chunk.text.split("\n"), chunk.line):
        words = [tidy(t) for t in statement.tokens if statement.line_of(t) == number]
        joined = "  ".join(part for part in (" ".join(words), comment_of(line)) if part)
        if joined:
            lines.append((joined, masked(line).rstrip().endswith("\\")))
    return lines


def _carried(lines: list[tuple[str, bool]], statement: Statement, depth: int) -> list[_Row]:
    """The rows of a statement on several lines, its words a space apart."""
    pad = " " * (INDENT if statement.word == "mode" else CARRIED)
    rows = []
    for index, (line, goes_on) in enumerate(lines):
        lead = pad if index and line[0] != "}" else ""
        tail = " \\" if goes_on and index + 1 < len(lines) else ""
        rows.append(_Row("single", (lead + line + tail,), "", depth))
    return rows


def _lines(rows: Iterable[_Row]) -> Iterator[str]:
    """The rows as lines, those of a run of one class under one another."""
    for run in _runs(rows):
        aligned = _alike([row for row in run if row.kind != "comment"])
        widths = _widths(aligned)
        statements_left = iter(aligned)
        for row in run:
            shown = row if row.kind == "comment" else next(statements_left)
            yield " " * (INDENT * row.depth) + _joined(shown, widths)


def _runs(rows: Iterable[_Row]) -> Iterator[list[_Row]]:
    """Runs of rows of one class and depth; comments go with what they stand in or after."""
    run: list[_Row] = []
    kind = ("", 0)
    for row in rows:
        own = (row.kind, row.depth)
        if run and row.kind != "comment" and (row.kind == "single" or own != kind):
            yield run
            run = []
        if row.kind != "comment":
            kind = own
        run.append(row)
    yield run


def _alike(rows: list[_Row]) -> list[_Row]:
    """Modes that set other devices are not aligned setting by setting."""
    shapes = {tuple(cell.partition("=")[0] for cell in row.cells[3:]) for row in rows}
    if len(shapes) == 1 or not rows or rows[0].kind != "mode":
        return rows
    return [replace(row, cells=(*row.cells[:3], " ".join(row.cells[3:]))) for row in rows]


def _joined(row: _Row, widths: list[int]) -> str:
    pairs = zip(row.cells, widths, strict=False)
    text = " ".join(cell.ljust(width) for cell, width in pairs if width or cell).rstrip()
    return "  ".join(part for part in (text, row.comment) if part)


def _widths(rows: list[_Row]) -> list[int]:
    """The width of each column: its widest cell, very wide ones left out of account."""
    count = max((len(row.cells) for row in rows), default=0)
    columns = [[len(row.cells[n]) for row in rows if n < len(row.cells)] for n in range(count)]
    return [max((width for width in column if width <= WIDEST), default=0) for column in columns]
