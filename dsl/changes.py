"""The changes between two rigs: what each kind of change is, and what the trade calls it."""

from __future__ import annotations

from typing import TypeAlias

from .kinds import kinds
from .records import record
from .things import DEVICE, RUN, Fact, Thing, is_end

LABEL = "label"
RATED_IN = ("A", "V", "Hz", "W", "VA", "Ah", "ohm")
RATED_BY = ("class", "curve", "delayed", "polarised", "poles", "standard", "type")
"""Attributes of a device that are ratings: by their unit, and by their name."""
RUN_VERBS = {
    "size": "re-sized",
    "colours": "re-coloured",
    "via": "re-routed",
    "entries": "re-routed",
}


@record
class Renamed:
    """A device or conductor under another name; its ends and landings stayed."""

    group: str
    old: str
    new: str

    verb = "renamed"

    @property
    def name(self) -> str:
        return self.new


@record
class Turned:
    """A conductor or cable written the other way round; at the rig it is nothing."""

    name: str

    group = RUN
    verb = "turned"


@record
class _Of:
    """What a change of a whole thing knows of it."""

    thing: Thing

    @property
    def group(self) -> str:
        return self.thing.group

    @property
    def name(self) -> str:
        return self.thing.name


@record
class Removed(_Of):
    """A thing that is gone."""

    verb = "removed"


@record
class Added(_Of):
    """A thing that was not there."""

    verb = "added"


@record
class Replaced:
    """Another thing under the old name: a device of another kind, a cable of more cores."""

    old: Thing
    new: Thing

    verb = "replaced"

    @property
    def group(self) -> str:
        return self.new.group

    @property
    def name(self) -> str:
        return self.new.name


@record
class Changed:
    """One fact of a thing (or its ``label``) that is another one; None where nothing is said.

    ``sort`` as in Thing.  An end of a conductor is ``from`` or ``to``, of a cable's second core
    ``from/2`` or ``to/2``.
    """

    group: str
    sort: str
    name: str
    fact: str
    old: Fact | None
    new: Fact | None

    @property
    def verb(self) -> str:
        """What the trade calls it."""
        if self.fact == LABEL:
            return "relabelled"
        if self.group == RUN:
            return self._of_run()
        if self.fact == "at":
            return "moved"
        return "re-rated" if self.group == DEVICE and self._is_rating() else "altered"

    def _of_run(self) -> str:
        if is_end(self.fact):
            return "re-landed"
        if self.fact == "length":
            longer = getattr(self.new, "value", 0.0) > getattr(self.old, "value", 0.0)
            return "lengthened" if longer else "shortened"
        return RUN_VERBS.get(self.fact, "altered")

    def _is_rating(self) -> bool:
        attr = kinds()[self.sort].attrs.get(self.fact)
        return self.fact in RATED_BY or (attr is not None and attr.type in RATED_IN)


Change: TypeAlias = "Renamed | Turned | Removed | Added | Replaced | Changed"
ORDER: tuple[type, ...] = (Renamed, Turned, Removed, Added, Replaced, Changed)
