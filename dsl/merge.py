"""Two versions of a text that go back to one, put together statement by statement.

What only one of them changed is taken from it; what both changed alike is taken once; what each
added is kept, in the order it has there, ours before theirs in the same place.  Only a statement
that both changed, and not alike, is a conflict: it is left to people, in words and between marks.
Layout does not count as a change.  The settings of a mode are put together device by device.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from .blocks import Block, Item, Key, blocks
from .merge_landings import shared
from .merge_lines import Clash, Line, Marks, laid_out
from .merge_order import woven
from .merge_words import told

NOTHING = Block()
Said = TypeVar("Said")


@dataclass(frozen=True, slots=True)
class Merged:
    """The text put together, and in words each conflict that is marked in it.

    ``shared`` are terminals that both sides came to land on, each with a conductor of its own.
    """

    text: str
    conflicts: tuple[str, ...] = ()
    shared: tuple[str, ...] = ()


def merge(base: str, ours: str, theirs: str, marks: Marks | None = None) -> Merged:
    """Puts together what two texts made of a third.

    Raises ``Unreadable`` where one of them does not parse.  The result has the canonical layout
    if ours and theirs have; otherwise each line stands as its author left it.
    """
    three = (blocks(base), blocks(ours), blocks(theirs))
    merging = _Merging()
    lines = list(merging.block(*three))
    text = laid_out(lines, (ours, theirs), marks or Marks())
    return Merged(text, tuple(merging.conflicts), tuple(shared(*three)))


class _Merging:
    """One putting together; ``conflicts`` are collected in the order of the text."""

    def __init__(self) -> None:
        self.conflicts: list[str] = []

    def block(self, base: Block, ours: Block, theirs: Block) -> Iterator[Line]:
        """The lines of a text, or of a stage."""
        was, our, their = ({item.key: item for item in b.items} for b in (base, ours, theirs))
        elsewhere = ours.comments()
        stray: Key = ()  # comments that were written above a statement which goes
        done: set[str] = set()
        for key in woven(list(was), list(our), list(their)):
            mine, its = our.get(key), their.get(key)
            lead = self._lead(was.get(key), mine, its, done, elsewhere)
            lines = list(self.item(was.get(key), mine, its))
            fresh = _new(lead, was.get(key))
            if not lines:
                stray += fresh
                continue
            done.update(_comments(lead))
            yield from (*stray, *lead, *lines)
            stray = ()
        yield from stray
        yield from _both(base.tail, ours.tail, theirs.tail)

    def item(self, was: Item | None, ours: Item | None, theirs: Item | None) -> Iterator[Line]:
        """The lines of one statement: none where it goes, a clash where people must decide."""
        if ours is None or theirs is None:
            yield from self._one_sided(was, ours, theirs)
        elif ours.block is not None and theirs.block is not None:
            yield from self._stage(was, ours, theirs)
        else:
            yield from self._statement(was, ours, theirs)

    def _one_sided(
        self, was: Item | None, ours: Item | None, theirs: Item | None
    ) -> Iterator[Line]:
        """A statement that one side added, or one side took out."""
        there = ours or theirs
        if there is None or (was is not None and there.says_same(was)):
            return
        if was is None:
            yield from there.told()
        else:
            yield self._clash(was, ours, theirs)

    def _statement(self, was: Item | None, ours: Item, theirs: Item) -> Iterator[Line]:
        chosen = _chosen(was, ours, theirs)
        if chosen is None:
            yield self._clash(was, ours, theirs)
        else:
            yield from _commented(chosen, was, ours, theirs)

    def _stage(self, was: Item | None, ours: Item, theirs: Item) -> Iterator[Line]:
        """A stage: its opening as a statement, its statements among themselves."""
        heads = [
            None if item is None else replace(item, block=None) for item in (was, ours, theirs)
        ]
        old, mine, its = heads
        assert mine is not None and its is not None
        yield from self._statement(old, mine, its)
        before = was.block if was is not None and was.block else NOTHING
        yield from self.block(before, ours.block or NOTHING, theirs.block or NOTHING)
        yield theirs.close if was is not None and ours.close == was.close else ours.close

    def _clash(self, was: Item | None, ours: Item | None, theirs: Item | None) -> Clash:
        self.conflicts += told(was, ours, theirs)
        sides = (tuple(item.told()) if item else () for item in (was, ours, theirs))
        return Clash(*sides)

    @staticmethod
    def _lead(
        was: Item | None,
        ours: Item | None,
        theirs: Item | None,
        done: set[str],
        elsewhere: set[str],
    ) -> Key:
        """What stands above a statement.

        A heading that both sides moved onto what they added is told once: above ours.
        """
        if was is None and ours is None and theirs is not None:
            once = done & elsewhere
            return tuple(line for line in theirs.lead if line.strip() not in once)
        mine, its = ours or theirs, theirs or ours
        assert mine is not None and its is not None
        return _both(was.lead if was else (), mine.lead, its.lead)


def _chosen(was: Item | None, ours: Item, theirs: Item) -> Item | None:
    """The side that says it, or both sides' settings of a mode; None where they disagree."""
    if ours.says_same(theirs):
        return theirs if was is not None and ours.lines == was.lines else ours
    if was is not None and ours.says_same(was):
        return theirs
    if was is not None and theirs.says_same(was):
        return ours
    return _mode(was, ours, theirs)


