"""The electrical figures of two stages that differ: mode by mode, only what is another one now.

Figures are the solution's and the books'; nothing is worked out here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import inf
from typing import NamedTuple

from ...dsl.model import Conductor, Rig
from ..books.book import Figure, Missing
from ..commissioning.bonds import systems
from ..solve import Case, Fault
from ..tracing.cut import protection
from ..tracing.flow import Cut
from ..tracing.network import WIRE
from ..tracing.trace import UNGROUNDED, ModeView, Stage
from .derivation import amount
from .rows import extreme, load_rows

DROP_POINTS = 0.1
"""Change of a voltage drop worth telling, in percentage points."""
FAULT_SHARE = 0.05
"""Change of a fault current worth telling, as a share of what it was."""
SAME_SHARE = 1e-3
"""Below this share two figures are the same one, rounded otherwise."""

SUPPLY, BOND, ROLE, PROTECTION, AMPACITY, DROP, FAULT, LEAST = (
    "sources", "bonds", "role", "protection", "ampacity", "drop", "fault", "least",
)  # fmt: skip
TOPICS: Mapping[str, str] = {
    SUPPLY: "Live sources",
    BOND: "Joints of neutral or DC negative to earth",
    ROLE: "What conductors are",
    PROTECTION: "What can come to flow and what holds it (in brackets: the most its device may be)",
    AMPACITY: "What conductors may carry",
    DROP: "Voltage drop",
    FAULT: "Greatest fault current at bars and protective devices",
    LEAST: "Least fault current at loads and outlets",
}
"""What an effect is about, in the order of the risk, and its heading."""


OF_NEW = (PROTECTION, DROP, FAULT)
"""What is told of a thing that was not there before."""
IDLE: Mapping[str, str] = {
    SUPPLY: "", BOND: "not live", ROLE: "dead", PROTECTION: "not live", DROP: "not fed",
    FAULT: "dead", LEAST: "dead",
}  # fmt: skip
"""What is said of a thing that has no such figure."""


class Effect(NamedTuple):
    """One figure that is another one: of ``on``, in ``modes`` (empty: modes do not matter).

    ``old`` and ``new`` are words with units; empty where it was not, or is no more, there.
    ``share``: the change as a share of what it was, where both are numbers.
    """

    topic: str
    on: str
    modes: tuple[str, ...]
    old: str
    new: str
    share: float | None = None


Facts = dict[str, tuple[str, float | None]]
"""By name: a figure in words, and as the number that decides whether it changed (None: words)."""


def effects(old: Stage, new: Stage) -> Iterator[Effect]:
    """The figures that changed, by topic; what is alike in several modes is told once.

    Of what is new, those that judge it are told in every mode; of what is gone, none.  In a mode
    that has no ``partner``, all that was there before has nothing to be compared with.
    """
    was, there = _names(old.rig), _names(new.rig)
    for topic, (of_mode, differs) in OF_MODE.items():
        seen: dict[tuple[str, _Fact, _Fact], list[str]] = {}
        for view in new.modes:
            same = partner(old, view)
            before = of_mode(old, same) if same else {}
            for on, a, b in _changed(before, of_mode(new, view), differs):
                whole = topic in (SUPPLY, BOND)
                fresh = not whole and on not in was
                if whole or (topic in OF_NEW if fresh else same is not None and on in there):
                    a, b = (fact if fact[0] or fresh else (IDLE[topic], None) for fact in (a, b))
                    a = a if same else _NONE
                    seen.setdefault((on, a, b), []).append(view.name)
        for (on, a, b), modes in seen.items():
            yield Effect(topic, on, tuple(modes), a[0], b[0], _share(a, b))
        if topic == PROTECTION:
            yield from _ampacities(old, new)


def partner(old: Stage, view: ModeView) -> ModeView | None:
    """The old mode that one compares with: of its name, or else with every device in its state.

    Devices of one of the two alone do not matter.  None: the rig was never run like this.
    """
    states = view.network.states
    named = [was for was in old.modes if was.name == view.name]
    alike = (
        was
        for was in old.modes
        if all(states.get(name, state) == state for name, state in was.network.states.items())
    )
    return next(iter(named), None) or next(alike, None)


def _names(rig: Rig) -> set[str]:
    return {*rig.devices, *rig.cables, *rig.conductors}


def _share(a: _Fact, b: _Fact) -> float | None:
    return b[1] / a[1] - 1 if a[1] and b[1] is not None else None


def _ampacities(old: Stage, new: Stage) -> Iterator[Effect]:
    """Conductors of both stages that may carry more or less than they might."""
    facts: list[Facts] = []
    for stage in (old, new):
        names = {c.statement: c for c in stage.rig.conductors.values() if c.size is not None}
        found = {name: stage.ampacity(c) for name, c in names.items()}
        facts.append({n: (amount(f.value, f.unit), f.value) for n, f in found.items()
                      if isinstance(f, Figure)})  # fmt: skip
    for on, a, b in _changed(facts[0], facts[1], _by(SAME_SHARE)):
        if a[1] and b[1]:
            yield Effect(AMPACITY, on, (), a[0], b[0], _share(a, b))


_Fact = tuple[str, float | None]
_NONE: _Fact = ("", None)
Differs = Callable[[_Fact, _Fact], bool]


def _changed(before: Facts, after: Facts, differs: Differs) -> Iterator[tuple[str, _Fact, _Fact]]:
    for on in {**before, **after}:
        a, b = before.get(on, _NONE), after.get(on, _NONE)
        if differs(a, b):
            yield on, a, b


def _words(a: _Fact, b: _Fact) -> bool:
    return a[0] != b[0]


def _by(share: float) -> Differs:
    """Whether two numbers are further apart than a share of the first."""

    def differs(a: _Fact, b: _Fact) -> bool:
        if a[1] is None or b[1] is None:
            return a[0] != b[0]
        return abs(b[1] - a[1]) > share * abs(a[1])

    return differs


def _sources(_: Stage, view: ModeView) -> Facts:
    return {"sources": (", ".join(sorted(view.live)) or "none", None)}


def _bonds(_: Stage, view: ModeView) -> Facts:
    """How many joints with earth each live system has in a mode, and where."""
    found: Facts = {}
    for system in systems(view):
        first = min(source.name for source in system.sources)
        on = f"{'DC negative' if system.first.dc else 'neutral'} of {first}"
        owners = ", ".join(system.owners)
        found[on] = (f"{len(system.owners)}, by {owners}" if owners else "none", None)
    return found


def _roles(_: Stage, view: ModeView) -> Facts:
    """What the conductor, or the cores of a cable, are."""
    found: dict[str, list[str]] = {}
    for name, conductor in view.wiring.rig.conductors.items():
        found.setdefault(conductor.statement, []).append(view.conductor_role(name) or "dead")
    return {on: (" ".join(_once_if_alike(roles)), None) for on, roles in found.items()}


def _once_if_alike(words: list[str]) -> list[str]:
    return words[:1] if len(set(words)) == 1 else words


def _protected(stage: Stage, view: ModeView) -> Facts:
    """The cut of the worst-off line of each conductor or cable."""
    conductors, held = view.wiring.rig.conductors, protection(view)
    worst: dict[str, tuple[Cut, Conductor]] = {}
    for edge in view.network.edges:
        conductor = conductors.get(edge.owner) if edge.kind == WIRE else None
        if conductor is None or view.conductor_role(conductor.name) not in UNGROUNDED:
            continue
        cut, other = held.through(edge), worst.get(conductor.statement)
        if conductor.size is not None and (other is None or cut.amps > other[0].amps):
            worst[conductor.statement] = cut, conductor
    return {on: (_cut(cut, stage.limit(conductor)), None) for on, (cut, conductor) in worst.items()}


def _cut(cut: Cut, limit: Figure | Missing) -> str:
    if cut.amps == inf or not cut.names:
        return "held by no device"
    most = "" if isinstance(limit, Missing) else f" (at most {amount(limit.value, 'A')})"
    return f"{' + '.join(cut.names)} {amount(cut.amps, 'A')}{most}"


def _drops(stage: Stage, view: ModeView) -> Facts:
    found: Facts = {}
    for row in load_rows(stage, view):
        percent = row.drop.percent
        over = row.limit is not None and percent > row.limit.value
        limit = f" of {row.limit.value:g} %" if row.limit else ""
        words = f"{percent:.2f} %{limit}{' (too much)' if over else ''}"
        found[row.device.name] = (words, percent)
    return found


def _drop_differs(a: _Fact, b: _Fact) -> bool:
    if a[1] is None or b[1] is None:
        return a[0] != b[0]
    return abs(a[1] - b[1]) > DROP_POINTS or ("(" in a[0]) != ("(" in b[0])


def _faults(view: ModeView, acts: tuple[str, ...], case: Case) -> Facts:
    """The extreme fault at the first live line of each device that acts so."""
    found: Facts = {}
    for name, kind in view.wiring.kinds.items():
        if kind.acts not in acts or kind.name in ("joint", "block"):
            continue
        for terminal in view.wiring.rig.devices[name].terminals:
            node = view.wiring.find(name, terminal.name)
            role = "" if node is None else view.node_role(node)
            if node is not None and role in UNGROUNDED:
                fault = extreme(view, node, role, case)
                if isinstance(fault, Fault):
                    found[name] = (amount(fault.amps, "A"), fault.amps)
                break
    return found


def _greatest(_: Stage, view: ModeView) -> Facts:
    return _faults(view, ("distribution", "protective"), "max")


def _least(_: Stage, view: ModeView) -> Facts:
    return _faults(view, ("load", "outlet"), "min")


OF_MODE: Mapping[str, tuple[Callable[[Stage, ModeView], Facts], Differs]] = {
    SUPPLY: (_sources, _words),
    BOND: (_bonds, _words),
    ROLE: (_roles, _words),
    PROTECTION: (_protected, _words),
    DROP: (_drops, _drop_differs),
    FAULT: (_greatest, _by(FAULT_SHARE)),
    LEAST: (_least, _by(FAULT_SHARE)),
}
