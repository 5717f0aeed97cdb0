"""H: cables through the walls of a panel."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor, Device, Range
from ..findings import ERROR, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.fittings import FILL_SOURCE, SHEATH_SOURCE, fill_limit
from ..trade.housing import diameter_mm, names, on, through

PRACTICE = "common practice, no published source"
USUAL = 1.15
"""A usual diameter is a guess: a finding that rests on it needs so much more (common practice)."""
ENTRY = {
    "nfpa70": "NFPA 70 314.17, 312.5 (from memory)",
    "iec60364": "IEC 60364-5-52 522.8 (from memory)",
    "": PRACTICE,
}
Run = list[Conductor]


def _by_entry(stage: Stage) -> dict[str, list[Run]]:
    found: dict[str, list[Run]] = {}
    for run, entries in through(stage.rig):
        for name in entries:
            found.setdefault(name, []).append(run)
    return found


def _hit(
    run: Run, entry: Device, message: str, fix: str, value: float, limit: float, said: bool
) -> Hit:
    guess = () if said else (f"its diameter is the usual one of its cores: {SHEATH_SOURCE}",)
    return Hit(
        on=(*names(run), entry.name),
        span=run[0].span_of("entries"),
        message=message,
        fix=fix,
        value=round(value, 1),
        limit=round(limit, 1),
        unit="mm",
        severity=ERROR if said else WARNING,
        why=guess,
        related=(Related(entry.span, "the entry"),),
    )


@rule("H07", "cable-against-entry", clauses=ENTRY)
def cable_against_entry(stage: Stage) -> Iterator[Hit]:
    """A cable that does not go through its entry, or that the gland does not grip.

    Where the text has no `diameter=`, the usual one of its cores and size counts, with 15 % for
    the doubt, and the finding is a warning.
    Why: a sheath cut back to get through leaves bare cores on a sharp edge; a gland too wide keeps
    neither water nor pull away from the terminals.
    Breaks it: a cable of 19 mm through `hole=16mm`; one of 6 mm in a gland with `clamp=9..17mm`.
    Does not: a cable within the gland's range; an entry that says neither.
    """
    devices = stage.rig.devices
    for run, entries in through(stage.rig):
        wide, said = diameter_mm(run)
        slack = 1.0 if said else USUAL
        for entry in (devices[name] for name in entries if name in devices):
            clamp, hole = entry.attrs.get("clamp"), entry.number("hole")
            least, most = _grips(clamp, hole)
            if most is not None and wide > most * slack:
                what = f"{on(run)} is {wide:.1f} mm thick, {entry.name} takes {most:g} mm"
                yield _hit(run, entry, what, "take a larger entry", wide, most, said)
            elif least is not None and wide * slack < least:
                what = f"{on(run)} is {wide:.1f} mm thick, {entry.name} grips from {least:g} mm on"
                yield _hit(run, entry, what, "take a smaller gland", wide, least, said)


def _grips(clamp: object, hole_m: float | None) -> tuple[float | None, float | None]:
    """The least and the most an entry takes, mm."""
    if isinstance(clamp, Range):
        return clamp.low * 1000, clamp.high * 1000
    return None, None if hole_m is None else hole_m * 1000


@rule("H08", "entry-overfull", clauses={"nfpa70": FILL_SOURCE, "": PRACTICE}, yields_to=("H07",))
def entry_overfull(stage: Stage) -> Iterator[Hit]:
    """Two cables in a gland for one, or more cables in a hole than may fill it.

    Several cables may fill 31 % (two) or 40 % (three and more) of a hole.
    Why: a gland seals round one cable; in a hole filled up, one cable pulled takes the sheath of
    the next along.
    Breaks it: two cables with `entries=G1` where G1 has a `clamp=` and no `holds=2`.
    Does not: a gland with as many holes as cables (`holds=`).
    """
    for name, runs in _by_entry(stage).items():
        entry = stage.rig.devices.get(name)
        if entry is None or len(runs) < 2:
            continue
        holds = entry.attrs.get("holds")
        most = holds if isinstance(holds, int) else 1 if "clamp" in entry.attrs else 0
        if most and len(runs) > most:
            yield _overfull(entry, runs, f"{entry.name} takes {most}", len(runs), most, ERROR)
        hole = entry.number("hole")
        if most or hole is None:
            continue
        filled, limit = fill(runs, hole * 1000), fill_limit(len(runs))
        if filled > limit * (1.0 if all(diameter_mm(run)[1] for run in runs) else USUAL):
            what = f"they fill {filled:.0%} of {entry.name}, {limit:.0%} may be filled"
            yield _overfull(entry, runs, what, filled * 100, limit * 100, WARNING)


def fill(runs: list[Run], inside_mm: float) -> float:
    """The share of a round opening that cables fill."""
    return sum(diameter_mm(run)[0] ** 2 for run in runs) / inside_mm**2


def _overfull(
    entry: Device, runs: list[Run], what: str, value: float, limit: float, severity: str
) -> Hit:
    cables = [on(run) for run in runs]
    return Hit(
        on=(entry.name, *cables),
        span=entry.span,
        message=f"{len(runs)} cables go through {entry.name} ({', '.join(cables)}): {what}",
        fix=f"give {cables[-1]} an entry of its own, or take a larger one",
        value=round(value, 1),
        limit=round(limit, 1),
        unit="cables" if severity == ERROR else "%",
        severity=severity,
        related=tuple(Related(run[0].span_of("entries"), "goes through") for run in runs),
    )


@rule("H09", "entry-blocked", clauses=ENTRY)
def entry_blocked(stage: Stage) -> Iterator[Hit]:
    """A cable through an entry that is blocked: a bar stands behind it, another part has taken it.

    Why: what cannot be wired as drawn is wired otherwise.
    Breaks it: `entry G2 blocked` and a cable with `entries=G2`.
    Does not: a blocked entry that no cable names.
    """
    for name, runs in _by_entry(stage).items():
        entry = stage.rig.devices.get(name)
        if entry is not None and entry.flag("blocked"):
            cables = [on(run) for run in runs]
            yield Hit(
                on=(entry.name, *cables),
                span=runs[0][0].span_of("entries"),
                message=f"{', '.join(cables)} through {name}, which is blocked",
                fix=f"take another entry of {entry.panel or 'the panel'}",
                related=(Related(entry.span_of("blocked"), "said here"),),
            )


@rule(
    "H20",
    "cord-not-gripped",
    WARNING,
    clauses={"nfpa70": "NFPA 70 400.14 (from memory)", "": PRACTICE},
)
def cord_not_gripped(stage: Stage) -> Iterator[Hit]:
    """A flexible cord through an entry that is a mere hole.

    Why: a cord is pulled, and the pull goes into the terminals.
    Breaks it: a `cord` with `entries=G1`, where G1 has a `hole=` and no `clamp=`.
    Does not: a gland; a fixed cable through a bushing.
    """
    for run, entries in through(stage.rig):
        if not run[0].flag("cord"):
            continue
        for name in entries:
            entry = stage.rig.devices.get(name)
            if entry is not None and "clamp" not in entry.attrs:
                yield Hit(
                    on=(*names(run), name),
                    span=run[0].span_of("entries"),
                    message=f"the cord {on(run)} goes through {name}, and nothing grips it",
                    fix=f"take a gland at {name}, and write its clamp=",
                    related=(Related(entry.span, "the entry"),),
                )
