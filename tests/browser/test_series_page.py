"""The page of a series in a browser: it opens without a complaint or a request, and its links lead to the numbers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lickwright.render.handout.series_page import Row, series_page

from tests.studies import tour

NASTY = "<script>document.title='taken'</script> & \"Rain\" 'barrel' <b>"


def rows(count: int = 5) -> list[Row]:
    files = (("page", "001/study.html"), ("tab", "001/study.txt"), ("MIDI", "001/study.mid"))
    return [
        Row(
            n,
            replace(tour("Bb"), title=NASTY if n == 2 else f"Rain barrel ({n})", number=n),
            3.4,
            files=files,
        )
        for n in range(1, count + 1)
    ]


@pytest.fixture
def shown(browser, tmp_path):
    """Opens the page at a width; gives the page and what it complained about or asked for."""
    contexts = []

    def show(width: int, **options):
        path: Path = tmp_path / "index.html"
        path.write_text(series_page("Porch <blues>", rows()), encoding="utf-8")
        (tmp_path / "001").mkdir(exist_ok=True)
        (tmp_path / "001" / "study.html").write_text("<title>number one</title>")
        context = browser.new_context(viewport={"width": width, "height": 900}, **options)
        contexts.append(context)
        page, troubles = context.new_page(), []
        page.on("console", lambda m: troubles.append(m.text))
        page.on("pageerror", lambda e: troubles.append(str(e)))
        page.on("request", lambda r: troubles.append(r.url) if r.url != path.as_uri() else None)
        page.goto(path.as_uri())
        return page, troubles

    yield show
    for context in contexts:
        context.close()


@pytest.mark.parametrize("width", [1100, 390])
def test_it_opens_without_a_complaint_and_fits_its_width(shown, width: int) -> None:
    page, troubles = shown(width)
    assert page.title() == "Porch <blues>"
    assert page.locator("tbody tr").count() == 5
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert troubles == []


def test_a_title_is_text_and_never_markup(shown) -> None:
    page, _ = shown(1100)
    assert page.locator("#number-2 th").inner_text() == NASTY
    assert page.locator("th script, th b").count() == 0


def test_the_link_of_a_number_opens_its_page(shown) -> None:
    page, _ = shown(1100)
    page.click("#number-1 th a")
    assert page.title() == "number one"


def test_the_links_are_names_apart_for_those_who_hear_them(shown) -> None:
    page, _ = shown(390)
    names = page.eval_on_selector_all("td.files a", "all => all.map(a => a.getAttribute('aria-label'))")
    assert names[:3] == ["page, No. 1", "tab, No. 1", "MIDI, No. 1"]
