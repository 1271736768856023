"""Grips: which fingers hold a set of places, whether one hand can, and what it costs; nothing of harmony.

A grip is a row of (string, fret, finger), one for each sounding string. Conventions as in ``hand``: finger
0 is an open string, a finger on several strings lies across them (a barre). A higher finger stands on a
higher fret, or on the same fret on a thinner string. Strings outside the sounding ones are not struck;
those between must be muted by a finger.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product

import numpy as np

from lickwright.guitar.hand import PAIRS, GripPoints, Hand, reach_beyond_rest_mm, turns_table
from lickwright.guitar.neck import Neck

Place = tuple[int, int]
Held = tuple[int, int, int]  # string, fret, finger


_USUAL = GripPoints()


@dataclass(frozen=True)
class _Tables:
    """Plain nested lists for one hand and neck, quick to look at: as in ``turns_table``, and points."""

    hand: Hand
    neck: Neck
    turns: list[list[list[list[list[int]]]]]
    points: list[list[list[list[int]]]]


@lru_cache(maxsize=16)
def _tables(hand: Hand, neck: Neck) -> _Tables:
    frets = np.arange(neck.top_fret + 1)
    points = np.zeros((5, 5, len(frets), len(frets)), np.int64)
    fret_a, fret_b = np.ix_(frets, frets)
    for low, high in PAIRS:
        stretch = np.rint(
            reach_beyond_rest_mm(hand, neck, low, fret_a, high, fret_b) / hand.points.stretch_mm
        )
        crowded = np.maximum(high - low - (fret_b - fret_a), 0)
        points[low, high] = stretch.astype(np.int64) + hand.points.crowded * crowded
    return _Tables(hand, neck, turns_table(hand, neck).tolist(), points.tolist())


@dataclass(frozen=True)
class _Finger:
    """What one finger holds: a fret, from its thinnest to its thickest string."""

    fret: int
    thin: int
    thick: int


def _fingers(notes: Sequence[Held]) -> dict[int, _Finger]:
    held: dict[int, _Finger] = {}
    for string, fret, finger in notes:
        if finger in held:
            before = held[finger]
            held[finger] = _Finger(before.fret, min(before.thin, string), max(before.thick, string))
        elif finger:
            held[finger] = _Finger(fret, string, string)
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
    held = _fingers(notes)
    for _, fret, finger in notes:
        if finger and held[finger].fret != fret:
            yield f"finger {finger} in two places, frets {held[finger].fret} and {fret}"
            return
    yield from _faults(_tables(hand, neck), held, frets)


def _faults(tables: _Tables, held: dict[int, _Finger], frets: dict[int, int]) -> Iterator[str]:
    yield from _barre_faults(tables.hand, held, frets)
    yield from _reach_faults(tables, held)
    if _mute_points(tables.hand.points, held, frets) is None:
        yield "a string between the sounding ones that no finger can mute"


def _barre_faults(hand: Hand, held: dict[int, _Finger], frets: dict[int, int]) -> Iterator[str]:
    for finger, at in held.items():
        width = at.thick - at.thin + 1
        if width > hand.barre_strings_limit[finger - 1]:
            yield f"finger {finger} bars {width} strings, limit {hand.barre_strings_limit[finger - 1]}"
        for string in range(at.thin + 1, at.thick):
            if frets.get(string, at.fret) < at.fret:
                yield f"finger {finger} lies across string {string}, which sounds at fret {frets[string]}"


def _reach_faults(tables: _Tables, held: dict[int, _Finger]) -> Iterator[str]:
    common = -1
    for low, high in combinations(sorted(held), 2):
        a, b = held[low], held[high]
        if b.fret < a.fret:
            yield f"finger {high} at fret {b.fret} behind finger {low} at fret {a.fret}"
            return
        if b.fret == a.fret and b.thick > a.thin:
            yield f"fingers {low} and {high} cross on fret {a.fret}: the higher goes on the thinner string"
            return
        turns = _turns(tables, low, a, high, b)
        if not turns:
            yield f"fingers {low} and {high} do not reach frets {a.fret} and {b.fret} together"
            return
        common &= turns
    if not common:
        yield "each two fingers reach their frets, but not all of them together"


def _turns(tables: _Tables, low: int, a: _Finger, high: int, b: _Finger) -> int:
    """The turns of the hand that reach from one finger to the other; a barre is met anywhere along it."""
    row, middle, turns = tables.turns[low][high][a.fret][b.fret], tables.neck.strings - 1, 0
    for string_a, string_b in product(range(a.thin, a.thick + 1), range(b.thin, b.thick + 1)):
        turns |= row[string_b - string_a + middle]
    return turns


def _mute_points(weights: GripPoints, held: dict[int, _Finger], frets: dict[int, int]) -> int | None:
    """What muting the strings between the sounding ones costs; None when one of them cannot be muted.

    A finger that presses a neighbouring string leans on it, a barre lifts off it, a free finger touches it.
    """
    points, free = 0, 4 - len(held)
    for string in range(min(frets, default=0) + 1, max(frets, default=0)):
        if string in frets:
            continue
        if any(at.thin < string < at.thick for at in held.values()):
            points += weights.lift
        elif frets.get(string + 1) or frets.get(string - 1):
            points += weights.lean
        elif free:
            free -= 1
            points += weights.touch
        else:
            return None
    return points


def grip_position(notes: Sequence[Held]) -> int:
    """The fret under the index finger while a grip is held; 0 when only open strings sound.

    >>> grip_position(((5, 3, 2), (4, 2, 1), (3, 3, 3), (2, 3, 3))), grip_position(((3, 7, 3),))
    (2, 5)
    """
    fretted = [(finger, fret) for _, fret, finger in notes if finger]
    if not fretted:
        return 0
    finger, fret = min(fretted)
    return max(1, fret - finger + 1)


def barre_cost(finger: int, width: int, fret: int, weights: GripPoints = _USUAL) -> int:
    """Points for a finger over ``width`` strings: more for wide ones, near the nut, and other than the index.

    >>> barre_cost(1, 6, 1), barre_cost(1, 6, 8), barre_cost(3, 3, 8), barre_cost(1, 1, 1)
    (8, 6, 5, 0)
    """
    if width < 2:
        return 0
    near_nut = weights.barre_nut if fret <= 3 else weights.barre_low if fret <= 5 else 0
    return weights.barre_string * width + near_nut + weights.barre_fingers[finger - 1]


def grip_cost(hand: Hand, neck: Neck, notes: Sequence[Held]) -> int:
    """How much a possible grip asks of the hand, in points; 0 for open strings.

    Counts stretch beyond the hand at rest, crowded fingers, barres, muted strings and the weaker fingers.
    """
    return _points(_tables(hand, neck), _fingers(notes), {string: fret for string, fret, _ in notes})


def _points(tables: _Tables, held: dict[int, _Finger], frets: dict[int, int]) -> int:
    weights = tables.hand.points
    points = _mute_points(weights, held, frets) or 0
    for finger, at in held.items():
        points += barre_cost(finger, at.thick - at.thin + 1, at.fret, weights) + weights.fingers[finger - 1]
    for low, high in pairwise(sorted(held)):
        points += tables.points[low][high][held[low].fret][held[high].fret]
    return points


@lru_cache(maxsize=65536)
def fingerings(hand: Hand, neck: Neck, places: tuple[Place, ...]) -> tuple[tuple[Held, ...], ...]:
    """Every way to finger a set of (string, fret), the least costly first, in the order of ``places``.

    Empty when no hand can hold them; raises ValueError for two places on a string or one off the neck.
    ``grip_cost`` gives the cost of each.

    >>> fingerings(Hand(), Neck(), ((5, 3), (4, 2), (3, 3), (2, 3)))[0]
    ((5, 3, 2), (4, 2, 1), (3, 3, 3), (2, 3, 4))
    """
    frets = dict(places)
    if len(frets) < len(places) or not all(
        1 <= string <= neck.strings and 0 <= fret <= neck.top_fret for string, fret in places
    ):
        raise ValueError(f"{places} are not places on different strings of this neck")
    tables = _tables(hand, neck)
    fretted = sorted((p for p in places if p[1] > 0), key=lambda p: (p[1], -p[0]))
    found = []
    for fingers in _assignments([fret for _, fret in fretted]):
        of = {string: finger for (string, _), finger in zip(fretted, fingers, strict=True)}
        notes = tuple((string, fret, of.get(string, 0)) for string, fret in places)
        held = _fingers(notes)
        if next(_faults(tables, held, frets), None) is None:
            found.append((_points(tables, held, frets), notes))
    return tuple(notes for _, notes in sorted(found))


def _assignments(frets: Sequence[int]) -> list[tuple[int, ...]]:
    """Fingers for frets in rising order, thick strings first: never falling, one finger on one fret only."""
    rows: list[tuple[int, ...]] = [()]
    for index, fret in enumerate(frets):
        another = 1 if index and frets[index - 1] < fret else 0
        rows = [(*row, f) for row in rows for f in range(row[-1] + another if row else 1, 5)]
    return rows
