"""The drawn page in Chromium: every note once, no text on text, arrows that reach, breaks at phrases."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from lickwright.render.handout import handout
from lickwright.study.model import Technique
from lickwright.theory.harmony import KEY_NAMES

from tests.browser.ink import TIPS, faults
from tests.studies import bend, tour
from tests.sweeps import some

METERS = [("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight")]


@pytest.mark.parametrize("width", [1100, 390])
@pytest.mark.parametrize(("meter", "grid"), METERS)
def test_a_page_draws_every_note_once_and_nothing_on_top_of_text(looked_at, meter, grid, width):
    study = tour("Bb", meter, grid, repeats=3)
    assert faults(looked_at(handout(study), width), study) == []


@pytest.mark.parametrize("key", ["A", "Db", "F#"])
def test_spelling_leaves_room_in_keys_with_many_signs(opened, key):
    study = tour(key, repeats=2)
    assert faults(opened(handout(study), 800), study) == []


@pytest.mark.long
@pytest.mark.parametrize("key", some(KEY_NAMES, 4))
@pytest.mark.parametrize(("meter", "grid"), METERS)
def test_all_keys_and_meters_at_three_widths(opened, key, meter, grid):
    study = tour(key, meter, grid, repeats=3)
    html = handout(study)
    for width in (1100, 700, 390):
        assert faults(opened(html, width), study) == []


def test_every_bend_has_an_arrow_and_every_release_comes_down(looked_at):
    study = tour(repeats=1)
    page = looked_at(handout(study))
    tips = page.value(TIPS)
    bends = [n for _, n in study.notes() if n.bend]
    assert sum(t["up"] for t in tips) == len(bends)
    assert sum(not t["up"] for t in tips) == sum("release" in n.bend.kind for n in bends)


def test_systems_break_at_phrases_and_hold_fewer_bars_on_a_narrow_page(looked_at):
    html = handout(tour("Bb", repeats=3))
    spans = "[...document.querySelectorAll('svg.system')].map((s) => [+s.dataset.from, +s.dataset.to])"
    for width, most in ((1100, 4), (390, 1)):
        cuts = looked_at(html, width).value(spans)
        assert {4, 8, 12} <= {end for _, end in cuts}
        assert max(b - a for a, b in cuts) <= most


def test_equal_notes_are_equally_spaced_over_a_system(opened):
    # Sixteen equal eighths over two bars, alternating so that no sign needs more room than another.
    study = tour(meter="4/4", grid="straight")
    first = study.events[0]
    events = tuple(replace(first, id=f"n{i}", onset=6 * i, duration=6) for i in range(16))
    study = replace(study, events=events)
    page = opened(handout(study), 1100)
    xs = page.value(
        "[...document.querySelectorAll('svg.system')[0].querySelectorAll('[data-note]')]"
        ".map((t) => +t.getAttribute('x'))"
    )
    gaps = [b - a for i, (a, b) in enumerate(pairwise(xs)) if i != 7]
    assert max(gaps) - min(gaps) < 0.1


def test_a_technique_across_a_system_break_is_drawn_in_both_halves(opened):
    # One bar a system on a narrow page: a bend held over the bar line, and a slide over another.
    study = tour(meter="4/4", grid="straight", repeats=1)
    e = {x.id: x for x in study.events}
    held = replace(
        e["e3"], onset=36, duration=24, notes=(replace(e["e3"].notes[0], bend=bend("bend-release", 4, 24)),)
    )
    low = replace(e["e5"], id="x1", onset=84, duration=12)
    slid = replace(e["e6"], id="x2", onset=96, duration=12, slot=low.slot)
    assert slid.notes[0].technique is Technique.SLIDE
    busy = [replace(e["e1"], id=f"b{i}", onset=144 + 3 * i, duration=3, slot=3) for i in range(16)]
    study = replace(study, events=(held, low, slid, *busy))
    page = opened(handout(study), 300)
    dashes = page.value(
        "[...document.querySelectorAll('svg.system')].map((s) => s.querySelectorAll('.dashed').length)"
    )
    slides = page.value(
        "[...document.querySelectorAll('svg.system')].map((s) => s.querySelectorAll('.tab .slide').length)"
    )
    ties = page.value(
        "[...document.querySelectorAll('svg.system')].map((s) => s.querySelectorAll('.tie').length)"
    )
    assert dashes[0] == 1
    assert ties[:2] == [1, 1]
    assert slides[1:3] == [1, 1]
    assert page.value("document.querySelectorAll('.release-tip').length") == 1
    assert page.troubles == []


def test_printing_lays_out_for_paper_and_back(opened):
    page = opened(handout(tour(repeats=2)), 1100)
    before = page.value("document.querySelector('svg.system').getAttribute('width')")
    page.value("dispatchEvent(new Event('beforeprint'))")
    scale = "document.querySelector('svg.system').getScreenCTM().d"
    size = page.value(
        f"{scale} * parseFloat(document.querySelector('[data-note]').getAttribute('font-size')) * 0.75"
    )
    assert size >= 7.0  # points: a CSS pixel is 3/4 of a point
    page.value("dispatchEvent(new Event('afterprint'))")
    assert page.value("document.querySelector('svg.system').getAttribute('width')") == before
