"""When each event sounds: ticks into seconds, and the table that a player follows. It knows nothing of sound.

Conventions: seconds count from the first sample of the recording, the count-in included.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass

from lickwright.study.model import Event, Study
from lickwright.theory.rhythm import TICKS_PER_BEAT, seconds

SLOWEST, FASTEST = 0.25, 2.0


def checked_speed(speed: float) -> float:
    """The speed itself; raises ValueError when it is outside 0.25 to 2 (1 is the study's tempo).

    >>> checked_speed(0.75)
    0.75
    """
    if not SLOWEST <= speed <= FASTEST:
        raise ValueError(
            f"speed {speed:g} is out of reach: give a number from {SLOWEST:g} to {FASTEST:g} "
            "(1 is the study's own tempo, 0.5 half of it)"
        )
    return float(speed)


@dataclass(frozen=True)
class Clock:
    """Turns ticks into seconds: tick ``first_tick`` falls at ``origin_s``, at ``tempo_bpm`` times
    ``speed``.
    """

    tempo_bpm: float
    speed: float = 1.0
    origin_s: float = 0.0
    first_tick: int = 0

    def at(self, tick: float) -> float:
        """Seconds from the start of the recording."""
        return self.origin_s + self.span(tick - self.first_tick)

    def span(self, ticks: float) -> float:
        """How long so many ticks last, in seconds."""
        return seconds(ticks, self.tempo_bpm * self.speed)


@dataclass(frozen=True)
class Span:
    """One event of the study and when it sounds, in seconds (``end`` is that of its written duration)."""

    id: str
    start: float
    end: float


@dataclass(frozen=True)
class TimeMap:
    """When each event of a recording sounds.

    ``origin_s`` is the time of tick ``first_tick`` of the study (after the count-in, if there is one),
    ``tick_s`` the seconds a tick lasts, ``length_s`` the recording's length with the last note's ringing.
    Starts are the score's; where small human timing is on, the sound may lie up to 12 ms beside them.
    """

    speed: float
    tempo_bpm: float
    origin_s: float
    first_tick: int
    tick_s: float
    length_s: float
    events: tuple[Span, ...]

    def to_json(self) -> str:
        """The map as JSON text, times rounded to a tenth of a millisecond."""
        data = asdict(self)
        for name in ("origin_s", "length_s"):
            data[name] = round(data[name], 4)
        data["events"] = [[e.id, round(e.start, 4), round(e.end, 4)] for e in self.events]
        return json.dumps(data)

    @classmethod
    def from_json(cls, text: str) -> TimeMap:
        """Reads what ``to_json`` wrote."""
        data = json.loads(text)
        return cls(**{**data, "events": tuple(Span(*e) for e in data["events"])})


def time_map(study: Study, clock: Clock, events: tuple[Event, ...], length_s: float) -> TimeMap:
    """The map of ``events`` (those that the recording holds) under ``clock``."""
    return TimeMap(
        speed=clock.speed,
        tempo_bpm=study.tempo_bpm * clock.speed,
        origin_s=clock.origin_s,
        first_tick=clock.first_tick,
        tick_s=clock.span(TICKS_PER_BEAT) / TICKS_PER_BEAT,
        length_s=length_s,
        events=tuple(Span(e.id, clock.at(e.onset), clock.at(e.end)) for e in events),
    )
