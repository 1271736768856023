"""The fretting hand: what its fingers reach, hold, bar and bend, and how fast it moves; nothing of music.

Reach is geometry. The hand lies in the plane of the board, knuckles ``knuckle_mm`` apart in a line that
may be turned against the neck by ``turn_deg``. A finger's tip is anywhere between ``curled`` and
``straight`` of its length from its knuckle, neighbours open by at most ``spread_deg``. The reach of two
fingers is the greatest distance of their tips along the neck for a given distance across it; a grip is
possible when one and the same turn of the hand allows all its pairs.

Conventions: fingers from 1 (index) to 4 (little), 0 for an open string; strings from 1, the highest; frets
from the nut or the capo, 0 open; the hand's place is the fret under the index finger. Lengths in mm, forces
in N, times in s, bends in quarter tones. A finger presses its string anywhere in the part of the fret
space that lies next to the fret's wire and is ``press_zone`` of the space wide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from generator.neck import Neck, frets_mm, spacings_mm
from generator.strings import LARGEST_BEND, StringSet, bend_tables

Place = tuple[int, int]
Held = tuple[int, int, int]  # string, fret, finger
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

FINGERS = (1, 2, 3, 4)
_TURN_STEP_DEG = 7.5
_ACROSS_STEP_MM = 2.0
_NEVER = -1.0


@dataclass(frozen=True)
class Hand:
    """One player's fretting hand. Tuples over the fingers start with the index.

    Finger lengths and the spread between neighbours are the means, the spread plus one standard deviation
    for a practised hand, of 51 adults: Chatzioglou, Pinar, Govsa, Anat Cell Biol 57:172-182, 2024,
    doi:10.5115/acb.23.310. The other values are common practice, no source; rule files set their own.

    ``size`` scales all lengths. A bend's force limit is that of the bending finger plus ``helper_force_n``
    for each finger behind it. Rates are notes a second by technique.
    """

    finger_mm: tuple[float, float, float, float] = (63.9, 70.7, 65.5, 53.3)
    spread_deg: tuple[float, float, float] = (19.8, 16.6, 39.1)
    size: float = 1.0
    knuckle_mm: float = 20.0
    curled: float = 0.35
    straight: float = 0.9
    turn_deg: tuple[float, float] = (-22.5, 60.0)
    press_zone: float = 0.6
    travel_mm: float = 40.0
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
    """How the fingers share the frets of one place: for each finger the frets above the place it may take.

    ``stretches`` are those it takes by opening the hand further. ``offsets[0]`` is the index finger's.
    """

    name: str
    offsets: tuple[tuple[int, ...], ...]
    stretches: tuple[tuple[int, ...], ...] = ((), (), (), ())

    def fingers(self, offset: int, stretch: bool = True) -> tuple[int, ...]:
        """The fingers that may take the fret ``offset`` above the place, unstretched ones first."""
        plain = tuple(f for f in FINGERS if offset in self.offsets[f - 1])
        wide = tuple(f for f in FINGERS if offset in self.stretches[f - 1] and f not in plain)
        return plain + wide if stretch else plain


#: Common practice, no source.
HAND_SHAPES: dict[str, HandShape] = {
    shape.name: shape
    for shape in (
        HandShape("one finger a fret", ((0,), (1,), (2,), (3,)), ((-1,), (), (), (4,))),
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
    """Sweeps turns, openings and finger lengths; the across distance is positive towards the thick strings."""
    low, high = np.radians(hand.turn_deg)
    turns = np.arange(low, high + 1e-9, np.radians(_TURN_STEP_DEG))
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


@lru_cache(maxsize=16)
def _turns_table(hand: Hand, neck: Neck) -> NDArray[np.int64]:
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
    in_order = (fret_b >= fret_a)[..., 0]
    table = np.zeros((5, 5, size, size, 2 * strings - 1), np.int64)
    for bit in range(reach.along_mm.shape[0]):
        for low, high in combinations(FINGERS, 2):
            able = (reach.along_mm[bit, low, high][column] >= needed[..., None]) & in_order[..., None]
            table[low, high] |= able.astype(np.int64) << bit
    table.flags.writeable = False
    return table


@lru_cache(maxsize=16)
def span_table(hand: Hand, neck: Neck) -> Bools:
    """Which two touches one hand place holds: [finger a, fret a, finger b, fret b, string b - a + strings - 1].

    Open strings (finger 0 and fret 0) go with everything. One finger goes to another fret only as far as it
    travels alone (``travel_mm``): one after the other, never both at once. Read-only, fingers 0 to 4.
    """
    turns = _turns_table(hand, neck)
    size = neck.top_fret + 1
    table = np.zeros((5, size, 5, size, 2 * neck.strings - 1), bool)
    for low, high in combinations(FINGERS, 2):
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


def span_ok(
    hand: Hand, neck: Neck, finger_a: int, fret_a: int, finger_b: int, fret_b: int, strings_apart: int = 0
) -> bool:
    """True when both touches lie in one hand place; ``strings_apart`` is string b minus string a."""
    return bool(span_table(hand, neck)[finger_a, fret_a, finger_b, fret_b, strings_apart + neck.strings - 1])


def spans_ok(
    hand: Hand,
    neck: Neck,
    finger_a: ArrayLike,
    fret_a: ArrayLike,
    finger_b: ArrayLike,
    fret_b: ArrayLike,
    strings_apart: ArrayLike = 0,
) -> Bools:
    """``span_ok`` over integer arrays that broadcast."""
    apart = np.asarray(strings_apart) + neck.strings - 1
    return np.asarray(span_table(hand, neck)[finger_a, fret_a, finger_b, fret_b, apart])


# ---- grips ------------------------------------------------------------------------------------------------


def _barres(notes: Sequence[Held]) -> dict[int, tuple[int, int, int]]:
    """Each fretting finger's (fret, thinnest string, thickest string)."""
    held: dict[int, tuple[int, int, int]] = {}
    for string, fret, finger in notes:
        if finger:
            _, thin, thick = held.get(finger, (fret, string, string))
            held[finger] = (fret, min(thin, string), max(thick, string))
    return held


