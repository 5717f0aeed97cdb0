"""Two rigs over each other on the new one's sheets: what is added, removed and changed.

    drawn = difference(old, new)          sheets of one rig that holds both, marked

What is removed stays where it was.  The three are told apart by the line as well as by colour:
added is dashed, changed a chain line, removed dotted and thin, what stays solid; each sheet says
so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from ..checks.tracing.trace import analyse
from ..dsl.changes import Added, Change, Changed, Removed, Renamed, Replaced
from ..dsl.compare import compare
from ..dsl.model import Rig
from ..dsl.names import renamed
from ..dsl.rebuild import rig_of
from ..dsl.things import DEVICE, PANEL, PLACE, RUN, Key, Spot, Thing, is_end, things
from .canvas import Sheet
from .draw import draw
from .frame import area
from .marks import AMBER, GREEN, RED, THICK, THIN, Arc, Close, Item, Open, Pen, Poly, Text
from .metrics import T18, width

ADDED, REMOVED, CHANGED = "added", "removed", "changed"
PENS: Mapping[str, Pen] = {
    ADDED: Pen(THICK, GREEN, "short"),
    CHANGED: Pen(THICK, AMBER, "fine-chain"),
    REMOVED: Pen(THIN, RED, "dotted"),
}
DOCUMENTS = ("single-line", "overview", "strips", "panel")
"""The documents that show where things are; tables of a change are told as text."""
WAS = "-was"
"""What the name of the old one ends in where old and new have one name."""


def difference(
    old: Rig, new: Rig, only: Collection[str] = (), symbols: str = "", paper: str = ""
) -> list[Sheet]:
    """The sheets of ``new`` with what ``old`` had besides; KeyError as ``draw``."""
    changes = compare(old, new)
    both, marks = over(old, new, changes)
    sheets = draw(analyse(both), only or DOCUMENTS, symbols, paper)
    for sheet in sheets:
        _mark(sheet, marks)
        _key(sheet, f"{old.stage} to {new.stage}" if old.stage != new.stage else "old to new")
    return sheets


def over(old: Rig, new: Rig, changes: Iterable[Change]) -> tuple[Rig, dict[str, str]]:
    """One rig that holds both, what is gone with the status removed, and the mark of each name."""
    changes = list(changes)
    before, there = things(old), things(new)
    for group in (DEVICE, RUN):
        names = {c.old: c.new for c in changes if isinstance(c, Renamed) and c.group == group}
        before = renamed(before, group, names)
    marks: dict[str, str] = {}
    for change in changes:
        if change.group in (DEVICE, RUN, PANEL):
            _put(there, before, marks, change)
        elif change.group == PLACE and isinstance(change, Removed):
            there[change.thing.key] = change.thing
    return rig_of(there.values(), new), marks


def _put(
    there: dict[Key, Thing], before: Mapping[Key, Thing], marks: dict[str, str], change: Change
) -> None:
    name = change.name
    match change:
        case Added():
            marks[name] = ADDED
        case Removed(thing):
            marks[name] = REMOVED
            there[thing.key] = _gone(thing, name)
        case Replaced(thing, _):
            marks[name], marks[name + WAS] = ADDED, REMOVED
            there[thing.group, name + WAS] = _gone(thing, name + WAS)
        case Changed(group, _, _, fact, _, _):
            marks.setdefault(name, CHANGED)
            if group == RUN and is_end(fact) and (group, name + WAS) not in there:
                marks[name + WAS] = REMOVED
                there[group, name + WAS] = _gone(before[group, name], name + WAS)


def _gone(thing: Thing, name: str) -> Thing:
    """A thing that is no longer there; on the rail its ways may be another's by now."""
    facts = {**thing.facts, "status": "removed"}
    at = facts.get("at")
    if isinstance(at, Spot):
        facts["at"] = Spot(at.where)
    if thing.group == PANEL:
        facts.pop("status")
    return Thing(thing.group, thing.sort, name, thing.label, facts, thing.span)


# ---- on the sheet -------------------------------------------------------------------------------


def _mark(sheet: Sheet, marks: Mapping[str, str]) -> None:
    """Every mark inside the group of a changed thing in the pen of its change."""
    inside: list[str] = []
    for index, item in enumerate(sheet.items):
        if isinstance(item, Open):
            inside.append(_of(item, marks) or (inside[-1] if inside else ""))
        elif isinstance(item, Close):
            inside.pop()
        elif inside and inside[-1]:
            sheet.items[index] = _in_pen(item, PENS[inside[-1]])


def _of(group: Open, marks: Mapping[str, str]) -> str:
    """The mark of what a group is about: a device, or a conductor, its cable or an end of it."""
    kind, _, name = (group.about or group.id).partition("-")
    if kind not in ("dev", "con", "run"):
        return ""
    stem = name.partition(".")[0]
    return marks.get(name) or marks.get(stem, "")


def _in_pen(item: Item, pen: Pen) -> Item:
    if isinstance(item, Text):
        return item._replace(colour=pen.colour)
    if isinstance(item, Poly | Arc) and item.pen is not None:
        wide = min(item.pen.width, pen.width)
        return item._replace(pen=pen._replace(width=wide, cap="butt"))
    return item


def _key(sheet: Sheet, said: str) -> None:
    """What the three lines mean, above the drawing, right."""
    room = area(sheet)
    x, y = room.right, room.top - 2.6
    for word, pen in reversed(tuple(PENS.items())):
        x -= width(word, T18)
        sheet.text(x, y, word, T18, level="middle", colour=pen.colour, cell=True)
        sheet.line([(x - 9, y), (x - 1, y)], pen)
        x -= 13.0
    x -= width(said, T18, True)
    sheet.text(x, y, said, T18, bold=True, level="middle", cell=True)
