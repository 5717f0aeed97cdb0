"""Insulation resistance of every circuit, and the dielectric test of NFPA 70."""

from __future__ import annotations

from collections.abc import Iterator

from ..tracing.trace import Stage
from .circuits import Circuit, circuits
from .data import clause, insulation, said, tables
from .trial import Trial

ELECTRONIC = ("load", "charger", "inverter", "dcdc")
"""Kinds whose insides a test voltage may harm; heaters, lamps and motors of mains stand it.  On
extra-low voltage nothing is trusted to: lamps are LEDs, and motors carry their electronics."""


def insulated(stage: Stage) -> Iterator[Trial]:
    """Each circuit; mains against extra-low voltage; under NFPA 70 the dielectric test as well."""
    every = circuits(stage)
    mains = [circuit for circuit in every if not circuit.dc]
    if stage.book.name == "nfpa70" and mains:
        yield _dielectric(mains)
    for circuit in every:
        yield _circuit(stage, circuit)
    if mains and len(mains) < len(every):
        yield _apart(every)


def _circuit(stage: Stage, circuit: Circuit) -> Trial:
    test, least = insulation(circuit.volts)
    kinds = {name: stage.rig.devices[name].kind for name in circuit.users}
    out = [name for name, kind in kinds.items() if circuit.dc or kind in ELECTRONIC]
    task = f"{test:g} V DC: " + ("+ to -, both to chassis" if circuit.dc else "L to N, both to PE")
    task += f"; out or joined: {', '.join(out)}" if out else ""
    by = clause("insulation", stage.book.name)
    return Trial(
        f"IR-{circuit.head}",
        "insulation",
        "",
        f"{circuit.head}: {', '.join(circuit.users)}",
        task,
        "Mohm",
        None,
        least,
        None,
        by,
        tuple(circuit.own),
    )


def _apart(every: tuple[Circuit, ...]) -> Trial:
    """Mains against extra-low voltage: the test of the higher of the two."""
    test, least = insulation(max(circuit.volts for circuit in every))
    names = dict.fromkeys(name for circuit in every for name in circuit.own)
    return Trial(
        "IR-apart",
        "insulation",
        "",
        "mains to extra-low voltage",
        f"{test:g} V DC: L and N joined to + and - joined",
        "Mohm",
        None,
        least,
        None,
        f"IEC 60364-6:2016 6.4.3.4 (from memory); {said(tables()['insulation'])}",
        tuple(names),
    )


def _dielectric(mains: list[Circuit]) -> Trial:
    row = tables()["dielectric"]
    names = dict.fromkeys(name for circuit in mains for name in circuit.own)
    return Trial(
        "HV-mains",
        "insulation",
        "",
        "live parts with neutral to the frame",
        f"{row['volts']} V AC for {row['seconds']} s, all switches closed, appliances out: "
        "no breakdown",
        basis=said(row),
        names=tuple(names),
    )
