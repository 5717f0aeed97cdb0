"""What may be written at a place: words, names, values and terminals, likely ones first."""

from __future__ import annotations

from collections.abc import Callable

from ...checks.findings import Finding
from ...checks.registry import rules
from ...dsl.complaints import KEYWORDS
from ...dsl.kinds import kinds
from ...dsl.kinds import words as words_of
from ...dsl.model import Rig
from ...dsl.reader import BOOKS
from .complete_ends import ends, landing, things
from .complete_files import files
from .complete_items import items
from .complete_names import next_names, sizes, takes_a_name
from .desk import Desk
from .meanings import STATEMENTS, vocabulary_of
from .names import PLACES, RUNS
from .offers import FIRST, KIND, NAME, VALUE, WORD, Offer, Offers, of_table, of_words
from .spots import Lines
from .words_at import Writing, inside_label, rig_at, stage_at, writing

NONE = Offers(0, [])
Sources = tuple[Finding, ...]


def complete(desk: Desk, file: str, offset: int, findings: Sources = ()) -> Offers:
    """What may be written at an index of a file.

    Names are those of the stage that the place is in.  The statement that is being written is
    left out of the reading: what it lands on now is not taken.
    """
    text = desk.text(file)
    here = writing(text, offset)
    if here.quiet:
        return NONE
    if here.words[:1] in (("use",), ("rules",)) and inside_label(text, here.start, offset):
        begun = text.rfind('"', here.start, offset) + 1
        return Offers(begun, files(desk, file, here.words[0]))
    if inside_label(text, here.start, offset):
        return NONE
    if not here.words:
        return Offers(here.begun, starts())
    root = desk.roots(file)[0]
    word, everywhere = here.words[0], [s for other in desk.uses(root) for s in desk.parsed(other)]
    if len(here.words) == 1 and takes_a_name(word):
        return Offers(here.begun, next_names(everywhere, word))
    rigs = desk.without(file, here.start, here.end) if root == file else desk.rigs(root)
    line = Lines(text).span(file, here.start, here.start).line
    rig = rig_at(rigs, stage_at(desk.parsed(file), line) or "base")
    offers = _within(here, rig, findings)
    if len(here.words) == 2 and word in RUNS and not here.word:
        return Offers(offers.begun, [*sizes(everywhere, word), *offers.offers])
    return offers


def starts() -> list[Offer]:
    """Words that a statement may begin with."""
    devices = {name: kind.doc for name, kind in kinds().items() if name not in KEYWORDS}
    return [*of_table(STATEMENTS, WORD), *of_table(devices, KIND)]


def _within(here: Writing, rig: Rig | None, findings: Sources) -> Offers:
    """What may follow the words of a statement."""
    word, count = here.words[0], len(here.words)
    if word == "rules":
        return Offers(here.begun, of_words(BOOKS, VALUE, "rule book") if count == 1 else [])
    if word == "part":
        return _part(here, rig, count)
    if word in RUNS:
        return _run(here, rig)
    if word in OTHERS:
        return OTHERS[word](here, rig) if rig is not None else NONE
    if word == "accept":
        return _accept(here, rig, findings)
    known = vocabulary_of(word)
    if known is None or (count == 1 and word != "rig"):
        return NONE  # a name of its own comes first
    return items(known, here, None if word in PLACES else rig, word)


def _part(here: Writing, rig: Rig | None, count: int) -> Offers:
    if count == 2:
        return Offers(here.begun, of_table({n: k.doc for n, k in kinds().items()}, KIND))
    known = vocabulary_of(here.words[2]) if count > 2 else None
    return items(known, here, rig, here.words[2]) if known else NONE


def _run(here: Writing, rig: Rig | None) -> Offers:
    """Items of a conductor ahead of its ends or behind them; terminals in between."""
    if len(here.words) < 2:
        return NONE
    known = words_of("conductor")
    ahead = [w for w in here.words[2:] if "." in w and not w[0].isdigit() and w[0] != '"']
    arrow = "->" in here.words
    behind = arrow and here.words[-1] != "->"
    arrow = arrow or "->" in here.rest
    if here.word[:1].isdigit() or "=" in here.word:
        return items(known, here, rig, "")
    landings = ends(rig, here) if rig is not None else NONE
    if "." in here.word:
        return landings
    offers = list(landings.offers)
    offers += [Offer("->", WORD, "to", rank=FIRST)] if ahead and not arrow else []
    offers += items(known, here, rig, "").offers if behind or not ahead else []
    return Offers(here.begun, offers)


def _mode(here: Writing, rig: Rig) -> Offers:
    """Devices that have states, and the states of the one whose `=` is written."""
    if "{" not in here.words:
        return NONE
    name, equals, _ = here.word.partition("=")
    device = rig.devices.get(name)
    if equals:
        states = kinds()[device.kind].states if device else ()
        return Offers(here.begun + len(name) + 1, of_words(states, VALUE, "state"))
    said = {word.partition("=")[0] for word in here.said}
    return Offers(
        here.begun,
        [
            Offer(d.name, NAME, f"{d.kind} {d.label}".strip(), f"{d.name}=")
            for d in rig.devices.values()
            if len(kinds()[d.kind].states) > 1 and d.name not in said
        ],
    )


def _remove(here: Writing, rig: Rig) -> Offers:
    return Offers(here.begun, [o for o in things(rig) if o.label not in here.said])


def _move(here: Writing, rig: Rig) -> Offers:
    """A conductor, the terminal that it is on, and the one that it goes to."""
    count = len(here.words)
    if count == 1:
        return Offers(here.begun, [o for o in things(rig) if o.detail == "conductor"])
    if count == 2:
        return Offers(here.begun, landing(rig, here.words[1]))
    if count == 3:
        return Offers(here.begun, of_words(["->"], WORD))
    return ends(rig, here) if count == 4 else NONE


def _change(here: Writing, rig: Rig) -> Offers:
    if len(here.words) == 1:
        return Offers(here.begun, things(rig))
    device = rig.devices.get(here.words[1])
    kind = device.kind if device else ""
    return items(words_of(kind or "conductor"), here, rig, kind)


def _accept(here: Writing, rig: Rig | None, findings: Sources) -> Offers:
    """A rule, those first that find something now; then what it finds it on."""
    count = len(here.words)
    if count == 1:
        now = {f.rule for f in findings if f.accepted is None}
        every = [Offer(r.code, VALUE, r.name, rank=int(r.code not in now)) for r in rules()]
        return Offers(here.begun, every)
    if count in (2, 4):
        return Offers(here.begun, of_words(["on" if count == 2 else "because"], WORD))
    if count != 3:
        return NONE
    meant = [f for f in findings if here.words[1] in (f.rule, f.name) and f.accepted is None]
    named = dict.fromkeys(name for f in meant for name in f.on)
    offers = of_words(named, NAME, "found on it", rank=FIRST)
    others = things(rig) if rig is not None else []
    return Offers(here.begun, offers + [o for o in others if o.label not in named])


OTHERS: dict[str, Callable[[Writing, Rig], Offers]] = {
    "mode": _mode,
    "remove": _remove,
    "move": _move,
    "change": _change,
}
