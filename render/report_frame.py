"""What stands around the parts of the page: its head, search and filters, what is chosen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ..checks.verdicts import Told
from ..dsl.model import Rig
from .frame import titles_of
from .markup import Markup, el, join
from .report_findings import kind_of
from .wiring import natural

VIEWS: Mapping[str, str] = {
    "overview": "Overview",
    "sheets": "Sheets",
    "findings": "Findings",
    "tables": "Tables",
    "source": "Text",
}
"""The parts of the page by their ids; ``FIRST`` is shown when it is opened."""
FIRST = "overview"
PRINT = "Print this part; the print command of the browser prints all"


def top(rig: Rig, count: int) -> Markup:
    """The rig, the parts of the page with the number of findings, and what may be done."""
    links = (
        el("a", f"{name} {count}" if view == "findings" else name, href=f"#{view}",
           aria_current="page" if view == FIRST else None)
        for view, name in VIEWS.items()
    )  # fmt: skip
    stage = f"Stage {rig.stage}" + (f", {rig.stage_label}" if rig.stage_label else "")
    named = titles_of(rig).revision
    revision = f" · revision {named}" if named else ""
    return el(
        "header",
        el("div", el("h1", rig.label), el("p", stage + revision), cls="name"),
        el("nav", join(links), id="views", aria_label="Parts of the report"),
        el(
            "div",
            el("button", "Find", type="button", id="open-find", aria_expanded="false",
               aria_controls="find"),
            el("button", "Print", type="button", id="print", title=PRINT),
            cls="tools",
        ),
        cls="top",
    )  # fmt: skip


def find(rig: Rig, names: dict[str, dict[str, list[str]]], told: Sequence[Told]) -> Markup:
    """Search and filters, and the list of what they leave."""
    places = sorted({place for facts in names.values() for place in facts["p"]}, key=natural)
    labels = [(p, f"{p} {rig.places[p].label}" if p in rig.places else p) for p in places]
    cables = sorted(rig.cables, key=natural)
    clear = el("button", "Clear", type="reset")
    form = el(
        "form",
        el("label", "Search", for_="q"),
        el("input", type="search", id="q", autocomplete="off", spellcheck="false"),
        *_choice("place", "Place", "all places", labels),
        *_choice("cable", "Cable", "all cables", [(c, c) for c in cables]),
        *_choice("finding", "Finding", "with or without", _kinds(told)),
        el("p", el("span", id="count", role="status"), clear, cls="count"),
        role="search",
        aria_label="Search and filter",
    )
    listed = el("ul", id="results")
    return el("aside", form, listed, id="find", aria_label="Find")


def _kinds(told: Sequence[Told]) -> Iterator[tuple[str, str]]:
    """The kinds of finding there are: any, by severity, by rule."""
    found = [(kind_of(each), f"{each.finding.rule} {each.finding.name}") for each in told]
    yield from [("any", "with a finding")] * bool(found)
    severities = dict.fromkeys(severity for severity, _ in found)
    yield from ((severity, f"with: {severity}") for severity in severities)
    yield from ((rule, rule) for rule in sorted({rule for _, rule in found}))


def _choice(
    name: str, label: str, every: str, options: Iterable[tuple[str, str]]
) -> Iterator[Markup]:
    yield el("label", label, for_=name)
    choices = [("", every), *options]
    yield el("select", join(el("option", said, value=value) for value, said in choices), id=name)


def detail() -> Markup:
    """Where the page tells of what was chosen."""
    close = el("button", "Close", type="button", id="close")
    told = el("div", id="told")
    return el("aside", close, told, id="detail", aria_label="Chosen", tabindex="0")