def grip_faults(hand: Hand, neck: Neck, notes: Sequence[Held]) -> Iterator[str]:
    """Why a grip cannot be held, a sentence at a time; nothing when it can."""
    frets = {string: fret for string, fret, _ in notes}
    if len(frets) < len(notes):
        yield "two notes on one string"
        return
    for string, fret, finger in notes:
        if not (1 <= string <= neck.strings and 0 <= fret <= neck.top_fret and 0 <= finger <= 4):
            yield f"string {string} fret {fret} finger {finger} is not on this neck"
            return
        if (fret == 0) != (finger == 0):
            yield f"string {string} fret {fret} with finger {finger}: finger 0 is for open strings only"
            return
    held = _barres(notes)
    for string, fret, finger in notes:
        if finger and held[finger][0] != fret:
            yield f"finger {finger} in two places, frets {held[finger][0]} and {fret}"
            return
    yield from _barre_faults(hand, held, frets)
    yield from _reach_faults(hand, neck, held)
    if _mute_cost(held, frets) is None:
        yield "a string between the sounding ones that no finger can mute"


def _barre_faults(hand: Hand, held: dict[int, tuple[int, int, int]], frets: dict[int, int]) -> Iterator[str]:
    for finger, (fret, thin, thick) in held.items():
        width = thick - thin + 1
        if width > hand.barre_strings_limit[finger - 1]:
            yield f"finger {finger} bars {width} strings, limit {hand.barre_strings_limit[finger - 1]}"
        for string in range(thin + 1, thick):
            if frets.get(string, fret) < fret:
                yield f"finger {finger} lies across string {string}, which sounds at fret {frets[string]}"


def _reach_faults(hand: Hand, neck: Neck, held: dict[int, tuple[int, int, int]]) -> Iterator[str]:
    table = _turns_table(hand, neck)
    common = -1
    for low, high in combinations(sorted(held), 2):
        fret_a, _, string_a = held[low]
        fret_b, _, string_b = held[high]
        if fret_b < fret_a:
            yield f"finger {high} at fret {fret_b} below finger {low} at fret {fret_a}"
            return
        turns = int(table[low, high, fret_a, fret_b, string_b - string_a + neck.strings - 1])
        if not turns:
            yield f"fingers {low} and {high} do not reach frets {fret_a} and {fret_b} together"
            return
        common &= turns
    if not common:
        yield "each two fingers reach their frets, but not all of them together"


def _mute_cost(held: dict[int, tuple[int, int, int]], frets: dict[int, int]) -> int | None:
    """What muting the strings between the sounding ones costs; None when one of them cannot be muted.

    A finger that presses a neighbouring string leans on it, a barre lifts off it, a free finger touches it.
    """
    cost, free = 0, 4 - len(held)
    for string in range(min(frets, default=0) + 1, max(frets, default=0)):
        if string in frets:
            continue
        if any(thin < string < thick for _, thin, thick in held.values()):
            cost += 3
        elif frets.get(string + 1) or frets.get(string - 1):
            cost += 1
        elif free:
            free -= 1
            cost += 4
        else:
            return None
    return cost


def grip_ok(hand: Hand, neck: Neck, notes: Sequence[Held]) -> bool:
    """True when one hand can hold all the notes, each (string, fret, finger), and mute what lies between."""
    return next(grip_faults(hand, neck, notes), None) is None


