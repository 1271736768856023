"""Guitar and band for a stretch of a study, and how they are put side by side; levels and places, no files.

Conventions: one channel is (n,), two are (n, 2), float32 at 44.1 kHz; a stretch is named by ticks of the
study.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from lickwright.render.sound.amplifier import Tone, amplified
from lickwright.render.sound.band import band_sound
from lickwright.render.sound.loudness import level_curve, loudness_lufs
from lickwright.render.sound.performance import perform
from lickwright.render.sound.strings import SAMPLE_RATE, render_voice
from lickwright.render.sound.timemap import Clock, TimeMap, checked_speed, time_map
from lickwright.render.sound.voice import Samples
from lickwright.study.model import Event, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

#: Seconds after the last written tick in which the last sounds die away.
RINGING_S = 0.7
#: How much softer than the guitar the band is, in loudness units: the study is the guitar's.
BAND_BELOW_LU = 3.0


class Part(StrEnum):
    """Who is heard."""

    GUITAR = "guitar"
    BAND = "band"
    BOTH = "both"


@dataclass(frozen=True)
class Settings:
    """How a study is to sound.

    ``human`` lets the guitar's timing and loudness deviate a little; ``click`` puts a click in the place
    of the band; ``count_in`` has a bar counted in wherever the band plays; ``width`` says how far apart
    guitar and band stand in stereo, from 0 (both in the middle) to 1 (guitar left, band right, each alone
    in its channel).
    """

    tone: Tone = Tone.CLEAN
    human: bool = True
    click: bool = False
    count_in: bool = True
    width: float = 0.45


@dataclass(frozen=True)
class Stretch:
    """A part of a study: from tick ``start`` to ``end``, and the events in it."""

    start: int
    end: int
    events: tuple[Event, ...]


def whole(study: Study) -> Stretch:
    """All of the study."""
    last = max((e.end + e.ring for e in study.events), default=study.ticks)
    return Stretch(0, max(study.ticks, last), study.events)


def timing(study: Study, stretch: Stretch, speed: float, counted: bool) -> tuple[Clock, TimeMap]:
    """The clock of a recording of the stretch and its time map; raises ValueError for a speed out of
    reach.
    """
    clock = Clock(study.tempo_bpm, checked_speed(speed), 0.0, stretch.start)
    if counted:
        clock = Clock(study.tempo_bpm, clock.speed, clock.span(TICKS_PER_BAR), stretch.start)
    return clock, time_map(study, clock, stretch.events, clock.at(stretch.end) + RINGING_S)


def guitar_sound(
    study: Study, stretch: Stretch, clock: Clock, length_s: float, settings: Settings
) -> Samples:
    """The guitar alone, (n,), at the amplifier's own level."""
    strings = np.zeros(round(length_s * SAMPLE_RATE), np.float32)
    for voice in perform(study, clock, stretch.events, settings.human):
        sound = render_voice(voice)
        first = round(voice.start_s * SAMPLE_RATE)
        last = min(len(strings), first + len(sound))
        strings[first:last] += sound[: last - first]
    return amplified(strings, settings.tone)


def band_part(study: Study, stretch: Stretch, clock: Clock, length_s: float, settings: Settings) -> Samples:
    """The band or the click alone, (n,), at its own level, the count-in included where ``settings`` asks
    for it.
    """
    return band_sound(study, clock, stretch.start, stretch.end, length_s, settings.click, settings.count_in)


def balanced(guitar: Samples, band: Samples) -> tuple[Samples, Samples]:
    """Guitar and band, the band ``BAND_BELOW_LU`` below the guitar; as they are when one of them is
    silent.
    """
    difference = loudness_lufs(guitar) - BAND_BELOW_LU - loudness_lufs(band)
    if not math.isfinite(difference):
        return guitar, band
    return guitar, np.asarray(band * np.float32(10.0 ** (difference / 20.0)))


def side_by_side(guitar: Samples, band: Samples, width: float) -> Samples:
    """Two channels, (n, 2): guitar to the left and band to the right at equal power, ``width`` 0 to 1
    apart.
    """
    angle = np.pi / 4.0 * (1.0 - min(1.0, max(0.0, width)))
    near, far = np.float32(math.cos(angle)), np.float32(math.sin(angle))
    return np.stack((near * guitar + far * band, far * guitar + near * band), axis=1)


def levelled_pair(guitar: Samples, band: Samples) -> tuple[Samples, Samples]:
    """Both parts balanced, and so loud that played together in one channel they have the loudness and the
    ceiling of a file.
    """
    guitar, band = balanced(guitar, band)
    curve = level_curve(guitar + band)
    return guitar * curve, band * curve
