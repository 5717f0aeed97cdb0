"""What the page knows by name: every device, conductor and cable, and how its figures are found.

Stored compactly, for the page's own script: a text that many derivations share is there once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ..checks.figures.derivation import derivation
from ..checks.findings import Finding
from ..checks.tracing.trace import Stage
from ..dsl.model import Conductor, Device, Rig
from .wiring import natural, place_name, rating_text


class Texts:
    """Texts by number, each kept once."""

    def __init__(self) -> None:
        self.known: dict[str, int] = {}

    def number(self, text: str) -> int:
        """The number of a text, a new one where it is new."""
        return self.known.setdefault(text, len(self.known))


def document(stage: Stage, findings: Sequence[Finding]) -> dict[str, Any]:
    """``names`` in natural order of their names, ``modes``, and the ``texts`` they point into."""
    rig, texts = stage.rig, Texts()
    told = _told(findings)
    found = {
        name: {**facts, **_found(stage, texts, name), **({"f": told[name]} if name in told else {})}
        for name, facts in sorted(_facts(rig), key=lambda pair: natural(pair[0]))
    }
    return {"names": found, "modes": list(rig.modes), "texts": list(texts.known)}


def _told(findings: Sequence[Finding]) -> Mapping[str, list[int]]:
    """The findings by the names they are on; what is on a core is on its cable too."""
    told: dict[str, dict[int, None]] = {}
    for index, finding in enumerate(findings):
        for name in finding.on:
            for part in dict.fromkeys((name, name.split("/")[0])):
                told.setdefault(part, {})[index] = None
    return {name: list(indices) for name, indices in told.items()}


def _facts(rig: Rig) -> Iterator[tuple[str, dict[str, Any]]]:
    for name, device in rig.devices.items():
        yield name, _device(rig, device)
    for name, cable in rig.cables.items():
        size = f"{len(cable.cores)}x{cable.size}, {cable.length_m:g} m"
        places = _places(rig, (rig.conductors[core] for core in cable.cores))
        yield name, {
            "k": "cable", "l": cable.label, "r": size, "p": places, "s": cable.span.line,
            "w": cable.span.file, "o": list(cable.cores),
        }  # fmt: skip
    for name, conductor in rig.conductors.items():
        yield name, _conductor(rig, conductor)


def _device(rig: Rig, device: Device) -> dict[str, Any]:
    place = place_name(rig, device.name)
    return {
        "k": device.kind, "l": device.label, "r": rating_text(device),
        "p": [place] if place else [], "s": device.span.line, "w": device.span.file,
    }  # fmt: skip


def _conductor(rig: Rig, conductor: Conductor) -> dict[str, Any]:
    size = f"{conductor.size}, {conductor.length_m:g} m" if conductor.size else ""
    facts = {
        "k": conductor.kind, "l": conductor.label, "r": size, "p": _places(rig, [conductor]),
        "s": conductor.span.line, "w": conductor.span.file,
        "e": [[end.device, end.terminal] for end in (conductor.a, conductor.b)],
    }  # fmt: skip
    return facts | ({"c": conductor.cable} if conductor.cable else {})


def _places(rig: Rig, conductors: Iterator[Conductor] | Sequence[Conductor]) -> list[str]:
    ends = (end.device for c in conductors for end in (c.a, c.b))
    return list(dict.fromkeys(filter(None, (place_name(rig, device) for device in ends))))


def _found(stage: Stage, texts: Texts, name: str) -> dict[str, Any]:
    """The derivation: ``[title, mode (-1: all), line, line …]`` a section, texts by number."""
    if name in stage.rig.cables:
        return {}
    modes = list(stage.rig.modes)
    return {
        "d": [
            [
                texts.number(section.title),
                modes.index(section.mode) if section.mode else -1,
                *map(texts.number, section.lines),
            ]
            for section in derivation(stage, stage.modes, name)
        ]
    }
