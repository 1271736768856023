"""How hard, how exactly and how far: velocity by the beat, human timing, strums, and where a blue note
sounds.

It turns what a Study writes into figures; it makes no musical decision of its own and no sound.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np

from lickwright.study.model import Event, Note, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

#: Blue notes in cents above the tonic, the middle of each cluster as sung and played in fifteen early
#: recordings (C. B. Cutting, "Microtonal Analysis of 'Blue Notes' and the Blues Scale", Empirical
#: Musicology Review, 2018/19).
BLUE_CENTS = {"b3": 319.1, "b5": 582.8, "b7": 1037.9}
QUARTER_TONE_CENTS = 50.0

#: Small human timing: its spread and its bound, in seconds.
HUMAN_SPREAD_S = 0.004
HUMAN_BOUND_S = 0.012

#: Seconds between neighbouring strings: a strummed grip, and two strings picked together.
STRUM_S = 0.006
DOUBLE_STOP_S = 0.001


@dataclass(frozen=True)
class Feeling:
    """What a player adds to one event: seconds late (or early), and a factor for the loudness."""

    late_s: float = 0.0
    loudness: float = 1.0


def feeling(study: Study, event: Event, human: bool) -> Feeling:
    """The event's own small inexactness, the same in every rendering of this study; none when not
    ``human``.
    """
    if not human:
        return Feeling()
    generator = np.random.default_rng(event_seed(study, event, "feeling"))
    late, loud = generator.standard_normal(2)
    bound = HUMAN_BOUND_S / HUMAN_SPREAD_S
    return Feeling(
        float(np.clip(late, -bound, bound)) * HUMAN_SPREAD_S, 1.0 + 0.05 * float(np.clip(loud, -2, 2))
    )


def event_seed(study: Study, event: Event, use: str) -> int:
    """A seed that depends on the study's own seed, the event and the use alone."""
    text = f"{study.brief.seed}/{event.id}/{use}"
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "little")


def velocity(study: Study, event: Event) -> float:
    """How hard the event is struck, 0 to 1: by its place in the bar, and softer in the comping.

    Common practice, no source: the first beat leads in a lick, the second and fourth in the comping.
    """
    comping = is_comping(study, event)
    tick = event.onset % TICKS_PER_BAR
    beat, part = divmod(tick, TICKS_PER_BEAT)
    if part:
        accent = -0.06 if part in (4, 6, 8) else -0.12
    elif comping:
        accent = (0.0, 0.07, -0.02, 0.07)[beat]
    else:
        accent = (0.08, 0.02, 0.05, 0.02)[beat]
    held = 0.05 if event.duration >= TICKS_PER_BEAT and not comping else 0.0
    return (0.58 if comping else 0.74) + accent + held


def is_comping(study: Study, event: Event) -> bool:
    """True when the event stands in a comping slot or sounds a grip."""
    if event.grip is not None:
        return True
    return any(s.number == event.slot and s.kind is SlotKind.COMP for s in study.slots)


def strum_delays(event: Event) -> dict[int, float]:
    """Seconds after the onset at which each string is struck; the first always at the onset.

    Down, from the lowest string, on a beat; up on the way back between two beats. Common practice, no source.
    """
    strings = sorted((n.string for n in event.notes), reverse=True)
    if event.onset % TICKS_PER_BEAT and len(strings) > 2:
        strings.reverse()
    step = STRUM_S if len(strings) > 2 else DOUBLE_STOP_S
    return {string: i * step for i, string in enumerate(strings)}


def bend_semitones(study: Study, note: Note, quarter_tones: float) -> float:
    """How far a written bend raises the pitch, in semitones.

    Two quarter tones are a semitone. A bend of one quarter tone is a blue note's curl: from the key's
    flat third or flat seventh it goes to the measured cluster (19.1 and 37.9 cents up), from any other
    degree 50 cents.
    """
    if note.bend is None or note.bend.size != 1:
        return quarter_tones / 2.0
    degree = (note.pitch - study.home.pitch_class) % 12
    cents = {3: BLUE_CENTS["b3"] - 300.0, 10: BLUE_CENTS["b7"] - 1000.0}.get(degree, QUARTER_TONE_CENTS)
    return quarter_tones * cents / 100.0
