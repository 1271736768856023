"""From the strings to the room: pickup, a clean or a driven amplifier, loudspeaker, a little room.

A driven amplifier's curve is applied at twice the sample rate, so that what it adds above half of it does
not come down again as a false tone; a clean one adds next to nothing there.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from lickwright.render.sound.filters import (
    LONGEST,
    WINDOW,
    filtered,
    high_pass,
    low_pass,
    peak,
    resonant_low_pass,
)
from lickwright.render.sound.strings import SAMPLE_RATE, Complexes
from lickwright.render.sound.voice import Samples


class Tone(StrEnum):
    """How the amplifier is set."""

    CLEAN = "clean"
    DRIVEN = "driven"


@dataclass(frozen=True)
class _Setting:
    """Gain into the curve, its lean (even harmonics), bass cut before it, level after it, the room's
    share.
    """

    gain: float
    lean: float
    bass_cut_hz: float
    level: float
    room: float
    oversampling: int


_SETTINGS = {
    Tone.CLEAN: _Setting(gain=1.1, lean=0.10, bass_cut_hz=60.0, level=0.9, room=0.16, oversampling=1),
    Tone.DRIVEN: _Setting(gain=9.0, lean=0.18, bass_cut_hz=170.0, level=0.4, room=0.10, oversampling=2),
}
_ROOM_T60_S = 0.55


def amplified(strings: Samples, tone: Tone) -> Samples:
    """The sum of the strings as it is heard before the loudspeaker in a small room."""
    setting = _SETTINGS[tone]
    into = filtered(strings, _pickup(setting.bass_cut_hz), upsample=setting.oversampling)
    into *= np.float32(setting.gain)
    into += np.float32(setting.lean)
    np.tanh(into, out=into)
    into -= np.float32(np.tanh(setting.lean))
    into *= np.float32(setting.level)
    return filtered(into, _loudspeaker(setting.room), downsample=setting.oversampling)


@lru_cache(maxsize=4)
def _pickup(bass_cut_hz: float) -> Complexes:
    response = resonant_low_pass(3300.0, 1.3) * high_pass(bass_cut_hz) * low_pass(9000.0)
    return response.astype(np.complex64)


@lru_cache(maxsize=4)
def _loudspeaker(room: float) -> Complexes:
    """A twelve-inch loudspeaker in an open cabinet: nothing below 80 Hz, a presence peak, falling fast
    above 5 kHz.
    """
    speaker = high_pass(75.0, 2) * low_pass(6200.0, 4) * peak(2300.0, 1.5, 0.9) * peak(450.0, 0.75, 0.8)
    return (speaker * room_response(room)).astype(np.complex64)


@lru_cache(maxsize=8)
def room_response(share: float, seed: int = 11) -> Complexes:
    """The direct sound and ``share`` of a small room: a few early reflections, then noise that dies away."""
    generator = np.random.default_rng(seed)
    count = round(min(LONGEST - 1, 0.7 * SAMPLE_RATE))
    time = np.arange(count) / SAMPLE_RATE
    tail = generator.standard_normal(count) * 10.0 ** (-3.0 * time / _ROOM_T60_S)
    tail[: round(0.012 * SAMPLE_RATE)] = 0.0
    for at_s, gain in zip(generator.uniform(0.006, 0.03, 8), generator.uniform(3.0, 9.0, 8), strict=True):
        tail[round(at_s * SAMPLE_RATE)] += gain * generator.choice((-1.0, 1.0))
    tail /= np.sqrt(np.sum(tail * tail))
    wet = np.fft.rfft(tail, WINDOW) * low_pass(3800.0, 2) * high_pass(160.0)
    return np.asarray(1.0 + share * wet, dtype=np.complex64)
