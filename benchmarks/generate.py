"""Texts of rigs of any size, for benchmarks and for tests: correct ones, in four shapes.

    generate("radial", 40, seed=1) -> str

radial       one 120 V supply, one bar, every circuit on it (nfpa70)
two-source   230 V site supply or generator by a changeover, groups behind residual-current
             devices (iec60364)
dc           24 V battery, alternator and solar, groups of fused circuits (abyc-e11)
three-phase  400 V supply, three line bars, circuits on one or on three lines (iec60364)

The same arguments give the same text.  ``python benchmarks/generate.py radial 40`` prints it.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator

GROUP = 8  # circuits behind one residual-current device or group fuse
BAR = 2000  # circuits on one earth bar
ROOMS = ("galley", "saloon", "workshop", "store", "cab", "fore cabin", "aft deck", "wash room")
LOADS = (
    ("lamp", "E", "Lights", 60),
    ("heater", "E", "Panel heater", 400),
    ("motor", "M", "Fan", 120),
    ("load", "E", "Refrigerator", 150),
    ("socket", "X", "Socket", 0),
)


class _Text:
    """A rig being written; names count up, lengths and kinds come from the seed."""

    def __init__(self, title: str, book: str, seed: int) -> None:
        self.random = random.Random(seed)
        self.lines = [f'rig "{title}" revision=A', f"rules {book}", "ambient 30degC"]
        self.add('place BOX "Service box"', 'place CAB "Cabin"')

    def add(self, *lines: str) -> None:
        self.lines += lines

    def length(self) -> str:
        return f"{self.random.randint(10, 60) / 10}m"

    def load(self) -> tuple[str, str, str, int]:
        kind, letter, word, watts = self.random.choice(LOADS)
        return kind, letter, f"{word}, {self.random.choice(ROOMS)}", watts

    def text(self) -> str:
        return "\n".join(self.lines) + "\n"


def generate(topology: str, circuits: int, seed: int = 0) -> str:
    """The text of a rig with so many final circuits; KeyError for an unknown topology."""
    return TOPOLOGIES[topology](circuits, seed)


def _radial(circuits: int, seed: int) -> str:
    t = _Text(f"Radial rig of {circuits} circuits", "nfpa70", seed)
    t.add(
        'supply SHORE "Site supply" 120V 60Hz 50A fault=5kA bonded',
        'inlet XS "Shore inlet" 50A at=BOX',
        'breaker QM "Shore main" 50A poles=1 breaks=10kA standard=UL489 at=BOX',
        f'bus LBAR "Line bar" 100A positions={circuits + 2} at=BOX',
        f'bus NBAR "Neutral bar" 100A positions={circuits * 2 + 2} at=BOX',
        f'bus EBAR "Earth bar" 100A positions={circuits + 2} at=BOX',
        'earth CH "Chassis stud" positions=2 at=BOX',
        "cable W1 3x6AWG 7.5m SHORE.(L N PE) -> XS.(L N PE) cord",
        "cable W2 3x6AWG 1.2m XS.(L N PE) -> QM.1 NBAR.1 EBAR.1",
        "wire W3 6AWG 0.3m QM.2 -> LBAR.1",
        f"wire W4 6AWG 0.9m EBAR.{circuits + 2} -> CH.1",
    )
    for i in range(1, circuits + 1):
        kind, letter, label, watts = t.load()
        outlet = kind == "socket"
        poles = "poles=1N gfci=5mA" if outlet else "poles=1"
        what = "15A" if outlet else f"120V {watts}W"
        t.add(
            f'breaker Q{i} "{label}" 15A {poles} breaks=10kA standard=UL489 at=BOX',
            f'{kind} {letter}{i} "{label}" {what} at=CAB',
            f"wire F{i} 6AWG 0.2m LBAR.{i + 1} -> Q{i}.1",
        )
        neutral = f"NBAR.{i + 1}"
        if outlet:
            t.add(f"wire N{i} 14AWG 0.2m NBAR.{circuits + 1 + i} -> Q{i}.N1")
            neutral = f"Q{i}.N2"
        ends = f"Q{i}.2 {neutral} EBAR.{i + 1} -> {letter}{i}.(L N PE)"
        t.add(f"cable C{i} 3x14AWG {t.length()} {ends}")
    t.add('mode shore "On site supply" { SHORE=on }')
    return t.text()


def _groups(circuits: int) -> Iterator[tuple[int, range]]:
    """Circuits by number, in groups: (group, its circuits)."""
    for group, start in enumerate(range(1, circuits + 1, GROUP), start=1):
        yield group, range(start, min(start + GROUP, circuits + 1))


def _two_source(circuits: int, seed: int) -> str:
    t = _Text(f"Two-source rig of {circuits} circuits", "iec60364", seed)
    groups = list(_groups(circuits))
    t.add(
        'supply SITE "Site supply" 230V 50Hz 32A fault=3kA bonded',
        'generator GEN "Generator" 230V 50Hz 20A fault=300A bonded',
        'inlet XS "Site inlet" 32A at=BOX',
        'inlet XG "Generator inlet" 32A at=BOX',
        'breaker QM "Site main" 32A poles=2 curve=C breaks=6kA standard=IEC60898 at=BOX',
        'breaker QG "Generator main" 20A poles=2 curve=C breaks=6kA standard=IEC60898 at=BOX',
        'selector QC "Changeover" 40A poles=2 at=BOX',
        f'bus LM "Main line bar" 80A positions={len(groups) + 2} at=BOX',
        f'bus NM "Main neutral bar" 80A positions={len(groups) + 2} at=BOX',
        f'bus EB "Earth bar" 80A positions={min(circuits, BAR) + 6} at=BOX',
        'earth CH "Chassis stud" positions=2 at=BOX',
        "cable W1 3x6mm2 20m SITE.(L N PE) -> XS.(L N PE) cord",
        "cable W2 3x6mm2 2m XS.(L N PE) -> QM.(1 3) EB.1",
        "cable W3 2x6mm2 0.4m QM.(2 4) -> QC.(a-L a-N)",
        "cable W4 3x4mm2 5m GEN.(L N PE) -> XG.(L N PE) cord",
        "cable W5 3x4mm2 2m XG.(L N PE) -> QG.(1 3) EB.2",
        "cable W6 2x4mm2 0.4m QG.(2 4) -> QC.(b-L b-N)",
        "cable W7 2x6mm2 0.4m QC.(out-L out-N) -> LM.1 NM.1",
        "wire W8 6mm2 1m EB.3 -> CH.1",
    )
    t.add(*_further_earth_bars(circuits))
    for group, numbers in groups:
        t.add(*_residual_group(group, len(numbers)))
        for place, i in enumerate(numbers, start=2):
            earth = f"{_earth_bar(i)}.{(i - 1) % BAR + 6}"
            _circuit_230(t, i, f"L{group}.{place}", f"N{group}.{place}", earth)
    t.add('mode site "On site supply" { SITE=on GEN=off QC=a }')
    t.add('mode gen "On the generator" { SITE=off GEN=on QC=b }')
    return t.text()


def _earth_bar(circuit: int) -> str:
    number = (circuit - 1) // BAR
    return f"EB{number}" if number else "EB"


def _further_earth_bars(circuits: int) -> Iterator[str]:
    """An earth bar for each further BAR circuits, joined to the one before."""
    for i in range(BAR + 1, circuits + 1, BAR):
        name = _earth_bar(i)
        yield f'bus {name} "Earth bar" 80A positions={BAR + 6} at=BOX'
        yield f"wire W{name} 6mm2 1m {_earth_bar(i - BAR)}.4 -> {name}.1"


def _residual_group(group: int, size: int) -> Iterator[str]:
    yield f'rcd F{group} "Residual current, group {group}" 40A 30mA poles=1N type=A at=BOX'
    yield f'bus L{group} "Line bar {group}" 80A positions={size + 1} at=BOX'
    yield f'bus N{group} "Neutral bar {group}" 80A positions={size + 1} at=BOX'
    yield f"cable G{group} 2x6mm2 0.3m LM.{group + 1} NM.{group + 1} -> F{group}.(1 N1)"
    yield f"cable H{group} 2x6mm2 0.2m F{group}.(2 N2) -> L{group}.1 N{group}.1"


def _circuit_230(t: _Text, i: int, line: str, neutral: str, earth: str) -> None:
    kind, letter, label, watts = t.load()
    what = "16A" if kind == "socket" else f"230V {watts}W"
    t.add(
        f'breaker Q{i} "{label}" 10A poles=2 curve=B breaks=6kA standard=IEC60898 at=BOX',
        f'{kind} {letter}A{i} "{label}" {what} at=CAB',
        f"cable J{i} 2x6mm2 0.2m {line} {neutral} -> Q{i}.(1 3)",
        f"cable C{i} 3x1.5mm2 {t.length()} Q{i}.(2 4) {earth} -> {letter}A{i}.(L N PE)",
    )


def _dc(circuits: int, seed: int) -> str:
    t = _Text(f"Direct-current rig of {circuits} circuits", "abyc-e11", seed)
    groups = list(_groups(circuits))
    t.add(
        'battery GB "House bank" 24V 220Ah fault=3kA at=BOX',
        'fuse F0 "Battery fuse" 200A 125V dc class=T breaks=20kA at=BOX',
        'switch QB "Battery switch" 300A dc at=BOX',
        'alternator ALT "Alternator" 24V 70A at=BOX',
        'fuse FA "Alternator fuse" 100A 125V dc class=T breaks=20kA at=BOX',
        'solar PV "Solar generator" 60V 8A 400W at=CAB',
        'switch QPV "Solar isolator" 32A 150V poles=2 dc at=BOX',
        'dcdc U1 "Solar regulator" 20A 24V input=60V common at=BOX',
        'fuse FP "Solar fuse" 30A 125V dc class=T breaks=20kA at=BOX',
        f'bus PB "Positive bar" 400A positions={len(groups) + 3} at=BOX',
        f'bus NEG "Negative bar" 400A positions={circuits + 6} at=BOX',
        'earth HULL "Hull" positions=2 at=BOX',
        "wire D1 2/0AWG 0.15m GB.+ -> F0.1",
        "wire D2 2/0AWG 0.5m F0.2 -> QB.1",
        "wire D3 2/0AWG 0.4m QB.2 -> PB.1",
        "wire D4 2/0AWG 0.6m GB.- -> NEG.1",
        "wire D5 4AWG 3m FA.2 -> ALT.+",
        "link D6 PB.2 -> FA.1",
        "wire D7 4AWG 3m NEG.2 -> ALT.-",
        "cable D8 2x10AWG 4m PV.(+ -) -> QPV.(1 3)",
        "cable D12 2x10AWG 0.5m QPV.(2 4) -> U1.(in+ in-)",
        "wire D9 10AWG 0.8m U1.out+ -> FP.2",
        "link D10 PB.3 -> FP.1",
        "wire D11 10AWG 0.8m U1.out- -> NEG.3",
        "bond B1 2AWG 0.9m NEG.4 -> HULL.1",
    )
    for group, numbers in groups:
        t.add(
            f'fuse G{group} "Group {group}" 60A 125V dc class=T breaks=20kA at=BOX',
            f'bus P{group} "Positive bar {group}" 100A positions={len(numbers) + 1} at=BOX',
            f"link GL{group} PB.{group + 3} -> G{group}.1",
            f"wire GW{group} 6AWG 2m G{group}.2 -> P{group}.1",
        )
        for place, i in enumerate(numbers, start=2):
            _circuit_dc(t, i, f"P{group}.{place}", f"NEG.{i + 5}")
    t.add('mode underway "Under way" { ALT=on }', 'mode moored "Moored" { ALT=off }')
    return t.text()


def _circuit_dc(t: _Text, i: int, positive: str, negative: str) -> None:
    kind, letter, label, watts = t.load()
    kind = "load" if kind == "socket" else kind
    t.add(
        f'breaker Q{i} "{label}" 10A 32V poles=1 dc breaks=5kA at=BOX',
        f'{kind} {letter}A{i} "{label}" dc 24V {min(max(watts, 20), 150)}W at=CAB',
        f"wire K{i} 8AWG 0.2m {positive} -> Q{i}.1",
        f"cable C{i} 2x12AWG {t.length()} Q{i}.2 {negative} -> {letter}A{i}.(+ -)",
    )


def _three_phase(circuits: int, seed: int) -> str:
    t = _Text(f"Three-phase rig of {circuits} circuits", "iec60364", seed)
    t.add(
        'supply SITE "Site supply" 400V 50Hz 32A three fault=4kA bonded',
        'inlet XS "Site inlet" 32A three at=BOX',
        'breaker QM "Main" 32A poles=3N curve=C rcd=30mA type=A breaks=6kA standard=IEC61009'
        " at=BOX",
        f'bus L1B "Line bar L1" 80A positions={circuits + 1} at=BOX',
        f'bus L2B "Line bar L2" 80A positions={circuits + 1} at=BOX',
        f'bus L3B "Line bar L3" 80A positions={circuits + 1} at=BOX',
        f'bus NB "Neutral bar" 80A positions={2 * circuits + 2} at=BOX',
        f'bus EB "Earth bar" 80A positions={circuits + 3} at=BOX',
        'earth CH "Chassis stud" positions=2 at=BOX',
        "cable W1 5x6mm2 20m SITE.(L1 L2 L3 N PE) -> XS.(L1 L2 L3 N PE) cord",
        "cable W2 5x6mm2 2m XS.(L1 L2 L3 N PE) -> QM.(1 3 5 N1) EB.1",
        "cable W3 4x6mm2 0.4m QM.(2 4 6 N2) -> L1B.1 L2B.1 L3B.1 NB.1",
        "wire W4 6mm2 1m EB.2 -> CH.1",
    )
    for i in range(1, circuits + 1):
        if i % 5 == 0:
            _circuit_400(t, i)
        else:
            _circuit_230(t, i, f"L{i % 3 + 1}B.{i + 1}", f"NB.{i + 1}", f"EB.{i + 2}")
    t.add('mode site "On site supply" { SITE=on }')
    return t.text()


def _circuit_400(t: _Text, i: int) -> None:
    t.add(
        f'breaker Q{i} "Compressor {i}" 16A poles=3 curve=C breaks=6kA standard=IEC60898 at=BOX',
        f'motor MA{i} "Compressor {i}" 400V 50Hz 3000W three at=CAB',
        f"cable J{i} 3x6mm2 0.2m L1B.{i + 1} L2B.{i + 1} L3B.{i + 1} -> Q{i}.(1 3 5)",
        f"cable C{i} 5x2.5mm2 {t.length()} Q{i}.(2 4 6) NB.{i + 1} EB.{i + 2}"
        f" -> MA{i}.(L1 L2 L3 N PE)",
    )


def too_thin(circuits: int) -> str:
    """The text of a rig that is wrong throughout: no device, and every cable too thin."""
    t = _Text(f"{circuits} thin cables on one bar", "nfpa70", 0)
    t.add(
        'supply SHORE "Site supply" 120V 60Hz 50A fault=5kA bonded',
        f'bus LBAR "Line bar" 100A positions={circuits + 1} at=BOX',
        f'bus NBAR "Neutral bar" 100A positions={circuits + 1} at=BOX',
        "cable W1 2x6AWG 7.5m SHORE.(L N) -> LBAR.1 NBAR.1",
    )
    for i in range(1, circuits + 1):
        t.add(
            f'lamp E{i} "Lamp {i}" 120V 60W class2 at=CAB',
            f"cable C{i} 2x18AWG {t.length()} LBAR.{i + 1} NBAR.{i + 1} -> E{i}.(L N)",
        )
    return t.text()


TOPOLOGIES = {
    "radial": _radial,
    "two-source": _two_source,
    "dc": _dc,
    "three-phase": _three_phase,
}


if __name__ == "__main__":
    sys.stdout.write(generate(sys.argv[1], int(sys.argv[2]), int((sys.argv[3:] or ["0"])[0])))
