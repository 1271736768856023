"""The page that holds studies side by side, in Chromium: bars aligned, heard in turn without a gap, put in order."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lickwright.guitar.neck import Neck
from lickwright.judge.compare import Asked, compare
from lickwright.render.handout import handout_pdf
from lickwright.render.handout.compare import compare_page
from lickwright.render.sound.page import TogetherSound
from lickwright.study.model import Study
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.browser.ink import TEXT_BOXES, overlaps
from tests.browser.sounds import RATE, burst_sound, bursts, mp3
from tests.studies import tour


def without_bends(study: Study) -> Study:
    events = tuple(replace(e, notes=tuple(replace(n, bend=None) for n in e.notes)) for e in study.events)
    return replace(study, events=events)


def sounding(studies: list[Study]) -> TogetherSound:
    """Bursts at each event, each study's of another pitch, all files of one length."""
    first = burst_sound(studies[0])
    clock = first.time_map
    guitars = []
    for n, study in enumerate(studies):
        times = [clock.origin_s + e.onset * clock.tick_s for e in study.events]
        guitars.append(mp3(bursts(clock.length_s, times, 900.0 + 600 * n)))
    maps = tuple(replace(clock, events=burst_sound(study).time_map.events) for study in studies)
    return TogetherSound(tuple(guitars), first.band_mp3, first.click_mp3, maps)


@pytest.fixture(scope="module")
def studies() -> list[Study]:
    plain = tour(meter="4/4", grid="straight", repeats=2)
    return [plain, tour("C", "4/4", "straight", repeats=2), without_bends(plain)]


@pytest.fixture(scope="module")
def html(studies: list[Study]) -> str:
    asked = [Asked(f"{n}.json", study) for n, study in enumerate(studies, 1)]
    return compare_page(compare(asked), sound=sounding(studies))


LINES = """() => [...document.querySelectorAll('.group')].map((group) =>
  [...group.querySelectorAll('svg.system')].map((svg) => {
    const left = svg.getBoundingClientRect().left;
    return [...svg.querySelectorAll('.bar-line')].map((line) => {
      const box = line.getBoundingClientRect();
      return Math.round(box.left + box.width / 2);
    });
  }))"""


@pytest.mark.parametrize("width", [1100, 390])
def test_the_same_bars_stand_under_one_another(looked_at, html, width):
    page = looked_at(html, width)
    groups = page.value(LINES)
    assert groups
    for rows in groups:
        assert len(rows) == 3
        for row in rows[1:]:
            assert len(row) == len(rows[0])
            assert all(abs(a - b) <= 1 for a, b in zip(row, rows[0], strict=True))
    assert page.value("document.documentElement.scrollWidth <= innerWidth")
    assert page.troubles == []


@pytest.mark.long
@pytest.mark.parametrize("width", [1100, 390])
def test_no_text_of_a_score_stands_on_another(looked_at, html, width):
    page = looked_at(html, width)
    assert overlaps(page.value(TEXT_BOXES)) == []


@pytest.mark.long
def test_every_event_of_every_study_can_be_pressed(looked_at, html, studies):
    page = looked_at(html)
    found = page.value("compare.parts.map(({ state }) => new Set(state.places.map((p) => p.event)).size)")
    assert found == [len(study.events) for study in studies]


def test_what_differs_from_the_first_is_marked(looked_at, html, studies):
    page = looked_at(html)
    marks = page.value("""[...document.querySelectorAll('.row')].map((row) =>
      [row.querySelector('.hear').textContent, row.querySelectorAll('.differs').length])""")
    by_study = {name: sum(n for who, n in marks if who == name) for name in "123"}
    bent = sum(any(n.bend for n in e.notes) for e in studies[0].events)
    assert by_study == {"1": 0, "2": 0, "3": bent}


def start(page) -> None:
    page.page.uncheck("#count-in")
    page.page.click("#play")
    page.until("compare.player.playing && compare.player.position() !== null")


def test_another_study_takes_over_at_the_same_place_without_a_gap(opened, html):
    page = opened(html, reduced_motion="reduce")
    start(page)
    page.until("compare.player.position() > 2.2")
    before, after, same = page.value("""() => {
      const { player } = compare, running = player.running, before = player.position();
      document.body.dispatchEvent(new KeyboardEvent('keydown', { key: '3', bubbles: true }));
      return [before, player.position(), player.running === running];
    }""")
    assert same, "nothing was stopped or started"
    assert 0 <= after - before < 0.02
    assert page.value("compare.voice()") == 2
    assert page.value("document.querySelector('input[name=voice]:checked').value") == "2"
    page.until("Math.abs(compare.player.gains['guitar-3'].gain.value - 1) < 0.01", 2)
    page.until("compare.player.gains['guitar-1'].gain.value < 0.01", 2)
    page.until("document.querySelectorAll('.row.heard .vf-stavenote.on').length > 0")
    assert page.value("[...document.querySelectorAll('.row:not(.heard) .on')].length") == 0
    assert page.value(
        "[...document.querySelectorAll('.row.heard .hear')].every((b) => b.textContent === '3')"
    )


@pytest.mark.long
def test_all_guitars_start_at_the_same_sample(opened, html):
    page = opened(html)
    start(page)
    lengths = page.value("compare.player.cache.get(1).map((part) => part.length)")
    assert len(set(lengths)) == 1
    assert page.value("compare.player.names") == ["guitar-1", "guitar-2", "guitar-3", "band", "click"]
    heard = page.value("""() => compare.player.cache.get(1).slice(0, 3)
      .map((part) => part.findIndex((v) => Math.abs(v) > 0.12))""")
    assert max(heard) - min(heard) < 0.003 * RATE


