"""What is there so far, by name, and what can be said about a name that is not there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from .conductors import Run
from .devices import Draft, missing_terminal
from .items import Given, ItemReader
from .kinds import kinds, words
from .model import (
    Accept,
    Cable,
    Conductor,
    Device,
    End,
    Mode,
    Panel,
    Part,
    Place,
    Revision,
    Span,
)
from .problems import HINTED, Problem, TooMany, did_you_mean, listed
from .source import Statement
from .units import Bad

MOST_TERMINALS = 1_000_000  # of all stages; a rig of 100,000 conductors has a third of it


class Site:
    """The rig while it is read.

    ``spoiled`` are names whose statement could not be read: nothing that refers to them is judged.
    ``blind`` is set where a used file is missing: then no unknown name is judged.  ``gone`` are
    names removed so far, ``later`` those that later stages add, ``laid`` the conductors that this
    stage lays.
    """

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = problems
        self.parts: dict[str, Part] = {}
        self.places: dict[str, Place] = {}
        self.routes: dict[str, Place] = {}
        self.panels: dict[str, Panel] = {}
        self.drafts: dict[str, Draft] = {}
        self.devices: dict[str, Device] = {}
        self.runs: dict[str, Run] = {}
        self.conductors: dict[str, Conductor] = {}
        self.cables: dict[str, Cable] = {}
        self.modes: dict[str, Mode] = {}
        self.accepts: list[Accept] = []
        self.revisions: dict[str, Revision] = {}
        self.spoiled: set[str] = set()
        self.gone: dict[str, Span] = {}
        self.later: dict[str, Span] = {}
        self.laid: set[str] = set()
        self.blind = False
        self.terminals = 0

    def count(self, terminals: int) -> None:
        """Counts terminals put up: a short line can ask for hundreds, and each takes memory."""
        self.terminals += terminals
        if self.terminals > MOST_TERMINALS:
            raise TooMany(f"more than {MOST_TERMINALS} terminals")

    def problem(self, span: Span, message: str, expected: str = "", hint: str = "") -> None:
        self.problems.append(Problem(span, message, expected, hint))

    def bad(self, span: Span, bad: Bad) -> None:
        self.problem(span, bad.message, bad.expected, bad.hint)

    def unknown(self, name: str) -> bool:
        """Whether a name that is not there is a mistake of its own, not of a spoiled statement."""
        return not self.blind and name not in self.spoiled

    def given(self, statement: Statement, what: str) -> Given:
        """The items of a statement about a kind of device, a conductor or a place."""
        if what not in kinds():
            return ItemReader(statement, words(what), self.problems).read()
        parts = {*self.parts, *self.spoiled} if self.spoiled else self.parts
        return ItemReader(statement, words(what), self.problems, parts, not self.blind).read()

    def is_free(
        self,
        statement: Statement,
        *shelves: Mapping[str, Place | Panel | Draft | Run | Part | Revision],
    ) -> bool:
        """Whether a statement's name is still free on the shelves; a problem where it is not."""
        name = str(statement.name)
        for shelf in shelves:
            if name in shelf:
                span = statement.at(statement.name) if statement.name else statement.span
                other = shelf[name].span
                if other.file == span.file and other.line > span.line:
                    span, other = other, statement.span
                first = f"first declared at {other}"
                self.problem(span, f"the name {name} is taken", "a name of its own for each", first)
                return False
        return True

    def elsewhere(self, name: str, known: Iterable[str]) -> str:
        """A hint on a name that is not there: removed, added later, or a near miss."""
        if name in self.gone:
            return f"it is removed at {self.gone[name]}"
        if name in self.later:
            return f"a later stage adds it, at {self.later[name]}"
        return did_you_mean(name, known) if len(self.problems) < HINTED else ""

    def check_end(self, end: End) -> None:
        """A problem where a conductor's end names no device, or no terminal of it."""
        device = self.devices.get(end.device)
        if device is None:
            if self.unknown(end.device):
                self.no_device(end.device, end.span, end.terminal)
        elif device.kind != "joint" and device.terminal(end.terminal) is None:
            self.problem(end.span, *missing_terminal(device, end.terminal))

    def no_device(self, name: str, span: Span, terminal: str = "") -> None:
        """The problem of a name that is no device here."""
        if name in self.panels:
            message = (
                f"the panel {name} has no terminal {terminal}" if terminal else f"{name} is a panel"
            )
            self.problem(
                span, message, "", "its PE comes with the flag `metal`" if terminal else ""
            )
        elif name in self.runs:
            what = self.runs[name].word
            self.problem(span, f"{name} is a {what}, not a device", "a device of this rig")
        else:
            hint = self.elsewhere(name, self.drafts)
            message = f"there is no device {name}"
            self.problems.append(Problem(span, message, "a device of this rig", hint, name))

    def check_joined(self) -> None:
        """A problem for each name in ``joins=`` of a route that is no place."""
        for route in self.routes.values():
            joins = route.attrs.get("joins")
            for name in joins if isinstance(joins, tuple) else ():
                if name not in self.places and self.unknown(name):
                    expected = "one of: " + listed(self.places) if self.places else "a place"
                    hint = did_you_mean(name, self.places)
                    span = route.span_of("joins")
                    self.problem(span, f"there is no place `{name}`", expected, hint)

    def check_entries(self, given: Given) -> None:
        """A problem for each name in ``entries=`` that is no entry of a panel."""
        entries = given.attrs.get("entries")
        for name in entries if isinstance(entries, tuple) else ():
            draft = self.drafts.get(name)
            if (draft is None or draft.kind != "entry") and self.unknown(name):
                known = [n for n, d in self.drafts.items() if d.kind == "entry"]
                expected = "one of: " + listed(known) if known else "an entry statement"
                hint = did_you_mean(name, known)
                self.problem(given.spans["entries"], f"there is no entry `{name}`", expected, hint)

    def check_routes(self, given: Given) -> None:
        """A problem for each name in ``via=`` that is no route."""
        via = given.attrs.get("via")
        for name in via if isinstance(via, tuple) else ():
            if name not in self.routes and self.unknown(name):
                expected = "one of: " + listed(self.routes) if self.routes else "a route statement"
                hint = did_you_mean(name, self.routes)
                self.problem(given.spans["via"], f"there is no route `{name}`", expected, hint)
