"""Filtering by blocks in the frequency domain; it knows nothing of what is filtered.

Conventions: a response is the complex gain at ``BINS`` frequencies from 0 to half the sample rate; its
impulse response must be shorter than ``LONGEST`` samples (0.74 s), or its end comes round to its
beginning.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from lickwright.render.sound.strings import SAMPLE_RATE, Complexes
from lickwright.render.sound.voice import Samples

WINDOW = 131_072
LONGEST = WINDOW // 4
_HOP = WINDOW - LONGEST
BINS = WINDOW // 2 + 1


def frequencies() -> npt.NDArray[np.float64]:
    """The frequencies of a response, in Hz."""
    return np.asarray(np.arange(BINS) * (SAMPLE_RATE / WINDOW), dtype=np.float64)


def high_pass(corner_hz: float, order: int = 1) -> npt.NDArray[np.complex128]:
    """So many one-pole high-pass filters in a row: causal, minimum phase."""
    s = 1j * frequencies() / corner_hz
    return np.asarray((s / (1.0 + s)) ** order)


def low_pass(corner_hz: float, order: int = 1) -> npt.NDArray[np.complex128]:
    """So many one-pole low-pass filters in a row."""
    return np.asarray(1.0 / (1.0 + 1j * frequencies() / corner_hz) ** order)


def resonant_low_pass(corner_hz: float, q: float) -> npt.NDArray[np.complex128]:
    """Two poles with a peak of about ``q`` at the corner: a pickup with its cable."""
    s = 1j * frequencies() / corner_hz
    return np.asarray(1.0 / (1.0 + s / q + s * s))


def peak(centre_hz: float, gain: float, q: float) -> npt.NDArray[np.complex128]:
    """A bell: ``gain`` (a factor) at the centre, 1 far from it."""
    s = 1j * frequencies() / centre_hz
    return np.asarray((s * s + s * gain / q + 1.0) / (s * s + s / q + 1.0))


def filtered(samples: Samples, response: Complexes, upsample: int = 1, downsample: int = 1) -> Samples:
    """The samples through the filter, by overlap and add.

    ``upsample`` gives so many times more samples (band-limited); ``downsample`` takes a signal with so
    many times more and gives one at the usual rate. Same length in time, float32.
    """
    blocks = max(1, -(-len(samples) // (_HOP * downsample)))
    padded = np.zeros((blocks, _HOP * downsample), np.float32)
    padded.reshape(-1)[: len(samples)] = samples
    spectrum = np.fft.rfft(padded, WINDOW * downsample, axis=1)[:, :BINS] * response
    spectrum[:, -1] *= 0.5 if upsample > 1 else 1.0
    pieces = np.fft.irfft(spectrum, WINDOW * upsample, axis=1)
    pieces *= np.float32(upsample / downsample)
    result = pieces[:, : _HOP * upsample].copy()
    result[1:, : LONGEST * upsample] += pieces[:-1, _HOP * upsample :]
    return np.asarray(result.reshape(-1)[: len(samples) * upsample // downsample], dtype=np.float32)
