"""Versions compared, stage by stage, with what follows; the same change of several stages once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from ...checks.figures.consequences import Consequences, consequences
from ...checks.findings import ERROR, WARNING, Finding
from ...checks.tracing.trace import analyse
from ...dsl.changes import Change, Changed, Renamed
from ...dsl.compare import apply, compare
from ...dsl.model import Rig
from ...dsl.rebuild import rig_of
from ...dsl.things import RIG, head
from ...render.change_rows import Line, lines
from ...render.change_work import Work, crowded, reprint, work
from .. import files
from ..errors import Unusable
from .versions import Version

NOTHING = "nothing"


class Side(NamedTuple):
    """One of the two: its name, its rig as it is compared, and as it is checked."""

    name: str
    rig: Rig
    checked: Rig
    book: str = ""


class Pair(NamedTuple):
    old: Side
    new: Side


class Comparison(NamedTuple):
    """What changes from one side to the other, and what follows.

    ``stages`` are all the stages of the new side that this same change is made in.
    """

    old: Side
    new: Side
    changes: tuple[Change, ...]
    found: Consequences
    stages: tuple[str, ...]

    @property
    def lines(self) -> list[Line]:
        return lines(self.old.rig, self.new.rig, self.changes)

    @property
    def work(self) -> list[Work]:
        return work(self.changes)

    @property
    def crowded(self) -> list[Work]:
        return crowded(self.old.rig, self.new.rig)

    @property
    def reprint(self) -> list[Work]:
        return reprint(self.old.rig, self.new.rig, self.changes)

    def standing(self, severity: str) -> list[Finding]:
        """The findings gained that nobody has accepted, of a severity."""
        return [f for f in self.found.gained if f.severity == severity and f.accepted is None]

    @property
    def title(self) -> str:
        """What is compared with what."""
        old, new = self.old, self.new
        if old.name == new.name:
            return f"{new.name}: stage {old.rig.stage} -> stage {new.rig.stage}"
        stage = "" if old.rig.stage == new.rig.stage else f", stage {old.rig.stage}"
        word = "stage" if len(self.stages) == 1 else "stages"
        return f"{old.name}{stage} -> {new.name}, {word} {', '.join(self.stages)}"

    @property
    def verdict(self) -> str:
        """One sentence: whether anything speaks against building this."""
        if not self.changes:
            return "No change in meaning."
        for severity, words in ((ERROR, "Do not build this yet: "), (WARNING, "Look again: ")):
            gained = [f"{f.rule} on {f.on[0]}" for f in self.standing(severity)]
            if gained:
                noun = counted(len(gained), f"{severity} gained", f"{severity}s gained")
                return f"{words}{noun}: {few(dict.fromkeys(gained), 4)}."
        lost = len(self.found.lost)
        return f"No error or warning gained{f', {lost} cleared' if lost else ''}."

    @property
    def size(self) -> str:
        """How much changes, in a line of counts."""
        found, again = self.found, sum(not due.fresh for due in self.found.due)
        said = [counted(len(self.changes), "change")]
        if found.due:
            said.append(f"{counted(len(found.due), 'test')} due, {again} of them again")
        if found.kept:
            said.append(f"{counted(found.kept, 'finding')} as before")
        return "; ".join(said)


def few(names: Iterable[str], most: int) -> str:
    """Names with commas, and how many more there are."""
    every = list(names)
    more = f" and {len(every) - most} more" if len(every) > most else ""
    return ", ".join(every[:most]) + more


def counted(count: int, one: str, several: str = "") -> str:
    """A number and its noun.

    >>> counted(1, "change"), counted(2, "change")
    ('1 change', '2 changes')
    """
    return f"{count} {one if count == 1 else several or one + 's'}"


# ---- which stages -------------------------------------------------------------------------------


def sides(version: Version, checked: Sequence[Rig]) -> list[Side]:
    """The stages of a version."""
    pairs = zip(version.rigs, checked, strict=True)
    return [Side(version.name, rig, as_checked, version.book) for rig, as_checked in pairs]


def nothing(like: Side, name: str) -> Side:
    """A rig of nothing, to compare what is all new, or all gone, with."""
    meant, judged = (rig_of([head(rig)], rig) for rig in (like.rig, like.checked))
    return Side(name, meant, judged, like.book)


def in_turn(stages: Sequence[Side]) -> list[Pair]:
    """Each stage against the one before it."""
    if len(stages) < 2:
        hint = "name a second file, or the same one at a revision: FILE@main"
        raise Unusable(f"{stages[0].name} has one stage: nothing to compare it with", hint)
    return [Pair(old, new) for old, new in pairwise(stages)]


def across(olds: Sequence[Side], news: Sequence[Side]) -> list[Pair]:
    """Each stage of the new version against that of its name in the old one.

    A stage that is new stands against the one before it, the last stage of the old version against
    the last of the new one where its name is gone.
    """
    by_name = {side.rig.stage: side for side in olds}
    pairs = []
    for number, new in enumerate(news):
        before = news[number - 1] if number else olds[-1]
        pairs.append(Pair(by_name.get(new.rig.stage, before), new))
    if olds[-1].rig.stage not in {new.rig.stage for new in news}:
        pairs.append(Pair(olds[-1], news[-1]))
    return pairs


def named(olds: Sequence[Side], news: Sequence[Side], words: Sequence[str]) -> list[Pair]:
    """The one pair of stages asked for: OLD and NEW, or one name for both."""
    found = []
    for stages, word in ((olds, words[0]), (news, words[-1])):
        side = next((s for s in stages if s.rig.stage == word), None)
        if side is None:
            known = [s.rig.stage for s in stages]
            raise files.unknown("stage", word, known, stages[0].name)
        found.append(side)
    return [Pair(*found)]


# ---- compared -----------------------------------------------------------------------------------


def compared(pairs: Iterable[Pair]) -> list[Comparison]:
    """The pairs compared; those of the same changes are one, with the findings of all of them."""
    found: list[Comparison] = []
    for pair in pairs:
        changes = (*compare(pair.old.rig, pair.new.rig), *_book(pair))
        follows = _follows(pair, changes)
        same = next((n for n, c in enumerate(found) if c.changes == changes and changes), None)
        stage = (pair.new.rig.stage,)
        if same is None:
            found.append(Comparison(pair.old, pair.new, changes, follows, stage))
        else:
            first = found[same]
            both = _together(first.found, follows)
            found[same] = Comparison(pair.old, pair.new, changes, both, first.stages + stage)
    return found


def _book(pair: Pair) -> Iterator[Change]:
    """The project's own book under its old name, with other figures in it."""
    path = pair.new.rig.book
    if pair.old.rig.book == path and pair.old.book != pair.new.book:
        yield Changed(RIG, RIG, RIG, "rules", path, f"{path}, of another text")


def _follows(pair: Pair, changes: Iterable[Change]) -> Consequences:
    names = [change for change in changes if isinstance(change, Renamed)]
    old = apply(pair.old.checked, names) if names else pair.old.checked
    return consequences(analyse(old), analyse(pair.new.checked))


def _together(first: Consequences, second: Consequences) -> Consequences:
    """The figures of a later stage, with the findings of an earlier one that it does not have."""

    def both(some: Iterable[Finding], others: Iterable[Finding]) -> tuple[Finding, ...]:
        told = {(f.rule, f.on[0], f.severity): f for f in (*some, *others)}
        return tuple(told.values())

    return second._replace(
        gained=both(first.gained, second.gained),
        lost=both(first.lost, second.lost),
        waiting=both(first.waiting, second.waiting),
    )
