"""The page on paper: Chromium prints the HTML to a PDF file."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from lickwright.storage.files import write_whole

#: Where Chromium is looked for, first ``$LICKWRIGHT_CHROMIUM``.
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
PAPERS = ("a4", "letter")
_PATIENCE_S = 120


class NoChromiumError(RuntimeError):
    """No Chromium to print with, or one that printed nothing; the message says what would help."""


def find_chromium() -> str | None:
    """The path of a Chromium on this machine, or None."""
    named = os.environ.get("LICKWRIGHT_CHROMIUM")
    if named:
        return shutil.which(named)
    return next((path for path in map(shutil.which, CHROMIUM_NAMES) if path), None)


def handout_pdf(html: str, path: str | Path, *, paper: str = "a4") -> None:
    """Prints a handout's HTML to a PDF file on ``a4`` or ``letter`` paper.

    Raises NoChromiumError when there is no Chromium or it fails, ValueError for another paper. The file is
    written whole or not at all.
    """
    if paper not in PAPERS:
        raise ValueError(f"unknown paper {paper!r}: use one of {' '.join(PAPERS)}")
    chromium = find_chromium()
    if chromium is None:
        raise NoChromiumError(
            "no Chromium was found to print the PDF with: install the package chromium, or name the program "
            "in LICKWRIGHT_CHROMIUM; or open the HTML file in a browser and print it from there"
        )
    with tempfile.TemporaryDirectory(prefix="handout-") as scratch:
        page, printed = Path(scratch, "page.html"), Path(scratch, "page.pdf")
        page.write_text(html.replace("<html ", f'<html data-paper="{paper}" ', 1), encoding="utf-8")
        _print(chromium, page, printed, Path(scratch, "profile"))
        write_whole(Path(path), printed.read_bytes())


def _print(chromium: str, page: Path, printed: Path, profile: Path) -> None:
    command = [
        chromium,
        "--headless",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--no-first-run",
        "--no-pdf-header-footer",
        "--virtual-time-budget=10000",
        f"--user-data-dir={profile}",
        f"--print-to-pdf={printed}",
        page.as_uri(),
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.insert(1, "--no-sandbox")  # Chromium's sandbox refuses to start for root
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=_PATIENCE_S, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NoChromiumError(f"{chromium} did not print the page: {error}") from None
    if done.returncode != 0 or not printed.exists() or not printed.stat().st_size:
        said = " ".join(done.stderr.split())[-300:]
        raise NoChromiumError(f"{chromium} did not print the page (exit status {done.returncode}): {said}")
