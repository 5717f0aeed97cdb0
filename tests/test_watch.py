"""``ferrule watch``: a save changes the page in its place; mistakes show; nobody else is served."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from browsing import Seen, browser, complaints, held_up, needs_browser
from ferrule.cli.main import main
from ferrule.cli.serving import Server
from ferrule.cli.watching import Builder, Picture
from ferrule.render.report_trouble import EMPTY, troubled
from report_rigs import CLINIC, LABELS, STAGED, STARTER

PATIENCE_S = 20.0
SOON_S = 1.0
"""From a save to the new picture, for an example."""


class Watched:
    """A process that watches a file."""

    def __init__(self, file: Path, *more: str) -> None:
        self.file = file
        argv = [sys.executable, "-m", "ferrule.cli.main", "watch", str(file), "--port", "0", *more]
        self.process = subprocess.Popen(argv, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout
        self.lines = self.process.stdout
        told = next(line for line in self.lines if "http://" in line)
        found = re.search(r"http://127\.0\.0\.1:([0-9]+)/", told)
        assert found
        self.address, self.port = found[0], int(found[1])

    def save(self, text: str) -> None:
        self.file.write_text(text, encoding="utf-8")

    def get(self, path: str = "/", host: str = "") -> tuple[int, str]:
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)) as to:
            to.request("GET", path, headers={"Host": host or f"127.0.0.1:{self.port}"})
            answer = to.getresponse()
            return answer.status, answer.read().decode()

    def page_with(self, words: str) -> str:
        """The page, as soon as it has these words."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            page = self.get()[1]
            if words in page:
                return page
            time.sleep(0.05)
        raise AssertionError(f"no page with {words!r}")


@contextmanager
def watching(file: Path, text: str, *more: str) -> Iterator[Watched]:
    file.write_text(text, encoding="utf-8")
    watched = Watched(file, *more)
    try:
        yield watched
    finally:
        with suppress(ProcessLookupError):
            watched.process.send_signal(signal.SIGINT)
        assert watched.process.wait(10) == 0


@pytest.fixture(scope="module")
def watched(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Watched]:
    with watching(tmp_path_factory.mktemp("watch") / "a.rig", STAGED) as found:
        yield found


def test_a_save_changes_the_page(watched: Watched) -> None:
    assert "Deck lamp" in watched.page_with("Deck lamp")
    watched.save(STAGED.replace("Deck lamp", "Anchor lamp"))
    assert "Deck lamp" not in watched.page_with("Anchor lamp")


def test_a_file_put_in_its_place_is_a_save_too(watched: Watched, tmp_path: Path) -> None:
    """Many editors write another file and rename it."""
    other = tmp_path / "b.rig"
    other.write_text(STAGED.replace("Deck lamp", "Bow lamp"), encoding="utf-8")
    os.replace(other, watched.file)
    watched.page_with("Bow lamp")


def test_versions_are_told_as_they_come(watched: Watched) -> None:
    with closing(http.client.HTTPConnection("127.0.0.1", watched.port, timeout=10)) as to:
        to.request("GET", "/events")
        answer = to.getresponse()
        assert answer.getheader("Content-Type") == "text/event-stream"
        first = _version(answer)
        watched.save(STAGED.replace("Deck lamp", f"Lamp {first}"))
        second = _version(answer)
        assert second > first
    assert f'data-version="{second}"' in watched.page_with(f"Lamp {first}")


def _version(answer: http.client.HTTPResponse) -> int:
    while not (line := answer.readline().decode()).startswith("data: "):
        assert line, "the stream has ended"
    return int(line.removeprefix("data: "))


def test_mistakes_stand_over_the_last_drawing_until_they_are_mended(watched: Watched) -> None:
    watched.save(STAGED.replace("lamp   E2", "lmap   E2"))
    page = watched.page_with('id="trouble"')
    assert "did you mean `lamp`?" in page
    assert "<svg" in page
    watched.save(STAGED.replace("Deck lamp", "Mended lamp"))
    assert 'id="trouble"' not in watched.page_with("Mended lamp")
    watched.file.unlink()
    watched.page_with("there is no such file")
    watched.save(STAGED.replace("Deck lamp", "Lamp again"))
    assert 'id="trouble"' not in watched.page_with("Lamp again")


