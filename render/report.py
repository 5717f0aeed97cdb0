"""The report: one page with every sheet, table and finding of a stage, complete in itself.

    html = page(Content(stage, rigs, reports, sheets, tables))

The page asks nothing of any network, and says so to the browser.  Same text, same bytes.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import NamedTuple

from ..checks.findings import Report
from ..checks.trace import Stage
from ..checks.verdicts import Told, told, verdicts
from ..dsl.model import Rig
from . import report_names, report_tables
from .canvas import Sheet
from .markup import Markup, data, el, join
from .report_findings import findings, kind_of, level, plural, verdict_table
from .report_sheets import Album, key, title
from .report_source import listing
from .report_tables import Table
from .wiring import CAUTION, natural

FOLDER = Path(__file__).with_name("page")
SCRIPTS = ("base", "board", "names", "find", "views")
WATCHING = "watch"
AWAKE = "document.documentElement.className='js'"
"""Runs before anything is shown: what the script hides is never laid out."""
VIEWS = ("overview", "sheets", "findings", "tables", "source")
BOARD = (
    "The sheet. Arrow keys move it, plus and minus enlarge and reduce it, 0 shows all of it, "
    "Page Up and Page Down turn to another sheet."
)
PRINT = "Print this part; the print command of the browser prints all"
STEPS = (
    ("before", "‹", "Sheet before"), ("after", "›", "Next sheet"), ("zoom-out", "−", "Reduce"),
    ("zoom-in", "+", "Enlarge"), ("fit", "Fit", "Show all of the sheet"),
    ("left", "←", "Move left"), ("up", "↑", "Move up"), ("down", "↓", "Move down"),
    ("right", "→", "Move right"),
)  # fmt: skip


class Content(NamedTuple):
    """What the page shows: a stage, the reports of all stages, its sheets, and further tables."""

    stage: Stage
    rigs: Sequence[Rig]
    reports: Sequence[Report]
    sheets: Sequence[Sheet]
    tables: Sequence[Table] = ()


@cache
def _read(name: str) -> str:
    return (FOLDER / name).read_text(encoding="utf-8")


def script(watching: bool = False) -> Markup:
    """The page's own script."""
    parts = [*SCRIPTS, *([WATCHING] if watching else [])]
    whole = "\n".join(_read(f"{part}.js") for part in parts)
    return Markup(f"(() => {{\n'use strict';\n{whole}}})();\n")


class Page(NamedTuple):
    """A page but for what holds it: its name, all that changes with the text, and its pens."""

    name: str
    inner: Markup
    style: Markup


def laid_out(content: Content) -> Page:
    """The content as a page."""
    album = Album(content.sheets, content.stage.rig)
    rig = content.stage.rig
    return Page(f"{rig.label}, stage {rig.stage}", body(content, album), album.style())


def page(content: Content) -> str:
    """The whole page."""
    return whole(laid_out(content))


def whole(page: Page, watching: bool = False, version: str = "") -> str:
    """A page with its head and its script; ``watching``: served by ``ferrule watch``, it asks
    there for its next version."""
    own = script(watching)
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=_policy(own, watching)),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", f"{page.name}: report"),
        el("style", Markup(_read("page.css"))),
        el("style", page.style, id="pens"),
        el("script", Markup(AWAKE)),
    )
    skip = el("a", "Skip to the content", href="#main", cls="skip")
    status = el("p", role="status", id="status", cls="unseen")
    inner = el("div", page.inner, id="page")
    parts = el("body", skip, inner, status, el("script", own), data_version=version or None)
    return f"<!doctype html>\n{el('html', head, parts, lang='en')}\n"


def _policy(own: Markup, watching: bool) -> str:
    """Nothing from anywhere; of scripts these two only, whatever a label may hold."""
    hashes = (b64encode(hashlib.sha256(s.encode()).digest()).decode() for s in (AWAKE, own))
    scripts = " ".join(f"'sha256-{each}'" for each in hashes)
    calls = "; connect-src 'self'" if watching else ""
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'unsafe-inline'; font-src data:; "
        f"base-uri 'none'; form-action 'none'{calls}"
    )


def body(content: Content, album: Album) -> Markup:
    """Everything that changes with the text of the rig."""
    rig = content.stage.rig
    findings_told = told(content.reports, rig.stage)
    tables = [*report_tables.wiring(content.stage), *content.tables]
    files = {name: index for index, name in enumerate(rig.sources)}
    known = report_names.document(content.stage, [each.finding for each in findings_told])
    known |= {"files": list(files), "rig": rig.label, "stage": rig.stage}
    parts = (
        ("Overview", _overview(content)),
        ("Sheets", _sheets(album)),
        ("Findings", join((_left("findings"), findings(findings_told, rig, files)))),
        ("Tables", _tables(tables)),
        ("Text of the rig", listing(rig, findings_told)),
    )
    views = (
        el("section", el("h2", name), part, id=view, cls="view" + " on" * (view == "overview"))
        for view, (name, part) in zip(VIEWS, parts, strict=True)
    )
    return join(
        (
            _top(content, len(findings_told)),
            el(
                "div",
                _find(rig, known["names"], findings_told),
                el("main", join(views), id="main", tabindex="-1"),
                _detail(),
                id="app",
            ),
            el("script", data(known), type="application/json", id="data"),
        ),
        "\n",
    )


# ---- the frame of the page ----------------------------------------------------------------------


