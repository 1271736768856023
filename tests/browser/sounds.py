"""Sound to try the player with: short bursts where the events are, so that what is heard can be timed."""

from __future__ import annotations

import io

import numpy as np
import soundfile
from lickwright.render.sound.page import PageSound
from lickwright.render.sound.timemap import Clock, time_map
from lickwright.study.model import Study
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

RATE = 44100
BURST_S = 0.03


def mp3(samples: np.ndarray) -> bytes:
    """The samples as an MP3 file."""
    buffer = io.BytesIO()
    soundfile.write(buffer, samples, RATE, format="MP3")
    return buffer.getvalue()


def bursts(length_s: float, times: list[float], hertz: float) -> np.ndarray:
    """Silence with a tone of 30 ms at each time."""
    out = np.zeros(round(length_s * RATE), dtype=np.float32)
    t = np.arange(round(BURST_S * RATE)) / RATE
    tone = (0.6 * np.sin(2 * np.pi * hertz * t) * np.hanning(len(t)) ** 0.3).astype(np.float32)
    for at in times:
        start = round(at * RATE)
        end = min(start + len(tone), len(out))
        out[start:end] = tone[: end - start]
    return out


def burst_sound(study: Study) -> PageSound:
    """The guitar sounds at each event, the band and the click at each beat, after a bar of silence."""
    clock = Clock(study.tempo_bpm, 1.0, origin_s=0.0)
    clock = Clock(study.tempo_bpm, 1.0, origin_s=clock.span(TICKS_PER_BAR))
    length = clock.at(study.ticks) + 1.0
    events = [clock.at(e.onset) for e in study.events]
    beats = [clock.at(t) for t in range(0, study.ticks, TICKS_PER_BEAT)]
    parts = (bursts(length, events, 1500.0), bursts(length, beats, 400.0), bursts(length, beats, 3000.0))
    return PageSound(*map(mp3, parts), time_map(study, clock, study.events, length))
