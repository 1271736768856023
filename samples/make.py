"""Writes the samples anew: ``python samples/make.py [FOLDER]``. Pictures need Chromium; the rest does not."""

from __future__ import annotations

import sys
from pathlib import Path

from lickwright.compose.write import write
from lickwright.render.handout.pdf import find_chromium
from lickwright.render.outputs import SoundOptions, page, text_sheet
from lickwright.study.json_text import to_json
from lickwright.study.model import Brief, Study

#: File name to the brief that makes it: a scenario of our own, a porch and a ferry.
SAMPLES = {
    "slow-shuffle-in-A": Brief("slow-shuffle", "A", 7, title="Late on the porch", number=1),
    "minor-slow-in-D": Brief("minor-slow", "D", 12, title="Cold harbour", number=2),
    "quick-shuffle-in-E": Brief("quick-shuffle", "E", 3, title="Ferry at noon", number=3),
}
WITH_PAGE = ("slow-shuffle-in-A", "minor-slow-in-D")


def studies() -> dict[str, Study]:
    """The sample studies by file name."""
    return {name: write(brief) for name, brief in SAMPLES.items()}


def make(folder: Path) -> None:
    """Writes every sample into a folder."""
    for name, study in studies().items():
        (folder / f"{name}.json").write_text(to_json(study), encoding="utf-8")
        (folder / f"{name}.txt").write_text(text_sheet(study), encoding="utf-8")
        if name in WITH_PAGE:
            html = folder / f"{name}.html"
            html.write_text(page(study, SoundOptions()), encoding="utf-8")
            _picture(html)


def _picture(html: Path) -> None:
    chromium = find_chromium()
    if chromium is None:
        return
    from playwright.sync_api import sync_playwright

    with sync_playwright() as browser:
        window = browser.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        sheet = window.new_page(viewport={"width": 1100, "height": 1250})
        sheet.goto(html.resolve().as_uri())
        sheet.wait_for_timeout(1500)
        sheet.screenshot(path=str(html.with_suffix(".png")))
        window.close()


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