def test_nobody_else_is_served(watched: Watched) -> None:
    for name in ("localhost", "127.0.0.1"):
        assert watched.get(host=f"{name}:{watched.port}")[0] == 200
    for name in ("example.org", f"example.org:{watched.port}", "127.0.0.1", "127.0.0.1:1"):
        status, words = watched.get(host=name)
        assert (status, words) == (421, "only for this machine\n")
    # Another address of this very machine: it listens on one address, not on all.
    with socket.socket() as to, pytest.raises(ConnectionRefusedError):
        to.connect(("127.0.0.2", watched.port))


@pytest.mark.parametrize("path", ["/a.rig", "/../a.rig", "/.", "/events/", "/?x", "/%2e%2e/"])
def test_there_is_nothing_but_the_page(watched: Watched, path: str) -> None:
    status, words = watched.get(path)
    assert (status, words) == (404, "there is nothing here\n")


def test_a_port_that_is_taken_is_refused(
    watched: Watched, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["watch", str(STARTER), "--port", str(watched.port)]) == 2
    told = capsys.readouterr().err
    assert f"port {watched.port} of 127.0.0.1 is taken" in told
    assert "--port" in told
    assert main(["watch", str(STARTER), "--port", "99999"]) == 2


def test_no_file_no_watch(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["watch", str(tmp_path / "none.rig")]) == 2
    assert "there is no such file" in capsys.readouterr().err


def test_a_text_that_was_never_right_is_watched_until_it_is(tmp_path: Path) -> None:
    with watching(tmp_path / "a.rig", "lmap E1\n") as watched:
        page = watched.page_with('id="trouble"')
        assert "<svg" not in page
        watched.save(STARTER.read_text(encoding="utf-8"))
        assert "<svg" in watched.page_with("Cabin lamp")


