"""A rig in one mode joined up anew, from the raw statements alone: nothing of ``checks`` is used.

Nodes are ``DEVICE.TERMINAL``; the outer side of an inlet or socket that a plug goes into is
``DEVICE.TERMINAL!``.  Enough kinds of device for the examples; each joins what its words say.
"""

from __future__ import annotations

from collections.abc import Iterator

from ferrule.dsl.model import Conductor, Device, Mode, Rig

PAIRS = (("1", "2"), ("3", "4"), ("5", "6"), ("N1", "N2"))
JOINED = ("bus", "joint", "earth")
OPENING = ("breaker", "rcd", "switch", "fuse", "contactor")
FIRST = {"inverter": "invert", "selector": "a", **dict.fromkeys(OPENING, "closed")}


class RawNet:
    """Nets of one mode by union of sets, bonds left out; ``joints`` says where they would be."""

    def __init__(self, rig: Rig, mode: Mode) -> None:
        self.rig, self.mode = rig, mode
        self.parent: dict[str, str] = {}
        for device in rig.devices.values():
            for a, b in self._inside(device):
                self._join(f"{device.name}.{a}", f"{device.name}.{b}")
        for wire in rig.conductors.values():
            if wire.kind != "bond":
                self._join(self._end(wire, 0), self._end(wire, 1))

    def state(self, device: Device) -> str:
        said = {setting.device: setting.state for setting in self.mode.settings}
        return said.get(device.name, FIRST.get(device.kind, "on"))

    def _inside(self, device: Device) -> Iterator[tuple[str, str]]:
        names, state = [t.name for t in device.terminals], self.state(device)
        if device.kind in JOINED:
            yield from ((names[0], name) for name in names[1:])
        elif device.kind in OPENING and state == "closed":
            yield from (pair for pair in PAIRS if set(pair) <= set(names))
        elif device.kind == "selector" and state in "ab":
            yield from ((f"{state}-{x}", f"out-{x}") for x in "LN" if f"out-{x}" in names)
        elif device.kind == "inverter" and state == "pass":
            yield from ((f"in-{x}", f"out-{x}") for x in "LN")
        elif device.kind == "dcdc" and device.flag("common"):
            yield "in-", "out-"
        elif device.kind in ("inlet", "socket") and state == "on":
            yield from ((name, f"{name}!") for name in names)

    def _end(self, wire: Conductor, which: int) -> str:
        end, far = (wire.a, wire.b) if which == 0 else (wire.b, wire.a)
        device, other = self.rig.devices[end.device], self.rig.devices[far.device]
        plugged = device.kind in ("inlet", "socket") and wire.flag("plug")
        fed = device.kind == "inlet" and (
            wire.flag("cord") or other.kind in ("supply", "generator")
        )
        return f"{end.name}!" if plugged or fed else end.name

    def find(self, node: str) -> str:
        while self.parent.setdefault(node, node) != node:
            node = self.parent[node]
        return node

    def _join(self, a: str, b: str) -> None:
        self.parent[self.find(a)] = self.find(b)

    def live(self) -> dict[str, tuple[str, str, float]]:
        """Sources of alternating current that are on: line, neutral, volts."""
        found = {}
        for device in self.rig.devices.values():
            state, volts = self.state(device), device.number("voltage") or 0.0
            if device.kind in ("supply", "generator") and state == "on":
                found[device.name] = (f"{device.name}.L", f"{device.name}.N", volts)
            elif device.kind == "inverter" and state == "invert" and self._fed(device):
                found[device.name] = (f"{device.name}.out-L", f"{device.name}.out-N", volts)
        for device in self.rig.devices.values():
            line = self.find(f"{device.name}.in-L")
            if device.kind == "transformer" and any(
                self.find(own) == line for own, _, _ in list(found.values())
            ):
                volts = device.number("voltage") or 0.0
                found[device.name] = (f"{device.name}.out-L", f"{device.name}.out-N", volts)
        return found

    def _fed(self, device: Device) -> bool:
        """Whether a battery is on the input of a converter."""
        plus = self.find(f"{device.name}.+")
        batteries = (d for d in self.rig.devices.values() if d.kind == "battery")
        return any(self.find(f"{battery.name}.+") == plus for battery in batteries)

    def joints(self, neutral: str) -> list[str]:
        """What would join the net of a neutral to earth: by the words of each statement."""
        net, found = self.find(neutral), []
        for device in self.rig.devices.values():
            own = {"supply": "N", "generator": "N", "transformer": "out-N"}.get(device.kind)
            if device.kind == "inverter" and device.flag("bonds"):
                own = "out-N" if self.state(device) == "invert" else None
            elif not device.flag("bonded"):
                continue
            if own and self.find(f"{device.name}.{own}") == net:
                found.append(device.name)
        for wire in self.rig.conductors.values():
            if wire.kind == "bond" and net in (self.find(wire.a.name), self.find(wire.b.name)):
                found.append(wire.name)
        return found
