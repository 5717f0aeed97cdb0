"""Markup that cannot be broken by what it says: every text is escaped, only ``Markup`` is not.

    el("td", row.text, cls="name", data_n="Q1") -> '<td class="name" data-n="Q1">…</td>'
    join(el("li", text) for text in texts)
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from .svg import quoted

VOID = {"br", "hr", "img", "input", "link", "meta"}


class Markup(str):
    """Text that is markup already."""

    __slots__ = ()


def esc(text: str) -> Markup:
    """A text as markup that shows it; markup as it is."""
    return text if isinstance(text, Markup) else Markup(quoted(text))


def join(parts: Iterable[str], between: str = "") -> Markup:
    """Parts one after the other."""
    return Markup(esc(between).join(map(esc, parts)))


def el(tag: str, /, *children: str, **attributes: str | int | bool | None) -> Markup:
    """An element.  ``cls`` is its class, ``data_n`` its ``data-n``; None and False leave it out."""
    said = "".join(_attribute(key, value) for key, value in attributes.items())
    return Markup(f"<{tag}{said}>" + ("" if tag in VOID else f"{join(children)}</{tag}>"))


def _attribute(key: str, value: str | int | bool | None) -> str:
    if value is None or value is False:
        return ""
    name = {"cls": "class", "for_": "for"}.get(key, key.replace("_", "-"))
    return f" {name}" if value is True else f' {name}="{quoted(str(value))}"'


def data(value: Any) -> Markup:
    """A value as JSON that can stand within ``<script>``: nothing in it ends or opens a tag."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)
