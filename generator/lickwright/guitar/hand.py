"""The fretting hand: what its fingers reach, hold, bar and bend, and how fast it moves; nothing of music.

Reach is geometry. The hand lies in the plane of the board, knuckles ``knuckle_mm`` apart in a line that
may be turned against the neck by ``turn_deg``. A finger's tip is anywhere between ``curled`` and
``straight`` of its length from its knuckle, neighbours open by at most ``spread_deg``. The reach of two
fingers is the greatest distance of their tips along the neck for a given distance across it; a grip is
possible when one and the same turn of the hand allows all its pairs.

Conventions: fingers from 1 (index) to 4 (little), 0 for an open string; strings from 1, the highest; frets
from the nut or the capo, 0 open; a position is the fret under the index finger. Lengths in mm, forces
in N, times in s, bends in quarter tones. A finger presses its string anywhere in the part of the fret
space that lies next to the fret's wire and is ``press_zone`` of the space wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lickwright.guitar.neck import Neck, frets_mm, spacings_mm
from lickwright.guitar.strings import LARGEST_BEND, StringSet, bend_tables

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

FINGERS = (1, 2, 3, 4)
_TURNS = 34  # how finely the turns of the hand are sampled; each is a bit of an int64
_ACROSS_STEP_MM = 2.0
_NEVER = -1.0
PAIRS = tuple(combinations(FINGERS, 2))


@dataclass(frozen=True)
class GripPoints:
    """What a grip asks of the hand, in points; tuples over the fingers start with the index.

    A point for each ``stretch_mm`` beyond rest; ``crowded`` for each fret nearer than one finger a fret; ``fingers`` for
    any finger that holds something. A barre costs ``barre_string`` a string, ``barre_fingers``, and more up to fret 3
    (``barre_nut``) and 5 (``barre_low``). A muted string: a neighbour leans on it, a barre lifts, a free finger touches.
    Common practice, no source; rule files set their own.
    """

    stretch_mm: float = 6.0
    crowded: int = 2
    fingers: tuple[int, int, int, int] = (0, 0, 1, 2)
    barre_string: int = 1
    barre_fingers: tuple[int, int, int, int] = (0, 5, 2, 4)
    barre_nut: int = 2
    barre_low: int = 1
    lean: int = 1
    lift: int = 3
    touch: int = 4


@dataclass(frozen=True)
class Hand:
    """One player's fretting hand. Tuples over the fingers start with the index.

    Finger lengths and the spread between neighbours are the means, the spread plus one standard deviation
    for a practised hand, of 51 adults: Chatzioglou, Pinar, Govsa, Anat Cell Biol 57:172-182, 2024,
    doi:10.5115/acb.23.310. The other values are common practice, no source; rule files set their own.

    ``size`` scales all lengths. Whatever the fingers reach, ``span_limit_frets`` and ``span_limit_mm`` (wire
    to wire) bound each pair, in the order of ``PAIRS``: 1-2, 1-3, 1-4, 2-3, 2-4, 3-4. A bend's force limit
    is the bending finger's own plus ``helper_force_n`` for each finger behind it. Rates are notes a second.
    """

    finger_mm: tuple[float, float, float, float] = (63.9, 70.7, 65.5, 53.3)
    spread_deg: tuple[float, float, float] = (19.8, 16.6, 39.1)
    size: float = 1.0
    knuckle_mm: float = 21.0
    curled: float = 0.3
    straight: float = 0.95
    turn_deg: tuple[float, float] = (-22.5, 60.0)
    press_zone: float = 0.7
    travel_mm: float = 40.0
    span_limit_frets: tuple[int, int, int, int, int, int] = (3, 4, 4, 2, 3, 2)
    span_limit_mm: tuple[float, float, float, float, float, float] | None = None
    barre_strings_limit: tuple[int, int, int, int] = (7, 3, 4, 3)
    bend_force_limit_n: tuple[float, float, float, float] = (5.5, 6.5, 8.0, 5.0)
    helper_force_n: float = 2.0
    bend_size_limit: tuple[int, int, int, int] = (1, 2, 6, 4)
    bend_wound_limit: int = 2
    bend_distance_limit_mm: float = 26.0
    bend_runs_into_limit: int = 2
    bend_start_s: float = 0.03
    bend_speed_mm_s: float = 150.0
    shift_start_s: float = 0.06
    shift_speed_mm_s: float = 1000.0
    plucks_per_s: float = 9.0
    hammer_ons_per_s: float = 10.0
    pull_offs_per_s: float = 10.0
    slides_per_s: float = 7.0
    strums_per_s: float = 10.0
    points: GripPoints = GripPoints()

    def rate(self, technique: str) -> float:
        """Notes a second at most by a technique's name, as ``Technique`` writes it."""
        rates = {
            "pluck": self.plucks_per_s,
            "hammer-on": self.hammer_ons_per_s,
            "pull-off": self.pull_offs_per_s,
            "slide": self.slides_per_s,
        }
        return rates[technique]


