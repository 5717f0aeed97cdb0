"""What a rule book says: ampacity, largest device, unprotected lengths, earth, colours.

A figure comes with its clause and with the steps an engineer would write down.  Where the book
says nothing, the answer is ``Missing`` with the reason, never a guess.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from ...dsl.model import Conductor, Device, Rig, Size
from ...dsl.problems import Problem
from ...dsl.reader import OWN_BOOK
from ...dsl.records import replace
from ..trade import materials
from ..trade.colours import Colour, colour
from ..trade.sizes import area_mm2, spoken
from . import (
    ampacity as book_ampacity,
)
from . import (
    demands as book_demands,
)
from . import (
    earth as book_earth,
)
from . import (
    lay as book_lay,
)
from . import (
    limit as book_limit,
)
from .data import Data, load
from .figures import Allowance, Figure, Missing
from .groups import Grouping
from .lay import Lay
from .table import Table

__all__ = ["Allowance", "Book", "Colour", "Figure", "Missing", "book"]


class Book:
    """One rule book and its look-ups; ``data`` is the file as typed records."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self._by_text: Grouping | None = None  # of the rig last asked about

    @property
    def name(self) -> str:
        """The printed book's name, whatever lies over it."""
        return self.data.name

    @property
    def overlay(self) -> str:
        """The file of the project's own book laid over it; "" where there is none."""
        return self.data.overlay

    @property
    def title(self) -> str:
        return self.data.title

    @property
    def symbols(self) -> str:
        """The graphical symbols usual where the book applies: ``iec60617`` or ``ieee315``."""
        return self.data.symbols

    @property
    def tables(self) -> Mapping[str, Table]:
        """All printed tables by key."""
        return self.data.tables

    def grouped(self, rig: Rig, modes: Iterable[Mapping[str, int]] | None = None) -> Grouping:
        """What runs together on every route of a rig.

        ``modes``: current-carrying conductors by line of text in each mode, where the caller has
        traced the roles (``book_groups.carrying``); otherwise the text decides.
        """
        counts = [book_lay.loaded_by_text(rig)] if modes is None else modes
        return Grouping(rig, counts, self.data.grouping.get("longer_than_m", 0.0))

    def lay(
        self,
        conductor: Conductor,
        rig: Rig,
        loaded: int | None = None,
        groups: Grouping | None = None,
    ) -> Lay | Missing:
        """How a conductor lies: what the tables and the factors are entered with."""
        if groups is None:
            if self._by_text is None or self._by_text.rig is not rig:
                self._by_text = self.grouped(rig)
            groups = self._by_text
        return book_lay.lay_of(self.data, conductor, rig, loaded, groups)

    def ampacity(
        self,
        conductor: Conductor,
        rig: Rig,
        loaded: int | None = None,
        groups: Grouping | None = None,
    ) -> Figure | Missing:
        """Allowable current, A, where and beside what it runs, as its terminals allow.

        ``loaded``: current-carrying conductors in its cable or beside it, and ``groups``: what runs
        together, where the caller has traced them; otherwise the text decides.
        """
        lay = self.lay(conductor, rig, loaded, groups)
        return lay if isinstance(lay, Missing) else book_ampacity.ampacity(self.data, lay)

    def limit(
        self,
        conductor: Conductor,
        rig: Rig,
        loaded: int | None = None,
        groups: Grouping | None = None,
    ) -> Figure | Missing:
        """The largest rating, A, of an overcurrent device that may protect this conductor.

        Arguments as for ``ampacity``.  The last steps say how the ampacity became a rating.
        """
        lay = self.lay(conductor, rig, loaded, groups)
        return lay if isinstance(lay, Missing) else book_limit.limit(self.data, lay)

    def limit_in_the_cool(
        self, conductor: Conductor, rig: Rig, groups: Grouping
    ) -> tuple[str, Figure | Missing] | None:
        """What ``limit`` would be at the table's own ambient, and the place that is hotter.

        None where it lies in no place with a name that is warmer than the table.
        """
        lay = self.lay(conductor, rig, None, groups)
        if isinstance(lay, Missing) or not lay.where:
            return None
        base = self.data.ambient["base"]
        if lay.ambient <= base and not lay.engine:
            return None
        cool = replace(lay, ambient=base, engine=False)
        return lay.where, book_limit.limit(self.data, cool)

    @property
    def standard_ratings(self) -> tuple[float, ...]:
        """Standard ratings of overcurrent devices, A, rising."""
        return self.data.ratings

    def next_rating(self, amperes: float) -> float | None:
        """The smallest standard rating, A, not below ``amperes``; None above the list."""
        return next((r for r in self.data.ratings if r >= amperes), None)

    def rating_below(self, amperes: float) -> float | None:
        """The largest standard rating, A, not above ``amperes``; None below the list."""
        return next((r for r in reversed(self.data.ratings) if r <= amperes), None)

    def allowance(self, situation: str) -> Allowance | None:
        """The length, m, that may run unprotected in a situation; None: the book allows none.

        Situations: battery, battery-sheathed, source, source-sheathed, tap, tap-single, panel,
        inlet-to-main, change-of-section, charge-source.
        """
        row = self.data.allowances.get(situation)
        if row is None:
            return None
        conditions = tuple(row["conditions"])
        return Allowance(
            value=row["length_m"],
            unit="m",
            clause=row["clause"],
            steps=(f"at most {row['text']}", *conditions),
            status=row["status"],
            ratio=row.get("ratio", 0.0),
            ends_in_device=row.get("ends_in_device", False),
            conditions=conditions,
        )

    def value(self, key: str) -> Figure | None:
        """A single figure of the book in its unit; a conductor size as its area in mm2."""
        row = self.data.values.get(key)
        if row is None:
            return None
        size = row["unit"] == "size"
        words = spoken(row["value"]) if size else book_demands.said(row)
        return Figure(
            value=area_mm2(row["value"]) if size else float(row["value"]),
            unit="mm2" if size else row["unit"],
            clause=row["clause"],
            steps=tuple(filter(None, (words, row.get("note", "")))),
            status=row["status"],
        )

    def earth_min(
        self,
        rating_a: float,
        line: Size,
        dc: bool = False,
        separate: bool = False,
        enlarged: float = 1.0,
    ) -> Figure | Missing:
        """The least area, mm2, of the protective conductor that belongs to ``line``.

        ``rating_a``: of the overcurrent device ahead, A.  ``dc``: the case of a DC device.
        ``separate``: it runs outside the line's cable.  ``enlarged``: the line's area over what its
        device would need, where it was made larger (NFPA 70 250.122(B)).
        """
        asked = (rating_a, line, dc, separate, enlarged)
        return book_earth.earth_min(self.data, *asked)

    def bonding_min(self, protective_mm2: float = 0.0) -> Figure | None:
        """The least area, mm2, of a main bonding conductor.

        ``protective_mm2``: of the rig's main protective conductor, which some books go by.
        """
        return book_earth.bonding_min(self.data, protective_mm2)

    def resistance(self, conductor: Conductor, rig: Rig, celsius: float) -> Figure | Missing:
        """Resistance, ohm, of the whole conductor (one way) at its own temperature, degC."""
        return materials.resistance(self.data, conductor, rig, celsius)

    def reactance(self, conductor: Conductor, rig: Rig, hz: float) -> Figure | Missing:
        """Reactance, ohm, of the whole conductor (one way) at a frequency; 0 for DC."""
        return materials.reactance(self.data, conductor, hz)

    def withstand(
        self, conductor: Conductor, rig: Rig, initial: float | None = None
    ) -> Figure | Missing:
        """k, A sqrt(s)/mm2: it stands a short circuit while I^2 t <= (k S)^2, S its area in mm2.

        ``initial``: its temperature before, degC (30 for a protective conductor apart from the
        lines); None: as hot as its insulation allows.
        """
        return materials.withstand(self.data, conductor, rig, initial)

    def celsius(self, conductor: Conductor, rig: Rig, case: str = "drop") -> float:
        """The conductor temperature, degC, to reckon with in a case.

        ``drop``: at which the book reckons voltage drop (NFPA 70 75, E-11 30, else as ``min``);
        ``max``: cold, 20, for the largest fault current; ``min``: as hot as its insulation allows,
        for the smallest (IEC 60909-0).
        """
        if case == "max":
            return 20.0
        fixed = self.data.resistance.get("drop_celsius") if case == "drop" else None
        return float(fixed or book_lay.celsius_of(self.data, conductor, rig))

    def voltage_factor(self, case: str) -> Figure:
        """c of IEC 60909-0, ``max`` or ``min``; 1 where the book does not use it."""
        return book_demands.voltage_factor(self.data, case)

    def drop_limit(
        self, lighting: bool = False, critical: bool = False, public: bool = False
    ) -> Figure | None:
        """The largest voltage drop, %, from the source to a load; the steps say who must meet it.

        ``critical``: loads that the book holds to the lower figure (E-11 11.14.2.6); ``public``:
        fed straight from a public low-voltage network (IEC 60364-5-52 Annex G).
        """
        return book_demands.drop_limit(self.data, lighting, critical, public)

    def disconnect_time(
        self,
        volts_to_earth: float,
        dc: bool = False,
        final: bool = True,
        rated_a: float = 0.0,
        system: str = "TN",
    ) -> Figure | None:
        """The longest time, s, to disconnect a fault to earth; None: the book asks for none.

        ``final``: a final circuit, of a device of ``rated_a``; ``system``: ``TN`` or ``TT``.
        """
        args = (volts_to_earth, dc, final, rated_a, system)
        return book_demands.disconnect_time(self.data, *args)

    def residual_required(
        self, device: Device, rig: Rig, volts_to_earth: float | None = None
    ) -> Figure | None:
        """The residual current, A, a device ahead of this socket or inlet must trip at, at most.

        None: the book asks for none there.  ``volts_to_earth`` of its line, where traced.
        """
        return book_demands.residual_required(self.data, device, rig, volts_to_earth)

    def loop_max(self, volts_to_earth: float, trip_a: float) -> Figure:
        """The largest earth-fault loop impedance, ohm, at which a device trips: Zs Ia <= c U0.

        ``trip_a``: the current, A, that trips it in the time asked for (IEC 60364-4-41 411.4.4);
        c is the book's factor for the smallest fault current.
        """
        return book_demands.loop_max(self.data, volts_to_earth, trip_a)

    def colours(self, role: str, ac_aboard: bool = False) -> tuple[Colour, ...]:
        """All colours the book has for a role, the usual one first; empty: it fixes none.

        ``ac_aboard``: whether the rig has AC as well as DC (the DC negative of ABYC E-11).
        """
        table = self.data.colours
        names = table.get(f"{role} with AC") if ac_aboard else None
        return tuple(colour(name) for name in names or table.get(role, ()))

    def colour(self, role: str, ac_aboard: bool = False) -> Colour | None:
        """The colour the book usually gives a role; None where it fixes none."""
        return next(iter(self.colours(role, ac_aboard)), None)


def book(name: str) -> Book:
    """The rule book of that name (nfpa70, abyc-e11, iec60364), or a project's own by its path.

    Raises FileNotFoundError for any other name, and BookError (a ValueError) for a project's book
    that cannot be used; the reader and ``flaws`` have told the author by then.
    """
    if not is_own(name):
        return _printed(name)
    from .overlay import laid_over  # reads TOML, which a printed book does not need

    return _over(laid_over(name))


def is_own(name: str) -> bool:
    """Whether a book's name is the path of a project's own."""
    return name.endswith(OWN_BOOK)


def flaws(name: str) -> tuple[tuple[Problem, ...], str]:
    """What is wrong with a project's own book, and its text; nothing for a printed one."""
    if not is_own(name):
        return (), ""
    from .overlay import BookError, laid_over

    try:
        laid_over(name)
    except BookError as error:
        return error.problems, error.text
    return (), ""


@cache
def _printed(name: str) -> Book:
    return Book(load(name))


@cache
def _over(data: Data) -> Book:
    return Book(data)
