"""What holds a page: its head, its style, its script, and what it allows itself.

    html = whole(Page("Van, stage base", inner, style))

It asks nothing of any network, and tells the browser to let nothing through.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from functools import cache
from pathlib import Path
from typing import NamedTuple

from .markup import Markup, el

FOLDER = Path(__file__).with_name("page")
SCRIPTS = ("base", "board", "names", "find", "views")
WATCHING = "watch"
AWAKE = "document.documentElement.className='js'"
"""Runs before anything is shown: what the script hides is never laid out."""


class Page(NamedTuple):
    """A page but for what holds it: its name, all that changes with the text, and its pens."""

    name: str
    inner: Markup
    style: Markup


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


@cache
def _read(name: str) -> str:
    return (FOLDER / name).read_text(encoding="utf-8")


def script(watching: bool = False) -> Markup:
    """The page's own script."""
    parts = [*SCRIPTS, *([WATCHING] if watching else [])]
    whole = "\n".join(_read(f"{part}.js") for part in parts)
    return Markup(f"(() => {{\n'use strict';\n{whole}}})();\n")
