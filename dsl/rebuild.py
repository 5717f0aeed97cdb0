"""Things with facts into a rig again: the way back from ``things``.

rig_of(things(rig).values(), rig)    the same rig, with the spans of whole statements alone
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from . import conductors, devices
from .conductors import Run
from .items import Given
from .kinds import kinds
from .model import (
    NO_SPANS,
    Accept,
    Device,
    End,
    Mode,
    Panel,
    Place,
    Quantity,
    Revision,
    Rig,
    Setting,
    Value,
)
from .stage import landed_on_joints
from .things import (
    ACCEPT,
    DEVICE,
    GROUPS,
    IMPLIED,
    MODE,
    PANEL,
    PLACE,
    REVISION,
    RIG,
    RUN,
    Fact,
    Spot,
    Thing,
    head,
    is_end,
)  # fmt: skip


def rig_of(given: Iterable[Thing], like: Rig) -> Rig:
    """The rig that has these things; file, stage, parts and sources are those of another.

    Spans are the statements', each for its whole.  Raises ``units.Bad`` where a thing cannot be
    (a bus of no positions), KeyError where a panel that something stands in is not among them.
    """
    by: dict[str, list[Thing]] = {group: [] for group in GROUPS}
    for thing in given:
        by[thing.group].append(thing)
    top = by[RIG][0] if by[RIG] else head(like)
    places = {t.name: _place(t) for t in by[PLACE]}
    panels = {t.name: _panel(t) for t in by[PANEL]}
    laid = [conductors.make(_as_run(t)) for t in by[RUN]]
    wires = {conductor.name: conductor for made, _ in laid for conductor in made}
    stand = [_built(t, panels) for t in by[DEVICE]]
    stand += [_metal(panels[t.name]) for t in by[PANEL] if t.facts.get("metal")]
    return Rig(
        file=like.file,
        label=top.label,
        attrs=_attrs(top, "rules", "ambient"),
        span=top.span,
        stage=like.stage,
        stage_label=like.stage_label,
        stages=like.stages,
        book=str(top.facts["rules"]),
        ambient_c=_number(top.facts["ambient"]),
        devices=landed_on_joints({device.name: device for device in stand}, wires.values()),
        conductors=wires,
        cables={cable.name: cable for _, cable in laid if cable},
        places={n: p for n, p in places.items() if p.kind == "place"},
        routes={n: p for n, p in places.items() if p.kind == "route"},
        panels=panels,
        parts=like.parts,
        modes={t.name: _mode(t) for t in by[MODE]} or {IMPLIED: Mode(IMPLIED, "", (), top.span)},
        accepts=tuple(_accept(t) for t in reversed(by[ACCEPT])),
        sources=like.sources,
        revisions={t.name: _revision(t) for t in by[REVISION]},
    )


def _attrs(thing: Thing, *but: str) -> dict[str, Value]:
    return {
        key: str(value) if isinstance(value, Spot) else value
        for key, value in thing.facts.items()
        if key not in but
    }


def _number(fact: Fact) -> float:
    return fact.value if isinstance(fact, Quantity) else 0.0


def _place(thing: Thing) -> Place:
    return Place(thing.name, thing.label, _attrs(thing), thing.span, NO_SPANS, thing.sort)


def _panel(thing: Thing) -> Panel:
    ways, at = thing.facts.get("ways"), thing.facts.get("at")
    return Panel(
        thing.name, thing.label, _attrs(thing), thing.span, NO_SPANS,
        ways if isinstance(ways, int) else 1, at.where if isinstance(at, Spot) else None,
    )  # fmt: skip


def _metal(panel: Panel) -> Device:
    """A panel of metal as the device it is too."""
    kind = kinds()[PANEL]
    variant = kind.choose(panel.attrs)
    landings = devices.terminals(kind, variant, Given(dict(panel.attrs)))
    return Device(
        panel.name, panel.label, panel.attrs, panel.span, NO_SPANS, PANEL, variant.name, landings,
        panel.place,
    )  # fmt: skip


def _built(thing: Thing, panels: Mapping[str, Panel]) -> Device:
    kind, attrs, at = kinds()[thing.sort], _attrs(thing), thing.facts.get("at")
    variant = kind.choose(attrs)
    spot = at if isinstance(at, Spot) else Spot("")
    inside = panels[spot.where].name if spot.ways or spot.where in panels else None
    return Device(
        name=thing.name,
        label=thing.label,
        attrs=attrs,
        span=thing.span,
        attr_spans=NO_SPANS,
        kind=kind.name,
        variant=variant.name,
        terminals=devices.terminals(kind, variant, Given(attrs)),
        place=None if inside else spot.where or None,
        panel=inside,
        ways=spot.ways,
    )


def _as_run(thing: Thing) -> Run:
    given: dict[str, Value] = {
        key: value
        for key, value in thing.facts.items()
        if not is_end(key) and not isinstance(value, Spot)
    }
    cores = [f"/{n}" for n in range(1, thing.cores + 1)]
    if cores:
        given["cores"] = len(cores)
    ends = tuple((_end(thing, f"from{core}"), _end(thing, f"to{core}")) for core in cores or ("",))
    return Run(thing.sort, thing.name, thing.label, Given(given), ends, thing.span)


def _end(thing: Thing, fact: str) -> End:
    device, _, terminal = str(thing.facts[fact]).partition(".")
    return End(device, terminal, thing.span)


def _mode(thing: Thing) -> Mode:
    settings = (Setting(name, str(state), thing.span) for name, state in thing.facts.items())
    return Mode(thing.name, thing.label, tuple(settings), thing.span)


def _revision(thing: Thing) -> Revision:
    return Revision(thing.name, thing.label, _attrs(thing), thing.span, NO_SPANS)


def _accept(thing: Thing) -> Accept:
    return Accept(thing.sort, thing.name.split(" on ", 1)[1], thing.label, thing.span)
