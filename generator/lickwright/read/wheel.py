"""What a moving pitch wheel means: a bend, a grace note, a trill, vibrato, the way of a slide to the next note.

A curve is (share of the note from 0 to 1, semitones) from the note's start on, each value standing until the
next. In order: a short way at the end that arrives at the next note of the channel is a slide; a short whole step
away at the beginning is a grace note; jumps to and fro are a trill; swings are vibrato; what rests away from
the fret is a bend, rounded to a quarter tone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lickwright.guitar.strings import LARGEST_BEND
from lickwright.read.sounds import BendSign
from lickwright.study.model import BendKind, Technique

#: Shares and seconds; common practice, no source: how long a grace note and the way of a slide last at most.
GRACE_SHARE, GRACE_S, SLIDE_S = 0.36, 0.12, 0.15
#: Semitones by which a wheel may miss what it means.
NEAR = 0.13
#: A wheel that goes up and down once and stays below this is a swing, not a quarter-tone bend.
SMALLEST_BEND = 0.47

Point = tuple[float, float]


@dataclass(frozen=True)
class Moved:
    """What one note's wheel means. ``grace`` is in semitones from the fret, ``trill`` up from it."""

    bend: BendSign | None = None
    grace: int | None = None
    grace_technique: Technique | None = None
    trill: int | None = None
    vibrato: bool = False
    slides_on: bool = False


def meaning(curve: Sequence[Point], seconds: float, to_next: int | None) -> Moved:
    """What a curve means over a note of ``seconds``; ``to_next`` semitones lie between it and the next note."""
    points = list(curve)
    points, slides = _without_slide(points, seconds, to_next)
    points, grace, technique = _without_grace(points, seconds)
    trill = _trill(points)
    if trill is not None:
        return Moved(None, grace, technique, trill, False, slides)
    bend, vibrato = _bend(points)
    return Moved(bend, grace, technique, None, vibrato, slides)


def _without_slide(points: list[Point], seconds: float, to_next: int | None) -> tuple[list[Point], bool]:
    """The curve up to where the slide leaves; a slide ends within reach of the next note's pitch."""
    if not to_next or len(points) < 3 or abs(points[-1][1] - to_next) > 0.25 * abs(to_next) + 0.2:
        return points, False
    way = 1 if to_next > 0 else -1
    k = len(points) - 1
    while k > 0 and way * (points[k][1] - points[k - 1][1]) > 0:
        k -= 1
    if k == len(points) - 1 or (1 - points[k + 1][0]) * seconds > SLIDE_S:
        return points, False
    return points[: k + 1], True


def _without_grace(points: list[Point], seconds: float) -> tuple[list[Point], int | None, Technique | None]:
    """The curve from the main note on, and the small note before it."""
    away = points[0][1] if points else 0.0
    step = round(away)
    if not step or abs(away - step) > NEAR:
        return points, None, None
    for k, (share, value) in enumerate(points):
        if share > GRACE_SHARE or share * seconds > GRACE_S:
            return points, None, None
        if abs(value) <= NEAR:
            ramp = k > 1 and abs(points[1][1] - away) > NEAR and points[1][0] * seconds < 0.02
            technique = Technique.SLIDE if ramp else Technique.HAMMER_ON if step < 0 else Technique.PULL_OFF
            return [(0.0, value), *points[k + 1 :]], step, technique
    return points, None, None


def _trill(points: Sequence[Point]) -> int | None:
    """The semitones of a wheel that jumps to and fro between the fret and one pitch above it."""
    highs = [round(v) for _, v in points if v > 0.5]
    whole = all(abs(v - round(v)) <= NEAR for _, v in points)
    jumps = sum(abs(b[1] - a[1]) > 0.5 for a, b in pairwise(points))
    return highs[0] if whole and jumps >= 4 and len(set(highs)) == 1 and jumps == len(points) - 1 else None


def _bend(points: Sequence[Point]) -> tuple[BendSign | None, bool]:
    """The bend that a curve rests at, and whether it swings."""
    rests = _rests(points)
    turns = _reversals(points)
    level, held = max(rests, key=lambda r: (round(r[0], 1), r[1]), default=(0.0, 0.0))
    top = max((v for _, v in points), default=0.0)
    swings = turns >= 2 or (turns == 1 and top < SMALLEST_BEND)
    if swings and top < 0.75 and not (held > 0.2 and level > 0.3):
        return None, True
    size = round(2 * max(level, top if swings else level))
    if swings and size >= 2:
        size = round(2 * top)
    if not 0 < size <= LARGEST_BEND:
        return None, swings
    height = size / 2
    start, end = points[0][1], points[-1][1]
    pre = abs(start - height) <= 0.5 * height and start > 0.2
    released = abs(end) <= 0.3 * height
    kind = {
        (False, False): BendKind.BEND,
        (False, True): BendKind.BEND_RELEASE,
        (True, False): BendKind.PRE_BEND,
        (True, True): BendKind.PRE_BEND_RELEASE,
    }[pre, released]
    return BendSign(kind, size, () if swings else _ways(points, height, kind)), swings


def _ways(points: Sequence[Point], height: float, kind: BendKind) -> tuple[float, ...]:
    """The shares at which the pitch leaves and arrives, up and then down."""
    up: tuple[float, ...] = ()
    if kind in (BendKind.BEND, BendKind.BEND_RELEASE):
        arrives = next((s for s, v in points if v >= height - 0.02), 1.0)
        leaves = max((s for s, v in points if s < arrives and v <= 0.02), default=0.0)
        up = (leaves, arrives)
    if kind in (BendKind.BEND, BendKind.PRE_BEND):
        return up
    high = max((k for k, (_, v) in enumerate(points) if v >= height - 0.02), default=0)
    leaves = points[min(high + 1, len(points) - 1)][0]
    arrives = next((s for s, v in points if s > leaves and v <= 0.02), 1.0)
    return (*up, leaves, arrives)


def _rests(points: Sequence[Point]) -> list[tuple[float, float]]:
    """(semitones, share of the note) of every stretch in which the wheel stands still."""
    following = [*(s for s, _ in points[1:]), 1.0]
    return [(v, end - s) for (s, v), end in zip(points, following, strict=True) if end - s >= 0.08]


def _reversals(points: Sequence[Point]) -> int:
    """How often a curve turns back by more than a tenth of a semitone."""
    turns, way, extreme = 0, 0, points[0][1] if points else 0.0
    for _, value in points:
        if way >= 0 and value < extreme - 0.1:
            turns += way > 0
            way, extreme = -1, value
        elif way <= 0 and value > extreme + 0.1:
            turns += way < 0
            way, extreme = 1, value
        elif (way > 0 and value > extreme) or (way < 0 and value < extreme):
            extreme = value
    return turns
