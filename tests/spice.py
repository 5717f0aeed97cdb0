"""A rig in one mode as ngspice decks, written from its statements alone.

Nothing of ``checks/solve``, of tracing or of the network is used here: terminals, poles, joins and
states come from the language's own table of kinds, resistances and reactances from the rule book
(which has tests of its own).  The assumptions are written again, from their description.
"""

from __future__ import annotations

import cmath
import math
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count
from tempfile import NamedTemporaryFile

from ferrule.checks.books.book import Missing, book
from ferrule.dsl.kinds import kinds
from ferrule.dsl.model import Conductor, Device, End, Mode, Rig

LINK = 1e-6  # ohm
GONE = ("planned", "disabled", "removed")
LINES = ("L", "L1", "L2", "L3", "+")
TURN = {"L2": -120.0, "L3": 120.0}
# IEC 60947-2 Table 11 (from memory): power factor at which a breaking current is tested.
TESTED_PF = {1.5e3: 0.95, 3e3: 0.9, 4.5e3: 0.8, 6e3: 0.7, 10e3: 0.5, 20e3: 0.3, 50e3: 0.25}


VALUE = re.compile(r"(\S+) = ([-+.\de]+),([-+.\de]+)")


@dataclass(frozen=True)
class Line:
    """One line of a live source: its two terminals, its voltage, and how it is taken."""

    device: Device
    role: str
    line: str
    back: str
    volts: complex
    hz: float
    stiff: bool


@dataclass
class Deck:
    """The lines of a netlist and the elements whose current is asked for, by name."""

    lines: list[str] = field(default_factory=list)
    meters: dict[str, str] = field(default_factory=dict)
    number: Iterator[int] = field(default_factory=count)
    bars: dict[str, str] = field(default_factory=dict)

    def at(self, name: str) -> str:
        """The node a terminal is: positions of a bar are one."""
        return self.bars.get(name, name)

    def branch(self, name: str, a: str, b: str, ohms: complex, hz: float) -> None:
        """A resistance, and an inductance where there is a reactance, behind a meter."""
        n, a, b = next(self.number), self.at(a), self.at(b)
        self.meters[name] = f"vm{n}"
        self.lines.append(f"vm{n} {a} p{n} dc 0 ac 0")
        if hz and ohms.imag:
            self.lines.append(f"r{n} p{n} q{n} {max(ohms.real, 1e-9):.15g}")
            self.lines.append(f"l{n} q{n} {b} {ohms.imag / (2 * math.pi * hz):.15g}")
        else:
            self.lines.append(f"r{n} p{n} {b} {max(ohms.real, 1e-9):.15g}")

    def current(self, a: str, b: str, amps: complex) -> None:
        """A current source from a to b."""
        n, a, b = next(self.number), self.at(a), self.at(b)
        angle = math.degrees(cmath.phase(amps))
        self.lines.append(f"i{n} {a} {b} dc 0 ac {abs(amps):.15g} {angle:.15g}")

    def voltage(self, a: str, b: str, volts: complex) -> None:
        """A voltage source, a above b."""
        n, a, b = next(self.number), self.at(a), self.at(b)
        angle = math.degrees(cmath.phase(volts))
        self.lines.append(f"v{n} {a} {b} dc 0 ac {abs(volts):.15g} {angle:.15g}")


