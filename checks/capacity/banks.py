"""Banks: the batteries of a mode that stand together, and what charges them."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ...dsl.records import record
from ..tracing.trace import ModeView, Source
from .converters import charging_amps, charging_volts, follows_the_sun


@record
class Bank:
    """Batteries in parallel, in series, or both, on one positive net.

    ``volts`` nominal; ``amp_hours`` at that voltage; ``plus`` a node of its positive.
    """

    batteries: tuple[Device, ...]
    plus: int
    volts: float
    amp_hours: float

    @property
    def name(self) -> str:
        return " + ".join(battery.name for battery in self.batteries)

    def most(self, key: str) -> float | None:
        """What all may take (``charge``) or give (``discharge``), A; None where one is silent."""
        each = [battery.number(key) for battery in self.batteries]
        if not all(each):
            return None
        volts = [battery.number("voltage") or self.volts for battery in self.batteries]
        return sum((a or 0.0) * v for a, v in zip(each, volts, strict=True)) / self.volts


def banks(view: ModeView) -> list[Bank]:
    """The banks of a mode, in the order of the text; batteries without volts stand in none."""
    live = [s for s in view.live.values() if s.device.kind == "battery" and s.volts]
    above = {view.net[s.nodes["-"]]: s for s in live}
    tops: dict[int, int] = {}
    groups: dict[int, list[Source]] = {}
    for source in live:
        plus = _top(view, source, above).nodes["+"]
        tops.setdefault(view.net[plus], plus)
        groups.setdefault(view.net[plus], []).append(source)
    return [_bank(view, tops[net], sources) for net, sources in groups.items()]


def _top(view: ModeView, source: Source, above: dict[int, Source]) -> Source:
    """The last battery of the string that a battery stands in."""
    seen = {source.name}
    while (higher := above.get(view.net[source.nodes["+"]])) and higher.name not in seen:
        source = higher
        seen.add(source.name)
    return source


def _bank(view: ModeView, plus: int, sources: list[Source]) -> Bank:
    volts = view.potential.get(view.net[plus]) or sources[0].volts or 1.0
    stored = sum((s.volts or 0.0) * (s.device.number("capacity") or 0.0) for s in sources)
    return Bank(tuple(s.device for s in sources), plus, volts, stored / volts)


def chargers(view: ModeView, bank: Bank) -> Iterator[tuple[Source, float]]:
    """What charges a bank, each with its direct current at full, A."""
    for name in dict.fromkeys(name for name, _ in view.roles.get(view.net[bank.plus], ())):
        source = view.live[name]
        amps = charging_amps(source.device)
        if source.dc and source.device.kind != "battery" and amps > 0:
            yield source, min(amps, _sun(view, source, bank))


def _sun(view: ModeView, source: Source, bank: Bank) -> float:
    """What the panels ahead of a regulator can give it at the battery's voltage, A."""
    if not source.converter or not follows_the_sun(view, source):
        return float("inf")
    panels = [view.live[name].device.number("power") for name in view.feeders(source.name)]
    known = [watts for watts in panels if watts is not None]
    return sum(known) / charging_volts(bank.volts) if len(known) == len(panels) else float("inf")
