"""What a lick's way home makes of its figure: said again lower or higher, cut short, upside down, or nothing.

A measure, for the solver to aim at and the judge to report; it forbids nothing.

Conventions: pitches in MIDI numbers and onsets in ticks, one each for every note; the first ``figure`` notes are
the figure, the others the way home with its landing. A way home of less than ``LEAST_HOME`` notes is too short to
take anything up.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from itertools import pairwise

from lickwright.rulebook.rule import Line

#: Notes of a way home, with the landing, that could take something up.
LEAST_HOME = 3
#: So many notes running are heard as the figure again by their course alone; one fewer with its rhythm too.
LONG_WINDOW = 4
#: How far, in semitones, an interval may be from the figure's own.
LOOSE = 2


class Development(StrEnum):
    """How the way home takes up the figure."""

    SEQUENCE = "said again on another step"
    SHORTENED = "cut short"
    TURNED = "upside down"
    NONE = "nothing taken up"


def development(line: Line) -> Development | None:
    """What the way home takes up of the figure; None when one of the two is too short to ask.

    The longest stretch counts: the whole figure is a sequence, a part of it is the figure cut short. Stretches
    are alike when every interval goes the same way (for TURNED, the other way) and differs by LOOSE at most.
    """
    n, m = line.figure, len(line.pitches) - line.figure
    if n < LEAST_HOME or m < LEAST_HOME:
        return None
    for length in range(min(n, m), LEAST_HOME - 1, -1):
        for at in range(n - length + 1):
            for home in range(n, n + m - length + 1):
                turned = _alike(line, at, home, length)
                if turned is not None:
                    whole = length == n
                    if turned:
                        return Development.TURNED
                    return Development.SEQUENCE if whole else Development.SHORTENED
    return Development.NONE


def _alike(line: Line, at: int, home: int, length: int) -> bool | None:
    """True when the stretch at ``home`` is that at ``at`` upside down, False when as it is, None when neither."""
    mine, theirs = (_steps(line.pitches[k : k + length]) for k in (home, at))
    if length < LONG_WINDOW:
        rhythm = [_steps(line.ticks[k : k + length]) for k in (home, at)]
        if rhythm[0] != rhythm[1]:
            return None
    if not any(mine):
        return None
    if _close(mine, theirs):
        return False
    return True if _close(mine, [-i for i in theirs]) else None


def _steps(values: Sequence[int]) -> list[int]:
    return [b - a for a, b in pairwise(values)]


def _close(a: Sequence[int], b: Sequence[int]) -> bool:
    return all(
        (x > 0) == (y > 0) and (x < 0) == (y < 0) and abs(x - y) <= LOOSE for x, y in zip(a, b, strict=True)
    )
