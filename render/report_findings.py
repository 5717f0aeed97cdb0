"""Verdicts and findings on the page: what is wrong, where it stands, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ..checks.findings import SEVERITIES, Report
from ..checks.verdicts import Told, Verdict, verdicts
from ..dsl.model import Rig, Span
from .markup import Markup, el, esc, join

SEEN = "the wiring itself, whatever the mode"


def plural(count: int, word: str) -> str:
    """A number with its word.

    >>> plural(1, "error"), plural(2, "error")
    ('1 error', '2 errors')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"


def words(verdict: Verdict) -> str:
    """A verdict in words: what stands, and what was accepted."""
    counts = [plural(verdict.counts[s], s) for s in SEVERITIES if verdict.counts[s]]
    counts += [f"{verdict.accepted} accepted"] * bool(verdict.accepted)
    head = "passes" if verdict.passes else "does not pass"
    return f"{head}: {', '.join(counts)}" if counts else "passes, no findings"


def level(verdict: Verdict) -> str:
    """The gravest severity that stands; ``clean`` where nothing does."""
    return next((s for s in SEVERITIES if verdict.counts[s]), "clean")


def verdict_table(rigs: Sequence[Rig], reports: Sequence[Report], shown: str) -> Markup:
    """A row a stage and mode."""
    head = el("tr", join(el("th", text, scope="col") for text in ("Stage", "Mode", "Verdict")))
    bodies = (_stage(rig, report, shown) for rig, report in zip(rigs, reports, strict=True))
    return el("table", el("thead", head), join(bodies), cls="verdicts")


def _stage(rig: Rig, report: Report, shown: str) -> Markup:
    found = list(verdicts(rig, report))
    here = [el("span", "drawn here", cls="here")] if rig.stage == shown else []
    label = el("span", rig.stage_label, cls="label")
    name = el("th", f"{rig.stage} ", label, *here, scope="rowgroup", rowspan=len(found))
    rows = (
        el("tr", *([name] if index == 0 else []), *_verdict(rig, verdict))
        for index, verdict in enumerate(found)
    )
    return el("tbody", join(rows))


def _verdict(rig: Rig, verdict: Verdict) -> Iterator[Markup]:
    mode = rig.modes.get(verdict.mode)
    label = el("span", mode.label if mode else "", cls="label")
    yield el("td", verdict.mode or SEEN, " ", label)
    yield el("td", el("span", words(verdict), cls=f"verdict {level(verdict)}"))


def findings(told: Sequence[Told], rig: Rig, files: Mapping[str, int]) -> Markup:
    """Every finding, those of the stage shown first in nothing but the order of the text."""
    if not told:
        return el("p", "No findings in any stage.", cls="verdict clean")
    return join(_finding(index, each, rig, files) for index, each in enumerate(told))


def kind_of(told: Told) -> str:
    """Its severity, or that it was accepted."""
    return "accepted" if told.finding.accepted is not None else told.finding.severity


def _finding(index: int, told: Told, rig: Rig, files: Mapping[str, int]) -> Markup:
    finding = told.finding
    waived = finding.accepted is not None
    severity = f"accepted {finding.severity}" if waived else finding.severity
    badge = el("span", severity, cls=f"badge {'clean' if waived else finding.severity}")
    known = {*rig.devices, *rig.conductors, *rig.cables}
    names = dict.fromkeys(name for name in finding.on if name in known)
    return el(
        "article",
        el("h3", badge, f" {finding.rule} {finding.name}"),
        el("p", finding.message, cls="message"),
        el("p", *_links(finding.span, names, files), cls="links"),
        el("dl", join(_entries(told, files))),
        cls="finding",
        id=f"finding-{index + 1}",
        data_finding=index,
        data_rule=f"{finding.rule} {finding.name}",
        data_severity=kind_of(told),
        data_on=" ".join(names),
    )


def _links(span: Span, names: Iterable[str], files: Mapping[str, int]) -> Iterator[Markup]:
    yield el("span", join((_name(name) for name in names), " "))
    for name in list(names)[:1]:
        yield el("button", f"Show {name} on a sheet", type="button", cls="name", data_show=name)
    yield _place(span, files)


def _name(name: str) -> Markup:
    return el("button", name, type="button", cls="name", data_pick=name)


def _place(span: Span, files: Mapping[str, int]) -> Markup:
    if span.file not in files:
        return esc(str(span))
    return el("a", f"{span.file}, line {span.line}", href=f"#{line_id(span, files)}", cls="place")


def line_id(span: Span, files: Mapping[str, int]) -> str:
    """The id of the line of source that a span starts on."""
    return f"line-{files[span.file] + 1}-{span.line}"


def _entries(told: Told, files: Mapping[str, int]) -> Iterator[Markup]:
    finding = told.finding
    modes = f", {'mode' if len(finding.modes) == 1 else 'modes'} {', '.join(finding.modes)}"
    where = f"stage {', '.join(told.stages)}{modes if finding.modes else ''}"
    yield from _entry("Where", [where])
    yield from _entry("Why", finding.why)
    see = (join((_place(r.span, files), f": {r.text}")) for r in finding.related)
    yield from _entry("See", list(see))
    yield from _entry("Clause", [finding.clause] * bool(finding.clause))
    yield from _entry("Fix", [finding.fix] * bool(finding.fix))
    yield from _entry("Accepted", [finding.accepted] if finding.accepted else [])


def _entry(key: str, lines: Sequence[str]) -> Iterator[Markup]:
    if lines:
        yield el("dt", key)
        yield from (el("dd", line) for line in lines)
