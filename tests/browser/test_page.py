"""The page as a whole in Chromium: what it refuses to run, who can use it, what comes out of the printer."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from lickwright.render.handout import handout, handout_pdf
from lickwright.render.words.terms import plain

from tests.browser.ink import TEXT_BOXES, overlaps
from tests.studies import tour

#: Titles that are as bad one after another as each alone, and titles that each need a page.
PLAIN = [
    "<img src=x onerror=alert(1)>",
    "\"><svg onload=alert(1)> ' & </title>",
    "</script><script>alert(1)</script>",
    "{{ 7 * 7 }} {% raw %}",
]
OTHERS = [
    "<!--<script>",
    "שיר \u202e‮of the right\u2028hand",
    "x" * 300,
]


@pytest.mark.parametrize(
    "title", [" ".join(PLAIN), *OTHERS, *(pytest.param(title, marks=pytest.mark.long) for title in PLAIN)]
)
def test_a_hostile_title_is_shown_as_text_and_nothing_runs(opened, title):
    page = opened(handout(replace(tour(), title=title)), 390)
    assert page.value("document.querySelector('h1').textContent") == plain(title)
    assert page.value("document.querySelectorAll('h1 *, img').length") == 0
    assert page.value("document.documentElement.scrollWidth <= innerWidth")
    assert page.troubles == []


def test_the_policy_stops_what_was_not_made_with_the_page(opened):
    html = handout(tour()).replace(
        "</main>", "<script>document.title = 'run'</script><img src='http://127.0.0.1:9/x'></main>"
    )
    page = opened(html)
    assert page.value("document.title") != "run"
    refused = [t for t in page.troubles if "Content Security Policy" in t]
    assert any("script" in t for t in refused)
    assert any("127.0.0.1:9/x" in t for t in refused)


def test_left_handed_diagrams_are_shown_at_a_switch(opened):
    page = opened(handout(tour()))
    shown = "getComputedStyle(document.querySelector('.left-hand')).display !== 'none'"
    assert not page.value(shown)
    page.page.check("#left-handed")
    assert page.value(shown)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_ink_stands_out_from_paper(looked_at, scheme):
    # WCAG 2.2, 1.4.3: text 4.5 to 1, formula of relative luminance from the same standard.
    page = looked_at(handout(tour()), color_scheme=scheme)
    ratio = page.value("""() => {
      const light = (css) => { const [r, g, b] = css.match(/[\\d.]+/g).map((v) => v / 255)
          .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
        return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
      const paper = light(getComputedStyle(document.documentElement).backgroundColor);
      return [...document.querySelectorAll('svg.system text')].map((t) => light(getComputedStyle(t).fill))
        .map((ink) => (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05));
    }""")
    assert min(ratio) >= 4.5


def test_reduced_motion_jumps_instead_of_gliding(opened, sounding):
    _, html = sounding
    page = opened(html, 390, 500, reduced_motion="reduce")
    page.value(
        """() => { window.how = [];
          Element.prototype.scrollIntoView = function (o) { how.push(o.behavior); }; }"""
    )
    page.value("handout.reader.light(5)")
    assert page.value("how") == ["auto"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault(opened, sounding, axe, scheme):
    _, html = sounding
    page = opened(html, color_scheme=scheme)
    page.value("document.querySelector('details').open = true")
    page.value(axe + "; void 0")
    found = page.value(
        "axe.run().then((r) => r.violations.map((v) => [v.impact, v.id, v.nodes[0].html.slice(0, 160)]))"
    )
    assert [v for v in found if v[0] in ("serious", "critical")] == []


@pytest.mark.parametrize(
    ("paper", "width", "height"), [("a4", 595, 842), pytest.param("letter", 612, 792, marks=pytest.mark.long)]
)
def test_twelve_bars_print_on_the_expected_pages(browser, tmp_path, paper, width, height):
    target = tmp_path / "study.pdf"
    study = replace(tour(meter="4/4", grid="straight", repeats=3), title="On paper")
    handout_pdf(handout(study), target, paper=paper)
    data = target.read_bytes()
    boxes = re.findall(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {(width, height)}
    assert len(boxes) in (2, 3)


def test_paper_has_no_player_and_no_text_on_text(opened, sounding):
    _, html = sounding
    page = opened(html, 688)
    page.page.emulate_media(media="print")
    page.value("dispatchEvent(new Event('beforeprint'))")
    assert page.value("getComputedStyle(document.getElementById('player')).display") == "none"
    assert overlaps(page.value(TEXT_BOXES)) == []
    torn = page.value("[...document.querySelectorAll('.phrase')].map((p) => getComputedStyle(p).breakInside)")
    assert set(torn) == {"avoid"}


def test_a_page_with_sound_stays_small_enough_to_mail(sounding):
    # The engraver and its fonts take 0.7 MB; a study of 55 s as rendered adds 1.0 to 1.3 MB.
    _, html = sounding
    assert len(html.encode()) < 2_500_000
    assert json.loads(re.search(r'id="model">(.*?)</script>', html, re.S)[1])["sound"]["events"]
