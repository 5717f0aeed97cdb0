"""Conductors that more current can reach than they may carry, and how far to what protects them.

A weak conductor is followed from where too much can arrive to the devices that end it; the book
may allow that run by its length.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Iterator
from functools import cached_property
from heapq import heappop, heappush
from itertools import count
from math import inf

from ..dsl.model import Conductor
from ..dsl.records import record
from .books.book import Allowance, Figure, Missing
from .tracing.cut import Protection
from .tracing.flow import Cut
from .tracing.network import WIRE, Edge, carries
from .tracing.parallel import together
from .tracing.trace import ModeView, Stage

NEAR = 1.0 + 1e-9


@record
class Weak:
    """A conductor that more can flow in than may: the cut, the limit, and where it stands."""

    stage: Stage
    view: ModeView
    protection: Protection
    edge: Edge
    conductor: Conductor
    cut: Cut
    limit: Figure

    @cached_property
    def excess_ends(self) -> tuple[int, ...]:
        """The ends at which more can arrive than the conductor may carry."""
        return tuple(
            end
            for end in (self.edge.a, self.edge.b)
            if self.protection.from_side(self.edge, end).amps > self.limit.value * NEAR
        )


def _wires(stage: Stage, view: ModeView, held: Protection) -> Iterator[tuple[Edge, Conductor]]:
    conductors = stage.rig.conductors
    for edge in held.live_edges:
        if edge.kind == WIRE:
            conductor = conductors[edge.owner]
            if conductor.size is not None and not _within_bank(view, edge):
                yield edge, conductor


def _within_bank(view: ModeView, edge: Edge) -> bool:
    """Whether a conductor joins two batteries, by splices at most: part of the bank."""
    devices = view.wiring.rig.devices
    ends = (view.wiring.names[edge.a][0], view.wiring.names[edge.b][0])
    if any(devices[name].kind not in ("battery", "joint") for name in ends):
        return False
    ends = (_past_splices(view, edge, edge.a), _past_splices(view, edge, edge.b))
    return all(devices[name].kind == "battery" for name in ends)


def _past_splices(view: ModeView, edge: Edge, node: int) -> str:
    """The device that a conductor leads to at one end, splices of two conductors passed over."""
    came = edge
    while True:
        name = view.wiring.names[node][0]
        steps = [e for e in view.network.neighbours[node] if e is not came]
        if view.wiring.kinds[name].name != "joint" or len(steps) != 1 or steps[0] is edge:
            return name
        came, node = steps[0], steps[0].other(node)


def weak_conductors(stage: Stage, view: ModeView, held: Protection) -> Iterator[Weak]:
    """Every ungrounded conductor of a mode whose worst current is above its limit."""
    for edge, conductor in _wires(stage, view, held):
        bound = held.arriving(edge.a)
        if bound.amps == 0:
            continue
        limit = together(stage, conductor, stage.limit(conductor))
        if isinstance(limit, Missing) or bound.amps <= limit.value * NEAR:
            continue
        cut = held.through(edge)
        if cut.amps > limit.value * NEAR:
            yield Weak(stage, view, held, edge, conductor, cut, limit)


@record
class Run:
    """The unprotected run of a conductor up to the device that ends it.

    ``length_m`` from where the current enters to the farthest device, ``nearest_m`` to the nearest;
    ``situations`` the book's words for it; ``devices`` the devices it ends in, ``ends_well``
    whether they hold it.
    """

    length_m: float
    nearest_m: float
    situations: tuple[str, ...]
    devices: tuple[str, ...]
    ends_well: bool


def run_of(weak: Weak, near: int) -> Run:
    """Follow a weak conductor from the end where too much can arrive to what protects it."""
    far = weak.edge.other(near)
    sides = weak.protection.sides(weak.edge)
    far_side = () if sides is None else sides[near == weak.edge.a]
    devices, ends_well = _ends_in(weak, far_side)
    behind = distances(weak.view, far, far_side)
    to_devices = [behind.get(node, inf) for node, _ in devices] or [0.0]
    before, origin = _from_origin(weak, near, far_side)
    names = tuple(dict.fromkeys(name for _, name in devices))
    situations = _situations(weak, origin)
    post = _from_battery(weak, near) if weak.cut.amps == inf else inf
    own = weak.conductor.length_m
    from_post = weak.stage.book.allowance("battery")
    if from_post and post + own + max(to_devices) <= from_post.value * NEAR:
        before, situations = post, ("battery",)  # past a bar beside the post, all of it in reach
    farthest, nearest = (before + own + end for end in (max(to_devices), min(to_devices)))
    return Run(farthest, nearest, situations, names, ends_well)


def _from_battery(weak: Weak, near: int) -> float:
    """How far, m, the nearest battery is from an end of a conductor, without passing through it."""
    sides = weak.protection.sides(weak.edge)
    side = () if sides is None else sides[near != weak.edge.a]
    reached = distances(weak.view, near, side)
    live = weak.view.live.values()
    posts = [s.nodes["+"] for s in live if s.device.kind == "battery"]
    return min((reached.get(node, inf) for node in posts), default=inf)


def _ends_in(weak: Weak, side: Collection[int]) -> tuple[list[tuple[int, str]], bool]:
    """The protective poles on a side as (node, device), and whether all together hold it.

    They do where their ratings add up to no more than the limit, and nothing else takes current.
    """
    held, view = weak.protection, weak.view
    found = [(node, pole.owner) for node, pole in held.poles_on(side)]
    names = ((node, view.wiring.names[node][0]) for node in side)
    found += [(node, name) for node, name in names if _stands_open(view, name)]
    total = sum(held.ratings[owner] for _, owner in found)
    takers = any(
        view.wiring.kinds[device].acts in ("load", "outlet", "converter")
        for device, _ in (view.wiring.names[node] for node in side)
    )
    return found, bool(found) and not takers and total <= weak.limit.value * NEAR


def _stands_open(view: ModeView, name: str) -> bool:
    """Whether an overcurrent device is open in this mode: it ends a run as a closed one does."""
    if view.wiring.kinds[name].acts != "protective":
        return False
    return view.network.states[name] == "open" or not carries(view.wiring.rig.devices[name])


def distances(view: ModeView, start: int, side: Container[int]) -> dict[int, float]:
    """Length of conductor, m, from a node to every node of its side."""
    conductors = view.wiring.rig.conductors
    best = {start: 0.0}
    order = count()
    queue = [(0.0, next(order), start)]
    while queue:
        length, _, node = heappop(queue)
        for edge in view.network.neighbours[node]:
            far = edge.other(node)
            if far not in side:
                continue
            step = length + (conductors[edge.owner].length_m if edge.kind == WIRE else 0.0)
            if step < best.get(far, inf):
                best[far] = step
                heappush(queue, (step, next(order), far))
    return best


def _from_origin(weak: Weak, near: int, far_side: Collection[int]) -> tuple[float, str]:
    """How far back, m, the current enters, through conductors as thin as this one; and where."""
    view = weak.view
    node, length, came = near, 0.0, weak.edge
    while True:
        device = view.wiring.names[node][0]
        kind = view.wiring.kinds[device]
        steps = [e for e in view.network.neighbours[node] if e is not came]
        if kind.acts == "source" or len(steps) != 1:
            return length, device
        if kind.name == "joint" and steps[0].kind != WIRE:  # a splice of two is no beginning
            came, node = steps[0], steps[0].other(node)
            continue
        if steps[0].kind != WIRE:
            return length, device
        conductor = weak.stage.rig.conductors[steps[0].owner]
        size, own = conductor.size, weak.conductor.size
        if size is None or own is None or size.mm2 > own.mm2 * NEAR:
            return length, device
        came, length = steps[0], length + conductor.length_m
        node = came.other(node)


def _situations(weak: Weak, origin: str) -> tuple[str, ...]:
    """The book's words for where an unprotected run begins, the longest allowance first."""
    device = weak.stage.rig.devices.get(origin)
    kind = device.kind if device else ""
    sheathed = weak.conductor.cable is not None
    if kind == "battery":
        return ("battery-sheathed", "battery") if sheathed else ("battery",)
    found = ["source-sheathed", "source"] if sheathed else ["source"]
    panels = {
        weak.stage.rig.devices[end.device].panel
        for end in (weak.conductor.a, weak.conductor.b)
        if end.device in weak.stage.rig.devices
    }
    if len(panels) == 1 and None not in panels:
        found.insert(0, "panel")
    if weak.cut.amps < inf:
        found += ["tap", "tap-single", "change-of-section"]
    if kind in ("charger", "alternator", "solar", "dcdc"):
        found.append("charge-source")
    return tuple(found)


def allowance(weak: Weak, run: Run) -> Allowance | None:
    """The longest unprotected length the book allows this run; None where it allows none."""
    ampacity = weak.stage.ampacity(weak.conductor)
    best: Allowance | None = None
    for situation in run.situations:
        found = weak.stage.book.allowance(situation)
        if found is None or not run.ends_well:
            continue
        strong = isinstance(ampacity, Figure) and ampacity.value >= found.ratio * weak.cut.amps
        if (strong or not found.ratio) and (best is None or found.value > best.value):
            best = found
    return best
