"""A rig as things with facts: a device, a cable or a mode each, in whatever order they stand.

    things(rig)[DEVICE, "Q1"].facts["rating"]

This is the ground that two rigs are compared on.  Two rigs mean the same where their things do:
see ``meaning``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TypeAlias

from .kinds import kinds
from .model import (
    Cable,
    Conductor,
    Device,
    Mode,
    Quantity,
    Range,
    Rig,
    Size,
    Span,
    Value,
)
from .records import record

RIG, REVISION, PLACE, PANEL, DEVICE, RUN, MODE, ACCEPT = (
    "rig", "revision", "place", "panel", "device", "conductor", "mode", "accept",
)  # fmt: skip
GROUPS = (RIG, REVISION, PLACE, PANEL, DEVICE, RUN, MODE, ACCEPT)
"""What shares a name and a shelf, in the order things are built in."""
BY_WORD = {"core": "cable"}
USUAL = {"status": "installed"}
"""What an attribute is where nothing is said: saying it changes nothing."""


@record
class Spot:
    """Where a device stands: a place, or a panel and the ways it takes there."""

    where: str
    ways: tuple[int, ...] = ()

    def __str__(self) -> str:
        if not self.ways:
            return self.where
        first, last = self.ways[0], self.ways[-1]
        return f"{self.where}.{first}" + (f"-{last}" if last != first else "")


IMPLIED = "all"
"""The mode of a rig that names none."""
Fact: TypeAlias = "Value | Spot"
Key: TypeAlias = tuple[str, str]


@record
class Thing:
    """One thing of a rig.

    ``group`` is one of GROUPS; ``sort`` what it is within it: the kind of a device, wire, cable,
    link or bond, place or route.  ``facts`` are its attributes, and besides: ``at`` (where it
    stands, a Spot), ``size``, ``length``, and for each end of a conductor ``from`` and ``to`` (of
    a cable ``from/1`` … for each core); of a mode the state of each device that is not as usual.
    """

    group: str
    sort: str
    name: str
    label: str
    facts: Mapping[str, Fact]
    span: Span

    @property
    def key(self) -> Key:
        return self.group, self.name

    @property
    def cores(self) -> int:
        """How many cores a cable has; 0 for anything else."""
        return sum(fact.startswith("from/") for fact in self.facts)

    def ends(self) -> Iterator[tuple[str, str]]:
        """The facts that are ends of a conductor, and the terminals they lie on."""
        for fact, value in self.facts.items():
            if self.group == RUN and is_end(fact):
                yield fact, str(value)


def is_end(fact: str) -> bool:
    """Whether a conductor's fact is one of its ends."""
    return fact.partition("/")[0] in ("from", "to")


# ---- a rig into things --------------------------------------------------------------------------


def things(rig: Rig) -> dict[Key, Thing]:
    """All things of a rig, by group and name."""
    return {thing.key: thing for thing in _things(rig)}


def head(rig: Rig) -> Thing:
    """What is said once: title block, rule book, ambient temperature."""
    ambient = Quantity(rig.ambient_c, "degC", f"{rig.ambient_c:g}degC")
    return Thing(
        RIG, RIG, RIG, rig.label, {"rules": rig.book, "ambient": ambient, **rig.attrs}, rig.span
    )