def _top(content: Content, count: int) -> Markup:
    rig = content.stage.rig
    named = ("Overview", "Sheets", f"Findings {count}", "Tables", "Text")
    links = (
        el("a", name, href=f"#{view}", aria_current="page" if view == "overview" else None)
        for view, name in zip(VIEWS, named, strict=True)
    )
    stage = f"Stage {rig.stage}" + (f", {rig.stage_label}" if rig.stage_label else "")
    revision = f" · revision {rig.attrs['revision']}" if "revision" in rig.attrs else ""
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


def _find(rig: Rig, names: dict[str, dict[str, list[str]]], told: Sequence[Told]) -> Markup:
    places = sorted({place for facts in names.values() for place in facts["p"]}, key=natural)
    labels = [(p, f"{p} {rig.places[p].label}" if p in rig.places else p) for p in places]
    cables = sorted(rig.cables, key=natural)
    form = el(
        "form",
        el("label", "Search", for_="q"),
        el("input", type="search", id="q", autocomplete="off", spellcheck="false"),
        *_choice("place", "Place", "all places", labels),
        *_choice("cable", "Cable", "all cables", [(c, c) for c in cables]),
        *_choice("finding", "Finding", "with or without", _kinds(told)),
        el("p", el("span", id="count"), el("button", "Clear", type="reset"), cls="count"),
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


def _detail() -> Markup:
    close = el("button", "Close", type="button", id="close")
    told = el("div", id="told")
    return el("aside", close, told, id="detail", aria_label="Chosen", tabindex="0")


# ---- the views ----------------------------------------------------------------------------------


def _overview(content: Content) -> Markup:
    rig = content.stage.rig
    (report,) = (r for r in content.reports if r.stages == (rig.stage,))
    modes = len(rig.modes)
    facts = (
        ("Rule book", content.stage.book.title),
        ("Ambient", f"{rig.ambient_c:g} °C where the text gives no other"),
        ("In this stage", f"{plural(len(rig.devices), 'device')}, "
         f"{plural(len(rig.conductors), 'conductor')}, {plural(modes, 'mode')}"),
    )  # fmt: skip
    worst = max(verdicts(rig, report), key=lambda v: tuple(v.counts.values()))
    passed = "does not pass" if report.failed else "passes"
    note = "Do not wire from these sheets." if report.failed else ""
    return join(
        (
            el("p", f"Stage {rig.stage} {passed} the check. {note}",
               cls=f"verdict big {level(worst) if report.failed else 'clean'}"),
            el("p", CAUTION, cls="caution"),
            el("h3", "Verdicts"),
            verdict_table(content.rigs, content.reports, rig.stage),
            el("h3", "About"),
            el("dl", join(join((el("dt", k), el("dd", v))) for k, v in facts), cls="facts"),
            el("h3", "Sheets"),
            _contents(content.sheets),
        )
    )  # fmt: skip


def _grouped(titles: Iterable[tuple[str, str]], entry: Callable[[int, str], Markup],
             around: Callable[[str, Markup], Markup]) -> Markup:  # fmt: skip
    """Entries under their groups, in order; the index counts through all."""
    groups: dict[str, list[Markup]] = {}
    for index, (group, name) in enumerate(titles):
        groups.setdefault(group, []).append(entry(index, name))
    return join(around(group, join(entries)) for group, entries in groups.items())


def _contents(sheets: Sequence[Sheet]) -> Markup:
    """Links to the sheets, by document."""
    return el(
        "dl",
        _grouped(
            ((sheet.doc, sheet.title or sheet.doc) for sheet in sheets),
            lambda index, name: el("dd", el("a", name, href=f"#{key(index)}")),
            lambda doc, entries: join((el("dt", doc), entries)),
        ),
        cls="contents",
    )


def _sheets(album: Album) -> Markup:
    options = _grouped(
        ((sheet.doc, f"{sheet.number}/{sheet.of} {title(sheet)}") for sheet in album.sheets),
        lambda index, name: el("option", name, value=key(index)),
        lambda doc, entries: el("optgroup", entries, label=doc),
    )
    buttons = (
        el("button", sign, type="button", data_step=step, aria_label=said, title=said)
        for step, sign, said in STEPS
    )
    bar = el(
        "div",
        el("label", "Sheet", for_="sheet", cls="unseen"),
        el("select", options, id="sheet"),
        join(buttons),
        el("output", "100 %", id="zoom", aria_label="Enlargement"),
        cls="bar",
    )
    papers = join(map(album.figure, range(len(album.sheets))), "\n")
    board = el("div", papers, id="board", tabindex="0", role="group", aria_label=BOARD)
    return join((bar, board))


def _tables(tables: Sequence[Table]) -> Markup:
    options = _grouped(
        ((table.group, table.title) for table in tables),
        lambda index, name: el("option", name, value=f"table-{index + 1}"),
        lambda group, entries: el("optgroup", entries, label=group),
    )
    choice = el("div", el("label", "Table", for_="table"), el("select", options, id="table"),
                cls="bar")  # fmt: skip
    blocks = (report_tables.block(t, f"table-{i}") for i, t in enumerate(tables, 1))
    end = el("p", CAUTION, cls="caution")
    return join((choice, _left("rows"), join(blocks, "\n"), end))


def _left(what: str) -> Markup:
    """Where the page says that search and filters leave something out."""
    return el("p", id=f"{what}-left", cls="hint", hidden=True)
