"""The player in Chromium, with bursts of sound: in step, in the loop, at every speed, by key and by touch."""

from __future__ import annotations

import pytest
from lickwright.render.handout import handout

from tests.studies import tour

#: Renders what the player would send to the speakers, as fast as it can: onsets of each part in a loop.
RENDER = """async ([name, loop, rate, from, seconds]) => {
  const { player } = handout, sr = player.context.sampleRate;
  const twin = Object.create(Object.getPrototypeOf(player));
  twin.context = new OfflineAudioContext(1, Math.round(seconds * sr), sr);
  twin.gains = { [name]: twin.context.destination };
  const part = player.cache.get(rate)[player.names.indexOf(name)];
  twin.source(name, part, loop, rate, from, 0);
  const data = (await twin.context.startRendering()).getChannelData(0);
  const found = [];
  let quiet = 1e9;
  for (let i = 0; i < data.length; i++) {
    if (Math.abs(data[i]) > 0.12) { if (quiet > 0.04 * sr) found.push(i / sr); quiet = 0; } else quiet++;
  }
  return found;
}"""

#: Records every position that the player shows, and when which event is lit.
LIT = """() => {
  const { player, reader } = handout, light = reader.light.bind(reader);
  const position = player.position.bind(player);
  window.lit = [];
  window.costs = [];
  let last = null, now = null;
  player.position = () => { const at = position(); if (at !== null) { last = now; now = at; } return at; };
  reader.light = (i) => {
    if (i !== reader.lit && i !== null) window.lit.push({ event: i, before: last, at: now });
    const began = performance.now();
    light(i);
    window.costs.push(performance.now() - began);
  };
}"""

#: Onsets of bursts in a channel, in seconds.
ONSETS = """(name) => {
  const rate = handout.player.rate, sr = handout.player.context.sampleRate;
  const data = handout.player.cache.get(rate)[handout.player.names.indexOf(name)];
  const found = [];
  let quiet = 1e9;
  for (let i = 0; i < data.length; i++) {
    if (Math.abs(data[i]) > 0.12) { if (quiet > 0.04 * sr) found.push(i / sr); quiet = 0; } else quiet++;
  }
  return found;
}"""


@pytest.fixture
def player(opened, sounding):
    study, html = sounding
    page = opened(html, reduced_motion="reduce")
    page.page.uncheck("#count-in")
    return study, page


def start(page) -> None:
    page.page.click("#play")
    page.until("handout.player.playing && handout.player.position() !== null")


