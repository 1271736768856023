"""What one string does from the moment it is struck until it is stopped: the score of the string model.

Conventions: times in seconds from the start of the recording; pitches as MIDI numbers, fractions being cents.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Samples = npt.NDArray[np.float32]


class StrikeKind(StrEnum):
    """What sets the string going: the pick, a finger hammered down or pulled off, or a pick on a deadened
    string.
    """

    PICK = "pick"
    HAMMER = "hammer"
    PULL = "pull"
    DEAD = "dead"


@dataclass(frozen=True)
class Strike:
    """Energy given to the string at ``at_s``, by how much (1 is as loud as a player plays)."""

    at_s: float
    kind: StrikeKind
    velocity: float


class MoveShape(StrEnum):
    """How the pitch travels: by a bending finger, over the frets one by one, or to the next finger at
    once.
    """

    BEND = "bend"
    FRETS = "frets"
    STEP = "step"


@dataclass(frozen=True)
class Move:
    """The pitch goes from ``source`` to ``target`` between two times; ``fret_pitch`` is that of the
    unbent string.
    """

    start_s: float
    end_s: float
    source: float
    target: float
    shape: MoveShape
    fret_pitch: float


@dataclass(frozen=True)
class Vibrato:
    """The finger rocks the string: ``depth_cents`` from trough to crest, all on one side of the held pitch.

    On a fret the pitch only rises (``upward``); a bent string is let go a little and brought back.
    """

    start_s: float
    end_s: float
    depth_cents: float
    rate_hz: float
    upward: bool = True


@dataclass(frozen=True)
class Damping:
    """From ``at_s`` on a finger or the palm takes the string's energy: T60 of the lowest partial, seconds."""

    at_s: float
    t60_s: float


@dataclass(frozen=True)
class Touch:
    """Where and how the pick meets the string: distance from the bridge in mm, and how bright the pick is
    (Hz).
    """

    pick_mm: float
    bright_hz: float
    noise: float


LEAD = Touch(pick_mm=105.0, bright_hz=3800.0, noise=1.0)
COMPING = Touch(pick_mm=140.0, bright_hz=3000.0, noise=0.8)


@dataclass(frozen=True)
class Voice:
    """One string from a strike to its end. ``fret`` is the first fret held; ``seed`` feeds the pick's
    noise.
    """

    string: int
    fret: int
    pitch: float
    start_s: float
    end_s: float
    strikes: tuple[Strike, ...]
    moves: tuple[Move, ...] = ()
    vibratos: tuple[Vibrato, ...] = ()
    dampings: tuple[Damping, ...] = ()
    touch: Touch = LEAD
    seed: int = 0

    def pitch_at(self, times_s: Floats) -> Floats:
        """The pitch (MIDI, with fractions) at each of the times, in seconds of the recording."""
        pitch = np.full_like(times_s, self.pitch)
        for move in self.moves:
            pitch = np.where(times_s >= move.start_s, _along(move, times_s), pitch)
        for vibrato in self.vibratos:
            pitch += _rocking(vibrato, times_s)
        return pitch


#: How long the finger takes over each fret wire of a slide, as a part of the time it has for that fret.
_WIRE = 0.5


def _ease(x: Floats) -> Floats:
    """From 0 to 1 with the least jerk: how a hand moves (Flash and Hogan 1985, from memory)."""
    x = np.clip(x, 0.0, 1.0)
    return np.asarray(x * x * x * (10.0 + x * (6.0 * x - 15.0)))


def _along(move: Move, times_s: Floats) -> Floats:
    """The pitch on a move and after it.

    A bend raises the pitch by the square of the sideways distance (the string's stretch), so the finger
    eases and the pitch follows its square.
    """
    x = (times_s - move.start_s) / max(move.end_s - move.start_s, 1e-9)
    if move.shape is MoveShape.BEND:
        a = np.sqrt(max(move.source - move.fret_pitch, 0.0))
        b = np.sqrt(max(move.target - move.fret_pitch, 0.0))
        return np.asarray(move.fret_pitch + (a + (b - a) * _ease(x)) ** 2)
    if move.shape is MoveShape.STEP:
        return np.asarray(move.source + (move.target - move.source) * _ease(x))
    steps = max(1, round(abs(move.target - move.source)))
    along = np.clip(x, 0.0, 1.0) * steps
    whole = np.minimum(np.floor(along), steps - 1)
    part = whole + _ease((along - whole - (1.0 - _WIRE)) / _WIRE)
    return np.asarray(move.source + (move.target - move.source) * part / steps)


def _rocking(vibrato: Vibrato, times_s: Floats) -> Floats:
    """The vibrato's share of the pitch in semitones: it grows over its first and fades in its last tenth
    of a second.
    """
    since, left = times_s - vibrato.start_s, vibrato.end_s - times_s
    swell = _ease(since / 0.12) * _ease(left / 0.06)
    wave = 0.5 * (1.0 - np.cos(2.0 * np.pi * vibrato.rate_hz * np.maximum(since, 0.0)))
    return np.asarray((1.0 if vibrato.upward else -1.0) * vibrato.depth_cents / 100.0 * swell * wave)