def _things(rig: Rig) -> Iterator[Thing]:
    yield head(rig)
    for issue in rig.revisions.values():
        yield Thing(REVISION, REVISION, issue.name, issue.label, dict(issue.attrs), issue.span)
    for place in (*rig.places.values(), *rig.routes.values()):
        yield Thing(PLACE, place.kind, place.name, place.label, dict(place.attrs), place.span)
    for panel in rig.panels.values():
        at = Spot(panel.place) if panel.place else None
        facts = _with({k: v for k, v in panel.attrs.items() if k != "at"}, at=at)
        yield Thing(PANEL, PANEL, panel.name, panel.label, facts, panel.span)
    for device in rig.devices.values():
        if device.kind != PANEL:
            yield _device(device)
    for conductor in rig.conductors.values():
        if conductor.core <= 1:
            yield _run(rig, conductor)
    for mode in rig.modes.values():
        if is_implied(mode) and len(rig.modes) == 1:
            continue
        states: dict[str, Fact] = {
            s.device: s.state for s in mode.settings if s.state != default_state(rig, s.device)
        }
        yield Thing(MODE, MODE, mode.name, mode.label, states, mode.span)
    for accept in reversed(rig.accepts):  # the first of several counts, so it comes last
        because = accept.because
        yield Thing(ACCEPT, accept.rule, f"{accept.rule} on {accept.on}", because, {}, accept.span)


def _with(attrs: Mapping[str, Value], **more: Fact | None) -> dict[str, Fact]:
    """Attributes without those that only say what is usual anyway, and further facts."""
    facts: dict[str, Fact] = {k: v for k, v in attrs.items() if USUAL.get(k) != v}
    return facts | {k: v for k, v in more.items() if v is not None}


def _device(device: Device) -> Thing:
    where = device.panel or device.place
    at = Spot(where, device.ways) if where else None
    facts = _with({k: v for k, v in device.attrs.items() if k != "at"}, at=at)
    return Thing(DEVICE, device.kind, device.name, device.label, facts, device.span)


def _run(rig: Rig, conductor: Conductor) -> Thing:
    """The line of text that a conductor, or the first core of a cable, belongs to."""
    laid: Conductor | Cable = rig.cables[conductor.cable] if conductor.cable else conductor
    metres = laid.length_m
    length = Quantity(metres, "m", f"{metres:.9g}m") if metres else None
    facts = _with({}, size=laid.size, length=length)
    if isinstance(laid, Cable):
        for n, name in enumerate(laid.cores, 1):
            core = rig.conductors[name]
            facts |= {f"from/{n}": core.a.name, f"to/{n}": core.b.name}
    else:
        facts |= {"from": conductor.a.name, "to": conductor.b.name}
    word = BY_WORD.get(conductor.kind, conductor.kind)
    return Thing(RUN, word, laid.name, laid.label, facts | _with(laid.attrs), laid.span)


def is_implied(mode: Mode) -> bool:
    """Whether it is the mode of a rig that names none, or says no more than that one."""
    return mode.name == IMPLIED and not mode.label and not mode.settings


def default_state(rig: Rig, device: str) -> str | None:
    """The state a device is in where a mode says nothing; None for a name that is no device."""
    found = rig.devices.get(device)
    return kinds()[found.kind].default_state if found else None


# ---- what means the same ------------------------------------------------------------------------


def sense(fact: Fact | None) -> object:
    """A fact as what it means, to compare by: ``1500W`` is ``1.5kW``, ``12in`` is ``0.3048m``.

    Nine figures count, so that a length in feet meets its equal in metres.  A size of the wire
    gauge is never one in mm2: books have tables for each.
    """
    match fact:
        case Quantity(value, unit):
            return _nine(value), unit
        case Size(mm2, text):
            return _nine(mm2), text.endswith("AWG")
        case Range(low, high, unit):
            return _nine(low), _nine(high), unit
        case bool():
            return "flag", fact
        case _:
            return fact


def _nine(value: float) -> float:
    return float(f"{value:.9g}")


def meaning(rig: Rig) -> Mapping[Key, object]:
    """What a rig says, whatever words, order and layout it says it in.

    It counts: every thing with its name, label, sort and facts.  It does not: where in the text a
    thing stands and in which order, comments, which file and stage it is, the parts that
    attributes came from, a state or a status that is the usual one anyway, the mode that a rig has
    where it names none.
    """
    return {
        key: (thing.sort, thing.label, {k: sense(v) for k, v in thing.facts.items()})
        for key, thing in things(rig).items()
    }
