"""The frozen model of a rig: what the text says, and where it says it.

A ``Rig`` is one stage of the build, complete.  Nothing in here judges the wiring; roles,
currents and protection are derived elsewhere by tracing.  Every object carries the ``Span`` of
the text it came from.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import TypeAlias

from .records import record

EMPTY: Mapping[str, Value] = MappingProxyType({})
NO_SPANS: Mapping[str, Span] = MappingProxyType({})
FEW = 8  # terminals that are looked through rather than put into a table


@record
class Span:
    """A stretch of source text; lines and columns count from 1, the end column is exclusive."""

    file: str
    line: int
    column: int
    end_line: int
    end_column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@record
class Quantity:
    """A number in the base unit of its dimension (A V Hz W VA Ah m degC Nm ohm s h %).

    ``text`` keeps what the author wrote, for people.
    """

    value: float
    unit: str
    text: str

    def __str__(self) -> str:
        return self.text


@record
class Size:
    """A conductor's cross-section: its area in mm2 and the trade size as written (``14AWG``)."""

    mm2: float
    text: str

    def __str__(self) -> str:
        return self.text


@record
class Range:
    """A span of values, low to high, in the base unit (mm2 of conductor sizes, m of lengths)."""

    low: float
    high: float
    unit: str
    text: str

    def __str__(self) -> str:
        return self.text


Value: TypeAlias = "Quantity | Size | Range | str | bool | int | tuple[str, ...]"


@record
class Terminal:
    """A place where conductors land.  ``holds`` is None where any number may land.

    ``grip`` is how it holds the strands: clamp, screw, plate, loop, spring or stud.
    """

    name: str
    holds: int | None = 1
    clamp: Range | None = None
    stud: str | None = None
    torque: Quantity | None = None
    grip: str = "clamp"


@record
class _Named:
    """What everything with a name has: a label, attributes, and where each stands in the text."""

    name: str
    label: str
    attrs: Mapping[str, Value]
    span: Span
    attr_spans: Mapping[str, Span]

    def number(self, key: str) -> float | None:
        """The value of a quantity attribute in its base unit, or None where it is not given."""
        value = self.attrs.get(key)
        return value.value if isinstance(value, Quantity) else None

    def text(self, key: str, default: str = "") -> str:
        """An attribute as the author wrote it."""
        value = self.attrs.get(key)
        return default if value is None else str(value)

    def flag(self, key: str) -> bool:
        """Whether a bare word stands on the statement (or came with its part)."""
        return self.attrs.get(key) is True

    def span_of(self, key: str) -> Span:
        """Where an attribute is written; the whole statement where it came from another file."""
        span = self.attr_spans.get(key, self.span)
        return span if span.file == self.span.file else self.span


@record
class Device(_Named):
    """A device with its terminals.  ``ways`` are the rail positions taken in ``panel``."""

    kind: str
    variant: str
    terminals: tuple[Terminal, ...]
    place: str | None = None
    panel: str | None = None
    ways: tuple[int, ...] = ()
    part: str | None = None

    @cached_property
    def _by_name(self) -> Mapping[str, Terminal]:
        # A bar may have thousands of terminals, and every conductor asks for its own.
        return {t.name: t for t in self.terminals}

    @property
    def status(self) -> str:
        return self.text("status", "installed")

    def terminal(self, name: str) -> Terminal | None:
        if len(self.terminals) > FEW:
            return self._by_name.get(name)
        return next((t for t in self.terminals if t.name == name), None)


@record
class End:
    """One end of a conductor: the terminal it lands on."""

    device: str
    terminal: str
    span: Span

    @property
    def name(self) -> str:
        return f"{self.device}.{self.terminal}"


@record
class Conductor(_Named):
    """One conductor between two terminals.

    ``kind`` is wire, core, link or bond.  A core's name is its cable's and its number
    (``C1/2``).  A link has no size and no length.
    """

    kind: str
    size: Size | None
    length_m: float
    a: End
    b: End
    cable: str | None = None
    core: int = 0

    @property
    def status(self) -> str:
        return self.text("status", "installed")

    @property
    def statement(self) -> str:
        """The name of the line of text this conductor belongs to (its cable's, for a core)."""
        return self.cable or self.name

    @property
    def via(self) -> tuple[str, ...]:
        value = self.attrs.get("via", ())
        return value if isinstance(value, tuple) else (str(value),)

    def other(self, end: End) -> End:
        return self.b if end is self.a else self.a


@record
class Cable(_Named):
    """A cable; ``cores`` are the names of its conductors in order."""

    size: Size
    length_m: float
    cores: tuple[str, ...]

    @property
    def status(self) -> str:
        return self.text("status", "installed")


@record
class Place(_Named):
    """Where devices stand, or (``kind`` route) where cables run."""

    kind: str = "place"


@record
class Panel(_Named):
    """An enclosure with ``ways`` positions on its rail."""

    ways: int
    place: str | None = None


@record
class Part(_Named):
    """A named set of attributes for one kind of device."""

    kind: str


@record
class Setting:
    """``DEVICE=STATE`` in a mode; the state is not checked by the reader."""

    device: str
    state: str
    span: Span


@record
class Mode:
    """One way the rig is run.  Devices not named are in their kind's first state."""

    name: str
    label: str
    settings: tuple[Setting, ...]
    span: Span

    def state(self, device: str, default: str) -> str:
        return next((s.state for s in self.settings if s.device == device), default)


@record
class Accept:
    """The author's responsibility for one finding."""

    rule: str
    on: str
    because: str
    span: Span


@record
class Revision(_Named):
    """One issue of the drawings: its ``label`` says what changed, its attributes when and who."""


@record
class Rig:
    """One stage of the build, complete.

    Mappings keep the order of the text.  ``stages`` names all stages of the file in order,
    ``sources`` holds the text of every file read, by the name used in spans.  A conductor's end
    may name a device that this stage has removed: an end left unlanded.
    """

    file: str
    label: str
    attrs: Mapping[str, Value]
    span: Span
    stage: str
    stage_label: str
    stages: tuple[str, ...]
    book: str
    ambient_c: float
    devices: Mapping[str, Device]
    conductors: Mapping[str, Conductor]
    cables: Mapping[str, Cable]
    places: Mapping[str, Place]
    routes: Mapping[str, Place]
    panels: Mapping[str, Panel]
    parts: Mapping[str, Part]
    modes: Mapping[str, Mode]
    accepts: tuple[Accept, ...]
    sources: Mapping[str, str]
    revisions: Mapping[str, Revision] = MappingProxyType({})

    def place_of(self, device: Device) -> str | None:
        """The place a device stands in: its own, or its panel's."""
        if device.panel is not None:
            return self.panels[device.panel].place
        return device.place

    def ambient_of(self, place: str | None) -> float:
        """Ambient temperature in degC of a place or route; the rig's where it gives none."""
        where = self.places.get(place or "") or self.routes.get(place or "")
        own = where.number("ambient") if where else None
        return self.ambient_c if own is None else own
