"""The wiring chart: one row a conductor, end to end; as CSV, Markdown and aligned text.

``chart`` draws the same rows.  Rows are in the natural order of conductor names, so a
change to one line of the text touches the rows of that line and no other.
"""

from __future__ import annotations

from collections.abc import Callable

from ..checks.tracing.trace import Stage
from ..dsl.model import Conductor, End
from ..dsl.records import record
from .colours import colours_of
from .ends import ASSUMED, READY, Preparation, preparation
from .texts import plain, written
from .wiring import CAUTION, natural, place_name

STEP = 4
"""Columns of the text form widen by this many characters, so that few changes move them."""


@record
class Row:
    """One conductor: lengths in m, torques in N·m, sizes as written."""

    conductor: str
    core: int
    kind: str
    size: str
    colour: str
    code: str
    length_m: float | None
    a: str
    b: str
    role: str
    ends: tuple[Preparation, Preparation]
    torque_nm: tuple[float | None, float | None]
    places: tuple[str, str]
    route: tuple[str, ...]
    status: str

    @property
    def place(self) -> str:
        """Where it is, or from where to where it goes."""
        return " to ".join(dict.fromkeys(filter(None, self.places)))


def _torque(stage: Stage, end: End, made: Preparation) -> float | None:
    """As the text gives it; a plug has none."""
    if made.fitting == READY:
        return None
    device = stage.rig.devices.get(end.device)
    terminal = device.terminal(end.terminal) if device else None
    return terminal.torque.value if terminal and terminal.torque else None


def row(stage: Stage, conductor: Conductor) -> Row:
    """The chart's row of one conductor."""
    rig = stage.rig
    role = stage.conductor_role(conductor.name)
    shown = colours_of(stage)[conductor.name]
    ends = (conductor.a, conductor.b)
    prepared = [preparation(conductor, rig.devices.get(e.device), e.terminal) for e in ends]
    return Row(
        conductor=conductor.name,
        core=conductor.core,
        kind=conductor.kind,
        size=conductor.size.text if conductor.size else "",
        colour=shown.name,
        code=shown.code,
        length_m=None if conductor.kind == "link" else conductor.length_m,
        a=conductor.a.name,
        b=conductor.b.name,
        role=role,
        ends=(prepared[0], prepared[1]),
        torque_nm=(
            _torque(stage, conductor.a, prepared[0]),
            _torque(stage, conductor.b, prepared[1]),
        ),
        places=(place_name(rig, conductor.a.device), place_name(rig, conductor.b.device)),
        route=conductor.via,
        status=conductor.status,
    )


def rows(stage: Stage) -> list[Row]:
    """Every conductor of the stage once, in natural order of its name."""
    found = sorted(stage.rig.conductors.values(), key=lambda c: natural(c.name))
    return [row(stage, conductor) for conductor in found]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


COLUMNS: tuple[tuple[str, Callable[[Row], str]], ...] = (
    ("conductor", lambda r: r.conductor),
    ("core", lambda r: str(r.core or "")),
    ("kind", lambda r: r.kind),
    ("size", lambda r: r.size),
    ("colour", lambda r: r.code or r.colour),
    ("length m", lambda r: _number(r.length_m)),
    ("from", lambda r: r.a),
    ("to", lambda r: r.b),
    ("role", lambda r: r.role),
    ("end at from", lambda r: str(r.ends[0])),
    ("torque at from N·m", lambda r: _number(r.torque_nm[0])),
    ("end at to", lambda r: str(r.ends[1])),
    ("torque at to N·m", lambda r: _number(r.torque_nm[1])),
    ("place", lambda r: r.place),
    ("route", lambda r: " ".join(r.route)),
    ("status", lambda r: "" if r.status == "installed" else r.status),
)
"""Heading (with its unit) and text of each column, in order."""


def cells(stage: Stage) -> list[tuple[str, ...]]:
    """The chart as text, the headings first."""
    head = tuple(name for name, _ in COLUMNS)
    return [head, *(tuple(text(r) for _, text in COLUMNS) for r in rows(stage))]


def csv_text(stage: Stage) -> str:
    """The chart as CSV (RFC 4180 with line feeds), for spreadsheets; units in the headings."""
    return written(cells(stage))


def markdown(stage: Stage) -> str:
    """The chart as a Markdown table with its title and caution."""
    head, *body = cells(stage)
    lines = ["| " + " | ".join(map(plain, line)) + " |" for line in (head, *body)]
    rule = "|" + " --- |" * len(head)
    title = f"# Wiring chart: {plain(_title(stage))}"
    notes = [f"*{plain(ASSUMED)}*", "", f"*{CAUTION}*", ""]
    return "\n".join([title, "", lines[0], rule, *lines[1:], "", *notes])


def aligned(stage: Stage) -> str:
    """The chart as aligned text; columns widen by fours, so that few edits move them."""
    table = cells(stage)
    widths = [-(-(max(map(len, column)) + 2) // STEP) * STEP for column in zip(*table, strict=True)]
    lines = ["".join(t.ljust(w) for t, w in zip(line, widths, strict=True)).rstrip()
             for line in table]
    return "\n".join([f"Wiring chart: {_title(stage)}", "", *lines, "", ASSUMED, CAUTION, ""])


def _title(stage: Stage) -> str:
    rig = stage.rig
    return f"{rig.label}, stage {rig.stage}"