class Plan:
    """What of a rig is joined and live in a mode, found by brute force."""

    def __init__(self, rig: Rig, mode: Mode) -> None:
        self.rig, self.mode = rig, mode
        self.devices = {n: d for n, d in rig.devices.items() if d.status not in GONE}
        self.table = kinds()
        self.joints = list(self._joints())
        self.wires = list(self._wires())
        self.bonds = list(self._bonds())
        self.net = self._spread([(a, b) for _, a, b in self.joints] + [w[1:] for w in self.wires])
        self.sources = self._sources()

    def state(self, device: Device) -> str:
        kind = self.table[device.kind]
        return self.mode.state(device.name, kind.default_state)

    def own(self, device: Device) -> dict[str, str]:
        """The kind's name of each terminal -> the rig's, as a node."""
        variant = self.table[device.kind].variant(device.variant)
        names = [t.name for t in device.terminals]
        return {
            own: node(device.name, name)
            for own, name in zip(variant.terminals or names, names, strict=False)
        } | {name: node(device.name, name) for name in names}

    def _joints(self) -> Iterator[tuple[str, str, str]]:
        """What a device joins inside in its state, as (name of it, node, node)."""
        for device in self.devices.values():
            kind = self.table[device.kind]
            variant, state, at = kind.variant(device.variant), self.state(device), self.own(device)
            pairs = list(variant.poles if state == "closed" else ())
            pairs += variant.joins.get(state, ())
            for a, b in pairs:
                yield f"{device.name}:{a}", at[a], at[b]
            if variant.numbered in ("all", "free"):
                for t in device.terminals[1:]:
                    first = node(device.name, device.terminals[0].name)
                    yield f"{device.name}=={t.name}", first, node(device.name, t.name)
            if kind.acts == "outlet" and state == "on":
                for t in device.terminals:
                    yield f"{device.name}<{t.name}", self.outside(device.name, t.name), at[t.name]

    def outside(self, device: str, terminal: str) -> str:
        return node(device, terminal) + "_out"

    def _lands(self, conductor: Conductor, end: End) -> str | None:
        device = self.devices.get(end.device)
        if device is None or device.terminal(end.terminal) is None:
            return None
        plugged = False
        if self.table[device.kind].acts == "outlet":
            far = self.devices.get(conductor.other(end).device)
            feeds = far is not None and self.table[far.kind].acts == "source"
            inlet = device.kind == "inlet" and (conductor.flag("cord") or feeds)
            plugged = conductor.flag("plug") or inlet
            if plugged and far is not None and self._another_is_in(device, far):
                return None
        where = self.outside if plugged else node
        return where(end.device, end.terminal)

    def _another_is_in(self, inlet: Device, supply: Device) -> bool:
        """Of several cords for one inlet the one whose supply is on is in."""
        if self.table[supply.kind].acts != "source" or self.state(supply) == "on":
            return False
        ends = (
            c.other(e).device
            for c in self.rig.conductors.values()
            for e in (c.a, c.b)
            if e.device == inlet.name and c.flag("plug")
        )
        others = (self.devices[name] for name in ends if name in self.devices)
        return any(self.table[o.kind].acts == "source" and self.state(o) == "on" for o in others)

    def _wires(self) -> Iterator[tuple[Conductor, str, str]]:
        for conductor in self.rig.conductors.values():
            a, b = self._lands(conductor, conductor.a), self._lands(conductor, conductor.b)
            if conductor.status not in GONE and conductor.kind != "bond" and a and b:
                yield conductor, a, b

    def _bonds(self) -> Iterator[tuple[Conductor | None, str, str]]:
        for conductor in self.rig.conductors.values():
            if conductor.kind == "bond" and conductor.status not in GONE:
                yield (
                    conductor,
                    self._lands(conductor, conductor.a) or "",
                    self._lands(conductor, conductor.b) or "",
                )
        for device in self.devices.values():
            for bond in self.table[device.kind].variant(device.variant).bonds:
                if device.flag(bond.flag) and bond.closed(self.state(device)):
                    at = self.own(device)
                    yield None, at[bond.neutral], at[bond.earth]

    def _spread(self, pairs: list[tuple[object, ...]]) -> dict[str, str]:
        """Every node's group by relaxation: the least name that reaches it."""
        group: dict[str, str] = {}
        for device in self.devices.values():
            for t in device.terminals:
                for name in (node(device.name, t.name), self.outside(device.name, t.name)):
                    group[name] = name
        ends = [(str(p[0]), str(p[1])) for p in pairs]
        changed = True
        while changed:
            changed = False
            for a, b in ends:
                least = min(group[a], group[b])
                if group[a] != least or group[b] != least:
                    group[a] = group[b] = least
                    changed = True
        return group

    def _sources(self) -> list[Line]:
        live: dict[str, list[Line]] = {}
        for _ in range(6):  # converters wake one after another
            for device in self.devices.values():
                if device.name not in live and (lines := self._gives(device, live)):
                    live[device.name] = lines
        return [line for lines in live.values() for line in lines]

    def _gives(self, device: Device, live: dict[str, list[Line]]) -> list[Line]:
        kind = self.table[device.kind]
        variant, state, at = kind.variant(device.variant), self.state(device), self.own(device)
        converter = kind.acts == "converter"
        gives = variant.gives.get(state if converter else "on")
        need = variant.gives_needs.get(state)
        if not gives or (need and need not in device.attrs) or (not converter and state != "on"):
            return []
        hz, given = device.number("frequency") or 0.0, device.number("voltage")
        if converter:
            fed = {self.net[at[t]] for t in variant.takes[state] if role_of(t) in LINES}
            feeders = [
                s
                for name, lines in live.items()
                for s in lines
                if self.net[s.line] in fed and name != device.name
            ]
            if not feeders:
                return []
            if device.kind == "transformer":
                hz, given = feeders[0].hz, given or abs(feeders[0].volts)
        roles = {role: at[t] for t, role in gives.items()}
        dc = "+" in roles
        if dc and device.kind == "inverter":
            given = device.number("input")
        lines = [role for role in roles if role in LINES]
        back = roles["-" if dc else "N"]
        each = (given or 0.0) / {1: 1.0, 2: 2.0, 3: math.sqrt(3)}[len(lines)]
        turn = TURN if len(lines) == 3 else {"L2": 180.0}
        stiff = device.kind in ("supply", "generator", "battery")
        return [
            Line(
                device,
                role,
                roles[role],
                back,
                cmath.rect(each, math.radians(turn.get(role, 0.0))),
                0.0 if dc else hz or 50.0,
                stiff,
            )
            for role in lines
        ]

    @property
    def frequencies(self) -> list[float]:
        return sorted({line.hz for line in self.sources})

    def holders(self, hz: float) -> tuple[list[Line], list[Line]]:
        """The lines that hold a voltage, and those that put a current in beside them."""
        pairs: list[tuple[object, ...]] = []
        holds, puts = [], []
        ordered = [s for s in self.sources if s.hz == hz and s.device.kind != "transformer"]
        ordered.sort(key=lambda s: (not s.stiff, -(most(s) or 0.0)))
        for s in ordered:
            group = self._spread(
                [(a, b) for _, a, b in self.joints] + [w[1:] for w in self.wires] + pairs
            )
            if s.stiff or group[s.line] != group[s.back]:
                holds.append(s)
            else:
                puts.append(s)
            pairs.append((s.line, s.back))
        return holds, puts


