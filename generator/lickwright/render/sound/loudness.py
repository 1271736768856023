"""Loudness and peaks: programme loudness by ITU-R BS.1770 and a ceiling that no peak passes.

Conventions: samples are float32, (n,) or (n, channels), full scale 1; loudness in LUFS.

References: Recommendation ITU-R BS.1770 (K-weighting, gating at -70 LUFS and 10 LU below). The filters
for any sample rate follow the analogue prototypes that give its table at 48 kHz (their figures from
memory).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from lickwright.render.sound.filters import BINS, filtered
from lickwright.render.sound.strings import SAMPLE_RATE, Complexes
from lickwright.render.sound.voice import Samples

TARGET_LUFS = -16.0
#: The highest peak between the samples, about -1 dB of full scale.
CEILING = 0.89
_BLOCK_S, _STEP_S = 0.4, 0.1
_PEAK_HOP = 32
_REACH = 12
_LOOK_BLOCKS = 6


def k_weighting(sample_rate: int) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The two biquads of the K-weighting as (2, 3) arrays of numerators and denominators.

    >>> k_weighting(48_000)[0].round(8).tolist()[0]
    [1.53512486, -2.69169619, 1.19839281]
    """
    t = np.tan(np.pi * 1681.974450955533 / sample_rate)
    q, high = 0.7071752369554196, 10.0 ** (3.999843853973347 / 20.0)
    band = high**0.4996667741545416
    a0 = 1.0 + t / q + t * t
    shelf_b = np.array([high + band * t / q + t * t, 2.0 * (t * t - high), high - band * t / q + t * t]) / a0
    shelf_a = np.array([a0, 2.0 * (t * t - 1.0), 1.0 - t / q + t * t]) / a0
    t, q = np.tan(np.pi * 38.13547087602444 / sample_rate), 0.5003270373238773
    a0 = 1.0 + t / q + t * t
    cut_b, cut_a = np.array([1.0, -2.0, 1.0]), np.array([a0, 2.0 * (t * t - 1.0), 1.0 - t / q + t * t]) / a0
    return np.array([shelf_b, cut_b]), np.array([shelf_a, cut_a])


@lru_cache(maxsize=1)
def _k_response() -> Complexes:
    z = np.exp(-1j * np.pi * np.arange(BINS) / (BINS - 1))
    numerators, denominators = k_weighting(SAMPLE_RATE)
    response = np.ones(BINS, np.complex128)
    for b, a in zip(numerators, denominators, strict=True):
        response *= (b[0] + z * (b[1] + z * b[2])) / (a[0] + z * (a[1] + z * a[2]))
    return response.astype(np.complex64)


def loudness_lufs(samples: Samples) -> float:
    """Integrated loudness; -inf for silence and for less than 0.4 s."""
    return _integrated(_weighted_power(samples))


def _weighted_power(samples: Samples) -> Samples:
    """The square of the K-weighted sound, summed over the channels, (n,)."""
    power = np.zeros(len(samples), np.float32)
    for channel in samples.reshape(len(samples), -1).T:
        weighted = filtered(np.ascontiguousarray(channel), _k_response())
        power += weighted * weighted
    return power


def _integrated(power: Samples) -> float:
    """Gated loudness from weighted power: blocks of 0.4 s, every 0.1 s."""
    step = round(_STEP_S * SAMPLE_RATE)
    steps = len(power) // step
    if steps < round(_BLOCK_S / _STEP_S):
        return -np.inf
    means = power[: steps * step].reshape(steps, step).mean(axis=1, dtype=np.float64)
    blocks = np.convolve(means, np.full(4, 0.25), "valid")
    kept = blocks[blocks > 10.0 ** ((-70.0 + 0.691) / 10.0)]
    if not len(kept):
        return -np.inf
    kept = kept[kept > kept.mean() / 10.0]
    return float(-0.691 + 10.0 * np.log10(kept.mean()))


