"""The loads of a stage as a list: what each takes, and from where it is fed in every mode."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from ...dsl.model import Device
from ..tracing.feeds import Feed, feed_of, takes
from ..tracing.trace import ModeView, Stage
from .demand import demand
from .draws import Item


class Listed(NamedTuple):
    """A load, a converter or an outlet.

    ``item``: its figures in the first mode in which it takes power (None: it states none, or it is
    an outlet); ``amps``: what it takes then at its own terminals, A, a line; ``feeds``: by mode how
    it is fed, None where it is dead or switched off.
    """

    device: Device
    acts: str
    item: Item | None
    amps: float | None
    feeds: Mapping[str, Feed | None]

    @property
    def start(self) -> float | None:
        """Its current at the start, A; None where the text does not say."""
        return self.device.number("inrush")


def load_list(stage: Stage) -> Iterator[Listed]:
    """Everything that takes power, in the order of the text."""
    for device in stage.rig.devices.values():
        if takes(stage, device.name) and device.status != "removed":
            yield _listed(stage, device)


def _listed(stage: Stage, device: Device) -> Listed:
    name, acts = device.name, stage.wiring.kinds[device.name].acts
    feeds = {v.name: feed_of(v, name) if _on(v, name, acts) else None for v in stage.modes}
    taking = next((view for view in stage.modes if name in demand(view).items), None)
    if taking is None:
        return Listed(device, acts, None, None, feeds)
    found = demand(taking)
    names = taking.wiring.names
    amps = [draw.amps for draw in found.draws if names[draw.node][0] == draw.item == name]
    return Listed(device, acts, found.items[name], max(amps, default=None), feeds)


def _on(view: ModeView, name: str, acts: str) -> bool:
    """Whether it takes power in a mode; of an outlet, whether it is live."""
    return acts == "outlet" or bool(view.takes(name))
