"""Changes of the text that the remedy of a finding speaks of; whether they mend it is for others.

What a remedy asks for that only the rig itself can tell (a torque, a fault current) is not offered.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from ...checks.books.book import book
from ...checks.findings import Finding
from ...dsl.kinds import kinds
from ...dsl.model import Span
from ...dsl.parse import Token
from ...dsl.records import record
from ...dsl.source import Statement
from ...dsl.units import AWG
from .desk import Desk
from .names import RUNS
from .spots import Edit

AREAS = (0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120)
"""Nominal areas, mm2 (IEC 60228:2004 Table 1)."""
STEPS = 3
"""How many larger sizes, and smaller ratings, are tried."""
_SIZE = re.compile(r"(\d+[xX×])?(\d+(?:\.\d+)?(?:/0)?)(AWG|mm2)")
_NAMES = re.compile(r"[A-Za-z][\w-]*")


@record
class Way:
    """A change: its title, the edit, whether it is sure to be what the author wants.

    Of those with one ``aim``, the first that mends is enough.
    """

    title: str
    edit: Edit
    sure: bool = False
    aim: str = ""


@record
class Case:
    """A finding, the texts, and the name of the book that it is judged by."""

    desk: Desk
    finding: Finding
    book: str

    def of(self, name: str) -> Statement | None:
        """The statement of the finding's file that declares a device or a conductor."""
        for statement in self.desk.parsed(self.finding.span.file):
            declares = statement.word in RUNS or statement.word in kinds()
            if declares and isinstance(statement, Statement) and str(statement.name or "") == name:
                return statement
        return None

    def at(self) -> Statement | None:
        """The statement that the finding points at."""
        span = self.finding.span
        for statement in self.desk.parsed(span.file):
            if isinstance(statement, Statement) and statement.word not in ("stage", "}"):
                own = statement.span
                if (own.line, own.column) <= (span.line, span.column) and (
                    span.end_line,
                    span.end_column,
                ) <= (own.end_line, own.end_column):
                    return statement
        return None


def ways(desk: Desk, finding: Finding, of_book: str) -> Iterator[Way]:
    """Changes that may mend a finding, by what its remedy says."""
    for pattern, make in REMEDIES:
        found = pattern.search(finding.fix)
        if found:
            yield from make(Case(desk, finding, of_book), found)


# -- one function for each remedy -----------------------------------------------------------------


def _bond(case: Case, found: re.Match[str]) -> Iterator[Way]:
    statement = case.at()
    if statement is not None and statement.word in RUNS and statement.word != "bond":
        edit = Edit(statement.at(statement.tokens[0]), "bond")
        yield Way(f"make {statement.name} a `bond`", edit, sure=True)


def _take_out(case: Case, found: re.Match[str]) -> Iterator[Way]:
    statement = case.at()
    if statement is not None and statement.word in ("accept", "part"):
        span = statement.span
        whole = Span(span.file, span.line, 1, span.end_line + 1, 1)
        yield Way(f"take this `{statement.word}` out", Edit(whole, ""), sure=True)


def _thicker(case: Case, found: re.Match[str]) -> Iterator[Way]:
    """The next sizes of the conductor that the finding is on, or that its remedy names."""
    names = [*(name.split("/")[0] for name in case.finding.on), *_NAMES.findall(case.finding.fix)]
    statements = (case.of(name) for name in names)
    for statement in [s for s in statements if s is not None and s.word in RUNS][:1]:
        for token in statement.tokens:
            size = _SIZE.fullmatch(token)
            for larger in _larger(size[2], size[3]) if size else ():
                words = f"{size[1] or ''}{larger}{size[3]}" if size else ""
                edit = Edit(statement.at(token), words)
                yield Way(f"make {statement.name} {words}", edit, aim="size")


def _larger(number: str, unit: str) -> list[str]:
    """The next larger trade sizes."""
    sizes = list(AWG) if unit == "AWG" else [f"{mm2:g}" for mm2 in AREAS]
    at = sizes.index(number) + 1 if number in sizes else len(sizes)
    return sizes[at : at + STEPS]


def _rated(case: Case, found: re.Match[str]) -> Iterator[Way]:
    """The largest standard ratings that are not above what the remedy says."""
    most = float(found["amps"])
    ratings = [r for r in reversed(book(case.book).standard_ratings) if r <= most][:STEPS]
    name = found["name"] if found["name"] in case.finding.fix.split() else ""
    statements = (case.of(device) for device in (name, *case.finding.on))
    statement = next((s for s in statements if s is not None and s.word in kinds()), None)
    if statement is None:
        return
    own = next((t for t in statement.items if re.fullmatch(r"[\d.]+A", t)), None)
    for rating in ratings:
        words = f"{rating:g}A"
        edit = Edit(statement.at(own), words) if own else _added(statement, words)
        yield Way(f"make {statement.name} {words}", edit, aim="rating")


def _on_ways(case: Case, found: re.Match[str]) -> Iterator[Way]:
    yield from _with(case, f"at={found['panel']}.{found['ways']}")


def _planned(case: Case, found: re.Match[str]) -> Iterator[Way]:
    yield from _with(case, "status=planned")


def _with(case: Case, words: str) -> Iterator[Way]:
    """An attribute put in the place of the one of its key, or added."""
    statement = case.of(case.finding.on[0]) if case.finding.on else None
    if statement is not None:
        key = words.partition("=")[0] + "="
        own = next((t for t in statement.items if t.startswith(key)), None)
        edit = Edit(statement.at(own), words) if own else _added(statement, words)
        yield Way(f"write {words} on {statement.name}", edit)


def _ferrule(case: Case, found: re.Match[str]) -> Iterator[Way]:
    yield from _with(case, "ends=ferrule")


def _spare(case: Case, found: re.Match[str]) -> Iterator[Way]:
    statement = case.of(found["name"])
    if statement is not None and statement.name is not None:
        own: Token = statement.label or statement.name
        words = '"Spare"' if statement.label else f'{own} "Spare"'
        yield Way(f'label {statement.name} "Spare"', Edit(statement.at(own), words))


Make = Callable[[Case, re.Match[str]], Iterator[Way]]
REMEDIES: tuple[tuple[re.Pattern[str], Make], ...] = tuple(
    (re.compile(says), make)
    for says, make in {
        "`bond ": _bond,
        "take the accept out|or take the part out": _take_out,
        "or thicker|thicker conductor|as thick as its line|larger (?:size|conductor|feeder|leads)"
        "|an earth of at least": _thicker,
        r"(?:(?P<name>[A-Za-z][\w-]*) of |at most )(?P<amps>[\d.]+) A(?: at most)?": _rated,
        r"give it ways (?P<ways>\d+(?:-\d+)?) of (?P<panel>[A-Za-z][\w-]*)": _on_ways,
        "say status=planned": _planned,
        "crimp a ferrule on": _ferrule,
        r'label (?P<name>[A-Za-z][\w-]*) "Spare"': _spare,
    }.items()
)
"""What a remedy says, and the changes of the text that it comes to."""


# -- statements -----------------------------------------------------------------------------------


def _added(statement: Statement, words: str) -> Edit:
    """Words at the end of a statement."""
    span = statement.span
    end = Span(span.file, span.end_line, span.end_column, span.end_line, span.end_column)
    return Edit(end, f" {words}")
