"""The register of rules: what a rule is, and all of them by code.

A rule is a function from a traced stage to hits.  Its docstring is what ``ferrule explain``
prints: what it means, why it matters, what breaks it, what does not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from ..dsl.model import Span
from ..dsl.records import record
from .findings import ERROR, Related
from .tracing.trace import Stage


@record
class Hit:
    """What a rule found in one mode (``mode`` "" where modes do not matter); see Finding.

    ``upsets`` names everything whose traced role means nothing in that mode because of this (a
    short circuit makes every pole one): what other rules find on it follows, and is not told.
    ``cause`` is a word for what one mending would mend: hits of one rule with one cause are one
    finding, whatever mode and things they are about.
    """

    on: tuple[str, ...]
    span: Span
    message: str
    fix: str
    mode: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    why: tuple[str, ...] = ()
    related: tuple[Related, ...] = ()
    clause: str = ""
    severity: str = ""
    upsets: frozenset[str] = frozenset()
    cause: str = ""


Check = Callable[[Stage], Iterable[Hit]]


@record
class Rule:
    """A rule: code (family and number), readable name, severity, clause by book, its check.

    ``yields_to``: codes whose findings on the same names are the cause of this one's;
    ``follows``: codes whose findings of the same ``cause`` are.
    """

    code: str
    name: str
    severity: str
    clauses: Mapping[str, str]
    yields_to: tuple[str, ...]
    check: Check
    follows: tuple[str, ...] = ()

    @property
    def doc(self) -> str:
        return self.check.__doc__ or ""

    @property
    def summary(self) -> str:
        """The first paragraph of what it means, on one line."""
        return " ".join(self.doc.strip().split("\n\n")[0].split())

    @property
    def family(self) -> str:
        return self.code[0]

    def clause(self, book: str) -> str:
        """Whose rule it is, under one book; "" is the key that holds for every book."""
        return self.clauses.get(book, self.clauses.get("", ""))


_RULES: dict[str, Rule] = {}
_NAMES: set[str] = set()


def rule(
    code: str,
    name: str,
    severity: str = ERROR,
    clauses: Mapping[str, str] | None = None,
    yields_to: tuple[str, ...] = (),
    follows: tuple[str, ...] = (),
) -> Callable[[Check], Check]:
    """Register a check under its code; raises ValueError where a code or a name is taken."""

    def register(check: Check) -> Check:
        if code in _RULES or name in _NAMES:
            raise ValueError(f"rule {code} {name} is registered twice")
        _NAMES.add(name)
        _RULES[code] = Rule(code, name, severity, clauses or {}, yields_to, check, follows)
        return check

    return register


def rules() -> tuple[Rule, ...]:
    """All rules, by code."""
    from . import rules as modules  # noqa: F401  (importing them registers them)

    return tuple(_RULES[code] for code in sorted(_RULES))


def find(word: str) -> Rule | None:
    """The rule of that code or that name."""
    return next((r for r in rules() if word in (r.code, r.name)), None)
