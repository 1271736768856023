"""The band: the bass on the form's roots, the drums in the feel, a bar counted in, a click, a close with
the guitar.
"""

from __future__ import annotations

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from lickwright.render.sound.band import (
    band_sound,
    bass_note,
    bass_part,
    click_track,
    count_in,
    drum_part,
    ending_tick,
)
from lickwright.render.sound.bassline import HIGHEST, LOWEST, bass_line, merged
from lickwright.render.sound.drums import Drum, stroke
from lickwright.render.sound.strings import SAMPLE_RATE
from lickwright.render.sound.timemap import Clock
from lickwright.study.model import ChordSpan

from tests.render.sound.trackers import RATE, band_level, cents, frequency_near, hertz, onset_s
from tests.studies import tour

FEELS = {"slow 12/8": "triplet", "shuffle": "triplet", "straight": "straight", "rhumba": "straight"}


def in_feel(feel: str, key: str = "A"):
    return dataclasses.replace(tour(key, grid=FEELS[feel], repeats=3), feel=feel)


@pytest.mark.parametrize("feel", FEELS)
@pytest.mark.parametrize("key", ["A", "E", "Eb", "F#"])
def test_the_bass_plays_the_root_where_a_chord_begins(feel, key):
    study = in_feel(feel, key)
    at = {n.tick: n.pitch for n in bass_line(study)}
    for span in merged(study.form):
        assert at[span.onset] % 12 == study.chord(span.roman).root_pc, span


@pytest.mark.parametrize("feel", FEELS)
def test_the_bass_stays_on_its_neck_and_never_overlaps_itself(feel):
    for key in ("E", "F", "Ab", "B"):
        notes = bass_part(in_feel(feel, key))
        assert all(LOWEST <= n.pitch <= HIGHEST for n in notes)
        assert all(a.tick + a.duration <= b.tick for a, b in pairwise(notes))


@pytest.mark.parametrize("feel", FEELS)
def test_before_a_new_root_the_bass_leads_there_by_a_half_step(feel):
    study = in_feel(feel)
    notes = bass_line(study)
    spans = [s for s in merged(study.form) if s.duration >= 24]
    for span in spans[:-1]:
        end = span.onset + span.duration
        last = max((n for n in notes if n.tick < end), key=lambda n: n.tick)
        first = next(n for n in notes if n.tick == end)
        assert abs(last.pitch - first.pitch) == 1


def test_over_a_minor_chord_the_bass_plays_its_third():
    study = dataclasses.replace(in_feel("shuffle"), form=(ChordSpan(0, 12 * 48, "im7"),))
    pitches = {n.pitch % 12 for n in bass_line(study)}
    assert 0 in pitches  # C, the minor third of A
    assert 1 not in pitches


@pytest.mark.parametrize(
    ("feel", "ticks"),
    [("slow 12/8", {0, 4, 8}), ("shuffle", {0, 8}), ("straight", {0, 6}), ("rhumba", {0, 6})],
)
def test_the_hi_hat_stands_on_the_feels_own_grid(feel, ticks):
    hats = [h.tick % 12 for h in drum_part(in_feel(feel)) if h.drum is Drum.HAT]
    assert set(hats) == ticks


@pytest.mark.parametrize("feel", ["slow 12/8", "shuffle", "straight"])
def test_the_snare_answers_on_two_and_four(feel):
    snares = {
        h.tick % 48 for h in drum_part(in_feel(feel), 0, 3 * 48) if h.drum is Drum.SNARE and h.velocity > 0.5
    }
    assert snares == {12, 36}


def test_the_last_phrase_rides():
    hits = drum_part(in_feel("shuffle"))
    assert not any(h.drum is Drum.RIDE for h in hits if h.tick < 8 * 48)
    assert any(h.drum is Drum.RIDE for h in hits if h.tick >= 8 * 48)


def test_the_band_closes_with_the_guitar_and_rings():
    study = in_feel("slow 12/8")
    stop = ending_tick(study)
    assert stop == study.events[-1].onset
    assert max(h.tick for h in drum_part(study)) == stop
    assert bass_part(study)[-1].tick == stop


def test_a_study_that_turns_round_is_played_to_its_end():
    study = in_feel("shuffle")
    last = dataclasses.replace(study.events[-1], chord="V7")
    study = dataclasses.replace(study, events=(*study.events[:-1], last))
    assert ending_tick(study) is None
    assert max(h.tick for h in drum_part(study)) > study.ticks - 12


def test_a_bar_is_counted_in_on_four_beats():
    assert [h.tick for h in count_in(0)] == [-48, -36, -24, -12]


def test_the_click_has_another_sound_on_the_first_beat():
    hits = click_track(0, 96)
    assert [h.tick for h in hits] == list(range(0, 96, 12))
    assert [h.drum is Drum.CLICK_ONE for h in hits] == [True, False, False, False] * 2


@pytest.mark.parametrize("click", [False, True])
def test_counted_beats_sound_within_two_milliseconds(click):
    study = in_feel("slow 12/8")
    clock = Clock(60.0, 1.0, 4.0)
    sound = band_sound(study, clock, 0, study.ticks, 8.0, click, True)
    for beat in range(5, 8) if click else range(1, 4):
        assert onset_s(sound, float(beat)) == pytest.approx(beat, abs=0.002)


@pytest.mark.parametrize("pitch", [28, 33, 40, 45])
def test_the_bass_is_in_tune(pitch):
    sound = bass_note(pitch, 1.0)
    assert abs(cents(frequency_near(sound, 0.4, hertz(pitch), 0.3), pitch)) < 5.0


@pytest.mark.parametrize("drum", Drum)
def test_every_stroke_is_finite_ends_in_silence_and_does_not_clip(drum):
    for take in range(4):
        sound = stroke(drum, take)
        assert np.isfinite(sound).all()
        assert abs(sound[-1]) < 1e-3
        assert 0.05 < np.abs(sound).max() < 1.2


def test_each_drum_lies_where_its_kind_lies():
    # Common practice, no source: a kick's weight is below 150 Hz, a snare has both body and wires,
    # cymbals are high.
    kick, snare, hat, ride = (
        np.pad(stroke(d), (0, RATE))[:RATE] for d in (Drum.KICK, Drum.SNARE, Drum.HAT, Drum.RIDE)
    )
    assert band_level(kick, 30, 150) > band_level(kick, 150, 20_000) + 3.0
    assert abs(band_level(snare, 120, 600) - band_level(snare, 1500, 9000)) < 10.0
    assert band_level(hat, 3000, 16_000) > band_level(hat, 30, 2000) + 15.0
    assert band_level(ride[RATE // 2 :], 300, 13_000) > band_level(hat[RATE // 2 :], 300, 13_000) + 20.0


def test_two_strokes_in_a_row_are_not_the_same():
    assert not np.array_equal(stroke(Drum.SNARE, 0), stroke(Drum.SNARE, 1))
    assert len(stroke(Drum.KICK)) < SAMPLE_RATE
