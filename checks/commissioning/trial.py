"""One line of the commissioning sheet, and the digest of what it depends on."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from math import ceil, floor, isinf
from typing import NamedTuple

from ...dsl.model import Conductor, Device, Rig

YES = ""
"""The unit of what is answered yes or no."""


class Trial(NamedTuple):
    """A test: what to do, and what the reading may be.

    ``id`` stays the same while the circuit does; ``unit`` is V, A, ohm, Mohm, ms or mA, ``YES``
    where the answer is yes or no.  ``expected`` None: no figure to expect; infinite: no joint.
    The reading must lie between ``low`` and ``high`` (None: no bound).  ``basis``: where these come
    from; ``names``: the devices and conductors that, when changed, make the test due again.
    """

    id: str
    step: str
    mode: str
    where: str
    task: str
    unit: str = YES
    expected: float | None = None
    low: float | None = None
    high: float | None = None
    basis: str = ""
    names: tuple[str, ...] = ()


def tidy(trial: Trial) -> Trial:
    """The test with bounds of as many places as an instrument shows, to the safe side.

    What is printed is then what a reading is held to.
    """
    if trial.low == trial.high:
        return trial
    low = None if trial.low is None else _stepped(trial.low, ceil)
    high = None if trial.high is None else _stepped(trial.high, floor)
    return trial._replace(low=low, high=high)


def places(value: float) -> int:
    """Decimal places worth showing: hundredths below 10, tenths below 100."""
    return 2 if abs(value) < 10 else 1 if abs(value) < 100 else 0


def _stepped(value: float, to: Callable[[float], int]) -> float:
    if isinf(value):
        return value
    steps = 10.0 ** places(value)
    return to(round(value * steps, 6)) / steps


def digest(trial: Trial, rig: Rig) -> str:
    """Ten digits that change when anything does that the test depends on.

    What it depends on is stated of its devices and conductors, their labels apart: those are for
    people.  What a book makes of it is not in it: a figure corrected makes no test due again.
    """
    whole = hashlib.sha256("\x1f".join((trial.id, trial.unit, trial.mode)).encode())
    for name in sorted(trial.names):
        whole.update(f"\x1e{name}\x1f{_facts(rig, name)}".encode())
    return whole.hexdigest()[:10]


def _facts(rig: Rig, name: str) -> str:
    thing = rig.conductors.get(name) or rig.devices.get(name)
    if isinstance(thing, Conductor):
        own = [thing.kind, str(thing.size), f"{thing.length_m:g}", thing.a.name, thing.b.name]
    elif isinstance(thing, Device):
        own = [thing.kind, thing.variant, str(thing.place), str(thing.panel), str(thing.ways)]
    else:
        return ""
    return "\x1f".join([*own, *(f"{key}={thing.attrs[key]}" for key in sorted(thing.attrs))])
