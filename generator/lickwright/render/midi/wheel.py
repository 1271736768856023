"""How the pitch of one struck note moves: bends, graces, trills, vibrato and slides as curves over time.

It knows the Study; it knows nothing of MIDI bytes. Conventions: times in ticks of the Study, pitches in
semitones away from the fretted pitch. A note's pitch is the sum of its glides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from lickwright.study.model import Event, Note, Study, Technique
from lickwright.theory.rhythm import seconds

#: Common practice, no source: seconds that a grace note, a slide between frets and a note of a trill last.
GRACE_S = 0.055
SLIDE_S = 0.085
TRILL_NOTE_S = 0.075
#: A vibrato's width from trough to crest, its rate and how long the note is held still first.
VIBRATO_SEMITONES = 0.42
VIBRATO_HZ = 5.4
VIBRATO_AFTER_S = 0.18


@dataclass(frozen=True)
class Glide:
    """Points (tick, semitones), straight between; nothing before the first, the last one stays.

    Of two points at one tick the pitch jumps from the first to the second. ``sway`` (depth, ticks a swing)
    replaces the straight line by swings to one side that begin and end at rest.
    """

    points: tuple[tuple[float, float], ...]
    sway: tuple[float, float] | None = None

    def at(self, tick: float) -> float:
        """Semitones at a tick."""
        if tick < self.points[0][0]:
            return 0.0
        if self.sway is not None:
            return self._swayed(tick)
        value = self.points[0][1]
        for (t0, v0), (t1, v1) in pairwise(self.points):
            if tick < t0:
                break
            value = v1 if tick >= t1 else v0 + (v1 - v0) * (tick - t0) / (t1 - t0)
        return value

    def _swayed(self, tick: float) -> float:
        assert self.sway is not None
        depth, swing = self.sway
        start, end = self.points[0][0], self.points[-1][0]
        if tick >= end:
            return 0.0
        return depth * (1 - math.cos(2 * math.pi * (tick - start) / swing)) / 2

    def moves(self, tick: float) -> bool:
        """Whether the pitch is under way at a tick."""
        if self.sway is not None:
            return self.points[0][0] <= tick <= self.points[-1][0]
        return any(t0 <= tick <= t1 and v0 != v1 for (t0, v0), (t1, v1) in pairwise(self.points))

    def corners(self) -> tuple[float, ...]:
        """The ticks of the points."""
        return tuple(t for t, _ in self.points)


def glides_of(study: Study, event: Event, note: Note, standing: float = 0.0) -> list[Glide]:
    """Everything that moves a note's pitch while it is held, but for the slide to the next one.

    ``standing`` is how far the string is bent already when the note is one that rings on.
    """
    if note.muted:
        return []
    glides = []
    if note.grace:
        glides.append(_grace(study, event, note))
    if note.bend:
        glides.append(Glide(tuple((event.onset + t, height / 2 - standing) for t, height in note.bend.curve)))
    if note.trill is not None:
        glides.append(_trill(study, event, note.trill - note.fret))
    if note.vibrato:
        glides.append(_vibrato(study, event, note))
    return glides


def _ticks(study: Study, time_s: float) -> float:
    return time_s / seconds(1, study.tempo_bpm)


def _grace(study: Study, event: Event, note: Note) -> Glide:
    assert note.grace is not None
    away = float(note.grace.fret - note.fret)
    arrives = event.onset + min(_ticks(study, GRACE_S), event.duration / 3)
    leaves = event.onset if note.grace.technique is Technique.SLIDE else arrives
    return Glide(((event.onset, away), (leaves, away), (arrives, 0.0)))


def _trill(study: Study, event: Event, size: int) -> Glide:
    """Hammered and pulled in turn, an even number of times, so that it ends where it began."""
    pairs = max(1, int(event.duration / (2 * _ticks(study, TRILL_NOTE_S))))
    step = event.duration / (2 * pairs + 1)
    points: list[tuple[float, float]] = [(event.onset, 0.0)]
    for i in range(1, 2 * pairs + 1):
        at = event.onset + i * step
        points += [(at, points[-1][1]), (at, float(size) if i % 2 else 0.0)]
    return Glide(tuple(points))


def _vibrato(study: Study, event: Event, note: Note) -> Glide:
    """On a fret the pitch only rises; a bent string is let go a little and brought back."""
    start = event.onset + min(_ticks(study, VIBRATO_AFTER_S), event.duration / 4)
    depth = VIBRATO_SEMITONES
    if note.bend:
        turns = [t1 for (_, v0), (t1, v1) in pairwise(note.bend.curve) if v0 != v1]
        start = max(start, event.onset + max(turns, default=0.0))
        depth = -depth if note.bend.curve[-1][1] else depth
    swings = max(1, round((event.end - start) / _ticks(study, 1 / VIBRATO_HZ)))
    return Glide(((start, 0.0), (event.end, 0.0)), (depth, (event.end - start) / swings))


def slide_away(
    study: Study, start: float, onset: float, bend: Callable[[float], float], interval: int
) -> Glide:
    """The way from a note that began at ``start`` to the one due at ``onset``, ``interval`` semitones off."""
    leaves = onset - min(_ticks(study, SLIDE_S), (onset - start) / 2)
    return Glide(((leaves, 0.0), (onset, interval - bend(onset))))
