"""No title runs anything in a browser, on any page."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.robust.test_titles import PAGES, page_of
from tests.robust.titles import TITLES

BAD = " ".join(t for t in TITLES if "<" in t or "{" in t or '"' in t)


@pytest.mark.parametrize("kind", PAGES)
def test_nothing_in_a_title_runs_or_is_asked_for(browser, tmp_path: Path, kind: str) -> None:
    path, troubles = tmp_path / "page.html", []
    path.write_text(page_of(kind, BAD), encoding="utf-8")
    page = browser.new_page()
    page.on("console", lambda m: troubles.append(m.text))
    page.on("pageerror", lambda e: troubles.append(str(e)))
    page.on("dialog", lambda d: (troubles.append(d.message), d.dismiss()))
    page.on("request", lambda r: troubles.append(r.url) if not r.url.startswith(("file:", "data:")) else None)
    page.goto(path.as_uri())
    if kind != "series":
        page.wait_for_selector("html[data-ready]")
    assert troubles == []
    assert page.title() != "taken"
    assert page.locator("iframe, base, h1 script, h1 img, a[href^='javascript']").count() == 0
    assert (
        page.evaluate("document.querySelectorAll('[onload],[onerror],[onmouseover],[onfocus]').length") == 0
    )
    page.close()