def test_a_save_right_after_a_build_is_not_lost(tmp_path: Path) -> None:
    """What was saved before the watching began, or while a page was being built."""
    file = tmp_path / "a.rig"
    file.write_text(STAGED, encoding="utf-8")
    picture = Picture()
    builder = Builder(str(file), None, picture)
    builder.build()
    file.write_text(STAGED.replace("Deck lamp", "Late lamp"), encoding="utf-8")

    def ended(words: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        builder.follow(ended)
    assert "Late lamp" in picture.html


def test_what_is_used_is_watched_too(tmp_path: Path) -> None:
    part = tmp_path / "parts.rig"
    part.write_text('part lamp5 lamp 12V 5W dc\n', encoding="utf-8")
    text = STARTER.read_text(encoding="utf-8").replace("12V 24W dc", "lamp5")
    text = text.replace("rules abyc-e11\n", 'rules abyc-e11\nuse "parts.rig"\n')
    with watching(tmp_path / "a.rig", text) as watched:
        assert 'id="trouble"' not in watched.page_with("5 W")
        part.write_text('part lamp5 lamp 12V 7W dc\n', encoding="utf-8")
        watched.page_with("7 W")


def test_mistakes_are_told_as_texts() -> None:
    shown = troubled(EMPTY, LABELS[0]).inner
    assert "<script" not in shown
    assert "&lt;/script&gt;" in shown


def test_the_server_listens_on_loopback_alone() -> None:
    server = Server(0, Picture())
    try:
        assert server.server_address[0] == "127.0.0.1"
    finally:
        server.server_close()


# ---- the open page ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as started:
        yield started


RENEWED = "n => performance.getEntriesByName('ferrule-renewed').length > n"


def renewals(page: Any) -> int:
    found: int = page.evaluate("performance.getEntriesByName('ferrule-renewed').length")
    return found


def look(page: Any) -> str:
    box: str = page.get_attribute(".paper.on svg", "viewBox")
    return box


@needs_browser
def test_the_open_page_keeps_what_one_looks_at_and_shows_a_save_at_once(
    chromium: Any, tmp_path: Path
) -> None:
    text = CLINIC.read_text(encoding="utf-8")
    with watching(tmp_path / "a.rig", text) as watched:
        seen = Seen(chromium)
        page = seen.open(watched.address)
        page.click('#views a[href="#sheets"]')
        page.wait_for_selector("#sheets.on")
        page.fill("#q", "M1 air")
        page.keyboard.press("Enter")
        page.focus("#board")
        page.keyboard.press("+")
        page.keyboard.press("ArrowLeft")
        before, sheet = look(page), page.get_attribute(".paper.on", "data-title")
        times = []
        while len(times) < 5 and min(times, default=SOON_S) >= SOON_S:
            count = renewals(page)
            before_it = held_up()
            start = time.monotonic()
            watched.save(text.replace('M1 "Air conditioner"', f'M1 "Air conditioning {count}"'))
            page.wait_for_function(RENEWED, arg=count)
            taken = time.monotonic() - start
            times.append(taken / max(before_it, held_up()))
        assert f"Air conditioning {count}" in page.inner_text("#told h2")
        assert f"conditioning {count}" in page.text_content(".paper.on")
        assert look(page) == before
        assert page.get_attribute(".paper.on", "data-title") == sheet
        assert page.input_value("#q") == "M1 air"
        assert page.evaluate("document.activeElement.id") == "board"
        assert page.locator(".paper.on .halo.chosen").count() >= 1
        assert min(times) < SOON_S, times
        assert seen.said == []
        assert all(url.startswith((watched.address, "data:")) for url in seen.asked)
        seen.context.close()


EVERY = "[...document.querySelectorAll('.paper')].every(each => each.querySelector('svg'))"
# As soon as a new page is there, before anything else may run, the next sheet is asked for.
AT_ONCE = """
    window.filled = null;
    const done = new MutationObserver(() => {
        done.disconnect();
        const board = document.getElementById('board');
        board.dispatchEvent(new KeyboardEvent('keydown', { key: 'PageDown', bubbles: true }));
        window.filled = EVERY;
    });
    done.observe(document.getElementById('page'), { childList: true });
""".replace("EVERY", EVERY)


@needs_browser
def test_the_sheets_one_does_not_look_at_follow_and_are_there_whenever_asked_for(
    chromium: Any, tmp_path: Path
) -> None:
    with watching(tmp_path / "a.rig", STAGED) as watched:
        seen = Seen(chromium)
        page = seen.open(watched.address)
        page.click('#views a[href="#sheets"]')
        page.wait_for_selector("#sheets.on")
        sheets = page.locator(".paper").count()
        watched.save(STAGED.replace("Deck lamp", "Mast lamp"))
        page.wait_for_function(RENEWED, arg=0)
        page.wait_for_function(f"() => {EVERY}")
        assert page.locator(".paper").count() == sheets
        text = watched.get()[1]
        for key in ("sheet-1", f"sheet-{sheets // 2}", f"sheet-{sheets}"):
            drawn = page.eval_on_selector(f"#{key} svg", "each => each.textContent")
            (inner,) = re.findall(f'<figure [^>]*id="{key}".*?</figure>', text, re.S)
            for words in re.findall("<text [^>]*>([^<&]+)</text>", inner):
                assert words in drawn
        page.evaluate(f"() => {{ {AT_ONCE} }}")
        watched.save(STAGED.replace("Deck lamp", "Stern lamp"))
        page.wait_for_function("() => window.filled !== null")
        assert page.evaluate("window.filled") is True
        assert page.is_visible(".paper.on svg")
        assert seen.said == []
        seen.context.close()


@needs_browser
def test_mistakes_are_shown_on_the_page_with_the_drawing_greyed(
    chromium: Any, tmp_path: Path
) -> None:
    with watching(tmp_path / "a.rig", STAGED) as watched:
        seen = Seen(chromium, bypass_csp=True)
        page = seen.open(watched.address)
        page.click('#views a[href="#sheets"]')
        page.wait_for_selector("#sheets.on")
        watched.save(STAGED.replace("lamp   E2", "lmap   E2"))
        page.wait_for_selector("#trouble")
        assert "did you mean `lamp`?" in page.inner_text("#trouble")
        assert page.is_visible(".paper.on svg")
        greyed = "getComputedStyle(document.getElementById('sheets')).filter"
        assert page.evaluate(greyed) == "grayscale(1)"
        assert complaints(page) == []
        watched.save(STAGED)
        page.wait_for_selector("#trouble", state="detached")
        assert page.evaluate(greyed) == "none"
        assert seen.said == []
        watched.process.send_signal(signal.SIGINT)
        page.wait_for_selector("#lost")
        seen.context.close()