@pytest.mark.long
def test_the_number_keys_can_be_switched_off(opened, html):
    page = opened(html)
    page.page.uncheck("#digits")
    page.page.keyboard.press("2")
    assert page.value("compare.voice()") == 0
    page.page.check("#digits")
    page.page.keyboard.press("2")
    assert page.value("compare.voice()") == 1


@pytest.mark.long
def test_a_number_before_a_system_plays_that_study_from_there(opened, html):
    page = opened(html, reduced_motion="reduce")
    page.page.uncheck("#count-in")
    page.value("""[...document.querySelectorAll('.hear')]
      .find((b) => b.getAttribute('aria-label') === 'Hear 2 from bar 5').click()""")
    page.until("compare.player.position() !== null")
    assert page.value("compare.voice()") == 1
    bar = page.value("(compare.player.position() - compare.player.map.origin_s) / compare.player.map.tick_s")
    assert 4 * TICKS_PER_BAR - 1 <= bar < 5 * TICKS_PER_BAR


@pytest.mark.long
def test_a_pressed_note_is_that_of_its_own_study(opened, html):
    page = opened(html, reduced_motion="reduce")
    page.page.uncheck("#count-in")
    page.value("compare.parts[1].state.places[3].rect.focus()")
    page.page.keyboard.press("Enter")
    page.until("compare.player.playing && compare.player.position() !== null")
    assert page.value("compare.voice()") == 1


def test_a_measure_puts_columns_and_systems_in_its_order(opened, html):
    page = opened(html)
    orders = """() => {
      const told = (selector, cells) => [...document.querySelectorAll(selector)].map((row) =>
        [...row.querySelectorAll(cells)].map((cell) => cell.textContent).join(''));
      return [told('.measures thead tr', '[data-entry]'), told('.group', '.hear')];
    }"""
    assert {x for row in page.value(orders) for x in row} == {"123"}
    page.page.click("tr[data-scale=bends] .sort")
    assert {x for row in page.value(orders) for x in row} == {"123"}
    page.page.click("tr[data-scale=bends] .sort")
    assert {x for row in page.value(orders) for x in row} == {"312"}
    assert page.value("document.getElementById('order').textContent") == "In the order of: bends, least first"
    assert (
        page.value("document.querySelector('tr[data-scale=bends] .sort').getAttribute('aria-pressed')")
        == "true"
    )
    page.page.click("#given")
    assert {x for row in page.value(orders) for x in row} == {"123"}
    assert page.troubles == []


@pytest.mark.long
def test_each_measure_has_its_sentence(looked_at, html):
    page = looked_at(html)
    sentences = page.value("[...document.querySelectorAll('.measures .sentence')].map((s) => s.textContent)")
    assert len(sentences) == page.value("document.querySelectorAll('.measures .sort').length") > 40
    assert all(s.endswith(".") for s in sentences)


HOSTILE = "</script><script>alert(1)</script><img src=x onerror=alert(1)>"


def test_hostile_names_are_shown_as_text_and_nothing_runs(opened):
    study = replace(tour(), title=HOSTILE)
    page = opened(compare_page(compare([Asked(HOSTILE, study), Asked("b", without_bends(study))])), 390)
    assert page.value("document.querySelector('.entries b').textContent") == HOSTILE
    assert page.value("document.querySelectorAll('img').length") == 0
    assert page.value("document.documentElement.scrollWidth <= innerWidth")
    assert page.troubles == []


@pytest.mark.long
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault(opened, html, axe, scheme):
    page = opened(html, color_scheme=scheme)
    page.value("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    page.value(axe + "; void 0")
    found = page.value(
        "axe.run().then((r) => r.violations.map((v) => [v.impact, v.id, v.nodes[0].html.slice(0, 160)]))"
    )
    assert [v for v in found if v[0] in ("serious", "critical")] == []


@pytest.mark.long
def test_forced_colours_keep_who_is_heard_apart(opened, html):
    page = opened(html, forced_colors="active")
    looks = page.value("""() => ['.row.heard .hear', '.row:not(.heard) .hear'].map((s) => {
      const style = getComputedStyle(document.querySelector(s));
      return [style.borderStyle, style.borderWidth, style.outlineStyle].join(' '); })""")
    assert looks[0] != looks[1]


@pytest.mark.long
def test_paper_has_no_player_and_no_text_on_text(opened, html):
    page = opened(html, 688)
    page.page.emulate_media(media="print")
    page.value("dispatchEvent(new Event('beforeprint'))")
    assert page.value("getComputedStyle(document.getElementById('player')).display") == "none"
    assert overlaps(page.value(TEXT_BOXES)) == []
    torn = page.value("[...document.querySelectorAll('.group')].map((g) => getComputedStyle(g).breakInside)")
    assert set(torn) == {"avoid"}


@pytest.mark.long
def test_it_prints(browser, html, tmp_path):
    handout_pdf(html, tmp_path / "both.pdf")
    assert (tmp_path / "both.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.long
def test_studies_of_other_lengths_meters_and_necks_stand_side_by_side(opened):
    bass = replace(tour("E"), neck=Neck.bass(24))
    low = {n: bass.neck.pitch(n, 0) for n in range(1, 5)}
    events = tuple(
        replace(e, notes=tuple(replace(n, pitch=low[n.string] + n.fret) for n in e.notes if n.string <= 4))
        for e in bass.events
    )
    bass = replace(bass, events=tuple(e for e in events if e.notes))
    long, straight = tour("C", repeats=2), tour("A", "4/4", "straight")
    html = compare_page(compare([Asked("a", long), Asked("b", straight), Asked("c", bass)]))
    page = opened(html, 390)
    assert page.value("document.querySelectorAll('.row').length") == 3 * 4
    assert page.value("document.documentElement.scrollWidth <= innerWidth")
    assert page.troubles == []
