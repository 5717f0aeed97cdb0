"""What the rig asks of a supply at each inlet, and how each mode is run: the supply card.

Ratings are those the text states; what a site may offer at most follows from them and from the
solution.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ..commissioning.circuits import Feed, circuits, every_way
from ..commissioning.loop import allowed, least_breaking
from ..figures.chains import Ways
from ..solve import Fault, solution
from ..tracing.bonding import ac_sources, bonds_of
from ..tracing.feeds import every_way as ways_out
from ..tracing.trace import UNGROUNDED, ModeView, Source, Stage

SYSTEMS = {1: "L N PE", 2: "L1 L2 N PE", 3: "L1 L2 L3 N PE"}


class Intake(NamedTuple):
    """An inlet with what may feed it.

    ``amps``: the least rating from its pins to the first device behind it, and whose it is;
    ``fault``: the most prospective current, A, that the devices behind it can break, and whose
    rating that is; ``ohms``: the most loop impedance at its pins that leaves every circuit behind
    it time to disconnect, and the circuit that sets it.
    """

    inlet: str
    source: str
    mode: str
    volts: float | None
    hertz: float
    system: str
    earthing: str
    amps: tuple[float, str] | None
    fault: tuple[float, str] | None
    ohms: tuple[float, str] | None
    residual: tuple[str, ...]


def intakes(stage: Stage) -> Iterator[Intake]:
    """Every inlet that a source feeds in some mode, each with each source once."""
    told: set[tuple[str, str]] = set()
    for circuit in circuits(stage):
        for feed in circuit.feeds:
            key = (feed.user, feed.way.source.name)
            if stage.rig.devices[feed.user].kind == "inlet" and key not in told:
                told.add(key)
                yield _intake(stage, feed)


def _intake(stage: Stage, feed: Feed) -> Intake:
    source = feed.way.source
    return Intake(
        inlet=feed.user,
        source=source.name,
        mode=feed.view.name,
        volts=source.volts,
        hertz=source.hz,
        system="+ -" if source.dc else SYSTEMS[len(source.lines)],
        earthing=earthing(source),
        amps=_least_rating(stage, feed),
        fault=least_breaking(stage, feed),
        ohms=_most_ohms(stage, feed),
        residual=tuple(dict.fromkeys(_residual(stage, feed.way))),
    )


def earthing(source: Source) -> str:
    """How a source stands to earth, as the text says."""
    words = {
        "bonded": "neutral joined to earth at the source",
        "separated": "earth-free on purpose",
        "floating": "not joined to earth",
    }
    return next((said for flag, said in words.items() if source.device.flag(flag)), "not stated")


def _least_rating(stage: Stage, feed: Feed) -> tuple[float, str] | None:
    """The least of the inlet's rating and that of the first devices behind it, A."""
    names = {feed.user, *(passed[0] for passed in feed.way.devices.values() if passed)}
    found = [(stage.rig.devices[name].number("rating"), name) for name in sorted(names)]
    return min(((amps, name) for amps, name in found if amps), default=None)


def _residual(stage: Stage, way: Ways) -> Iterator[str]:
    """The residual-current devices that something hangs on, the source's side first."""
    for node in way.came:
        yield from way.residual(node)


def _most_ohms(stage: Stage, feed: Feed) -> tuple[float, str] | None:
    """The most loop impedance at the pins: what each circuit allows less its own wiring."""
    pins = _ohms(feed)
    if pins is None or feed.way.source.dc:
        return None
    found = []
    for circuit in circuits(stage):
        for other in circuit.feeds:
            if other.way is feed.way and other.user != feed.user:
                most, ohms = allowed(stage, circuit, other), _ohms(other)
                if most is not None and ohms is not None:
                    found.append((most - (ohms - pins), circuit.head))
    return min(found, default=None)


def _ohms(feed: Feed) -> float | None:
    device, terminal = feed.view.wiring.names[feed.node]
    found = solution(feed.view).loop(device, terminal, "min")
    return abs(found.ohms) if isinstance(found, Fault) else None


class Aboard(NamedTuple):
    """A source aboard that no inlet takes in: a battery, a generator, a solar panel, an alternator.

    ``amps`` and ``fault``: what it gives and what it drives into a short circuit, A, as the text
    says; ``first``: the devices next behind it; ``modes``: those in which it is live.
    """

    source: str
    amps: float | None
    fault: float | None
    first: tuple[str, ...]
    modes: tuple[str, ...]


def aboard(stage: Stage) -> Iterator[Aboard]:
    """Every such source, in the order of the text."""
    taken_in = {intake.source for intake in intakes(stage)}
    for name, kind in stage.wiring.kinds.items():
        device = stage.rig.devices[name]
        if kind.acts != "source" or kind.name == "supply" or name in taken_in:
            continue
        if device.status == "removed":
            continue
        amps = device.number("discharge" if kind.name == "battery" else "rating")
        live = tuple(view.name for view in stage.modes if name in view.live)
        yield Aboard(name, amps, device.number("fault"), tuple(_first(stage, name)), live)


def _first(stage: Stage, source: str) -> dict[str, None]:
    """The protective devices next behind a source, over all modes."""
    return dict.fromkeys(
        passed[0]
        for view in stage.modes
        for way in ways_out(view)
        if way.source.name == source
        for passed in way.devices.values()
        if passed
    )


class ModeRow(NamedTuple):
    """How one mode is run: what is live, what is set, where each system is joined to earth.

    ``limits``: what each source of alternating current gives at most, A, and by whose rating.
    """

    name: str
    label: str
    live: tuple[str, ...]
    settings: tuple[str, ...]
    joints: tuple[str, ...]
    residual: tuple[str, ...]
    panels: tuple[str, ...]
    limits: tuple[str, ...]


def mode_rows(stage: Stage) -> Iterator[ModeRow]:
    """One row a mode, in the order of the text."""
    for view in stage.modes:
        yield ModeRow(
            name=view.name,
            label=view.mode.label,
            live=tuple(view.live),
            settings=tuple(f"{s.device}={s.state}" for s in view.mode.settings),
            joints=tuple(_joint(view, source) for source in ac_sources(view)),
            residual=tuple(
                dict.fromkeys(name for way in every_way(view) for name in _residual(stage, way))
            ),
            panels=tuple(_panels(stage, view)),
            limits=tuple(_limit(stage, view, source) for source in ac_sources(view)),
        )


def _joint(view: ModeView, source: Source) -> str:
    owners = dict.fromkeys(bond.owner for bond in bonds_of(view, source))
    return f"{source.name}: {', '.join(owners) or 'none'}"


def _panels(stage: Stage, view: ModeView) -> Iterator[str]:
    """The panels with something live in them."""
    for name in stage.rig.panels:
        inside = (device for device in stage.rig.devices.values() if device.panel == name)
        if any(view.role(d.name, t.name) in UNGROUNDED for d in inside for t in d.terminals):
            yield name


def _limit(stage: Stage, view: ModeView, source: Source) -> str:
    """What holds a source's current, A: its own limit or that of the device at its head."""
    key = {"inverter": "limit"}.get(source.device.kind, "rating")
    amps = source.device.number(key)
    if amps is None:
        power = source.device.number("power") or source.device.number("apparent")
        volts = ModeView.to_neutral(source)
        amps = power / volts / len(source.lines) if power and volts else None
    return f"{source.name}: not stated" if amps is None else f"{source.name}: {amps:.3g} A"
