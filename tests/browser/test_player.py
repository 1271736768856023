"""The player in Chromium, with bursts of sound: in step, in the loop, at every speed, by key and by touch."""

from __future__ import annotations

import pytest

from generator.render.handout import handout
from tests.studies import tour

#: Records what reaches the ear: (context time, loudest sample) of each block, from a tap on the guitar.
TAP = """() => {
  const { player } = handout, ctx = player.context;
  const tap = ctx.createScriptProcessor(256, 1, 1);
  window.heard = [];
  tap.onaudioprocess = (e) => {
    const data = e.inputBuffer.getChannelData(0);
    for (let i = 0; i < data.length; i++) {
      if (Math.abs(data[i]) > 0.12) { window.heard.push(e.playbackTime + i / ctx.sampleRate); break; }
    }
  };
  player.gains.guitar.connect(tap);
  tap.connect(ctx.destination);
}"""

#: Records when which event is lit, in context time as heard.
LIT = """() => {
  const { player, reader } = handout, light = reader.light.bind(reader);
  window.lit = [];
  reader.light = (i) => {
    if (i !== reader.lit && i !== null) window.lit.push([i, player.position(), performance.now()]);
    const began = performance.now(); light(i);
    (window.cost = window.cost || []).push(performance.now() - began);
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
    page = opened(html)
    page.page.uncheck("#count-in")
    return study, page


def start(page) -> None:
    page.page.click("#play")
    page.until("handout.player.playing && handout.player.position() !== null")


def test_play_marks_each_event_when_it_sounds(player):
    study, page = player
    page.value(LIT)
    start(page)
    page.until("lit.length >= 6")
    times = {span["id"]: span["start"] for span in page.value("handout.state && JSON.parse(document.getElementById('model').textContent).sound.events.map(([id, start]) => ({id, start}))")}
    for index, position, _ in page.value("lit")[:6]:
        assert abs(position - times[study.events[index].id]) < 0.040
    assert sorted(page.value("cost"))[len(page.value("cost")) // 2] < 4.0
    assert page.value("document.querySelectorAll('.vf-stavenote.on, .fret.on').length") >= 2
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
    page.value(TAP)
    page.page.wait_for_timeout(int(2.3 * (b - a) * 1000))
    running = page.value("({ starts: handout.player.running.starts, from: handout.player.running.from })")
    heard = page.value("heard")
    clock = 60 / (study.tempo_bpm * 12)
    origin = 48 * clock
    onsets = [origin + e.onset * clock for e in study.events if a <= origin + e.onset * clock < b]
    expected = [running["starts"] + t - running["from"] + k * (b - a) for k in range(3) for t in onsets]
    expected = [t for t in expected if heard[0] <= t <= heard[-1] - 0.05]
    assert len(expected) > len(onsets)
    for t in expected:
        assert min(abs(h - t) for h in heard) < 0.040


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
  for (let i = from; i < to; i++) if (data[i] < 0 && data[i + 1] >= 0) up.push(i + data[i] / (data[i] - data[i + 1]));
  return (up.length - 1) * sr / (up[up.length - 1] - up[0]);
}"""


def test_a_click_plays_from_a_note_and_a_drag_repeats_a_stretch(player):
    study, page = player
    places = page.page.locator("svg.system .place[role=button]")
    places.nth(4).click()
    page.until("handout.player.playing")
    clock = 60 / (study.tempo_bpm * 12)
    assert page.value("handout.player.running.from") == pytest.approx((48 + study.events[4].onset) * clock, abs=1e-3)
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
    study, page = player
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
