"""A whole schedule as one table on a part of a sheet, for sheets that carry several."""

from __future__ import annotations

from .canvas import Sheet
from .marks import Box
from .schedule import ASIDE, Schedule
from .schedule_sheet import HEAD, Table, _asked, _fitted, _lines, _table


def height(schedule: Schedule, room: float) -> float:
    """How high the schedule is as one table of so much width, mm."""
    return HEAD + sum(line.height for line in _lines(_whole(schedule, room)))


def place(sheet: Sheet, schedule: Schedule, room: Box) -> Box:
    """The schedule at the top of a part of a sheet; returns the room that it took."""
    table = _whole(schedule, room.width)
    lines = list(_lines(table))
    _table(sheet, table, lines, room.left, room.top)
    bottom = room.top + HEAD + sum(line.height for line in lines)
    return Box(room.left, room.top, room.left + table.width, bottom)


def _whole(schedule: Schedule, room: float) -> Table:
    """The schedule as one table, as wide as it needs to be within a room."""
    shown = tuple(i for i, column in enumerate(schedule.columns) if column.fill != ASIDE)
    asked = [_asked(schedule, index) for index in shown]
    return Table(schedule, shown, tuple(_fitted(asked, room)))