def test_play_marks_each_event_in_the_first_frame_after_it_sounds(player):
    study, page = player
    page.value(LIT)
    start(page)
    page.until("lit.length >= 6")
    times = {id: begin for id, begin, _ in page.value("handout.player.map.events")}
    for mark in page.value("lit")[1:6]:
        begin = times[study.events[mark["event"]].id]
        assert mark["before"] < begin <= mark["at"]
    costs = sorted(page.value("costs"))
    assert costs[len(costs) // 2] < 4.0  # ms
    assert page.value("document.querySelectorAll('.vf-stavenote.on').length") >= 1
    assert page.value("document.querySelectorAll('.fret.on').length") >= 1
    assert page.value("document.querySelectorAll('.diagram .on, .diagram.on').length") >= 1
    assert page.troubles == []


def test_pausing_and_playing_goes_on_where_it_was(player):
    _, page = player
    start(page)
    page.page.wait_for_timeout(300)
    page.page.click("#play")
    assert not page.value("handout.player.playing")
    start(page)
    assert page.value("handout.player.running.from") > 0.2


def test_a_loop_returns_on_time_and_stays_in_step(player):
    study, page = player
    page.page.select_option("#repeat", label="Lick 1 (A), from bar 1 beat 1 + 1/3")
    a, b = page.value("handout.player.loop")
    start(page)
    clock = 60 / (study.tempo_bpm * 12)
    ticks = {"guitar": [e.onset for e in study.events], "band": [12 * i for i in range(16)]}
    for name, onsets in ticks.items():
        heard = page.value(RENDER, [name, [a, b], 1, a, 5 * (b - a)])
        times = [(48 + t) * clock for t in onsets]
        expected = [t - a + k * (b - a) for k in range(5) for t in times if a - 1e-3 <= t < b - 1e-3]
        assert len(heard) == len(expected)
        assert max(abs(h - t) for h, t in zip(heard, expected, strict=True)) < 0.005


def test_the_mark_goes_round_with_the_loop(player):
    study, page = player
    page.page.select_option("#repeat", label="Lick 1 (A), from bar 1 beat 1 + 1/3")
    page.value(LIT)
    start(page)
    page.until("lit.filter((m) => m.event === 0).length >= 2")
    a, b = page.value("handout.player.loop")
    lit = page.value("lit")
    assert all(a <= m["at"] < b for m in lit)
    assert {m["event"] for m in lit} == {i for i, e in enumerate(study.events) if e.onset < 48}


@pytest.mark.parametrize("speed", ["50", "75", "110"])
def test_a_speed_moves_every_onset_and_keeps_parts_in_step_and_pitch(player, speed):
    study, page = player
    start(page)
    page.page.select_option("#speed", speed)
    page.until(f"handout.player.running && handout.player.running.rate === {int(speed) / 100}")
    rate = int(speed) / 100
    clock = 60 / (study.tempo_bpm * 12)
    guitar = page.value(ONSETS, "guitar")
    for event in study.events:
        t = (48 + event.onset) * clock / rate
        assert min(abs(g - t) for g in guitar) < 0.040
    band = page.value(ONSETS, "band")
    for beat in range(16):
        assert min(abs(g - (48 + 12 * beat) * clock / rate) for g in band) < 0.040
    hertz = page.value(PITCH, [guitar[3]])
    assert abs(hertz - 1500) < 15


#: The frequency of the guitar's burst by its zero crossings, 4 ms after its onset and 16 ms long.
PITCH = """([at]) => {
  const { player } = handout, sr = player.context.sampleRate;
  const data = player.cache.get(player.rate)[0];
  const from = Math.round((at + 0.004) * sr), to = from + Math.round(0.016 * sr);
  const up = [];
  for (let i = from; i < to; i++) {
    if (data[i] < 0 && data[i + 1] >= 0) up.push(i + data[i] / (data[i] - data[i + 1]));
  }
  return (up.length - 1) * sr / (up[up.length - 1] - up[0]);
}"""


def test_a_click_plays_from_a_note_and_a_drag_repeats_a_stretch(player):
    study, page = player
    places = page.page.locator("svg.system .place[role=button]")
    places.nth(4).click()
    page.until("handout.player.playing")
    clock = 60 / (study.tempo_bpm * 12)
    assert page.value("handout.player.running.from") == pytest.approx(
        (48 + study.events[4].onset) * clock, abs=1e-3
    )
    page.page.click("#play")  # nothing scrolls while it is silent
    places.nth(2).scroll_into_view_if_needed()
    first, last = (places.nth(i).bounding_box() for i in (1, 3))
    page.page.mouse.move(first["x"] + 5, first["y"] + 40)
    page.page.mouse.down()
    page.page.mouse.move(last["x"] + 5, last["y"] + 40, steps=6)
    page.page.mouse.up()
    assert page.value("document.getElementById('repeat').value") == "marked"
    a, b = page.value("handout.player.loop")
    assert a == pytest.approx((48 + study.events[1].onset) * clock, abs=1e-3)
    assert b == pytest.approx((48 + study.events[4].onset) * clock, abs=1e-3)
    assert page.value("document.querySelectorAll('.place.chosen').length") == 3


def test_everything_can_be_done_by_keyboard(player):
    _, page = player
    page.page.locator("svg.system .place[tabindex='0']").first.focus()
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowRight", "Shift+ArrowRight"):
        page.page.keyboard.press(key)
    assert page.value("handout.reader.chosen") == [2, 4]
    page.page.keyboard.press("Enter")
    page.until("handout.player.playing")
    page.page.keyboard.press("Escape")
    assert page.value("handout.player.loop") is None
    page.page.locator("#play").focus()
    page.page.keyboard.press("Space")
    assert not page.value("handout.player.playing")
    page.page.locator("#band").focus()
    page.page.keyboard.press("Space")
    assert page.value("handout.player.levels.band") == 0


def test_a_touch_plays_from_a_note(opened, sounding):
    _, html = sounding
    page = opened(html, 390, has_touch=True, is_mobile=True)
    page.page.uncheck("#count-in")
    page.page.locator("svg.system .place[role=button]").nth(2).tap()
    page.until("handout.player.playing")


def test_it_is_counted_in_for_a_bar_at_the_chosen_speed(player):
    study, page = player
    page.page.check("#count-in")
    page.page.click("#play")
    page.until("handout.player.playing")
    wait = page.value("handout.player.running.starts - handout.player.context.currentTime")
    assert 3.0 < wait / (60 / study.tempo_bpm) < 4.2
    assert page.value("handout.player.position()") is None


def test_a_page_without_sound_has_no_player(opened):
    page = opened(handout(tour()))
    assert page.value("document.getElementById('player')") is None
    assert page.troubles == []
