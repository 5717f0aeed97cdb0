"""A real browser for the tests of the report: Debian's Chromium, headless, without any network."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
LOUD = "SKIPPED: Chromium is not installed (apt-get install chromium): the report is NOT TESTED"
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason=LOUD)
ARGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
)  # fmt: skip
DESK = {"width": 1400, "height": 900}
# WCAG 2.2, levels A and AA, by the tags of axe-core.
WCAG = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa")


def held_up(seconds: float = 0.1) -> float:
    """How many times longer than on a core of its own some work takes now: 1 on an idle machine."""
    wall, cpu = time.perf_counter(), time.process_time()
    while time.process_time() - cpu < seconds:
        pass
    return max(1.0, (time.perf_counter() - wall) / seconds)


@contextmanager
def browser() -> Iterator[Any]:
    """Chromium, started once for many pages."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM, args=list(ARGS))
        yield started
        started.close()


class Seen:
    """A page, and what it said and asked for."""

    def __init__(self, started: Any, **context: Any) -> None:
        self.context = started.new_context(**{"viewport": DESK, **context})
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))

    def open(self, where: Path | str) -> Any:
        """Opens a file or an address."""
        self.page.goto(where if isinstance(where, str) else where.resolve().as_uri())
        return self.page


@contextmanager
def opened(started: Any, where: Path | str, **context: Any) -> Iterator[Any]:
    """A page that must not complain."""
    seen = Seen(started, **context)
    try:
        yield seen.open(where)
        assert seen.said == []
    finally:
        seen.context.close()


def complaints(page: Any) -> list[str]:
    """What axe-core finds wrong with a page as it is shown now."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"runOnly": list(WCAG), "resultTypes": ["violations"]})
    return [
        f"{each['id']}: {node['html'][:160]} {node['failureSummary']}"
        for each in found.response["violations"]
        for node in each["nodes"][:5]
    ]
