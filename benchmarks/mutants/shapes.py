"""Further shapes of correct rigs: what ``generate`` leaves out, in any number of circuits.

split         120/240 V, circuits on one line or on both, charger, battery and DC circuits (nfpa70)
inverter      shore and an inverter that passes it through, each with its own bars (nfpa70)
transformer   an isolation transformer behind a residual-current main (abyc-e11)
unpolarised   a supply whose plug goes in either way: every device opens both poles (iec60364)
steps         a radial rig that a second stage takes further (nfpa70)
"""

from __future__ import annotations

from random import Random


def _bars(names: str, amps: int, circuits: int) -> list[str]:
    return [f'bus {n} "Bar {n}" {amps}A positions={2 * circuits + 6} at=BOX' for n in names.split()]


def _head(title: str, book: str) -> list[str]:
    return [f'rig "{title}"', f"rules {book}", 'place BOX "Box"', 'place CAB "Cabin"']


def _circuit_120(
    i: int, random: Random, line: str = "LB", neutral: str = "NB", earth: str = "EB"
) -> list[str]:
    """A 15 A circuit on position i + 1 of its bars: a lamp or a socket."""
    p, length = i + 1, f"{random.randint(10, 50) / 10}m"
    feed = f"wire F{i} 10AWG 0.2m {line}.{p} -> Q{i}.1"
    if random.random() < 0.5:
        return [
            f'breaker Q{i} "Lamps {i}" 15A poles=1 breaks=10kA standard=UL489 at=BOX',
            f'lamp E{i} "Lamp {i}" 120V {random.choice((60, 100))}W at=CAB',
            feed,
            f"cable C{i} 3x14AWG {length} Q{i}.2 {neutral}.{p} {earth}.{p} -> E{i}.(L N PE)",
        ]
    return [
        f'breaker Q{i} "Sockets {i}" 15A poles=1N gfci=5mA breaks=10kA standard=UL489 at=BOX',
        f'socket X{i} "Socket {i}" 15A at=CAB',
        feed,
        f"wire N{i} 14AWG 0.3m {neutral}.{p} -> Q{i}.N1",
        f"cable C{i} 3x14AWG {length} Q{i}.(2 N2) {earth}.{p} -> X{i}.(L N PE)",
    ]


def _range(i: int) -> list[str]:
    p = i + 1
    return [
        f'breaker Q{i} "Range {i}" 40A poles=2 breaks=10kA standard=UL489 at=BOX',
        f'heater E{i} "Range {i}" split 240V 3600W at=CAB',
        f"wire F{i} 6AWG 0.2m L1.{p} -> Q{i}.1",
        f"wire G{i} 6AWG 0.2m L2.{p} -> Q{i}.3",
        f"cable C{i} 4x8AWG 4m Q{i}.(2 4) NB.{p} EB.{p} -> E{i}.(L1 L2 N PE)",
    ]


def split(circuits: int, random: Random) -> str:
    lines = [
        *_head("Split-phase rig", "nfpa70"),
        'supply SHORE "Site supply" 240V 60Hz 50A split fault=5kA bonded',
        'inlet XS "Shore inlet" 50A split at=BOX',
        'breaker QM "Main" 50A poles=2 breaks=10kA standard=UL489 at=BOX',
        *_bars("L1 L2 NB EB", 125, circuits + 2),
        'earth CH "Chassis studs" positions=3 at=BOX',
        "cable W1 4x6AWG 9m SHORE.(L1 L2 N PE) -> XS.(L1 L2 N PE) cord",
        "cable W2 4x6AWG 1.5m XS.(L1 L2 N PE) -> QM.(1 3) NB.1 EB.1",
        "wire W3 6AWG 0.2m QM.2 -> L1.1",
        "wire W4 6AWG 0.2m QM.4 -> L2.1",
        f"wire W5 8AWG 0.8m EB.{circuits + 6} -> CH.1",
    ]
    for i in range(1, circuits + 1):
        lines += _range(i) if i % 4 == 3 else _circuit_120(i, random, f"L{i % 2 + 1}")
    return "\n".join([*lines, *_charged(circuits)]) + "\n"