@dataclass(frozen=True)
class HandShape:
    """How the fingers share the frets of a position: for each finger the frets above it that it may take.

    ``instead`` are frets of its neighbour that a stronger finger may take while it stays away; ``stretches``
    those it takes by opening the hand further. ``offsets[0]`` is the index finger's.
    """

    name: str
    offsets: tuple[tuple[int, ...], ...]
    stretches: tuple[tuple[int, ...], ...] = ((), (), (), ())
    instead: tuple[tuple[int, ...], ...] = ((), (), (), ())

    def fingers(self, offset: int, stretch: bool = True) -> tuple[int, ...]:
        """The fingers that may take the fret ``offset`` above the position, the unstretched first."""
        plain = tuple(f for f in FINGERS if offset in self.offsets[f - 1])
        plain += tuple(f for f in FINGERS if offset in self.instead[f - 1] and f not in plain)
        wide = tuple(f for f in FINGERS if offset in self.stretches[f - 1] and f not in plain)
        return plain + wide if stretch else plain


#: Common practice, no source.
HAND_SHAPES: dict[str, HandShape] = {
    shape.name: shape
    for shape in (
        HandShape("one finger a fret", ((0,), (1,), (2,), (3,)), ((-1,), (), (), (4,)), ((), (), (3,), ())),
        HandShape("three fingers", ((0,), (1,), (2, 3), ()), ((), (2,), (), ())),
    )
}


# ---- reach ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Reach:
    """Greatest distance along the neck, mm, by [turn, lower finger, higher finger, distance across]."""

    across_mm: Floats
    along_mm: Floats


@lru_cache(maxsize=32)
def _reach(hand: Hand) -> _Reach:
    """Sweeps turns, openings and finger lengths; across is positive towards the thick strings."""
    turns = np.radians(np.linspace(*hand.turn_deg, _TURNS))
    across = np.arange(-70.0, 70.1, _ACROSS_STEP_MM)
    along = np.full((len(turns), 5, 5, len(across)), _NEVER)
    lengths = np.array(hand.finger_mm) * hand.size
    knuckle = hand.knuckle_mm * hand.size
    openings = np.radians(np.concatenate([[0.0], np.cumsum(hand.spread_deg)]))
    openings = openings[1] - openings  # of each finger against the middle one, towards the nut
    turn, share, part = np.ix_(turns, np.linspace(0, 1, 6), np.linspace(hand.curled, hand.straight, 24))
    for i, j in combinations(range(4), 2):
        angle_i, angle_j = turn + share * openings[i], turn + share * openings[j]
        tip = part * lengths[i]
        beside = knuckle * (j - i)
        for column, wanted in enumerate(across):
            other = (tip * np.cos(angle_i) + wanted - beside * np.sin(turn)) / np.cos(angle_j)
            able = (other >= hand.curled * lengths[j]) & (other <= hand.straight * lengths[j])
            apart = beside * np.cos(turn) - other * np.sin(angle_j) + tip * np.sin(angle_i)
            along[:, i + 1, j + 1, column] = np.where(able, apart, _NEVER).max(axis=(1, 2))
    return _Reach(across, along)


def reach_mm(hand: Hand, finger_a: int, finger_b: int, across_mm: float = 0.0) -> float:
    """How far apart along the neck two fingers press at most, ``across_mm`` apart across it.

    Positive ``across_mm`` puts the higher finger nearer the thick strings. 0 when they cannot.
    """
    low, high = sorted((finger_a, finger_b))
    reach = _reach(hand)
    best = reach.along_mm[:, low, high].max(axis=0)
    return max(0.0, float(np.interp(across_mm, reach.across_mm, best)))


def needed_mm(hand: Hand, neck: Neck, fret_a: ArrayLike, fret_b: ArrayLike) -> Floats:
    """The least distance along the neck between two fingers that press these frets; symmetric, broadcasts.

    The one nearer the nut presses right behind its wire, the other as far from its wire as it may.
    """
    frets = frets_mm(neck)
    low, high = np.minimum(fret_a, fret_b), np.maximum(fret_a, fret_b)
    space = frets[high] - frets[np.maximum(high - 1, 0)]
    return np.asarray(np.where(low == high, 0.0, frets[high] - hand.press_zone * space - frets[low]))


def _allowed(hand: Hand, neck: Neck, low: int, high: int) -> Bools:
    """Where the stated limits let two fingers go: [fret of the lower finger, fret of the higher]."""
    frets, wires = np.arange(neck.top_fret + 1), frets_mm(neck)
    apart = frets[None, :] - frets[:, None]
    pair = PAIRS.index((low, high))
    allowed = (apart >= 0) & (apart <= hand.span_limit_frets[pair])
    if hand.span_limit_mm is not None:
        allowed &= wires[None, :] - wires[:, None] <= hand.span_limit_mm[pair]
    return np.asarray(allowed)


