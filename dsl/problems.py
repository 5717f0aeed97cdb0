"""What is wrong with a text: one record, one way to show it, and the search for near misses."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from .model import Span
from .records import record, replace


@record
class Problem:
    """One mistake in the text.

    ``message`` says what is wrong, ``expected`` what would have been right, in plain words, and
    ``hint`` what to do about it; the last two may be empty.  ``name`` is a name that is nowhere:
    wherever else it stands, that is the same mistake.
    """

    span: Span
    message: str
    expected: str = ""
    hint: str = ""
    name: str = ""

    def sort_key(self) -> tuple[str, int, int, str]:
        return (self.span.file, self.span.line, self.span.column, self.message)


MOST = 5000


class TooMany(Exception):
    """A text with more of something than a rig has, or more mistakes than anybody would read."""


class Problems(list[Problem]):
    """Problems as they are found; one more than ``MOST`` raises ``TooMany``."""

    def append(self, problem: Problem) -> None:
        if len(self) == MOST:
            raise TooMany(f"more than {MOST} mistakes; no others were looked for")
        super().append(problem)


def told_once(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """The problems by place; one for each name that is nowhere, with the other lines it is on."""
    ordered = sorted(set(problems), key=Problem.sort_key)
    first: dict[object, Problem] = {}
    others: dict[object, dict[str, None]] = {}
    for problem in ordered:
        key = (problem.name, problem.message) if problem.name else problem
        known = first.setdefault(key, problem)
        here, there = known.span, problem.span
        if (here.file, here.line) != (there.file, there.line):
            line = f"{there.line}" if here.file == there.file else f"{there.file}:{there.line}"
            others.setdefault(key, {})[line] = None
    return tuple(
        replace(p, message=f"{p.message}; it is named on {_lines(others[key])} too")
        if key in others
        else p
        for key, p in first.items()
    )


def _lines(lines: Iterable[str]) -> str:
    found = list(lines)
    return f"line {found[0]}" if len(found) == 1 else f"lines {listed(found)}"


HINTED = 100  # after so many problems, names are no longer searched for near misses


def near(word: str, words: Iterable[str]) -> str:
    """The word of ``words`` that ``word`` is most likely a slip of, or an empty string."""
    from difflib import get_close_matches  # only a text with mistakes pays for it

    known = {w.casefold(): w for w in sorted(words, reverse=True)}
    close = get_close_matches(word.casefold(), known, n=1, cutoff=0.6)
    return known[close[0]] if close else ""


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """A hint naming the near miss, or an empty string where nothing is near."""
    close = near(word, words)
    return f"did you mean `{close}`?" if close else ""


def listed(words: Iterable[str], limit: int = 12) -> str:
    """Words for people: in order, cut off where the list would be too long to read."""
    shown = list(words)
    if len(shown) > limit:
        return " ".join(shown[:limit]) + f" … ({len(shown)} in all)"
    return " ".join(shown)


BOLD, RED, BLUE, PLAIN = "\x1b[1m", "\x1b[31;1m", "\x1b[34;1m", "\x1b[0m"
WIDEST = 160


@lru_cache(maxsize=4)
def _rows(text: str) -> list[str]:
    """The lines of a text, cut once for all that is shown of it."""
    return text.split("\n")


def excerpt(span: Span, sources: Mapping[str, str]) -> tuple[str, str] | None:
    """The line of text a span starts on and the carets under it; None where there is no text."""
    lines = _rows(sources.get(span.file, ""))
    if not 1 <= span.line <= len(lines) or not lines[span.line - 1].strip():
        return None
    line = lines[span.line - 1]
    end = span.end_column if span.end_line == span.line else len(line) + 1
    start = min(span.column, len(line) + 1)
    skip = max(0, start - WIDEST // 2) if len(line) > WIDEST else 0
    shown = plain(line[skip : skip + WIDEST])
    carets = max(1, min(end - start, len(shown) - (start - 1 - skip)))
    return shown, " " * (start - 1 - skip) + "^" * carets


def plain(text: str) -> str:
    """The text with a sign in place of each character that a terminal would act on.

    >>> plain("a\x1b[2J")
    'a\ufffd[2J'
    """
    if text.isprintable():
        return text
    text = text.replace("\t", " ")
    return "".join(c if c.isprintable() or c in "\n\xa0" else "\ufffd" for c in text)


def render_problem(problem: Problem, sources: Mapping[str, str], colour: bool = False) -> str:
    """A problem as text for people: place, message, the line with carets, and what to do."""
    bold, red, blue, end = (BOLD, RED, BLUE, PLAIN) if colour else ("", "", "", "")
    span = problem.span
    rows = [f"{bold}{plain(str(span))}: {red}error:{end}{bold} {plain(problem.message)}{end}"]
    shown = excerpt(span, sources)
    if shown:
        number = f"{span.line:>5}"
        rows.append(f"{blue}{number} |{end} {shown[0]}".rstrip())
        rows.append(f"{blue}{' ' * len(number)} |{end} {red}{shown[1]}{end}")
    if problem.expected:
        rows.append(f"      {bold}expected:{end} {plain(problem.expected)}")
    if problem.hint:
        rows.append(f"      {bold}hint:{end} {plain(problem.hint)}")
    return "\n".join(rows)
