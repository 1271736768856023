"""From a study to strings: what strikes, what joins, what rings on, and when."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from lickwright.render.sound.expression import feeling, velocity
from lickwright.render.sound.performance import perform
from lickwright.render.sound.timemap import Clock
from lickwright.render.sound.voice import MoveShape, StrikeKind
from lickwright.study.model import Bend, BendKind, Grace, Technique

from tests.render.sound.playing import event, note, with_events
from tests.studies import tour

AT_60 = Clock(60.0)


def played(*events, human=False, clock=AT_60, **more):
    return perform(with_events(*events, **more), clock, human=human)


def test_a_note_starts_at_its_tick_and_ends_with_its_length():
    (voice,) = played(event(1, 12, 6, note(2, 5)))
    assert (voice.start_s, voice.end_s) == (pytest.approx(1.0), pytest.approx(1.5))


def test_swing_sounds_where_the_ticks_say():
    voices = played(event(1, 0, 8, note(2, 5)), event(2, 8, 4, note(2, 8)), tempo_bpm=60)
    assert voices[1].start_s == pytest.approx(2 / 3)


def test_half_speed_doubles_every_time():
    voices = played(event(1, 12, 6, note(2, 5)), clock=Clock(60.0, 0.5))
    assert voices[0].start_s == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("technique", "kind"), [(Technique.HAMMER_ON, StrikeKind.HAMMER), (Technique.PULL_OFF, StrikeKind.PULL)]
)
def test_legato_goes_on_with_the_sounding_string(technique, kind):
    first, second = (5, 7) if technique is Technique.HAMMER_ON else (7, 5)
    (voice,) = played(event(1, 0, 6, note(3, first)), event(2, 6, 6, note(3, second, technique=technique)))
    assert [s.kind for s in voice.strikes] == [StrikeKind.PICK, kind]
    assert voice.strikes[1].at_s == pytest.approx(0.5)
    assert voice.pitch_at(np.array([0.4, 0.6])) == pytest.approx([55 + first, 55 + second])


def test_a_slide_is_not_struck_again_and_arrives_at_its_onset():
    (voice,) = played(event(1, 0, 6, note(3, 5)), event(2, 6, 6, note(3, 9, technique=Technique.SLIDE)))
    assert len(voice.strikes) == 1
    assert voice.pitch_at(np.array([0.4, 0.5])) == pytest.approx([60, 64])


def test_after_a_rest_a_slide_is_struck_from_below():
    voices = played(event(1, 0, 6, note(3, 5)), event(2, 12, 6, note(3, 9, technique=Technique.SLIDE)))
    assert len(voices) == 2
    assert voices[1].pitch_at(np.array([1.0, 1.3])) == pytest.approx([62, 64])


def test_a_tied_note_is_not_struck_again():
    (voice,) = played(event(1, 0, 6, note(3, 5)), event(2, 6, 6, note(3, 5, tied=True)))
    assert len(voice.strikes) == 1
    assert voice.end_s == pytest.approx(1.0)


def test_a_string_struck_again_stops_what_it_sounded():
    first, second = played(event(1, 0, 6, note(3, 5), ring=24), event(2, 6, 6, note(3, 7)))
    assert first.end_s == pytest.approx(second.start_s)


def test_a_ringing_grip_sounds_on_under_a_lick_on_other_strings():
    grip = event(1, 0, 6, note(4, 5), note(3, 6), note(2, 5), slot=1, grip="b7-3-5", ring=18)
    voices = played(grip, event(2, 12, 6, note(1, 5)))
    assert [v.end_s for v in voices if v.string != 1] == pytest.approx([2.0, 2.0, 2.0])


def test_a_strum_goes_over_the_strings_in_milliseconds_and_begins_on_time():
    grip = (note(4, 5), note(3, 6), note(2, 5))
    down = played(event(1, 12, 6, *grip, slot=1, grip="b7-3-5"))
    up = played(event(1, 16, 6, *grip, slot=1, grip="b7-3-5"))
    assert [v.string for v in down] == [4, 3, 2]
    assert [v.string for v in up] == [2, 3, 4]
    assert down[0].start_s == pytest.approx(1.0)
    assert 0.005 < down[-1].start_s - down[0].start_s < 0.03


def test_a_staccato_stab_is_short():
    (stab, *_) = played(
        event(1, 0, 12, note(4, 5), note(3, 6), note(2, 5), slot=1, grip="b7-3-5", staccato=True)
    )
    assert stab.end_s < 0.2


def test_a_dead_note_is_deadened_at_once():
    (voice,) = played(event(1, 0, 4, note(4, 5, muted=True)))
    assert voice.strikes[0].kind is StrikeKind.DEAD
    assert voice.dampings[0].at_s == voice.start_s
    assert voice.dampings[0].t60_s < 0.1


@pytest.mark.parametrize("technique", [Technique.HAMMER_ON, Technique.SLIDE])
def test_a_grace_note_is_struck_at_the_onset_and_left_at_once(technique):
    (voice,) = played(event(1, 12, 12, note(3, 6, grace=Grace(5, 1, technique))))
    assert voice.start_s == pytest.approx(1.0)
    assert voice.pitch_at(np.array([1.005, 1.08])) == pytest.approx([60, 61])


def test_a_trill_goes_up_and_down_and_ends_where_it_began():
    (voice,) = played(event(1, 0, 12, note(3, 5, trill=6)))
    kinds = [s.kind for s in voice.strikes[1:]]
    assert len(kinds) >= 8
    assert kinds[::2] == [StrikeKind.HAMMER] * (len(kinds) // 2)
    assert kinds[1::2] == [StrikeKind.PULL] * (len(kinds) // 2)
    assert voice.pitch_at(np.array([0.99])) == pytest.approx([60])


CURVES = {
    BendKind.BEND: (((0, 0), (4, 4), (12, 4)), 60, 62),
    BendKind.BEND_RELEASE: (((0, 0), (3, 4), (6, 4), (9, 0), (12, 0)), 60, 60),
    BendKind.PRE_BEND: (((0, 4), (12, 4)), 62, 62),
    BendKind.PRE_BEND_RELEASE: (((0, 4), (4, 4), (8, 0), (12, 0)), 62, 60),
}


@pytest.mark.parametrize("kind", BendKind)
def test_every_kind_of_bend_starts_and_ends_where_it_is_written(kind):
    curve, start, end = CURVES[kind]
    (voice,) = played(event(1, 0, 12, note(3, 5, bend=Bend(kind, 4, curve))))
    assert voice.pitch_at(np.array([0.001, 0.99])) == pytest.approx([start, end], abs=0.01)
    assert all(m.shape is MoveShape.BEND for m in voice.moves)


def test_a_long_bend_takes_no_longer_than_a_hand_does():
    (voice,) = played(event(1, 0, 48, note(3, 5, bend=Bend(BendKind.BEND, 4, ((0, 0), (16, 4), (48, 4))))))
    assert voice.moves[0].end_s < 0.4


# Cutting 2018/19: clusters at 319.1 and 1037.9 cents above the tonic (tonic A here); elsewhere half of a
# half step.
@pytest.mark.parametrize(("fret", "cents"), [(8, 319.1), (15, 1037.9), (10, 550.0)])
def test_a_quarter_tone_curl_goes_where_blue_notes_were_measured(fret, cents):
    curl = note(1, fret, bend=Bend(BendKind.BEND, 1, ((0, 0), (4, 1), (12, 1))))
    study = with_events(event(1, 0, 12, curl))
    (voice,) = perform(study, AT_60, human=False)
    above_tonic = 100.0 * (float(voice.pitch_at(np.array([0.9]))[0]) - 69.0)
    assert above_tonic == pytest.approx(cents)


def test_vibrato_rises_on_a_fret_and_falls_from_a_bend():
    bend = Bend(BendKind.BEND, 4, ((0, 0), (4, 4), (24, 4)))
    (plain,) = played(event(1, 0, 24, note(3, 5, vibrato=True)))
    (bent,) = played(event(1, 0, 24, note(3, 5, vibrato=True, bend=bend)))
    times = np.linspace(0.6, 1.9, 500)
    assert plain.pitch_at(times).min() >= 60.0
    assert bent.pitch_at(times).max() <= 62.0 + 1e-9


def test_human_timing_is_small_the_same_each_time_and_can_be_switched_off():
    study = tour()
    exact = perform(study, AT_60, human=False)
    loose, again = perform(study, AT_60), perform(study, AT_60)
    assert loose == again
    assert loose != exact
    late = [feeling(study, e, human=True).late_s for e in study.events]
    assert max(map(abs, late)) <= 0.012
    assert len(set(late)) == len(late)
    other = dataclasses.replace(study, brief=dataclasses.replace(study.brief, seed=2))
    assert perform(other, AT_60) != loose


def test_a_lick_leans_on_the_first_beat_and_the_comping_on_the_second():
    study = with_events()
    assert velocity(study, event(1, 0, 4, note(1, 5))) > velocity(study, event(2, 4, 4, note(1, 5)))
    stab = (note(4, 5), note(3, 6), note(2, 5))
    assert velocity(study, event(1, 12, 4, *stab, grip="g")) > velocity(
        study, event(2, 0, 4, *stab, grip="g")
    )


@pytest.mark.parametrize("meter_grid", [("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight")])
@pytest.mark.parametrize("key", ["A", "E", "Bb"])
def test_every_event_of_a_study_is_heard_at_its_time(key, meter_grid):
    study = tour(key, *meter_grid)
    clock = Clock(study.tempo_bpm)
    voices = perform(study, clock, human=False)
    heard = sorted(s.at_s for v in voices for s in v.strikes) + [m.end_s for v in voices for m in v.moves]
    for e in study.events:
        assert min(abs(clock.at(e.onset) - t) for t in heard) < 0.002, e.id
    for v in voices:
        assert v.end_s > v.start_s >= 0.0
