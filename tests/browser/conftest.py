"""A Chromium for the page tests. Without one they are skipped, except in CI, where they must run."""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
import time
from pathlib import Path

import pytest
from lickwright.render.handout import find_chromium, handout

from tests.browser.sounds import burst_sound
from tests.studies import tour

#: Pages that ``looked_at`` keeps open.
MOST_OPEN = 6


def missing(what: str) -> None:
    """Skips, or fails in CI."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what}: CI must run the browser tests")
    pytest.skip(what)


@pytest.fixture(scope="session")
def browser():
    path = find_chromium()
    if path is None:
        missing("no Chromium on this machine (Debian: apt-get install chromium)")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("the Python package playwright is not installed")
    with sync_playwright() as playwright:
        args = ["--no-sandbox", "--disable-gpu", "--mute-audio"]
        chromium = playwright.chromium.launch(executable_path=path, args=args)
        yield chromium
        chromium.close()


class Opened:
    """A page that was opened from a file, with everything it complained about or asked the network for."""

    def __init__(self, page, path: Path):
        self.page = page
        self.troubles: list[str] = []
        page.on(
            "console", lambda m: self._note("console", m.text) if m.type in ("error", "warning") else None
        )
        page.on("pageerror", lambda e: self._note("script", str(e)))
        page.on("dialog", lambda d: (self._note("dialog", d.message), d.dismiss()))
        page.on("request", lambda r: self._asked(r.url, path))
        page.goto(path.as_uri())
        page.wait_for_selector("html[data-ready]")

    def _note(self, kind: str, text: str) -> None:
        self.troubles.append(f"{kind}: {text}")

    def _asked(self, url: str, path: Path) -> None:
        if url != path.as_uri() and not url.startswith("data:"):
            self._note("request", url)

    def value(self, expression: str, argument=None):
        """What an expression, or a function of the argument, gives in the page."""
        return self.page.evaluate(expression, argument)

    def until(self, expression: str, patience_s: float = 20.0) -> None:
        """Waits until an expression holds (the page's policy forbids the browser's own way of waiting)."""
        end = time.monotonic() + patience_s
        while not self.page.evaluate(expression):
            assert time.monotonic() < end, f"never held: {expression}"
            self.page.wait_for_timeout(20)


@pytest.fixture
def opened(browser, tmp_path):
    """Opens a page of HTML text at a width; ``opened(html, width=1100)``."""
    contexts = []

    def open_page(html: str, width: int = 1100, height: int = 900, **options) -> Opened:
        path = tmp_path / f"page-{len(contexts)}.html"
        path.write_text(html, encoding="utf-8")
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        contexts.append(context)
        return Opened(context.new_page(), path)

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def looked_at(browser, tmp_path_factory):
    """Like ``opened``, for tests that change nothing in a page: the same text at the same width is loaded once.

    The last few pages stay open.
    """
    folder, pages, count = tmp_path_factory.mktemp("looked-at"), {}, itertools.count()

    def open_page(html: str, width: int = 1100, height: int = 900, **options) -> Opened:
        asked = (html, width, height, *sorted(options.items()))
        if asked not in pages:
            if len(pages) == MOST_OPEN:
                pages.pop(next(iter(pages))).page.context.close()
            path = folder / f"page-{next(count)}.html"
            path.write_text(html, encoding="utf-8")
            context = browser.new_context(viewport={"width": width, "height": height}, **options)
            pages[asked] = Opened(context.new_page(), path)
        return pages[asked]

    yield open_page
    for opened in pages.values():
        opened.page.context.close()


@pytest.fixture(scope="session")
def sounding() -> tuple:
    """A short study with its bursts of sound, and its page."""
    study = tour(meter="4/4", grid="straight")
    return study, handout(study, sound=burst_sound(study))


@pytest.fixture(scope="session")
def axe(tmp_path_factory) -> str:
    """The text of axe-core, fetched with npm."""
    npm = shutil.which("npm")
    if npm is None:
        missing("npm is not installed, so axe-core cannot be fetched")
    folder = tmp_path_factory.mktemp("axe")
    done = subprocess.run(
        [npm, "install", "--no-audit", "--no-fund", "--prefix", str(folder), "axe-core@4"],
        capture_output=True,
        text=True,
        check=False,
        timeout=100,
    )
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    if done.returncode or not script.exists():
        missing(f"npm could not fetch axe-core: {done.stderr[-200:]}")
    return script.read_text(encoding="utf-8")