def _charged(circuits: int) -> list[str]:
    """A charger on line 1, its battery and a lamp on it."""
    p = circuits + 3
    return [
        'breaker QC "Battery charger" 15A poles=1 breaks=10kA standard=UL489 at=BOX',
        'charger U1 "Battery charger" 30A 24V input=120V at=BOX',
        'battery GB "House battery" 24V 200Ah fault=4kA chemistry=AGM holds=2 at=BOX',
        'fuse FB "Battery fuse" 60A 125V dc class=T breaks=20kA at=BOX',
        'bus PB "Positive bar" 150A positions=4 at=BOX',
        'bus NG "Negative bar" 150A positions=4 at=BOX',
        'fuse FL "Lamp fuse" 10A 32V dc class=ATO breaks=5kA at=BOX',
        'lamp E0 "Reading lamps" dc 24V 60W at=CAB',
        f"wire WC 6AWG 0.2m L1.{p} -> QC.1",
        f"cable CC 3x14AWG 2m QC.2 NB.{p} EB.{p} -> U1.(L N PE)",
        "wire D1 6AWG 0.3m GB.+ -> FB.1",
        "wire D2 6AWG 0.5m FB.2 -> PB.1",
        "wire D3 6AWG 0.6m GB.- -> NG.1",
        "wire D4 6AWG 1m PB.2 -> U1.+",
        "wire D5 6AWG 1m NG.2 -> U1.-",
        "link D6 PB.3 -> FL.1",
        "cable D7 2x14AWG 6m FL.2 NG.3 -> E0.(+ -)",
        "bond B1 6AWG 0.5m NG.4 -> CH.2",
    ]


def inverter(circuits: int, random: Random) -> str:
    lines = [
        *_head("Rig on shore and inverter", "nfpa70"),
        'supply SHORE "Site supply" 120V 60Hz 30A fault=2kA bonded',
        'inlet XS "Shore inlet" 30A at=BOX',
        'breaker QM "Main" 30A poles=1 breaks=10kA standard=UL489 at=BOX',
        'breaker QI "Inverter feeder" 30A poles=1 breaks=10kA standard=UL489 at=BOX',
        'breaker QO "Inverter output" 30A poles=1 breaks=10kA standard=UL489 at=BOX',
        *_bars("LB NB EB IL IN IE", 100, circuits + 2),
        'earth CH "Chassis studs" positions=3 at=BOX',
        'inverter U1 "Inverter" 120V 60Hz 2400W limit=40A transfer=30A charge=25A input=25.6V'
        " cutoff=22V bonds at=BOX",
        'battery GB "House battery" 25.6V 200Ah fault=6kA chemistry=LFP at=BOX',
        'fuse FB "Battery fuse" 175A 125V dc class=T breaks=20kA at=BOX',
        "cable W1 3x10AWG 7.6m SHORE.(L N PE) -> XS.(L N PE) cord",
        "cable W2 3x10AWG 1.2m XS.(L N PE) -> QM.1 NB.1 EB.1",
        "wire W3 10AWG 0.2m QM.2 -> LB.1",
        f"wire W4 8AWG 0.9m EB.{circuits + 6} -> CH.1",
        f"wire W5 10AWG 0.4m LB.{circuits + 3} -> QI.1",
        f"cable W6 3x10AWG 1.1m QI.2 NB.{circuits + 3} EB.{circuits + 3} -> U1.(in-L in-N PE)",
        "cable W7 2x8AWG 1m U1.(out-L out-N) -> QO.1 IN.1",
        f"wire W8 8AWG 0.8m EB.{circuits + 4} -> IE.1",
        "wire W9 10AWG 0.2m QO.2 -> IL.1",
        "wire D1 2/0AWG 0.3m GB.+ -> FB.1",
        "wire D2 2/0AWG 1m FB.2 -> U1.+",
        'bus NG "Negative bar" 300A positions=3 at=BOX',
        "wire D3 2/0AWG 0.6m GB.- -> NG.1",
        "wire D4 2/0AWG 1.1m NG.2 -> U1.-",
        "bond B1 2/0AWG 0.5m NG.3 -> CH.2",
    ]
    for i in range(1, circuits + 1):
        bars = ("IL", "IN", "IE") if i % 2 else ("LB", "NB", "EB")
        lines += _circuit_120(i, random, *bars)
    lines += ["mode shore { SHORE=on U1=pass }", "mode away { SHORE=off U1=invert }"]
    return "\n".join(lines) + "\n"


def _circuit_16(i: int, random: Random, breaker: str) -> list[str]:
    """A 10 A circuit whose device opens line and neutral."""
    p, length = i + 1, f"{random.randint(10, 60) / 10}m"
    load = f'heater E{i} "Heater {i}" 230V {random.choice((300, 1000))}W at=CAB'
    name = f"E{i}"
    if random.random() < 0.5:
        load, name = f'socket X{i} "Outlet {i}" 10A at=CAB', f"X{i}"
    return [
        f'breaker Q{i} "Circuit {i}" 10A poles=1N {breaker} breaks=6kA at=BOX',
        load,
        f"wire F{i} 4mm2 0.2m LB.{p} -> Q{i}.1",
        f"wire N{i} 4mm2 0.2m NB.{p} -> Q{i}.N1",
        f"cable C{i} 3x2.5mm2 {length} Q{i}.(2 N2) EB.{p} -> {name}.(L N PE)",
    ]