@lru_cache(maxsize=1)
def _between() -> Samples:
    """A windowed sinc as a matrix: from a piece of samples with its neighbours to the three points after
    each sample.
    """
    piece = np.arange(_PEAK_HOP + 2 * _REACH) - _REACH
    points = (np.arange(_PEAK_HOP)[:, None] + np.array([0.25, 0.5, 0.75])).reshape(-1)
    distance = points[None, :] - piece[:, None]
    window = np.where(np.abs(distance) < _REACH, np.cos(np.pi * distance / (2 * _REACH)) ** 2, 0.0)
    return np.asarray(np.sinc(distance) * window, dtype=np.float32)


def block_peaks(samples: Samples) -> npt.NDArray[np.float64]:
    """The highest peak of each 32 samples over all channels; in the louder blocks between the samples too.

    There the sound is taken at four times the rate, as BS.1770 has it for true peaks.
    """
    blocks = -(-len(samples) // _PEAK_HOP)
    between = _between()
    peaks = np.zeros(blocks)
    for channel in samples.reshape(len(samples), -1).T:
        padded = np.zeros(blocks * _PEAK_HOP + 2 * _REACH, np.float32)
        padded[_REACH : _REACH + len(samples)] = channel
        here = np.abs(padded[_REACH : _REACH + blocks * _PEAK_HOP]).reshape(blocks, _PEAK_HOP).max(axis=1)
        loud = np.flatnonzero(here > 0.4 * here.max(initial=0.0))
        pieces = np.lib.stride_tricks.sliding_window_view(padded, _PEAK_HOP + 2 * _REACH)[::_PEAK_HOP][loud]
        here[loud] = np.maximum(here[loud], np.abs(pieces @ between).max(axis=1, initial=0.0))
        np.maximum(peaks, here, out=peaks)
    return peaks


def level_curve(samples: Samples, target_lufs: float = TARGET_LUFS, ceiling: float = CEILING) -> Samples:
    """The factor for each sample, (n,), that brings the whole to ``target_lufs`` with no peak above
    ``ceiling``.

    Peaks that would pass the ceiling are turned down for some milliseconds around them, which costs a
    little loudness; what it costs is given back, in a few rounds. Sound that cannot be so loud under the
    ceiling stays softer, and silence stays silence. Parts of a mix that are multiplied by the mix's curve
    add up to the levelled mix.
    """
    power = _weighted_power(samples)
    measured = _integrated(power)
    if not np.isfinite(measured):
        return np.ones(len(samples), np.float32)
    peaks = block_peaks(samples)
    gain = 10.0 ** ((target_lufs - measured) / 20.0)
    for _ in range(6):
        curve = _under_ceiling(len(samples), peaks, gain, ceiling)
        if peaks.max() * gain <= ceiling:
            break
        missing = target_lufs - _integrated(power * curve * curve)
        if abs(missing) < 0.05:
            break
        gain *= 10.0 ** (missing / 20.0)
    return curve


def levelled(samples: Samples, target_lufs: float = TARGET_LUFS, ceiling: float = CEILING) -> Samples:
    """The samples times their ``level_curve``."""
    return np.asarray((samples.T * level_curve(samples, target_lufs, ceiling)).T)


def _under_ceiling(count: int, peaks: npt.NDArray[np.float64], gain: float, ceiling: float) -> Samples:
    """``gain`` for each of ``count`` samples, turned down around each peak by a smooth curve that begins
    before it.
    """
    if peaks.max() * gain <= ceiling:
        return np.full(count, gain, np.float32)
    wanted = np.minimum(1.0, ceiling / np.maximum(peaks * gain, 1e-9))
    reach = 2 * _LOOK_BLOCKS + 1
    padded = np.pad(wanted, 2 * _LOOK_BLOCKS, constant_values=1.0)
    lowest = np.lib.stride_tricks.sliding_window_view(padded, reach).min(axis=1)
    window = np.hanning(reach + 2)[1:-1]
    smooth = np.convolve(lowest, window / window.sum(), "valid")
    centres = (np.arange(len(smooth)) + 0.5) * _PEAK_HOP
    return np.interp(np.arange(count), centres, smooth).astype(np.float32) * np.float32(gain)
