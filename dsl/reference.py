"""Writes ``docs/kinds.md``: what each kind of device is, made from the table of kinds.

Run ``python -m ferrule.dsl.reference > docs/kinds.md`` after a change to ``kinds.toml``.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Mapping

from .kinds import Attr, Kind, Variant, kinds, words
from .units import AWG, UNITS

HEAD = """\
<!-- Made by `python -m ferrule.dsl.reference`; change dsl/kinds.toml, not this page. -->

# Kinds of device

What a statement `KIND NAME LABEL? item…` may say. A quantity without a key is told by its unit
(*bare* below); everything else is `key=value` or a bare word. Every kind also takes the attributes
and flags at the end of the page.
"""

TYPES = {
    "range": "sizes (`1..16mm2`)",
    "lengths": "lengths (`9..17mm`)",
    "size": "size (`2.5mm2`)",
    "int": "whole number",
    "word": 'word or "text"',
    "words": "words with commas",
    "terminals": "names in brackets",
}
SECTIONS = {
    "conductor": "Wires, cables, links and bonds",
    "place": "Places and routes",
    "rig": "The title block",
    "revision": "Revisions",
}


def page() -> str:
    """The whole page, as Markdown."""
    common = _common(kinds().values())
    lines = [HEAD]
    for kind in kinds().values():
        lines += _kind(kind, common)
    lines += ["## Every kind", ""]
    first = next(iter(kinds().values()))
    lines += _table({key: first.attrs[key] for key in first.attrs if key in common}, {})
    lines += _flags({flag: doc for flag, doc in first.flags.items() if flag in common})
    for name, title in SECTIONS.items():
        said = words(name)
        lines += [f"## {title}", "", *_table(said.attrs, said.headline), *_flags(said.flags)]
    lines += ["## Units", "", *_units()]
    return "\n".join(lines).rstrip() + "\n"


def _common(rows: Iterable[Kind]) -> set[str]:
    """The attributes and flags that every kind has."""
    return set.intersection(*({*kind.attrs, *kind.flags} for kind in rows))


def _kind(kind: Kind, common: set[str]) -> Iterator[str]:
    yield f"## {kind.name}"
    yield ""
    yield kind.doc
    yield ""
    for variant in kind.variants:
        yield f"- {_when(variant, kind)}: {_terminals(variant)}"
    holds = "any number of conductors" if kind.holds == 0 else f"{kind.holds} conductor(s)"
    yield f"- each terminal holds {holds}, unless `holds=` says otherwise"
    if kind.states:
        first, *rest = kind.states
        yield f"- states: **{first}** " + " ".join(rest)
    yield f"- designation letter {kind.letter}"
    yield ""
    yield from _table({k: a for k, a in kind.attrs.items() if k not in common}, kind.headline)
    yield from _flags({k: doc for k, doc in kind.flags.items() if k not in common})


def _when(variant: Variant, kind: Kind) -> str:
    if not variant.when:
        return "otherwise" if len(kind.variants) > 1 else "terminals"
    keys = (w if "=" in w or w in kind.flags else f"{w}=" for w in variant.when)
    return "with " + " and ".join(f"`{key}`" for key in keys)


def _terminals(variant: Variant) -> str:
    numbered = {
        "all": "1 … `positions=`, all joined",
        "alone": "1 … `positions=`, each alone",
        "free": "any names, all joined",
    }
    if variant.numbered:
        return numbered[variant.numbered]
    return " ".join(f"`{name}`" for name in variant.terminals) or "none"


def _table(attrs: Mapping[str, Attr], headline: Mapping[str, str]) -> list[str]:
    if not attrs:
        return []
    bare: dict[str, list[str]] = {}
    for unit, key in headline.items():
        bare.setdefault(key, []).append(unit)
    rows = ["| attribute | value | bare | meaning |", "|---|---|---|---|"]
    for key, attr in attrs.items():
        units = " ".join(bare.get(key, ()))
        rows.append(f"| `{key}=` | {_type(attr)} | {units} | {attr.doc} |")
    return [*rows, ""]


def _type(attr: Attr) -> str:
    if attr.choices:
        words = " · ".join(f"`{choice}`" for choice in attr.choices)
        return f"with commas: {words}" if attr.several else words
    return TYPES.get(attr.type, attr.type)


def _flags(flags: Mapping[str, str]) -> list[str]:
    rows = [f"- `{flag}`: {doc}" for flag, doc in flags.items()]
    return ["Flags:", "", *rows, ""] if rows else []


def _units() -> Iterator[str]:
    yield "| written | kept in |"
    yield "|---|---|"
    bases = dict.fromkeys(base for base, _ in UNITS.values())
    for base in bases:
        written = " ".join(f"`{unit}`" for unit, (to, _) in UNITS.items() if to == base)
        yield f"| {written} | {base} |"
    yield "| `mm2` `AWG` | mm2 |"
    yield ""
    yield "Sizes in AWG: " + " ".join(AWG) + "."


if __name__ == "__main__":
    sys.stdout.write(page())
