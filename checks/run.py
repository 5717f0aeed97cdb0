"""Run every rule over every stage: hits to findings, one for each cause."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence

from ..dsl.model import Accept, Rig
from ..dsl.records import replace
from .causes import Accepts, by_cause, without_followers
from .findings import ERROR, WARNING, Finding, Report, accepted
from .registry import Hit, Rule, rules
from .tracing.trace import Stage, analyse

Each = Callable[[Callable[[Rig], list[Finding]], Iterable[Rig]], Iterable[list[Finding]]]

CRASHED = "X01"
UNMATCHED = "D10"
WAITING = "other findings of these modes wait until this is mended"


def check_rigs(rigs: Sequence[Rig], each: Each = map) -> Report:
    """Check the stages of one file.  A finding that holds in several stages is told once.

    ``each`` does the same work on all of them, as ``map`` does, or side by side.
    """
    table = rules()
    found: dict[tuple[object, ...], Finding] = {}
    for findings in each(lambda rig: check_stage(analyse(rig), table), rigs):
        told: Counter[tuple[object, ...]] = Counter()
        for finding in findings:
            cause = _cause(finding)
            told[cause] += 1
            key = (*cause, told[cause])
            first = found.setdefault(key, finding)
            if first is not finding:
                found[key] = _also(first, finding)
    accepts = {accept.span: accept for rig in rigs for accept in rig.accepts}
    taken = Accepts(accepts.values())
    findings = [_apply(finding, taken) for finding in found.values()]
    findings += _unmatched(accepts.values(), taken, found.values(), rigs)
    findings.sort(key=Finding.sort_key)
    return Report(rigs[0].file, tuple(rig.stage for rig in rigs), tuple(findings))


def check_stage(stage: Stage, table: Iterable[Rule]) -> list[Finding]:
    """All findings of one stage, before any ``accept``."""
    merged: dict[tuple[object, ...], Finding] = {}
    upset: dict[str, set[str]] = {}
    reach: dict[str, set[str]] = {}
    causes: set[tuple[object, ...]] = set()
    by_code = {rule.code: rule for rule in table}
    taken = Accepts(stage.rig.accepts)
    for rule in by_code.values():
        for hit in _hits(rule, stage):
            finding = _finding(rule, hit, stage)
            key = (finding.rule, finding.on, finding.span)
            merged[key] = _merge(merged[key], finding) if key in merged else finding
            if hit.upsets and not taken.of(finding):
                causes.add(key)
                upset.setdefault(hit.mode, set()).update(hit.upsets)
                reach.setdefault(rule.code, set()).update(hit.upsets)
    findings = _over_modes(_without_upset(merged, causes, upset))
    wires = stage.rig.conductors.keys()
    told = _by_rule_and_name(findings)
    findings = [
        f
        for f in findings
        if not _follows(f, told, by_code, wires) and not _misled(f, reach, by_code)
    ]
    return by_cause(without_followers(findings, by_code), stage.rig.accepts)


def _hits(rule: Rule, stage: Stage) -> Iterator[Hit]:
    """A rule's hits; a rule that crashes becomes a hit of its own, so nothing passes in silence."""
    try:
        yield from rule.check(stage)
    except Exception as error:
        yield Hit(
            on=(rule.code,),
            span=stage.rig.span,
            message=f"rule {rule.code} could not be checked: {type(error).__name__}: {error}",
            fix="this is a defect of the checker, not of the rig: report it with this file",
        )


def _finding(rule: Rule, hit: Hit, stage: Stage) -> Finding:
    crashed = hit.on == (rule.code,)
    return Finding(
        rule=CRASHED if crashed else rule.code,
        name="check-crashed" if crashed else rule.name,
        severity=hit.severity or rule.severity,
        stage=stage.name,
        modes=(hit.mode,) if hit.mode else (),
        on=hit.on,
        span=hit.span,
        message=hit.message,
        value=hit.value,
        limit=hit.limit,
        unit=hit.unit,
        why=hit.why,
        related=hit.related,
        clause=hit.clause or rule.clause(stage.book.name),
        fix=hit.fix,
        cause=hit.cause,
    )


def _merge(first: Finding, second: Finding) -> Finding:
    """One finding for all modes it holds in, with the figures of the worst."""
    worse = (second.value or 0.0) > (first.value or 0.0)
    modes = tuple(dict.fromkeys((*first.modes, *second.modes)))
    return replace(second if worse else first, modes=modes)


def _cause(finding: Finding) -> tuple[object, ...]:
    """What the findings of two stages share that tell of one cause."""
    return (finding.rule, finding.cause) if finding.cause else _place(finding)


def _place(finding: Finding) -> tuple[object, ...]:
    """The rule, the culprit, the place in the text."""
    return finding.rule, finding.on[0], finding.span


