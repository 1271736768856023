"""The band: drums in the feel, a bass under the form, a bar counted in, or a click instead of the drums.

A pattern is a table of strokes in two bars, in ticks (12 to the beat, 48 to the bar), so that shuffle and
swing stand where they sound. Common practice, no source. Nothing here changes the study: the band follows
its chords and its feel.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lickwright.render.sound.amplifier import room_response
from lickwright.render.sound.bassline import BassNote, bass_line, feel_of, root_pitch
from lickwright.render.sound.drums import TAKES, Drum, stroke
from lickwright.render.sound.filters import filtered
from lickwright.render.sound.modes import damped_modes
from lickwright.render.sound.strings import SAMPLE_RATE, hertz, ring_s
from lickwright.render.sound.timemap import Clock
from lickwright.render.sound.voice import Samples
from lickwright.study.model import Study
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BAR, TICKS_PER_BEAT


@dataclass(frozen=True)
class Hit:
    """A stroke: tick of the study (negative in the count-in), drum, loudness 0 to 1."""

    tick: int
    drum: Drum
    velocity: float


_K, _S, _H, _R, _RIM, _FOOT = Drum.KICK, Drum.SNARE, Drum.HAT, Drum.RIDE, Drum.RIM, Drum.FOOT_HAT
_Pattern = tuple[tuple[Drum, tuple[tuple[int, float], ...]], ...]


def _every(step: int, strong: float, weak: float, bars: int = 2) -> tuple[tuple[int, float], ...]:
    """A stroke every ``step`` ticks, stronger on the beats."""
    return tuple((t, weak if t % TICKS_PER_BEAT else strong) for t in range(0, bars * TICKS_PER_BAR, step))


def _shuffled(strong: float, weak: float) -> tuple[tuple[int, float], ...]:
    """Long and short: on the beat and on its last third."""
    return tuple(
        (t + p, v) for t in range(0, 2 * TICKS_PER_BAR, TICKS_PER_BEAT) for p, v in ((0, strong), (8, weak))
    )


#: Two bars of each feel; the time is kept on the hi-hat, in the last phrase on the ride.
_DRUMS: dict[str, _Pattern] = {
    "slow 12/8": (
        (_H, _every(4, 0.62, 0.4)),
        (_K, ((0, 0.85), (20, 0.4), (24, 0.75), (48, 0.85), (72, 0.75), (92, 0.5))),
        (_S, ((12, 0.6), (36, 0.62), (60, 0.6), (84, 0.62))),
    ),
    "shuffle": (
        (_H, _shuffled(0.6, 0.45)),
        (_K, ((0, 0.85), (12, 0.35), (24, 0.75), (36, 0.35), (48, 0.85), (60, 0.35), (72, 0.75),
              (84, 0.35), (92, 0.5))),
        (_S, ((12, 0.66), (32, 0.16), (36, 0.7), (60, 0.66), (80, 0.16), (84, 0.7))),
    ),
    "straight": (
        (_H, _every(6, 0.6, 0.42)),
        (_K, ((0, 0.85), (24, 0.7), (30, 0.6), (48, 0.85), (66, 0.5), (72, 0.75))),
        (_S, ((12, 0.7), (36, 0.72), (60, 0.7), (84, 0.72))),
    ),
    "rhumba": (
        (_H, _every(6, 0.5, 0.38)),
        (_K, ((0, 0.8), (18, 0.55), (24, 0.6), (42, 0.5), (48, 0.8), (66, 0.55), (72, 0.6), (90, 0.5))),
        (_RIM, ((0, 0.45), (18, 0.5), (36, 0.55), (60, 0.5), (72, 0.5))),
    ),
}  # fmt: skip

#: The bass beside the drums.
_BASS_LEVEL, _DRUM_LEVEL = 0.42, 0.8
_BASS_STIFFNESS = 9e-5


def count_in(start: int = 0) -> tuple[Hit, ...]:
    """Sticks on the four beats of the bar before tick ``start``."""
    first = start - TICKS_PER_BAR
    return tuple(
        Hit(first + b * TICKS_PER_BEAT, Drum.STICKS, 0.8 if b == 0 else 0.65) for b in range(BEATS_PER_BAR)
    )


def click_track(start: int, end: int) -> tuple[Hit, ...]:
    """A click on every beat from ``start`` to ``end``, another one on each bar's first."""
    beats = range(-(-start // TICKS_PER_BEAT) * TICKS_PER_BEAT, end, TICKS_PER_BEAT)
    return tuple(Hit(t, Drum.CLICK if t % TICKS_PER_BAR else Drum.CLICK_ONE, 0.7) for t in beats)


def drum_part(study: Study, start: int = 0, end: int | None = None) -> tuple[Hit, ...]:
    """The drums from ``start`` to ``end``: the feel's pattern, a small fill before each new phrase, the
    close.
    """
    end = study.ticks if end is None else end
    stop = ending_tick(study)
    pattern = _DRUMS[feel_of(study)]
    last_phrase = TICKS_PER_BAR * study.phrases[-1].first_bar if len(study.phrases) > 1 else study.ticks
    hits: list[Hit] = []
    for drum, strokes in pattern:
        for bars in range(0, study.ticks, 2 * TICKS_PER_BAR):
            for tick, loud in strokes:
                at = bars + tick
                riding = drum is Drum.HAT and at >= last_phrase
                hits.append(Hit(at, Drum.RIDE if riding else drum, loud))
    hits.extend(
        Hit(t, Drum.FOOT_HAT, 0.4)
        for t in range(last_phrase + TICKS_PER_BEAT, study.ticks, 2 * TICKS_PER_BEAT)
    )
    hits = _filled(study, hits)
    if stop is not None:
        hits = [h for h in hits if h.tick < stop]
        hits += [Hit(stop, Drum.KICK, 0.85), Hit(stop, Drum.RIDE, 0.9), Hit(stop, Drum.OPEN_HAT, 0.4)]
    return tuple(sorted((h for h in hits if start <= h.tick < end), key=lambda h: (h.tick, h.drum)))


def _filled(study: Study, hits: list[Hit]) -> list[Hit]:
    """A snare figure on the last beat of each phrase but the last; ends in an open hi-hat where the ride
    does not follow.
    """
    parts = (0, 4, 8) if study.grid == "triplet" else (0, 6, 9)
    for phrase in study.phrases[:-1]:
        at = TICKS_PER_BAR * (phrase.last_bar + 1) - TICKS_PER_BEAT
        hits = [
            h for h in hits if not (at <= h.tick < at + TICKS_PER_BEAT and h.drum in (Drum.SNARE, Drum.RIM))
        ]
        hits += [Hit(at + p, Drum.SNARE, v) for p, v in zip(parts, (0.6, 0.45, 0.62), strict=True)]
    return hits


def ending_tick(study: Study) -> int | None:
    """Where the band strikes its last chord: with the study's last event, if that closes on the key's own
    chord.

    None when the study turns round for another chorus or closes elsewhere than in its last bar.
    """
    last = study.events[-1] if study.events else None
    home = last is not None and study.chord(last.chord).root_pc == study.home.pitch_class
    if last is None or not home or last.onset < study.ticks - TICKS_PER_BAR or last.onset % TICKS_PER_BEAT:
        return None
    return last.onset


def bass_part(study: Study, start: int = 0, end: int | None = None) -> tuple[BassNote, ...]:
    """The bass from ``start`` to ``end``; it closes with the guitar where the study comes home."""
    notes = bass_line(study, start, end)
    stop = ending_tick(study)
    if stop is None or not start <= stop < (study.ticks if end is None else end):
        return notes
    notes = tuple(n for n in notes if n.tick < stop)
    close = BassNote(stop, study.ticks - stop, root_pitch(study.chord(study.events[-1].chord)), 0.85)
    return (*notes, close)


def band_sound(
    study: Study, clock: Clock, start: int, end: int, length_s: float, click: bool, counted: bool
) -> Samples:
    """Bass and drums (or the click) from tick ``start`` to ``end``, ``length_s`` seconds; with a bar
    counted in before.
    """
    hits = click_track(start, end) if click else drum_part(study, start, end)
    if counted:
        hits = (*count_in(start), *hits)
    count = round(length_s * SAMPLE_RATE)
    drums, bass = np.zeros(count, np.float32), np.zeros(count, np.float32)
    for number, hit in enumerate(hits):
        _add(drums, clock.at(hit.tick), stroke(hit.drum, number % TAKES), hit.velocity * _DRUM_LEVEL)
    if not click:
        for note in bass_part(study, start, end):
            _add(
                bass,
                clock.at(note.tick),
                bass_note(note.pitch, clock.span(note.duration)),
                note.velocity * _BASS_LEVEL,
            )
    return np.asarray(bass + filtered(drums, room_response(0.12, seed=5)))


@lru_cache(maxsize=256)
def bass_note(pitch: int, length_s: float) -> Samples:
    """A finger-plucked bass string through a small bass amplifier, stopped at the end of the note."""
    f0 = float(hertz(pitch))
    k = np.arange(1, int(2600.0 // f0) + 1)
    f = k * f0 * np.sqrt((1.0 + _BASS_STIFFNESS * k * k) / (1.0 + _BASS_STIFFNESS))
    strength = np.sin(np.pi * k * 0.21) * np.sin(np.pi * k * 0.27) / k * np.exp(-f / 650.0)
    strength *= 1.0 / np.sqrt(1.0 + (38.0 / f) ** 4) * (1.0 + 0.3 * np.exp(-(((f - 800.0) / 400.0) ** 2)))
    t60 = ring_s(float(pitch)) * 0.7 / (1.0 + (f / 420.0) ** 1.3)
    sound = damped_modes(f, t60, 1.6 * strength, 0.0, length_s + 0.07)
    time = np.arange(len(sound)) / SAMPLE_RATE
    sound *= (np.minimum(1.0, np.exp(-(time - length_s) / 0.014)) * (1.0 - np.exp(-time / 0.0015))).astype(
        np.float32
    )
    sound.setflags(write=False)
    return sound


def _add(track: Samples, at_s: float, sound: Samples, gain: float) -> None:
    """Adds a sound to a track from a time on, cut at the track's end."""
    first = round(at_s * SAMPLE_RATE)
    last = min(len(track), first + len(sound))
    if 0 <= first < last:
        track[first:last] += np.float32(gain) * sound[: last - first]
