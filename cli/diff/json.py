"""A comparison as JSON, in the shape described by ``diff.schema.json``: all of it, nothing cut."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from ...checks.figures.consequences import Due
from ...checks.figures.effects import Effect
from ...checks.findings import Finding
from ...dsl.changes import Added, Change, Changed, Removed, Renamed, Replaced
from ...dsl.model import Quantity, Range, Size
from ...dsl.things import Fact, Spot, Thing
from .comparison import Comparison, Side
from .words import CAUTION, figure


def write(comparisons: Sequence[Comparison], colour: bool = False) -> str:
    """The comparisons as one JSON document in plain ASCII."""
    told = [_comparison(comparison) for comparison in comparisons]
    return json.dumps({"comparisons": told, "caution": CAUTION}, indent=2) + "\n"


def _comparison(comparison: Comparison) -> dict[str, Any]:
    found = comparison.found
    return {
        "old": _side(comparison.old),
        "new": _side(comparison.new),
        "stages": list(comparison.stages),
        "verdict": comparison.verdict,
        "changes": [_change(change) for change in comparison.changes],
        "work": [row._asdict() for row in comparison.work],
        "crowded": [{"terminals": row.task, "names": row.names} for row in comparison.crowded],
        "reprint": [row._asdict() for row in comparison.reprint],
        "effects": [_effect(effect) for effect in found.effects],
        "findings": {
            "gained": [_finding(finding) for finding in found.gained],
            "cleared": [_finding(finding) for finding in found.lost],
            "waiting": [_finding(finding) for finding in found.waiting],
            "kept": found.kept,
        },
        "tests": [_due(due) for due in found.due],
    }


def _side(side: Side) -> dict[str, Any]:
    return {"version": side.name, "stage": side.rig.stage, "label": side.rig.stage_label}


def _change(change: Change) -> dict[str, Any]:
    told = {"verb": change.verb, "group": change.group, "name": change.name}
    match change:
        case Renamed(_, old, new):
            return told | {"old": old, "new": new}
        case Added(thing):
            return told | {"new": _thing(thing)}
        case Removed(thing):
            return told | {"old": _thing(thing)}
        case Replaced(was, thing):
            return told | {"old": _thing(was), "new": _thing(thing)}
        case Changed():
            values = {"old": _fact(change.old), "new": _fact(change.new)}
            return told | {"sort": change.sort, "fact": change.fact} | values
        case _:
            return told


def _thing(thing: Thing) -> dict[str, Any]:
    facts = {fact: _fact(value) for fact, value in thing.facts.items()}
    return {"sort": thing.sort, "label": thing.label, "facts": facts}


def _fact(fact: Fact | None) -> Any:
    """A fact as written; flags and whole numbers as they are, several words as a list."""
    if isinstance(fact, Quantity | Size | Range | Spot):
        return str(fact)
    return list(fact) if isinstance(fact, tuple) else fact


def _effect(effect: Effect) -> dict[str, Any]:
    return effect._asdict()


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "name": finding.name,
        "severity": finding.severity,
        "modes": list(finding.modes),
        "on": list(finding.on),
        "file": finding.span.file,
        "line": finding.span.line,
        "column": finding.span.column,
        "message": finding.message,
        "fix": finding.fix,
        "accepted": finding.accepted,
    }


def _due(due: Due) -> dict[str, Any]:
    trial = due.trial
    return {
        "id": trial.id,
        "step": due.step,
        "mode": trial.mode,
        "where": trial.where,
        "task": trial.task,
        "reading": figure(trial),
        "fresh": due.fresh,
    }
