"""Where a name is declared, where else it stands, and giving it another everywhere."""

from __future__ import annotations

from ...dsl.kinds import kinds, words
from ...dsl.library import is_shipped
from ...dsl.model import Span
from ...dsl.source import NAME
from .desk import Desk
from .names import MODE, PART, PLACE, STAGE, THING, Mention, mentions
from .spots import Edit, Lines, edited

CALLED = {THING: "device or conductor", PLACE: "place", PART: "part", MODE: "mode", STAGE: "stage"}


class Refused(Exception):
    """A name cannot be given; the message says why."""


def family(desk: Desk, file: str, folders: list[str]) -> list[Mention]:
    """All names in the files that share names with a file."""
    return mentions(s for other in desk.kin(file, folders) for s in desk.parsed(other))


def at(found: list[Mention], lines: Lines, file: str, offset: int) -> Mention | None:
    """The name at a place; the place right after it counts too."""
    for mention in found:
        if mention.span.file == file:
            start, end = lines.within(mention.span)
            if start <= offset <= end:
                return mention
    return None


def definition(desk: Desk, file: str, offset: int) -> list[Span]:
    """Where the name at a place is declared; of a file that is named, its start."""
    lines = Lines(desk.text(file))
    named = desk.named(file, offset)
    if named is not None:
        return [Span(other, 1, 1, 1, 1) for other in named]
    files = dict.fromkeys(other for root in desk.roots(file) for other in desk.uses(root))
    found = mentions(s for other in files for s in desk.parsed(other))
    mention = at(found, lines, file, offset)
    if mention is None:
        return []
    return [m.span for m in found if m.declares and _same(m, mention)]


def references(
    desk: Desk, file: str, offset: int, folders: list[str], declarations: bool = True
) -> list[Span]:
    """Every place where the name at a place stands."""
    found = family(desk, file, folders)
    mention = at(found, Lines(desk.text(file)), file, offset)
    if mention is None:
        return []
    return [m.span for m in found if _same(m, mention) and (declarations or not m.declares)]


def renamable(desk: Desk, file: str, offset: int, folders: list[str]) -> Mention:
    """The name at a place, if it can be given another; raises ``Refused``."""
    found = family(desk, file, folders)
    mention = at(found, Lines(desk.text(file)), file, offset)
    if mention is None:
        raise Refused("no name stands here")
    same = [m for m in found if _same(m, mention)]
    if not any(m.declares for m in same):
        raise Refused(f"{mention.name} is declared nowhere")
    shipped = next((m for m in same if is_shipped(m.span.file)), None)
    if shipped is not None:
        raise Refused(f"{mention.name} comes with ferrule, in {shipped.span.file}")
    return mention


def rename(desk: Desk, file: str, offset: int, new: str, folders: list[str]) -> list[Edit]:
    """The edits, in all files, that give the name at a place another; raises ``Refused``."""
    mention = renamable(desk, file, offset, folders)
    found = family(desk, file, folders)
    if new == mention.name:
        return []
    _check_form(new, mention)
    taken = next((m for m in found if m.name == new and _clash(m, mention)), None)
    if taken is not None:
        raise Refused(f"the name {new} is taken, at {taken.span}")
    edits = [Edit(m.span, new) for m in found if _same(m, mention)]
    _check_outcome(desk, file, edits)
    return edits


def _same(one: Mention, other: Mention) -> bool:
    return (one.space, one.name) == (other.space, other.name)


def _clash(one: Mention, other: Mention) -> bool:
    """Whether two names may not be alike: of one space, or of a panel and a place."""
    return one.space == other.space or {one.space, other.space} == {THING, PLACE}


def _check_form(new: str, mention: Mention) -> None:
    if not NAME.fullmatch(new):
        raise Refused(f"`{new}` is no name: a letter, then letters, digits, _ and -")
    meant = [mention.statement.word] if mention.statement.word in kinds() else list(kinds())
    if mention.space == PART and any(new in words(k).flags for k in meant):
        raise Refused(f"`{new}` is a flag, so it cannot name a part")


def _check_outcome(desk: Desk, file: str, edits: list[Edit]) -> None:
    """Refuses what would make a text wrong that is right now."""
    texts: dict[str, str] = {}
    for other in dict.fromkeys(edit.span.file for edit in edits):
        own = [edit for edit in edits if edit.span.file == other]
        texts[other] = edited(desk.text(other), own)
    for root in dict.fromkeys((*desk.roots(file), *texts)):
        if desk.is_shared(root):
            continue
        before = desk.reading(root).problems
        after = desk.read_as(root, texts).problems
        if len(after) > len(before):
            raise Refused(f"it would make the text wrong: {after[-1].span}: {after[-1].message}")
