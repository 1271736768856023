"""The string: in tune everywhere, exact in its bends, legato without a pick, ringing as long as it should."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from lickwright.render.sound.strings import SAMPLE_RATE, render_voice, stiffness
from lickwright.render.sound.voice import Damping, Move, MoveShape, Strike, StrikeKind, Vibrato, Voice

from tests.render.sound.playing import voice
from tests.render.sound.trackers import (
    RATE,
    band_level,
    cents,
    frequency_near,
    hertz,
    period_pitch,
    pitch_curve,
    t60_s,
    vibrato_of,
)


def errors_over_the_neck(detuned_cents: float = 0.0) -> list[tuple[float, float]]:
    """Deviations by both trackers for every fourth place of the neck, all strings and 24 frets in turn."""
    found = []
    for place in range(0, 150, 4):
        string, fret = place // 25 + 1, place % 25
        played = voice(string, fret)
        pitch = played.pitch
        played = dataclasses.replace(played, pitch=pitch + detuned_cents / 100.0)
        sound = render_voice(played)
        low = cents(frequency_near(sound, 0.3, hertz(pitch)), pitch)
        found.append((low, cents(period_pitch(sound, 0.3, hertz(pitch)), pitch)))
    return found


def test_plain_notes_are_within_five_cents_over_the_neck():
    assert np.abs(errors_over_the_neck()).max() < 5.0


def test_a_neck_twenty_cents_sharp_is_caught():
    assert np.min(errors_over_the_neck(20.0)) > 5.0


@pytest.mark.long
@pytest.mark.parametrize("string", range(1, 7))
def test_plain_notes_are_within_five_cents_on_every_fret(string):
    for fret in range(25):
        played = voice(string, fret)
        sound = render_voice(played)
        assert abs(cents(frequency_near(sound, 0.3, hertz(played.pitch)), played.pitch)) < 5.0
        assert abs(cents(period_pitch(sound, 0.3, hertz(played.pitch)), played.pitch)) < 5.0


@pytest.mark.parametrize(
    ("string", "fret", "semitones"), [(1, 8, 2), (2, 8, 2), (2, 15, 2), (3, 7, 2), (3, 9, 1), (1, 12, 0.5)]
)
def test_a_bend_settles_within_ten_cents(string, fret, semitones):
    plain = voice(string, fret, 1.4)
    there = plain.pitch + semitones
    bent = dataclasses.replace(
        plain, moves=(Move(0.1, 0.4, plain.pitch, there, MoveShape.BEND, plain.pitch),)
    )
    sound = render_voice(bent)
    assert abs(cents(frequency_near(sound, 0.9, hertz(there)), there)) < 10.0
    assert abs(cents(period_pitch(sound, 0.9, hertz(there)), there)) < 10.0


def test_a_bend_starts_softly_and_never_overshoots():
    bent = voice(2, 8, 1.0, moves=(Move(0.2, 0.5, 67, 69, MoveShape.BEND, 67),))
    pitch = bent.pitch_at(np.linspace(0.0, 1.0, 2001))
    steps = np.diff(pitch)
    assert pitch[0] == 67
    assert pitch[-1] == pytest.approx(69)
    assert steps.min() >= 0
    assert (
        pitch[500] < 67.05
    )  # a sixth of the way in time, hardly any in pitch: the stretch goes with the square


def test_a_slide_goes_over_the_frets_and_arrives_on_time():
    slid = voice(4, 5, 1.0, moves=(Move(0.3, 0.5, 55, 59, MoveShape.FRETS, 59),))
    pitch = slid.pitch_at(np.array([0.29, 0.325, 0.375, 0.425, 0.5, 0.8]))
    assert pitch == pytest.approx([55, 55, 56, 57, 59, 59], abs=0.51)
    assert pitch[-2] == pytest.approx(59)


@pytest.mark.parametrize(
    ("string", "fret", "depth", "rate"), [(3, 7, 42.0, 5.4), (1, 12, 60.0, 6.0), (2, 10, 30.0, 5.0)]
)
def test_vibrato_has_the_depth_and_rate_asked_for_and_only_rises(string, fret, depth, rate):
    shaken = voice(string, fret, 2.0, vibratos=(Vibrato(0.2, 2.0, depth, rate),))
    curve = pitch_curve(render_voice(shaken), shaken.pitch)
    found_rate, found_depth, middle = vibrato_of(curve, 0.45, 1.8)
    assert found_depth == pytest.approx(depth, rel=0.05)
    assert found_rate == pytest.approx(rate, abs=0.1)
    assert middle == pytest.approx(depth / 2, abs=4.0)


# Bounds by register for a solid electric guitar, orders of magnitude from memory: low strings about ten
# seconds, the middle five to nine, high frets two to five.
@pytest.mark.parametrize(
    ("string", "fret", "least", "most"),
    [
        (6, 0, 8, 14),
        (5, 2, 7, 13),
        (4, 2, 6, 12),
        (3, 2, 5.5, 10),
        (2, 3, 5, 9),
        (1, 5, 4, 8),
        (1, 12, 3, 6.5),
        (1, 20, 2, 5),
    ],
)
def test_a_string_rings_as_long_as_its_register_does(string, fret, least, most):
    assert least < t60_s(render_voice(voice(string, fret, 9.0))[: 9 * RATE]) < most


def test_high_partials_die_before_low_ones():
    sound = render_voice(voice(5, 3, 3.0))
    early, late = sound[2000 : 2000 + RATE // 2], sound[2 * RATE : 2 * RATE + RATE // 2]
    fall_low = band_level(early, 100, 300) - band_level(late, 100, 300)
    fall_high = band_level(early, 2000, 4000) - band_level(late, 2000, 4000)
    assert fall_high > fall_low + 20.0


def test_partials_are_sharp_by_the_published_order_of_magnitude():
    # Inharmonicity coefficients of guitar strings are of the order 1e-5 to 2e-4 (order from memory; the
    # formula is Fletcher's)
    assert all(1e-5 < stiffness(string, 0) < 2e-4 for string in range(1, 7))
    open_sixth = voice(6, 0, 1.0)
    sound = render_voice(open_sixth)
    f1 = frequency_near(sound, 0.4, hertz(40), 0.3)
    f10 = frequency_near(sound, 0.4, 10 * hertz(40), 0.3)
    b = stiffness(6, 0)
    assert f10 / f1 == pytest.approx(10 * np.sqrt((1 + 100 * b) / (1 + b)), rel=3e-4)


@pytest.mark.parametrize("kind", [StrikeKind.HAMMER, StrikeKind.PULL])
def test_a_legato_note_has_no_pick_in_it(kind):
    first, second = (60, 62) if kind is StrikeKind.HAMMER else (62, 60)
    joined = Voice(
        3, first - 55, first, 0.0, 1.0,
        (Strike(0.0, StrikeKind.PICK, 0.8), Strike(0.5, kind, 0.55)),
        (Move(0.497, 0.503, first, second, MoveShape.STEP, second),),
    )  # fmt: skip
    sound = render_voice(joined)
    at = RATE // 2
    around, body = sound[at - 1024 : at + 1024], sound[at + 2048 : at + 6144]
    assert band_level(around, 9000, 22000) < band_level(around, 60, 2000) - 40.0
    pick = sound[:2048]
    assert band_level(pick, 9000, 22000) > band_level(around, 9000, 22000) + 6.0
    assert abs(cents(period_pitch(sound, 0.8, hertz(second)), second)) < 5.0
    assert np.abs(body).max() > 0.1 * np.abs(sound).max()


def test_nothing_clicks_where_blocks_pitches_and_strikes_join():
    busy = voice(
        3, 5, 2.0,
        strikes=(Strike(0.0, StrikeKind.PICK, 0.9), Strike(0.4, StrikeKind.HAMMER, 0.6), Strike(0.8, StrikeKind.PULL, 0.6)),
        moves=(Move(0.397, 0.403, 60, 62, MoveShape.STEP, 62), Move(0.797, 0.803, 62, 60, MoveShape.STEP, 60),
               Move(1.0, 1.3, 60, 62, MoveShape.BEND, 60)),
        vibratos=(Vibrato(1.35, 2.0, 40.0, 5.5, upward=False),),
        dampings=(Damping(1.9, 0.09),),
    )  # fmt: skip
    sound = render_voice(busy)[int(0.05 * RATE) :]
    pieces = [sound[i : i + 2048] for i in range(0, len(sound) - 2048, 512)]
    body = max(band_level(piece, 60, 4000) for piece in pieces)
    # no partial lies above 10 kHz: what is there after the pick would be a click (the highest is below
    # -65 dB)
    assert max(band_level(piece, 10_000, 22_000) for piece in pieces) < body - 60.0


def test_a_stopped_string_is_silent_soon():
    sound = render_voice(voice(4, 5, 0.5, dampings=(Damping(0.5, 0.09),)))
    assert len(sound) / SAMPLE_RATE < 0.65
    assert np.abs(sound[-200:]).max() < 0.003


def test_a_dead_note_is_short_and_hardly_a_pitch():
    dead = voice(4, 5, 0.12, strikes=(Strike(0.0, StrikeKind.DEAD, 0.8),), dampings=(Damping(0.0, 0.055),))
    sound = render_voice(dead)
    assert np.sqrt(np.mean(sound[int(0.06 * RATE) :] ** 2)) < 0.05 * np.sqrt(
        np.mean(sound[: int(0.02 * RATE)] ** 2)
    )


def test_the_same_voice_sounds_the_same_and_is_finite():
    played = voice(6, 3, 1.0, seed=7)
    first, second = render_voice(played), render_voice(played)
    assert np.isfinite(first).all()
    assert np.allclose(first, second)
    assert first.dtype == np.float32
