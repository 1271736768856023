"""What it costs to move the hand from position to position: frets under the index finger, 0..POSITIONS - 1."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lickwright.guitar.hand import Hand, shift_seconds
from lickwright.guitar.neck import Neck
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.touches import FloatArray, IntArray

POSITIONS = 25


def shift_costs(lead: Lead, seconds_free: float) -> IntArray:
    """POSITIONS x POSITIONS: what moving the hand costs when there is so much time, FORBIDDEN when it is too short."""
    comping = lead.rules.comping
    apart = np.abs(np.arange(POSITIONS)[:, None] - np.arange(POSITIONS)[None, :])
    cost = comping.hand_fret * apart + comping.far_position * np.maximum(apart - comping.far_from, 0)
    return np.where(_shift_times(lead.hand, lead.neck) <= seconds_free + 1e-9, cost, FORBIDDEN)


@lru_cache(maxsize=16)
def _shift_times(hand: Hand, neck: Neck) -> FloatArray:
    """POSITIONS x POSITIONS: the seconds a shift needs, infinite off the neck."""
    positions = np.arange(min(POSITIONS, neck.top_fret + 1))
    needs = np.full((POSITIONS, POSITIONS), np.inf)
    needs[: len(positions), : len(positions)] = shift_seconds(hand, neck, *np.ix_(positions, positions))
    return needs
