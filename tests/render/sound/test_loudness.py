"""Loudness and ceiling, against what the standard itself says."""

from __future__ import annotations

import numpy as np
import pytest
from lickwright.render.sound.filters import filtered, low_pass
from lickwright.render.sound.loudness import (
    CEILING,
    block_peaks,
    k_weighting,
    level_curve,
    levelled,
    loudness_lufs,
)

RATE = 44_100


def sine(hz: float, dbfs: float, seconds: float = 5.0, channels: int = 1) -> np.ndarray:
    wave = 10 ** (dbfs / 20) * np.sin(2 * np.pi * hz * np.arange(int(seconds * RATE)) / RATE)
    return np.asarray(np.repeat(wave[:, None], channels, 1).squeeze(), dtype=np.float32)


# ITU-R BS.1770: "a 0 dB FS, 997 Hz sine wave applied to the left channel gives -3.01 LKFS" (from memory);
# EBU Tech 3341: a stereo 1 kHz sine at -23 dBFS measures -23 LUFS within 0.1 (from memory).
@pytest.mark.parametrize(
    ("channels", "dbfs", "lufs"), [(1, 0.0, -3.01), (2, -23.0, -23.0), (2, -33.0, -33.0)]
)
def test_a_sine_has_the_loudness_of_the_standard(channels, dbfs, lufs):
    assert loudness_lufs(sine(997.0, dbfs, channels=channels)) == pytest.approx(lufs, abs=0.1)


def test_the_filters_have_the_standards_coefficients_at_48_khz():
    # ITU-R BS.1770, tables 1 and 2 (from memory).
    b, a = k_weighting(48_000)
    assert b[0] == pytest.approx([1.53512485958697, -2.69169618940638, 1.19839281085285], abs=1e-7)
    assert a[0] == pytest.approx([1.0, -1.69065929318241, 0.73248077421585], abs=1e-7)
    assert b[1] == pytest.approx([1.0, -2.0, 1.0])
    assert a[1] == pytest.approx([1.0, -1.99004745483398, 0.99007225036621], abs=1e-7)


def test_silence_and_very_short_sound_have_no_loudness_and_stay_as_they_are():
    assert loudness_lufs(np.zeros(RATE, np.float32)) == -np.inf
    assert loudness_lufs(sine(440.0, 0.0, 0.2)) == -np.inf
    assert not levelled(np.zeros(RATE, np.float32)).any()


def test_the_gate_leaves_a_pause_out():
    tone = sine(997.0, -20.0, 3.0)
    assert loudness_lufs(np.concatenate((tone, np.zeros(6 * RATE, np.float32)))) == pytest.approx(
        loudness_lufs(tone), abs=0.3
    )


def bursts(crest: float, seed: int = 1) -> np.ndarray:
    random = np.random.default_rng(seed)
    x = 0.05 * random.standard_normal(6 * RATE)
    for at in range(RATE // 2, 6 * RATE - 400, RATE // 3):
        x[at : at + 300] += crest * 0.05 * random.standard_normal(300)
    return np.asarray(filtered(x.astype(np.float32), low_pass(6000.0).astype(np.complex64)))


@pytest.mark.parametrize("crest", [1.0, 8.0, 14.0])
def test_what_is_levelled_has_the_loudness_and_stays_under_the_ceiling(crest):
    result = levelled(bursts(crest))
    assert loudness_lufs(result) == pytest.approx(-16.0, abs=0.5)
    assert block_peaks(result).max() <= CEILING + 0.01


def test_a_peak_between_the_samples_is_seen():
    # A sine at a quarter of the rate, sampled at 45 degrees: its samples reach 0.707 of what lies between
    # them.
    wave = np.sin(np.pi / 2 * np.arange(4000) + np.pi / 4).astype(np.float32)
    assert np.abs(wave).max() < 0.72
    assert block_peaks(wave)[10:-10].max() == pytest.approx(1.0, abs=0.02)


def test_the_level_moves_without_a_jump():
    curve = level_curve(bursts(14.0))
    assert np.abs(np.diff(curve)).max() < 0.02 * curve.max()


@pytest.mark.parametrize(("up", "down"), [(2, 1), (4, 1), (1, 2)])
def test_resampling_keeps_a_tone_and_adds_no_other(up, down):
    rate_in = RATE * down
    x = np.sin(2 * np.pi * 1000.0 * np.arange(2 * rate_in) / rate_in).astype(np.float32)
    flat = np.ones(len(low_pass(1.0)), np.complex64)
    y = filtered(x, flat, upsample=up, downsample=down)
    assert len(y) == len(x) * up // down
    expected = np.sin(2 * np.pi * 1000.0 * np.arange(len(y)) / (RATE * up))
    assert np.abs(y[5000:-5000] - expected[5000:-5000]).max() < 2e-3
