"""A small drum kit, made of struck modes and shaped noise; each stroke has four takes so that none
repeats at once.

Frequencies of heads follow the ideal circular membrane (zeros of the Bessel functions); cymbals are many
modes without order. Levels and times are set by ear and by their spectrograms; no source.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import lru_cache

import numpy as np

from lickwright.render.sound.modes import damped_modes
from lickwright.render.sound.strings import SAMPLE_RATE
from lickwright.render.sound.voice import Floats, Samples

TAKES = 4
#: Modes 01, 11, 21, 02, 31, 12 of an ideal membrane, beside the lowest.
_HEAD = np.array([1.0, 1.593, 2.136, 2.296, 2.653, 2.917])


class Drum(StrEnum):
    """What can be struck."""

    KICK = "kick"
    SNARE = "snare"
    RIM = "rim"
    HAT = "hat"
    OPEN_HAT = "open hat"
    FOOT_HAT = "foot hat"
    RIDE = "ride"
    STICKS = "sticks"
    CLICK = "click"
    CLICK_ONE = "click one"


@lru_cache(maxsize=len(Drum) * TAKES)
def stroke(drum: Drum, take: int = 0) -> Samples:
    """One stroke at full strength, float32; ``take`` 0 to 3 differ as strokes of one hand do."""
    generator = np.random.default_rng((list(Drum).index(drum), take))
    sound = _RECIPES[drum](generator)
    fade = min(len(sound), round(0.02 * SAMPLE_RATE))
    sound[-fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
    sound.setflags(write=False)
    return sound


def _time(length_s: float) -> Floats:
    return np.asarray(np.arange(round(length_s * SAMPLE_RATE)) / SAMPLE_RATE)


def _noise(generator: np.random.Generator, count: int, low_hz: float, high_hz: float) -> Floats:
    """Noise between two frequencies with soft edges, its mean square 1."""
    spectrum = np.fft.rfft(generator.standard_normal(count))
    f = np.fft.rfftfreq(count, 1.0 / SAMPLE_RATE)
    spectrum *= 1.0 / np.sqrt((1.0 + (low_hz / np.maximum(f, 1.0)) ** 6) * (1.0 + (f / high_hz) ** 6))
    noise = np.fft.irfft(spectrum, count)
    return np.asarray(noise / np.sqrt(np.mean(noise * noise)))


def _kick(generator: np.random.Generator) -> Samples:
    t = _time(0.45)
    pitch = 51.0 + 34.0 * np.exp(-t / 0.022) + 70.0 * np.exp(-t / 0.005)
    phase = 2.0 * np.pi * np.cumsum(pitch) / SAMPLE_RATE
    onset = 1.0 - np.exp(-t / 0.0008)
    body = np.sin(phase) * np.exp(-t / 0.105) + 0.22 * np.sin(1.593 * phase) * np.exp(-t / 0.04)
    beater = _noise(generator, len(t), 500.0, 2800.0) * np.exp(-t / 0.0045)
    air = _noise(generator, len(t), 60.0, 220.0) * np.exp(-t / 0.05)
    return np.asarray(onset * (0.95 * body + 0.10 * beater + 0.05 * air), dtype=np.float32)


def _snare(generator: np.random.Generator) -> Samples:
    t = _time(0.4)
    f = 186.0 * _HEAD * (1.0 + 0.006 * generator.standard_normal(6))
    head = damped_modes(
        f, np.array([0.26, 0.2, 0.16, 0.15, 0.12, 0.1]), np.array([0.5, 0.42, 0.2, 0.16, 0.12, 0.1]), 0.0, 0.4
    )
    wires = _noise(generator, len(t), 1700.0, 7800.0)
    wires *= (1.0 - np.exp(-t / 0.0015)) * (0.75 * np.exp(-t / 0.045) + 0.25 * np.exp(-t / 0.11))
    stick = _noise(generator, len(t), 900.0, 9000.0) * np.exp(-t / 0.002)
    return np.asarray(0.66 * head + 0.2 * wires + 0.14 * stick, dtype=np.float32)


def _rim(generator: np.random.Generator) -> Samples:
    f = np.array([420.0, 690.0, 1130.0, 1720.0, 2610.0, 3900.0]) * (1.0 + 0.01 * generator.standard_normal(6))
    wood = damped_modes(
        f,
        np.array([0.11, 0.09, 0.07, 0.06, 0.045, 0.03]),
        np.array([0.35, 0.4, 0.45, 0.5, 0.3, 0.15]),
        0.0,
        0.2,
    )
    t = _time(0.2)
    return np.asarray(
        0.5 * wood + 0.1 * _noise(generator, len(t), 1200.0, 7000.0) * np.exp(-t / 0.003), dtype=np.float32
    )


def _cymbal(
    generator: np.random.Generator,
    modes: int,
    low_hz: float,
    high_hz: float,
    low_t60_s: float,
    high_t60_s: float,
    length_s: float,
) -> Samples:
    """Many modes without order; the higher the sooner silent. A plate has as many in each hertz, an ear
    hears fewer low ones.
    """
    f = np.sort(low_hz * (high_hz / low_hz) ** generator.uniform(0.0, 1.0, modes) ** 0.7)
    x = np.log(f / low_hz) / np.log(high_hz / low_hz)
    t60 = low_t60_s * (high_t60_s / low_t60_s) ** x * generator.uniform(0.7, 1.3, modes)
    strength = generator.rayleigh(1.0, modes) * (
        0.25 + 0.75 * np.sin(np.pi * np.clip(0.15 + 0.8 * x, 0.0, 1.0))
    )
    sound = damped_modes(
        f, t60, strength / np.sqrt(modes), generator.uniform(0.0, 2.0 * np.pi, modes), length_s
    )
    return sound * (1.0 - np.exp(-_time(length_s) / 0.0006)).astype(np.float32)


def _hat_of(generator: np.random.Generator, t60_s: float, length_s: float, tick: float) -> Samples:
    t = _time(length_s)
    metal = _cymbal(generator, 140, 2600.0, 15000.0, 1.1 * t60_s, 0.7 * t60_s, length_s)
    hiss = _noise(generator, len(t), 6000.0, 14500.0) * np.exp(-t * 6.91 / (0.7 * t60_s))
    chick = _noise(generator, len(t), 2500.0, 9000.0) * np.exp(-t / 0.0016)
    return np.asarray(0.13 * metal + 0.055 * hiss + tick * chick, dtype=np.float32)


def _ride(generator: np.random.Generator) -> Samples:
    wash = _cymbal(generator, 220, 330.0, 13000.0, 2.6, 1.0, 2.2)
    f = np.array([2740.0, 3420.0, 4180.0, 5230.0, 6650.0]) * (1.0 + 0.004 * generator.standard_normal(5))
    ping = damped_modes(
        f, np.full(5, 0.35), np.array([0.5, 0.7, 0.6, 0.45, 0.3]), generator.uniform(0, 6.28, 5), 2.2
    )
    t = _time(2.2)
    stick = _noise(generator, len(t), 2500.0, 11000.0) * np.exp(-t / 0.0018)
    return np.asarray(0.055 * wash + 0.05 * ping + 0.09 * stick, dtype=np.float32)


def _sticks(generator: np.random.Generator) -> Samples:
    f = np.array([1480.0, 2230.0, 3120.0, 4700.0]) * (1.0 + 0.006 * generator.standard_normal(4))
    wood = damped_modes(f, np.array([0.07, 0.055, 0.04, 0.03]), np.array([0.5, 0.6, 0.35, 0.2]), 0.0, 0.12)
    t = _time(0.12)
    return np.asarray(
        0.5 * wood + 0.06 * _noise(generator, len(t), 2000.0, 8000.0) * np.exp(-t / 0.0015), dtype=np.float32
    )


def _click_of(frequency_hz: float) -> Samples:
    """A small hollow block of wood: the same every time, as a click should be."""
    modes = frequency_hz * np.array([1.0, 2.42, 4.1])
    return damped_modes(modes, np.array([0.12, 0.06, 0.035]), np.array([0.5, 0.18, 0.08]), 0.0, 0.16)


_RECIPES: dict[Drum, Callable[[np.random.Generator], Samples]] = {
    Drum.KICK: _kick,
    Drum.SNARE: _snare,
    Drum.RIM: _rim,
    Drum.HAT: lambda g: _hat_of(g, 0.11, 0.16, 0.05),
    Drum.OPEN_HAT: lambda g: _hat_of(g, 0.6, 0.6, 0.05),
    Drum.FOOT_HAT: lambda g: _hat_of(g, 0.07, 0.12, 0.02),
    Drum.RIDE: _ride,
    Drum.STICKS: _sticks,
    Drum.CLICK: lambda g: _click_of(880.0),
    Drum.CLICK_ONE: lambda g: _click_of(1320.0),
}