def grip_place(notes: Sequence[Held]) -> int:
    """The fret under the index finger while a grip is held; 0 when only open strings sound."""
    fretted = [(finger, fret) for _, fret, finger in notes if finger]
    if not fretted:
        return 0
    finger, fret = min(fretted)
    return max(1, fret - finger + 1)


def barre_cost(finger: int, width: int, fret: int) -> int:
    """What it costs to lay a finger over ``width`` strings: more for wide ones, near the nut, other fingers."""
    if width < 2:
        return 0
    return width + (2 if fret <= 3 else 1 if fret <= 5 else 0) + (0, 5, 2, 4)[finger - 1]


def grip_cost(hand: Hand, neck: Neck, notes: Sequence[Held]) -> int:
    """How much a grip asks of the hand; an integer, 0 for open strings. The grip must be possible."""
    held = _barres(notes)
    frets = {string: fret for string, fret, _ in notes}
    cost = _mute_cost(held, frets) or 0
    for finger, (fret, thin, thick) in held.items():
        cost += barre_cost(finger, thick - thin + 1, fret) + (0, 0, 1, 2)[finger - 1]
    order = sorted(held)
    for low, high in zip(order, order[1:], strict=False):
        (fret_a, _, string_a), (fret_b, _, string_b) = held[low], held[high]
        stretch = float(reach_beyond_rest_mm(hand, neck, low, fret_a, high, fret_b))
        cost += round(stretch / 6) + 2 * max(0, high - low - (fret_b - fret_a))
        if fret_a == fret_b and string_b > string_a:
            cost += 4
    return cost


@lru_cache(maxsize=65536)
def fingerings(hand: Hand, neck: Neck, places: tuple[Place, ...]) -> tuple[tuple[Held, ...], ...]:
    """Every way to finger a set of (string, fret), the least costly first, in the order of ``places``.

    Empty when no hand can hold them. ``grip_cost`` gives the cost of each.

    >>> fingerings(Hand(), Neck(), ((4, 5), (3, 6), (2, 5)))[0]
    ((4, 5, 1), (3, 6, 2), (2, 5, 1))
    """
    fretted = sorted((p for p in places if p[1] > 0), key=lambda p: (p[1], -p[0]))
    found = []
    for fingers in _assignments(fretted):
        of = dict(zip(fretted, fingers, strict=True))
        notes = tuple((string, fret, of.get((string, fret), 0)) for string, fret in places)
        if grip_ok(hand, neck, notes):
            found.append((grip_cost(hand, neck, notes), notes))
    return tuple(notes for _, notes in sorted(found))


def _assignments(fretted: Sequence[Place]) -> Iterator[tuple[int, ...]]:
    """Fingers for places in order of fret: never falling, one finger on one fret only."""
    if len(set(fret for _, fret in fretted)) > 4:
        return
    stack: list[tuple[int, ...]] = [()]
    while stack:
        done = stack.pop()
        if len(done) == len(fretted):
            yield done
            continue
        fret = fretted[len(done)][1]
        lowest = 1 if not done else done[-1] + (fretted[len(done) - 1][1] != fret)
        used_here = {f for f, p in zip(done, fretted, strict=False) if p[1] == fret}
        below = {f for f, p in zip(done, fretted, strict=False) if p[1] != fret}
        start = min(used_here, default=lowest)
        stack.extend((*done, f) for f in range(start, 5) if f not in below)


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
    """The limits a bend breaks: name to (asked, limit), as ``{"force_n": (14.2, 12.0)}``; empty when it is fine."""
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


def shift_mm(neck: Neck, place_a: ArrayLike, place_b: ArrayLike) -> Floats:
    """How far the hand moves between two places (frets under the index finger); broadcasts."""
    frets = frets_mm(neck)
    return np.asarray(np.abs(frets[np.asarray(place_b)] - frets[np.asarray(place_a)]))


def shift_seconds(hand: Hand, neck: Neck, place_a: ArrayLike, place_b: ArrayLike) -> Floats:
    """The least time of a shift, a start plus distance over speed; 0 for no shift; broadcasts."""
    distance = shift_mm(neck, place_a, place_b)
    return np.asarray(np.where(distance > 0, hand.shift_start_s + distance / hand.shift_speed_mm_s, 0.0))


def shift_speed_mm_s(
    hand: Hand, neck: Neck, place_a: ArrayLike, place_b: ArrayLike, seconds: ArrayLike
) -> Floats:
    """The speed a shift asks for in the time there is, infinite when less than the start is left; broadcasts."""
    distance = shift_mm(neck, place_a, place_b)
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
