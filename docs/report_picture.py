"""Takes the picture of a report that the README shows: ``python docs/report_picture.py``.

Needs Chromium and playwright, as the tests of the report do.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from ferrule.cli.reporting import report
from ferrule.dsl.reader import read
from ferrule.render.report import whole
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples/mobile_clinic.rig"
PICTURE = Path(__file__).with_name("report.png")
NAME = "C3/1"


def main() -> None:
    """Chooses a conductor of an example and takes a sheet that it is on."""
    rigs = read(EXAMPLE.relative_to(ROOT)).rigs
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        page_file = Path(folder) / "report.html"
        page_file.write_text(whole(report(rigs, rigs[-1])), encoding="utf-8")
        browser = play.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1360, "height": 780})
        page.goto(f"{page_file.as_uri()}#sheets")
        page.fill("#q", NAME)
        page.keyboard.press("Enter")
        page.click("button[type=reset]")
        page.click('#told [data-sheet][title*="EXAM"] >> nth=0')
        page.click('[data-step="zoom-out"]')
        page.mouse.move(5, 5)
        page.screenshot(path=PICTURE)
        browser.close()


if __name__ == "__main__":
    main()
