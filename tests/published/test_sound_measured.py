"""A rendered study heard by outside instruments: librosa's pitch trackers and pyloudnorm's meter.

The figures to hold are those of the trade's ear: settled notes within 5 cents, bends within 10, loudness
within 0.5 LU. A control that is 20 cents sharp must be caught, or the instrument is worth nothing.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import librosa
import numpy as np
import pyloudnorm
import pytest
from lickwright.render.sound.clips import recordings, render
from lickwright.render.sound.mix import Settings
from lickwright.study.model import Bend, BendKind, Event, Note, Study, Technique

from tests.render.sound.playing import event, note, with_events
from tests.studies import tour

RATE = 44_100
FRAME, HOP = 4096, 256
#: pyin looks on a grid of 5 cents: half of it is the instrument's own error.
GRID_SEMITONES, GRID_CENTS = 0.05, 2.5
PLAIN_CENTS, BENT_CENTS = 5.0, 10.0


def hertz(pitch: float) -> float:
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


def settled_notes(study: Study) -> Iterator[tuple[Event, Note, float, float, float]]:
    """Single notes long enough to be heard alone: when they have settled (start, end in ticks) and the
    pitch written.

    The pitch is worked out from the score alone: the fret's, and where its bend's curve stands at the
    end. Quarter-tone curls, trills, vibrato and dead notes have no settled written pitch and are left to
    tests of their own.
    """
    for e in study.events:
        n = e.notes[0]
        curl = n.bend is not None and n.bend.size == 1
        if len(e.notes) > 1 or n.muted or n.trill is not None or n.vibrato or curl:
            continue
        curve = n.bend.curve if n.bend else ((0.0, 0.0), (0.0, 0.0), (e.duration, 0.0))
        still_from = max([t for (t, a), (_, b) in zip(curve[1:], curve, strict=False) if a != b], default=0.0)
        yield e, n, e.onset + max(still_from, 1.0), e.end, n.pitch + curve[-1][1] / 2.0


def heard(samples: np.ndarray, study: Study, tracker: str) -> list[tuple[str, bool, float]]:
    """Event id, bent or not, and how many cents the tracker hears the note from the score."""
    found = []
    tick = 60.0 / (study.tempo_bpm * 12)
    for e, n, start, end, pitch in settled_notes(study):
        piece = samples[int((start * tick + 0.03) * RATE) : int((end * tick - 0.02) * RATE)]
        if len(piece) < FRAME + 2 * HOP:
            continue
        limits = {"fmin": hertz(pitch) / 1.6, "fmax": hertz(pitch) * 1.6, "sr": RATE}
        limits |= {"frame_length": FRAME, "hop_length": HOP, "center": False}
        if tracker == "yin":
            f = librosa.yin(piece, **limits)
        else:
            f = librosa.pyin(piece, resolution=GRID_SEMITONES, fill_na=None, **limits)[0]
        found.append((e.id, n.bend is not None, float(1200 * np.log2(np.median(f) / hertz(pitch)))))
    return found


def rendered(study: Study) -> np.ndarray:
    return render(study, recordings(study)[0], Settings(human=False)).samples


def check(study: Study, tracker: str, at_least: int) -> None:
    slack = GRID_CENTS if tracker == "pyin" else 0.0
    found = heard(rendered(study), study, tracker)
    assert len(found) >= at_least
    for name, bent, cents in found:
        assert abs(cents) < (BENT_CENTS if bent else PLAIN_CENTS) + slack, name


def phrase_of_bends() -> Study:
    """Every kind of bend, whole and half steps, each two beats long, with plain notes between."""
    curves = {
        BendKind.BEND: ((0, 0), (6, 1), (24, 1)),
        BendKind.BEND_RELEASE: ((0, 0), (4, 1), (8, 1), (12, 0), (24, 0)),
        BendKind.PRE_BEND: ((0, 1), (24, 1)),
        BendKind.PRE_BEND_RELEASE: ((0, 1), (6, 1), (12, 0), (24, 0)),
    }
    events = []
    for kind, curve in curves.items():
        for size in (2, 4):
            bend = Bend(kind, size, tuple((t, size * v) for t, v in curve))
            onset = 36 * len(events) // 2
            events.append(event(len(events), onset, 24, note(1 + len(events) % 3, 7, bend=bend)))
            events.append(event(len(events), onset + 24, 12, note(4, 7)))
    return dataclasses.replace(with_events(*events), bars=-(-events[-1].end // 48))


@pytest.mark.parametrize("key", ["A", "E", "C"])
def test_each_settled_note_of_a_study_is_heard_where_the_score_has_it(key):
    check(tour(key), "yin", at_least=6)


def test_every_kind_of_bend_is_heard_to_settle_where_the_score_has_it():
    check(phrase_of_bends(), "yin", at_least=16)


def test_a_study_twenty_cents_sharp_is_caught():
    study = tour()
    sharp = librosa.resample(
        rendered(study), orig_sr=RATE, target_sr=RATE * 2 ** (-20 / 1200), res_type="fft"
    )
    squeezed = dataclasses.replace(study, tempo_bpm=study.tempo_bpm * 2 ** (20 / 1200))  # type: ignore[arg-type]
    found = heard(sharp, squeezed, "yin")
    assert len(found) >= 6
    assert min(cents for _, _, cents in found) > PLAIN_CENTS
    assert np.median([cents for _, _, cents in found]) == pytest.approx(20.0, abs=5.0)


@pytest.mark.long
@pytest.mark.parametrize("key", ["A", "Bb", "E", "G", "C", "D"])
def test_the_probabilistic_tracker_hears_the_same(key):
    check(tour(key), "pyin", at_least=6)


@pytest.mark.long
def test_the_probabilistic_tracker_hears_the_bends_where_they_are_written():
    check(phrase_of_bends(), "pyin", at_least=16)


# C. B. Cutting, "Microtonal Analysis of 'Blue Notes' and the Blues Scale", Empirical Musicology Review,
# 2018/19: the clusters lie 319.1 (b3) and 1037.9 (b7) cents above the tonic. The tonic here is A.
@pytest.mark.parametrize(
    ("string", "fret", "cents"), [(1, 8, 319.1), (2, 13, 319.1), (2, 8, 1037.9), (3, 12, 1037.9)]
)
def test_a_curl_is_heard_where_blue_notes_were_measured(string, fret, cents):
    curl = note(string, fret, bend=Bend(BendKind.BEND, 1, ((0, 0), (8, 1), (24, 1))))
    study = dataclasses.replace(with_events(event(1, 0, 24, curl)), bars=1)
    piece = rendered(study)[int(0.9 * RATE) : int(1.9 * RATE)]
    f = float(np.median(librosa.yin(piece, fmin=180, fmax=900, sr=RATE, frame_length=FRAME, hop_length=HOP)))
    above = 1200 * np.log2(f / 440.0)
    assert above % 1200 == pytest.approx(cents, abs=5.0)


def test_a_hammered_and_a_slid_note_are_heard_at_their_new_pitch():
    study = with_events(
        event(1, 0, 12, note(3, 5)),
        event(2, 12, 12, note(3, 7, technique=Technique.HAMMER_ON)),
        event(3, 24, 12, note(3, 9, technique=Technique.SLIDE)),
        event(4, 36, 12, note(3, 7, technique=Technique.PULL_OFF)),
    )
    check(dataclasses.replace(study, bars=1), "yin", at_least=4)


@pytest.mark.parametrize("name", ["study", "study-with-band", "band", "lick-1"])
def test_the_loudness_is_the_one_an_outside_meter_reads(name):
    study = tour()
    wanted = next(r for r in recordings(study, band=True) if r.name == name)
    samples = render(study, wanted).samples
    meter = pyloudnorm.Meter(RATE, filter_class="DeMan")
    assert meter.integrated_loudness(samples.astype(float)) == pytest.approx(-16.0, abs=0.5)