@lru_cache(maxsize=16)
def turns_table(hand: Hand, neck: Neck) -> NDArray[np.int64]:
    """Which turns of the hand let a pair of fingers hold two places, as bits.

    Indexed [lower finger, higher finger, its fret, the other's fret, strings from the first to the second
    finger + strings - 1]; the higher finger is never on the lower fret.
    """
    reach = _reach(hand)
    size, strings = neck.top_fret + 1, neck.strings
    fret_a, fret_b, apart = np.ix_(range(size), range(size), range(1 - strings, strings))
    needed = needed_mm(hand, neck, fret_a, fret_b)[..., 0]
    spacing = spacings_mm(neck)
    across = apart * (spacing[fret_a] + spacing[fret_b]) / 2
    column = np.rint((across - reach.across_mm[0]) / _ACROSS_STEP_MM).astype(int)
    column = np.clip(column, 0, len(reach.across_mm) - 1)
    table = np.zeros((5, 5, size, size, 2 * strings - 1), np.int64)
    for low, high in PAIRS:
        allowed = _allowed(hand, neck, low, high)
        for bit in range(reach.along_mm.shape[0]):
            able = (reach.along_mm[bit, low, high][column] >= needed[..., None]) & allowed[..., None]
            table[low, high] |= able.astype(np.int64) << bit
    table.flags.writeable = False
    return table


@lru_cache(maxsize=16)
def span_table(hand: Hand, neck: Neck) -> Bools:
    """Which two touches lie in one position: [finger, fret, finger, fret, strings apart + strings - 1].

    Open strings (finger 0 and fret 0) go with everything. One finger goes to another fret only as far as it
    travels alone (``travel_mm``): one after the other, never both at once. Read-only, fingers 0 to 4.
    """
    turns = turns_table(hand, neck)
    size = neck.top_fret + 1
    table = np.zeros((5, size, 5, size, 2 * neck.strings - 1), bool)
    for low, high in PAIRS:
        able = turns[low, high] != 0
        able[0] = able[:, 0] = False
        table[low, :, high] = able
        table[high, :, low] = able.transpose(1, 0, 2)[:, :, ::-1]
    frets = np.arange(size)
    near = needed_mm(hand, neck, *np.ix_(frets, frets)) <= hand.travel_mm * hand.size
    near[0] = near[:, 0] = False
    for finger in FINGERS:
        table[finger, :, finger] = near[..., None]
    table[0, 0, 0, 0] = True
    table[0, 0, 1:, 1:] = table[1:, 1:, 0, 0] = True
    table.flags.writeable = False
    return table


def spans_ok(
    hand: Hand,
    neck: Neck,
    finger_a: ArrayLike,
    fret_a: ArrayLike,
    finger_b: ArrayLike,
    fret_b: ArrayLike,
    strings_apart: ArrayLike = 0,
) -> Bools:
    """True where both touches lie in one position; integer arrays that broadcast.

    ``strings_apart`` is string b minus string a.
    """
    at = (finger_a, fret_a, finger_b, fret_b, np.asarray(strings_apart) + neck.strings - 1)
    return np.asarray(span_table(hand, neck)[tuple(np.asarray(index, int) for index in at)])


# ---- bends ------------------------------------------------------------------------------------------------


def bend_force_limits_n(hand: Hand) -> Floats:
    """The greatest force of a bend by [finger, helping fingers], finger from 0 (which bends nothing)."""
    alone = np.array((0.0, *hand.bend_force_limit_n))[:, None]
    helpers = np.arange(4)[None, :]
    able = (helpers < np.arange(5)[:, None]) | (helpers == 0)
    return np.asarray(np.where(able, alone + hand.helper_force_n * helpers, 0.0))


def helpers(finger: int, busy: Sequence[int] = ()) -> int:
    """How many fingers can push along behind a bending finger when ``busy`` ones hold other notes."""
    return sum(1 for f in range(1, finger) if f not in busy)


