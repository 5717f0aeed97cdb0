"""What the words of the language mean: statements, kinds, attributes, flags, quantities, rules."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from ...checks.books.book import book
from ...checks.registry import find
from ...dsl.complaints import KEYWORDS
from ...dsl.kinds import Attr, Words, kinds
from ...dsl.kinds import words as words_of
from ...dsl.model import Range
from ...dsl.parse import Token
from ...dsl.reader import BOOKS
from ...dsl.source import Statement
from ...dsl.units import Bad, amount
from ..terminal import printable
from .names import RUNS

STATEMENTS = {
    "rig": "the title block of the drawings",
    "revision": "a row of the table of revisions",
    "rules": "the rule book whose figures the rig is checked by",
    "ambient": "the temperature of every place that gives none",
    "use": "brings in another file, by a path from this one, or shipped parts",
    "part": "a named set of attributes; a device that names it starts from them",
    "place": "where devices stand",
    "route": "where cables run, for their ambient and grouping",
    "panel": "an enclosure with ways on its rail; `at=PANEL.4` puts a device on a way",
    "wire": "one conductor, from terminal to terminal",
    "cable": "one cable; its cores join the ends left and right of `->` pair by pair",
    "link": "a rigid jumper, comb bar or strap, with no length to speak of",
    "bond": "a conductor that is meant to join neutral, or the DC negative, to earth",
    "mode": "one way the rig is run; every mode is checked",
    "stage": "the next step of the build: what it adds, removes, moves and changes",
    "remove": "takes devices or conductors out, from this stage on",
    "move": "lifts a conductor's end off one terminal and lands it on another",
    "change": "gives what is there other attributes, from this stage on",
    "accept": "the author takes responsibility for one finding; it stays listed, as accepted",
}
"""What each statement is for, beside its form in ``KEYWORDS``."""
SIZES = ("mm2", "AWG")


def of_word(statement: Statement, token: Token) -> str:
    """What a word of a statement means, in Markdown; empty where nothing is known of it."""
    word = str(token)
    if token is statement.tokens[0]:
        return of_start(word)
    if statement.word == "accept" and token is statement.name:
        return of_rule(word)
    if statement.word == "rules" and word in BOOKS:
        return fenced([book(word).title])
    if statement.word == "part" and statement.items and token is statement.items[0]:
        return of_start(word)
    said = _said(token)
    known = vocabulary(statement)
    if known is None:
        return said
    key = word.partition("=")[0] if token.type == "ATTR" else _headline(known, token)
    if key in known.attrs:
        return "\n\n".join(row for row in (_attribute(known.attrs[key]), said) if row)
    return f"`{word}` {known.flags[word]}" if word in known.flags else said


def _attribute(attr: Attr) -> str:
    head = "" if attr.choices or attr.type in ("word", "words", "label") else f" {attr.type}"
    chosen = "Several of" if attr.several else "One of"
    rows = [attr.doc, f"{chosen}: {' '.join(attr.choices)}." if attr.choices else ""]
    return f"`{attr.key}=`{head}\n\n" + "  \n".join(row for row in rows if row)


def _said(token: Token) -> str:
    """A quantity in its base unit, where it is written in another."""
    text = token.rpartition("=")[2]
    try:
        value = amount(text) if text[:1].isdigit() else None
    except Bad:
        return ""
    if isinstance(value, tuple):
        count, size = value
        area = "" if size.text.endswith("mm2") else f"`{size.text}` is {size.mm2:g} mm2"
        cores = f"{count} cores of {size.text}" if count else ""
        return "; ".join(row for row in (cores, area) if row)
    if value is None or re.search(rf"\d{re.escape(value.unit)}$", text):
        return ""
    if isinstance(value, Range):
        return f"`{text}` is {value.low:g} to {value.high:g} {value.unit}"
    return f"`{text}` is {value.value:.4g} {value.unit}"


def _headline(known: Words, token: Token) -> str:
    """The attribute that a bare quantity is."""
    unit = re.sub(r"^[-+0-9./xX×]*", "", token) if token.type == "AMOUNT" else ""
    unit = "size" if unit in SIZES else unit
    return known.headline.get(unit, known.headline.get(unit.lstrip("mkcf"), ""))


def vocabulary(statement: Statement) -> Words | None:
    """What a statement may say of itself; None for one that has no items."""
    word = statement.word
    if word == "part" and statement.items:
        word = str(statement.items[0])
    return vocabulary_of(word)


def vocabulary_of(word: str) -> Words | None:
    """What may be said after a keyword or a kind; None where nothing may."""
    if word in kinds() or word == "rig":
        return words_of(word)
    if word in RUNS:
        return words_of("conductor")
    return words_of("place") if word in ("place", "route") else None


def of_start(word: str) -> str:
    """What a keyword or a kind of device means."""
    form = f"{STATEMENTS[word]}\n\n{fenced([KEYWORDS[word]])}" if word in STATEMENTS else ""
    if word not in kinds():
        return f"**{word}**\n\n{form}" if form else ""
    kind = kinds()[word]
    rows = [kind.doc]
    if kind.headline:
        said = ", ".join(f"{unit} ({key})" for unit, key in kind.headline.items())
        rows.append(f"Without a key: {said}.")
    rows += _terminals(word)
    if kind.states:
        rows.append(f"States, the usual first: {' '.join(kind.states)}.")
    return f"**{word}**\n\n" + "  \n".join(rows)


def _terminals(word: str) -> Iterator[str]:
    """The usual terminals first, then those of other forms of the kind."""
    for variant in sorted(kinds()[word].variants, key=lambda v: bool(v.when)):
        names = " ".join(variant.terminals) or ("1 to positions" if variant.numbered else "")
        if names:
            when = f"With {' '.join(variant.when)}" if variant.when else "Terminals"
            yield f"{when}: `{names}`."


def of_state(device: str, kind: str, state: str) -> str:
    """What a mode says of a device."""
    states = kinds()[kind].states
    usual = f"; {states[0]} where a mode says nothing" if states else ""
    return f"{device} is {state} in this mode.  \nStates of a {kind}: {' '.join(states)}{usual}."


def of_rule(word: str) -> str:
    """What a rule of the check means and why it matters."""
    rule = find(word)
    if rule is None:
        return ""
    rows = [line.strip() for line in rule.doc.strip().split("\n")]
    return f"**{rule.code} {rule.name}**\n\n{fenced(rows)}"


def fenced(rows: Iterable[str]) -> str:
    """Lines of text that Markdown shows as they are, whatever stands in them."""
    text = "\n".join(printable(row) for row in rows)
    longest = max((len(run) for run in re.findall("`+", text)), default=0)
    fence = "`" * max(3, longest + 1)
    return f"{fence}text\n{text}\n{fence}"