def _over_modes(findings: Iterable[Finding]) -> list[Finding]:
    """One finding of a cause that shows in each mode on other things besides the culprit."""
    told: dict[tuple[object, ...], Finding] = {}
    for finding in findings:
        times = 0
        while (first := told.get((*_place(finding), times))) is not None:
            if first.modes and finding.modes and not set(first.modes) & set(finding.modes):
                break
            times += 1
        merged = finding
        if first is not None:
            merged = replace(_merge(first, finding), on=_names(first, finding))
        told[(*_place(finding), times)] = merged
    return list(told.values())


Told = dict[tuple[str, str], list[Finding]]


def _by_rule_and_name(findings: Iterable[Finding]) -> Told:
    """The findings of each rule on each name: a cause is looked up, not searched for."""
    told: Told = {}
    for finding in findings:
        for name in _parts(finding.on):
            told.setdefault((finding.rule, name), []).append(finding)
    return told


def _follows(finding: Finding, told: Told, table: dict[str, Rule], wires: Container[str]) -> bool:
    """Whether another finding is this one's cause: its rule goes before, on the same thing.

    They have a mode in common; or the culprit is a conductor, which lies astray in every mode.
    """
    rule = table.get(finding.rule)
    if rule is None:
        return False
    names, modes = _parts(finding.on), set(finding.modes)
    return any(
        not modes
        or not cause.modes
        or modes & set(cause.modes)
        or (cause.on[0] in names and cause.on[0] in wires)
        for code in rule.yields_to
        for name in names
        for cause in told.get((code, name), ())
    )


def _parts(names: Iterable[str]) -> dict[str, None]:
    """Names, and of cores their cables as well."""
    return dict.fromkeys(part for name in names for part in (name, name.split("/")[0]))


def _misled(finding: Finding, reach: Mapping[str, set[str]], table: dict[str, Rule]) -> bool:
    """Whether a finding of no mode goes by roles that a rule it yields to makes meaningless."""
    rule = table.get(finding.rule)
    codes = rule.yields_to if rule and not finding.modes else ()
    found = {name for code in codes for name in reach.get(code, ())}
    return not _parts(finding.on).keys().isdisjoint(_parts(found))


def _without_upset(
    merged: Mapping[tuple[object, ...], Finding],
    causes: set[tuple[object, ...]],
    upset: Mapping[str, set[str]],
) -> list[Finding]:
    """Leave out what a graver finding brings about; where that is anything, the cause says so."""
    hidden = {
        key for key, finding in merged.items() if key not in causes and _is_upset(finding, upset)
    }
    modes = {mode for key in hidden for mode in merged[key].modes}
    return [
        replace(finding, why=(*finding.why, WAITING))
        if key in causes and modes and (modes & set(finding.modes) or not finding.modes)
        else finding
        for key, finding in merged.items()
        if key not in hidden
    ]


def _is_upset(finding: Finding, upset: Mapping[str, set[str]]) -> bool:
    """Whether in all its modes a graver finding makes what it is about mean nothing."""
    nothing: set[str] = set()
    always = not upset.get("", nothing).isdisjoint(finding.on)
    return bool(finding.modes) and (
        always or not any(upset.get(m, nothing).isdisjoint(finding.on) for m in finding.modes)
    )


def _also(finding: Finding, later: Finding) -> Finding:
    """The finding of an earlier stage, with what a later one adds to its names."""
    line = f"holds in stage {later.stage} too"
    why = finding.why if line in finding.why else (*finding.why, line)
    return replace(finding, why=why, on=_names(finding, later))


def _names(first: Finding, second: Finding) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*first.on, *second.on)))


def _apply(finding: Finding, accepts: Accepts) -> Finding:
    first = next(iter(accepts.of(finding).values()), None)
    return accepted(finding, first.because) if first else finding


def _unmatched(
    accepts: Iterable[Accept], taken: Accepts, findings: Iterable[Finding], rigs: Sequence[Rig]
) -> Iterator[Finding]:
    """The findings of accepts that mean none of those that there are."""
    used = {number for finding in findings for number in taken.of(finding)}
    known = {word: rule for rule in rules() for word in (rule.code, rule.name)}
    for number, accept in enumerate(accepts):
        if number in used:
            continue
        strange = accept.rule not in known
        yield Finding(
            rule=UNMATCHED,
            name=known[UNMATCHED].name if UNMATCHED in known else "accept-without-finding",
            severity=ERROR if strange else WARNING,
            stage=rigs[0].stage,
            modes=(),
            on=(accept.on, accept.rule),
            span=accept.span,
            message=f"there is no rule {accept.rule}"
            if strange
            else f"nothing is found by {accept.rule} on {accept.on}",
            fix="take the accept out, or name the rule and the thing that the finding names",
            clause=known[UNMATCHED].clause("") if UNMATCHED in known else "",
        )
