"""How long a bank lasts, how long it takes to charge, and what a day comes to.

Temperature, age, the rate of discharge and what inverters take without load are not counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ..tracing.trace import ModeView, Source
from .banks import Bank, banks, chargers
from .demand import Demand, demand


class Chemistry(NamedTuple):
    """What is usual where the text does not say (common practice, no published source).

    ``usable``: share of the capacity; ``efficiency``: of the charge put in, what comes out; the
    last ``tail`` of the capacity goes in at ``slow`` times the full current on average.
    """

    name: str
    usable: float
    efficiency: float
    tail: float
    slow: float


LEAD = Chemistry("lead", 0.5, 0.85, 0.2, 0.25)
LITHIUM = Chemistry("lithium", 0.8, 0.98, 0.1, 0.5)


class Charge(NamedTuple):
    """One charger of a bank (``name`` "" is all of them): ``hours`` fill what is used up.

    ``day_hours``: how long a day it works (None: not stated), ``day_wh`` what a day brings in.
    """

    name: str
    amps: float
    hours: float
    day_hours: float | None
    day_wh: float | None


class Life(NamedTuple):
    """One bank in one mode.

    ``usable_wh``: what may be taken out; ``all_w``: everything on, with `demand=`; ``use_wh``: a
    day of the stated `uses=`; ``silent``: loads on it without `uses=`.  ``given`` are the shares
    that the text states itself.
    """

    bank: Bank
    chemistry: Chemistry
    given: tuple[str, ...]
    usable_wh: float
    all_w: float
    use_wh: float
    silent: tuple[str, ...]
    charges: tuple[Charge, ...]

    @property
    def all_hours(self) -> float | None:
        """How long it lasts with everything on and nothing charging, h."""
        return self.usable_wh / self.all_w if self.all_w else None

    @property
    def days(self) -> float | None:
        """How long it lasts with the stated use and nothing charging, days."""
        return self.usable_wh / self.use_wh if self.use_wh else None

    @property
    def balance_wh(self) -> float | None:
        """What a day leaves, Wh; None where a charger does not say its hours, or there is none."""
        single = [charge.day_wh for charge in self.charges if charge.name]
        known = [wh for wh in single if wh is not None]
        return sum(known) - self.use_wh if single and len(known) == len(single) else None


def lives(view: ModeView) -> tuple[Life, ...]:
    """Every bank of a mode that states its capacity."""
    found = demand(view)
    return tuple(_life(view, found, bank) for bank in banks(view) if bank.amp_hours)


def chemistry(bank: Bank) -> Chemistry:
    """Lithium or lead, by the word in the text; lead where it says nothing."""
    word = bank.batteries[0].text("chemistry").casefold()
    return LITHIUM if word.startswith(("li", "lfp", "nmc", "lto")) else LEAD


def _share(bank: Bank, key: str, usual: float) -> float:
    stated = [battery.number(key) for battery in bank.batteries]
    known = [value / 100 for value in stated if value is not None]
    return min(known) if known else usual


def _life(view: ModeView, found: Demand, bank: Bank) -> Life:
    kind = chemistry(bank)
    usable = _share(bank, "usable", kind.usable)
    taken = _taken(view, found, bank)
    items = found.items
    use = sum(w * items[n].share * (items[n].hours or 0.0) for n, w in taken.items())
    return Life(
        bank,
        kind,
        tuple(k for k in ("usable", "efficiency") if any(k in b.attrs for b in bank.batteries)),
        usable * bank.amp_hours * bank.volts,
        sum(w * items[n].share for n, w in taken.items()),
        use,
        tuple(n for n in taken if items[n].hours is None),
        tuple(_charges(view, bank, kind, usable)),
    )


def _taken(view: ModeView, found: Demand, bank: Bank) -> dict[str, float]:
    """What each item takes from a bank, W, losses of the converters between included."""
    taken: dict[str, float] = {}
    for draw in found.draws:
        if view.net[draw.node] == view.net[bank.plus]:
            taken[draw.item] = taken.get(draw.item, 0.0) + draw.watts
    return taken


def _charges(view: ModeView, bank: Bank, kind: Chemistry, usable: float) -> Iterator[Charge]:
    """Each charger alone, and where there are several, all together within `charge=`."""
    each = list(chargers(view, bank))
    most = bank.most("charge")
    back = _share(bank, "efficiency", kind.efficiency)
    for source, amps in each:
        amps = amps if most is None else min(amps, most)
        hours = _day_hours(view, source)
        day = None if hours is None else amps * bank.volts * hours * back
        yield Charge(source.name, amps, _hours(bank, kind, usable, back, amps), hours, day)
    if len(each) > 1:
        total = sum(amps for _, amps in each)
        total = total if most is None else min(total, most)
        yield Charge("", total, _hours(bank, kind, usable, back, total), None, None)


def _hours(bank: Bank, kind: Chemistry, usable: float, back: float, amps: float) -> float:
    """From used up to full with the loads off: at full current, and the tail slower, h."""
    tail = min(kind.tail, usable)
    return bank.amp_hours / back / amps * (usable - tail + tail / kind.slow)


def _day_hours(view: ModeView, source: Source) -> float | None:
    """Hours a day that a charger works: its own `uses=`, or that of what feeds it."""
    own = source.device.number("uses")
    if own is not None or not source.converter:
        return own
    fed = [_day_hours(view, view.live[name]) for name in view.feeders(source.name)]
    known = [hours for hours in fed if hours is not None]
    return min(known) if known else None