def node(device: str, terminal: str) -> str:
    """A terminal as ngspice writes a node: lower case, letters, digits, underscores."""
    sign = {"+": "pos", "-": "neg"}
    word = "".join(sign.get(c, c) for c in terminal)
    return f"n_{device}_{word}".lower().replace("-", "_")


def role_of(terminal: str) -> str:
    """``in-L`` -> L, ``out+`` -> +."""
    for head in ("in-", "out-", "in", "out"):
        if terminal.startswith(head) and len(terminal) > len(head):
            return terminal[len(head) :]
    return terminal


def most(line: Line) -> float | None:
    """The most a regulated source gives, A."""
    device = line.device
    dc = line.role == "+"
    key = ("charge" if dc else "limit") if device.kind == "inverter" else "rating"
    stated = device.number(key)
    power = device.number("power") or device.number("apparent")
    volts = abs(line.volts) * (2 if line.role in ("L1", "L2") else 1)
    return stated if stated is not None else power / volts if power and volts else None


def own_ohms(rig: Rig, line: Line, case: str) -> complex:
    """What a source stands behind, ohm (see ferrule.checks.solve.assumed)."""
    device, fault = line.device, line.device.number("fault")
    if not line.stiff or not fault:
        return complex(LINK)
    if line.role == "+":
        return complex(abs(line.volts) / fault)
    size = book(rig.book).voltage_factor("max").value * abs(line.volts) / fault
    if device.kind == "generator":
        x = size / math.hypot(1.0, 0.15)
        return complex(LINK) if case == "drop" else complex(0.15 * x, x)
    pf = next((pf for upto, pf in TESTED_PF.items() if fault <= upto), 0.2)
    return complex(size * pf, size * math.sqrt(1 - pf * pf))