def transformer(circuits: int, random: Random) -> str:
    lines = [
        *_head("Boat behind its transformer", "abyc-e11"),
        'supply PED "Pedestal" 230V 50Hz 16A fault=1.5kA bonded',
        'inlet XS "Shore inlet" 16A at=BOX',
        'breaker QM "Shore main" 16A poles=2 curve=C rcd=30mA type=A breaks=6kA'
        " standard=IEC60898 at=BOX",
        'transformer TX "Isolation transformer" 3600VA 230V input=230V fault=400A bonded at=CAB',
        'breaker QT "Transformer main" 16A poles=2 curve=C breaks=6kA standard=IEC60898 at=BOX',
        *_bars("LB NB EB", 80, circuits + 2),
        'earth HB "Hull bar" positions=2 at=CAB',
        "cable W1 3x4mm2 15m PED.(L N PE) -> XS.(L N PE) cord plug",
        "cable W2 2x4mm2 1.2m XS.(L N) -> QM.(1 3)",
        "cable W3 2x4mm2 3m QM.(2 4) -> TX.(in-L in-N)",
        "cable W4 3x4mm2 0.8m TX.(out-L out-N PE) -> QT.(1 3) EB.1",
        "wire W5 4mm2 0.2m QT.2 -> LB.1",
        "wire W6 4mm2 0.2m QT.4 -> NB.1",
        f"wire W7 16mm2 2m EB.{circuits + 6} -> HB.1",
    ]
    for i in range(1, circuits + 1):
        lines += _circuit_16(i, random, "rcd=30mA type=A standard=IEC61009")
    return "\n".join([*lines, 'mode dock "Alongside" { PED=on }']) + "\n"


def unpolarised(circuits: int, random: Random) -> str:
    lines = [
        *_head("Rig on a plug that goes in either way", "iec60364"),
        'supply SITE "Pitch supply" 230V 50Hz 16A fault=3kA bonded unpolarised',
        'inlet XS "Inlet" 16A at=BOX',
        'breaker QM "Main" 16A poles=1N curve=C rcd=30mA type=A breaks=6kA standard=IEC61009'
        " at=BOX",
        *_bars("LB NB EB", 63, circuits + 2),
        'earth CH "Chassis" positions=1 at=BOX',
        "cable W1 3x2.5mm2 25m SITE.(L N PE) -> XS.(L N PE) cord",
        "cable W2 3x4mm2 1.5m XS.(L N PE) -> QM.1 QM.N1 EB.1",
        "wire W3 4mm2 0.2m QM.2 -> LB.1",
        "wire W4 4mm2 0.2m QM.N2 -> NB.1",
        f"wire W5 6mm2 1m EB.{circuits + 6} -> CH.1",
    ]
    for i in range(1, circuits + 1):
        lines += _circuit_16(i, random, "curve=B standard=IEC60898")
    return "\n".join(lines) + "\n"


def steps(circuits: int, random: Random) -> str:
    first = max(1, circuits // 2)
    lines = [
        *_head("Rig in two steps", "nfpa70"),
        'supply SHORE "Site supply" 120V 60Hz 30A fault=2kA bonded',
        'inlet XS "Shore inlet" 30A at=BOX',
        'breaker QM "Main" 30A poles=1 breaks=10kA standard=UL489 at=BOX',
        *_bars("LB NB EB", 100, circuits + 2),
        'earth CH "Chassis stud" positions=2 at=BOX',
        "cable W1 3x10AWG 7.5m SHORE.(L N PE) -> XS.(L N PE) cord",
        "cable W2 3x10AWG 1.2m XS.(L N PE) -> QM.1 NB.1 EB.1",
        "wire W3 10AWG 0.3m QM.2 -> LB.1",
        f"wire W4 8AWG 0.9m EB.{circuits + 6} -> CH.1",
    ]
    for i in range(1, first + 1):
        lines += _circuit_120(i, random)
    lines.append('stage MORE "Further circuits" {')
    for i in range(first + 1, circuits + 2):
        lines += _circuit_120(i, random)
    lines += [f"move C1 EB.2 -> EB.{circuits + 5}", "}"]
    return "\n".join(lines) + "\n"


SHAPES = {
    "split": split,
    "inverter": inverter,
    "transformer": transformer,
    "unpolarised": unpolarised,
    "steps": steps,
}
