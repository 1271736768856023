"""Damped modes at fixed frequencies, in one matrix product: what a drumhead, a cymbal or a bass string
rings with.
"""

from __future__ import annotations

import numpy as np

from lickwright.render.sound.products import product
from lickwright.render.sound.strings import SAMPLE_RATE
from lickwright.render.sound.voice import Floats, Samples

_BLOCK = 256


def damped_modes(
    frequency_hz: Floats, t60_s: Floats, strength: Floats, phase: Floats | float, length_s: float
) -> Samples:
    """The sum of sin(2 pi f t + phase) strengths dying away, float32.

    Parameters
    ----------
    frequency_hz, t60_s, strength, phase : (modes,)
        Frequency, seconds to lose 60 dB, strength at the start, and phase in radians of each mode.
    length_s : how long the sound is followed.
    """
    count = max(1, round(length_s * SAMPLE_RATE))
    blocks = -(-count // _BLOCK)
    rate = (-6.91 / t60_s + 2j * np.pi * frequency_hz) / SAMPLE_RATE
    starts = strength * np.exp(1j * np.asarray(phase)) * np.exp(np.arange(blocks)[:, None] * _BLOCK * rate)
    steps = np.exp(rate[:, None] * np.arange(_BLOCK))
    left = np.concatenate((starts.real, starts.imag), axis=1).astype(np.float32)
    right = np.concatenate((steps.imag, steps.real), axis=0).astype(np.float32)
    return np.asarray(product(left, right).reshape(-1)[:count])
