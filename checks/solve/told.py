"""What the solution of a mode had to assume, in words, each with where it comes from."""

from __future__ import annotations

from collections.abc import Iterator

from ..capacity.converters import efficiency, limit_of
from ..tracing.trace import ModeView, Source
from .assumed import GENERATOR_R_TO_X, LINK_OHM, START_PF, supply_pf
from .sources import needs_fault
from .takers import running


def assumptions(view: ModeView) -> Iterator[str]:
    """The assumptions that enter this mode's figures, and what they leave out, a line each."""
    yield (
        f"closed contacts, links and plugs: {LINK_OHM * 1e6:g} microohm each, which is as good as "
        "nothing (common practice, no published source)"
    )
    for source in view.live.values():
        yield from _of_source(source)
    yield from _of_loads(view)


def _of_source(source: Source) -> Iterator[str]:
    device, name = source.device, source.name
    amps = device.number("fault")
    if needs_fault(source) and not amps:
        yield f"{name} states no fault=: stiff in the steady state, no fault current behind it"
    elif device.kind == "supply" and amps and not source.dc:
        yield (
            f"{name}: power factor {supply_pf(amps):g} of its short circuit (IEC 60947-2 Table 11, "
            "from memory)"
        )
    elif device.kind == "generator" and amps:
        yield (
            f"{name}: R/X {GENERATOR_R_TO_X:g} (IEC 60909-0, from memory); its regulator holds its "
            "voltage except at a start and in a fault"
        )
    if not source.dc and not source.hz and not source.converter:
        yield f"{name} states no frequency: 50 Hz"
    if source.converter and device.kind != "transformer" and "efficiency" not in device.attrs:
        yield (
            f"{name}: efficiency {efficiency(device):.0%} (common practice, no published source)"
        )
    if device.kind == "transformer":
        yield f"{name}: V / fault= behind a stiff supply is its series impedance, all reactance"
    elif not needs_fault(source):
        most = limit_of(source)
        held = "an unknown current" if most is None else f"{most:g} A"
        yield f"{name}: gives at most {held}, into a fault too"


def _of_loads(view: ModeView) -> Iterator[str]:
    devices = view.wiring.rig.devices
    loads = [devices[n] for n, k in view.wiring.kinds.items() if k.acts == "load" and view.takes(n)]
    silent = [d.name for d in loads if not running(d, 1.0, 1, True)]
    if silent:
        yield f"not counted, for want of a power: {', '.join(silent)}"
    mains = [d for d in loads if "+" not in view.takes(d.name)]
    if any("pf" not in d.attrs and "apparent" not in d.attrs for d in mains):
        yield "loads that state no pf= are taken at power factor 1"
    if any("inrush" in d.attrs and d.kind == "motor" for d in mains):
        yield (
            f"motors start at power factor {START_PF:g} (Electrical Installation Guide, chapter G, "
            "from memory)"
        )