def _mode(was: Item | None, ours: Item, theirs: Item) -> Item | None:
    """A mode with the settings of both sides, where they set no device differently."""
    if ours.statement.word != "mode" or any(len(item.lines) > 1 for item in (ours, theirs)):
        return None
    heads = [item.words[: _opens(item)] if item else () for item in (was, ours, theirs)]
    head = _three(*heads)
    if head is None:
        return None
    old, mine, its = (_settings(item) for item in (was, ours, theirs))
    settings = []
    for device in dict.fromkeys((*mine, *its)):
        state = _three(old.get(device, ""), mine.get(device, ""), its.get(device, ""))
        if state is None:
            return None
        settings += [f"{device}={state}"] if state else []
    words = (*head, "{", *settings, "}")
    indent = ours.lines[0][: len(ours.lines[0]) - len(ours.lines[0].lstrip())]
    return replace(ours, words=words, lines=(indent + " ".join(words),), comment="")


def _opens(item: Item) -> int:
    return item.words.index("{")


def _settings(item: Item | None) -> Mapping[str, str]:
    words = () if item is None else item.words[_opens(item) + 1 : -1]
    return dict(word.split("=", 1) for word in words if "=" in word)


def _three(was: Said, ours: Said, theirs: Said) -> Said | None:
    """What three say together; None where the two later ones disagree."""
    if ours == theirs or theirs == was:
        return ours
    return theirs if ours == was else None


def _commented(chosen: Item, was: Item | None, ours: Item, theirs: Item) -> Iterator[Line]:
    """A statement's lines with the comment of the side that wrote one; with both, if both did."""
    if len(chosen.lines) > 1:
        yield from chosen.lines
        return
    old = was.comment if was else ""
    mine, its = ours.comment, theirs.comment
    comment = _three(old, mine, its)
    if comment is None:
        comment = "  ".join(part for part in (mine, its) if part)
    if comment == chosen.comment:
        yield chosen.lines[0]
    else:
        bare = chosen.lines[0].rstrip().removesuffix(chosen.comment).rstrip()
        yield f"{bare}  {comment}".rstrip()


def _both(was: Key, ours: Key, theirs: Key) -> Key:
    """Comments and blank lines that two sides may have changed: none that is new is lost."""
    if ours == was or theirs == was:
        return theirs if ours == was else ours
    old, mine, its = ([line.strip() for line in lines] for lines in (was, ours, theirs))
    if mine == old or set(mine) <= set(its):
        return theirs
    if its == old:
        return ours
    known = {*old, *mine}
    return (*ours, *(line for line in theirs if line.strip() not in known))


def _comments(lines: Iterable[str]) -> set[str]:
    return {line.strip() for line in lines if line.strip()}


def _new(lead: Key, was: Item | None) -> Key:
    """The comments that one side wrote above a statement after the other had it as it was."""
    known = _comments(was.lead) if was else set()
    return tuple(line for line in lead if line.strip() and line.strip() not in known)
