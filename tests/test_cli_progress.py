"""The progress bar: on a terminal, after a second, and gone at the end."""

from __future__ import annotations

import io

from ferrule.cli.progress import Progress


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_sees_how_much_is_done_and_a_clean_line_after() -> None:
    screen = Screen()
    with Progress(screen, patience_s=0) as progress:
        progress.step(1, 4, "single-line diagram")
        assert "1/4 single-line diagram" in screen.getvalue()
        progress.step(2, 4, "wiring chart")
    assert screen.getvalue().endswith("\r\x1b[K")


def test_quick_work_shows_nothing() -> None:
    screen = Screen()
    with Progress(screen, patience_s=60) as progress:
        progress.step(1, 2)
    assert screen.getvalue() == ""


def test_a_file_never_sees_a_bar() -> None:
    file = io.StringIO()
    with Progress(file, patience_s=0) as progress:
        progress.step(1, 2)
    assert file.getvalue() == ""