def _bend_demands(hand: Hand, neck: Neck, strings: StringSet) -> dict[str, tuple[Floats, Floats]]:
    """What a bend asks and the limit on it, each broadcast to [string, fret, size, finger, helpers]."""
    tables = bend_tables(neck, strings)
    fingers = np.array((0, *hand.bend_size_limit))[None, None, None, :, None]
    wound = np.array([False, *(gauge.wound for gauge in strings.for_neck(neck))])
    sizes = np.arange(LARGEST_BEND + 1.0)[None, None, :, None, None]

    def wide(table: NDArray[np.generic]) -> Floats:
        return table[..., None, None].astype(float)

    most = np.where(wound, hand.bend_wound_limit, LARGEST_BEND)[:, None, None, None, None]
    return {
        "force_n": (wide(tables.force_n), bend_force_limits_n(hand)[None, None, None]),
        "distance_mm": (wide(tables.distance_mm), np.full((1,) * 5, hand.bend_distance_limit_mm)),
        "strings_run_into": (wide(tables.runs_into), np.full((1,) * 5, float(hand.bend_runs_into_limit))),
        "off_the_board": (wide(~tables.on_board), np.zeros((1,) * 5)),
        "size_with_this_finger": (sizes, fingers.astype(float)),
        "size_on_this_string": (sizes, most.astype(float)),
    }


@lru_cache(maxsize=32)
def bend_table(hand: Hand, neck: Neck, strings: StringSet) -> Bools:
    """Which bends the hand can do: [string, fret, size, finger, helping fingers], read-only bools."""
    shape = (neck.strings + 1, neck.top_fret + 1, LARGEST_BEND + 1, 5, 4)
    able = np.ones(shape, bool)
    for asked, limit in _bend_demands(hand, neck, strings).values():
        able &= asked <= limit
    able.flags.writeable = False
    return able


def bend_faults(
    hand: Hand, neck: Neck, strings: StringSet, string: int, fret: int, size: int, finger: int, helping: int
) -> dict[str, tuple[float, float]]:
    """The limits that a bend breaks: name to (asked, limit), as ``{"force_n": (14.2, 12.0)}``; or nothing."""
    at = (string, fret, size, finger, helping)
    shape = (neck.strings + 1, neck.top_fret + 1, LARGEST_BEND + 1, 5, 4)
    faults = {}
    for name, (asked, limit) in _bend_demands(hand, neck, strings).items():
        values = float(np.broadcast_to(asked, shape)[at]), float(np.broadcast_to(limit, shape)[at])
        if values[0] > values[1]:
            faults[name] = values
    return faults


def bend_seconds(hand: Hand, distance_mm: ArrayLike) -> Floats:
    """The least time a bend of this distance takes; 0 for no distance; broadcasts."""
    distance = np.asarray(distance_mm, float)
    return np.asarray(np.where(distance > 0, hand.bend_start_s + distance / hand.bend_speed_mm_s, 0.0))


# ---- time and effort --------------------------------------------------------------------------------------


def shift_mm(neck: Neck, position_a: ArrayLike, position_b: ArrayLike) -> Floats:
    """How far the hand moves between two positions (frets under the index finger); broadcasts."""
    frets = frets_mm(neck)
    return np.asarray(np.abs(frets[np.asarray(position_b)] - frets[np.asarray(position_a)]))


def shift_seconds(hand: Hand, neck: Neck, position_a: ArrayLike, position_b: ArrayLike) -> Floats:
    """The least time of a shift, a start plus distance over speed; 0 for no shift; broadcasts."""
    distance = shift_mm(neck, position_a, position_b)
    return np.asarray(np.where(distance > 0, hand.shift_start_s + distance / hand.shift_speed_mm_s, 0.0))


def shift_speed_mm_s(
    hand: Hand, neck: Neck, position_a: ArrayLike, position_b: ArrayLike, seconds: ArrayLike
) -> Floats:
    """The speed that a shift in ``seconds`` asks for, infinite when not even the start fits; broadcasts."""
    distance = shift_mm(neck, position_a, position_b)
    left = np.maximum(np.asarray(seconds, float) - hand.shift_start_s, 0.0)
    speed = np.full(np.broadcast_shapes(distance.shape, left.shape), np.inf)
    np.divide(distance, left, out=speed, where=left > 0)
    return np.asarray(np.where(distance > 0, speed, 0.0))


def reach_beyond_rest_mm(
    hand: Hand, neck: Neck, finger_a: ArrayLike, fret_a: ArrayLike, finger_b: ArrayLike, fret_b: ArrayLike
) -> Floats:
    """How much further apart two fingers press than they lie at rest, a knuckle's distance each; broadcasts.

    Open strings ask for nothing.
    """
    a, b = np.asarray(finger_a), np.asarray(finger_b)
    rest = np.abs(a - b) * hand.knuckle_mm * hand.size
    beyond = np.maximum(needed_mm(hand, neck, fret_a, fret_b) - rest, 0.0)
    return np.asarray(np.where((a == 0) | (b == 0), 0.0, beyond))


def string_crossings(string_a: ArrayLike, string_b: ArrayLike) -> NDArray[np.int64]:
    """How many strings the picking hand crosses from one touch to the next; broadcasts."""
    return np.asarray(np.abs(np.asarray(string_b, int) - np.asarray(string_a, int)))