def deck(plan: Plan, hz: float, case: str) -> Deck:
    """Everything but loads and converters' inputs: conductors, joints, bonds, sources."""
    rig, out = plan.rig, Deck()
    out.bars = {b: a for name, a, b in plan.joints if "==" in name}
    for name, a, b in plan.joints:
        if "==" not in name:
            out.branch(name, a, b, complex(LINK), hz)
    wires = [(c, a, b) for c, a, b in plan.wires]
    for conductor, a, b in [*wires, *plan.bonds]:
        if conductor is None:
            out.branch(f"bond {a} {b}", a, b, complex(LINK), hz)
        else:
            out.branch(conductor.name, a, b, _ohms(rig, conductor, hz, case), hz)
    factor = book(rig.book).voltage_factor(case).value if case != "drop" else 1.0
    for line in plan.holders(hz)[0]:
        inner = f"e{next(out.number)}_in"
        out.branch(
            f"{line.device.name}.{line.role}", inner, line.line, own_ohms(rig, line, case), hz
        )
        out.voltage(inner, line.back, line.volts * (factor if line.stiff and hz else 1.0))
    for line in plan.sources:
        if line.device.kind == "transformer" and line.hz == hz:
            _transformer(plan, out, line, hz)
    return out


def _ohms(rig: Rig, conductor: Conductor, hz: float, case: str) -> complex:
    rules = book(rig.book)
    if conductor.size is None:
        return complex(LINK)
    r = rules.resistance(conductor, rig, rules.celsius(conductor, rig, case))
    x = rules.reactance(conductor, rig, hz)
    assert not isinstance(r, Missing) and not isinstance(x, Missing)
    return complex(max(r.value, LINK), x.value)


def _transformer(plan: Plan, out: Deck, line: Line, hz: float) -> None:
    """An ideal transformer: a voltage set by the input's, a current set by the output's."""
    at, device, n = plan.own(line.device), line.device, next(out.number)
    volts = abs(line.volts)
    fed = [s for s in plan.sources if plan.net[s.line] == plan.net[at["in-L"]]]
    ratio = volts / (device.number("input") or abs(fed[0].volts))
    fault = device.number("fault")
    series = complex(0, volts / fault) if fault else complex(LINK)
    out.lines += [
        f"e{n} t{n} {at['out-N']} {at['in-L']} {at['in-N']} {ratio:.15g}",
        f"vt{n} t{n} u{n} dc 0 ac 0",
        f"f{n} {at['in-L']} {at['in-N']} vt{n} {ratio:.15g}",
    ]
    out.branch(f"{device.name}.out", f"u{n}", at["out-L"], series, hz)


def run(decks: list[tuple[Deck, float, list[tuple[str, str]]]]) -> list[list[dict[str, complex]]]:
    """Run decks; for each: the values as they are, then with each pair of nodes shorted in turn."""
    results = []
    for circuit, hz, shorts in decks:
        lines = ["rig", *circuit.lines, ".options rshunt=1e9 gmin=1e-12"]
        shorts = [(circuit.at(a), circuit.at(b)) for a, b in shorts]
        lines += [f"rs{i} {a} {b} 1e15" for i, (a, b) in enumerate(shorts)]
        # Direct current is solved as the in-phase part of a network without reactances: one linear
        # solution, where ngspice's operating point would search for one.
        analysis = f"ac lin 1 {hz or 1:g} {hz or 1:g}"
        steps = ["set numdgt=14", analysis, "echo ==", "print all"] if not shorts else []
        for i in range(len(shorts)):
            # A 1 uohm short: the pair's own voltage over it is its current.
            pair = ",".join(shorts[i])
            steps += [f"alter rs{i} = 1e-6", analysis, "echo ==", f"print v({pair})"]
            steps += [f"alter rs{i} = 1e15"]
        lines += [".control", "set numdgt=14", *steps, "quit", ".endc", ".end"]
        with NamedTemporaryFile("w", suffix=".cir") as file:
            file.write("\n".join(lines) + "\n")
            file.flush()
            done = subprocess.run(["ngspice", "-b", file.name], capture_output=True, text=True)
        parts = done.stdout.split("==\n")[1:]
        failed = done.stdout[-600:] + done.stderr[-600:]
        assert len(parts) == max(1, len(shorts)) and all(map(_values, parts)), failed
        results.append([_values(part) for part in parts])
    return results


def _values(text: str) -> dict[str, complex]:
    found = {}
    for line in text.splitlines():
        match = VALUE.fullmatch(line.strip())
        if match:
            found[match[1].lower()] = complex(float(match[2]), float(match[3]))
    return found
