"""The hand against 2,069 curated chord shapes and against the usual fingers of scales in one position.

The shapes are those of the npm package @tombatossals/chords-db 0.5.1 (MIT, ``data/chords-db-LICENSE.txt``):
only frets and fingers are kept. At least 98 % of them must pass the default hand as they are fingered there.
"""

from __future__ import annotations

import itertools
import json
from collections import Counter
from functools import cache
from pathlib import Path

import networkx as nx
import pytest
from lickwright.guitar.fingering import Held, fingerings, grip_faults
from lickwright.guitar.hand import FINGERS, Hand, reach_beyond_rest_mm, reach_mm, shift_mm, spans_ok
from lickwright.guitar.neck import Neck

DATA = Path(__file__).parent / "data" / "chord_shapes.json"
NECK = Neck(frets=24)
HAND = Hand()

# What the shapes that do not pass have in common. A row that gives no finger for a fretted string is judged
# by whether any fingering of it passes; the rest are left as the hand's refusals:
REASONS = {
    "finger 0 is for open strings": "no finger is given for a fretted string",
    "in two places": "one finger on two frets: a slip of the data",
    "lies across string": "a barre over a string that sounds lower: a slip of the data, or one bent back",
    "bars": "a barre of the ring or little finger wider than the default hand lays down",
    "behind finger": "a higher finger behind a lower one: fingers crossed along the neck",
    "cross on fret": "a higher finger on a thicker string of the same fret",
    "do not reach": "two fingers further apart than they open, in the first frets",
    "not all of them": "stretches that want the hand turned two ways at once, in the first frets",
}


@cache
def shapes() -> tuple[tuple[str, tuple[Held, ...]], ...]:
    """Each row of the data as text and as notes."""
    found = []
    for row in json.loads(DATA.read_text())["shapes"]:
        base, frets, fingers = row.split()
        notes = tuple(
            (6 - i, int(fret) + int(base) - 1 if fret != "0" else 0, int(finger))
            for i, (fret, finger) in enumerate(zip(frets, fingers, strict=True))
            if fret != "x"
        )
        found.append((row, notes))
    return tuple(found)


def places(notes: tuple[Held, ...]) -> tuple[tuple[int, int], ...]:
    return tuple((string, fret) for string, fret, _ in notes)


@cache
def refused() -> dict[str, list[str]]:
    """Rows that the hand refuses, by reason."""
    rows: dict[str, list[str]] = {}
    for row, notes in shapes():
        fault = next(grip_faults(HAND, NECK, notes), None)
        if fault is None or ("finger 0" in fault and fingerings(HAND, NECK, places(notes))):
            continue
        [reason] = [text for part, text in REASONS.items() if part in fault]
        rows.setdefault(reason, []).append(f"{row} ({fault})")
    return rows


def test_the_data_is_whole() -> None:
    assert len(shapes()) == 2069


def test_at_least_98_percent_of_curated_chord_shapes_pass_the_default_hand() -> None:
    rest = refused()
    number = sum(map(len, rest.values()))
    listed = "\n".join(f"{len(rows):3} {why}: {'; '.join(rows)}" for why, rows in sorted(rest.items()))
    print(f"{number} of {len(shapes())} shapes are refused\n{listed}")
    assert number <= 0.02 * len(shapes()), listed


def test_nearly_every_curated_shape_has_a_fingering() -> None:
    held = sum(bool(fingerings(HAND, NECK, places(notes))) for _, notes in shapes())
    assert held >= 0.99 * len(shapes())


def test_the_curated_fingers_are_mostly_those_that_cost_least() -> None:
    ranks: Counter[int] = Counter()
    for _, notes in shapes():
        found = fingerings(HAND, NECK, places(notes))
        if notes in found:
            ranks[found.index(notes)] += 1
    assert ranks[0] >= 0.7 * ranks.total()
    assert ranks[0] + ranks[1] + ranks[2] >= 0.9 * ranks.total()


# fret differences by finger pair over the same shapes, without the few that cross
@pytest.mark.parametrize(
    ("low", "high", "most"), [(1, 2, 2), (1, 3, 3), (1, 4, 3), (2, 3, 2), (2, 4, 2), (3, 4, 2)]
)
def test_the_fret_differences_found_in_the_shapes_are_in_reach_from_the_first_fret_on(
    low, high, most
) -> None:
    for fret in range(1, 13):
        for span in range(most + 1):
            assert any(spans_ok(HAND, NECK, low, fret, high, fret + span, d) for d in (-1, 1))
    assert not spans_ok(HAND, NECK, low, 1, high, 1 + most + 2)


# Chatzioglou, Pinar, Govsa, Anat Cell Biol 57:172-182, 2024: index-middle 17.2 +- 2.6 degrees, middle-ring
# 14.3 +- 2.3, ring-little 32.1 +- 7.0; finger lengths 63.9, 70.7, 65.5, 53.3 mm
def test_the_default_hand_has_the_published_lengths_and_spreads_within_one_deviation() -> None:
    assert HAND.finger_mm == (63.9, 70.7, 65.5, 53.3)
    for spread, mean, deviation in zip(HAND.spread_deg, (17.2, 14.3, 32.1), (2.6, 2.3, 7.0), strict=True):
        assert mean <= spread <= mean + deviation + 1e-9


def test_no_two_fingers_reach_further_than_straight_out_from_their_knuckles() -> None:
    for low in FINGERS:
        for high in range(low + 1, 5):
            longest = HAND.finger_mm[low - 1] + HAND.finger_mm[high - 1] + HAND.knuckle_mm * (high - low)
            assert 0 < reach_mm(HAND, low, high) < longest


def cheapest_fingers(scale: list[tuple[int, int]]) -> list[int]:
    """The fingers of a run of (string, fret) as a cheapest path through the layers of possible fingers.

    After Sayegh, Computer Music Journal 13(3):76-84, 1989 (from memory): the cost of a step is the way of
    the hand along the neck, then what the fingers stretch.
    """

    def place(fret: int, finger: int) -> int:
        return max(0, fret - finger + 1)

    def step(a: tuple[int, int, int], b: tuple[int, int, int]) -> float:
        (string_a, fret_a, finger_a), (string_b, fret_b, finger_b) = a, b
        moved = float(shift_mm(NECK, place(fret_a, finger_a), place(fret_b, finger_b)))
        if not moved and not spans_ok(HAND, NECK, finger_a, fret_a, finger_b, fret_b, string_b - string_a):
            return 1000.0
        return moved + 0.01 * float(reach_beyond_rest_mm(HAND, NECK, finger_a, fret_a, finger_b, fret_b))

    graph = nx.DiGraph()
    layers = [[(string, fret, finger) for finger in FINGERS] for string, fret in scale]
    for i, (here, there) in enumerate(itertools.pairwise(layers)):
        graph.add_weighted_edges_from(((i, a), (i + 1, b), step(a, b)) for a in here for b in there)
    graph.add_weighted_edges_from(("start", (0, a), 0.0) for a in layers[0])
    graph.add_weighted_edges_from(((len(layers) - 1, a), "end", 0.0) for a in layers[-1])
    return [node[1][2] for node in nx.shortest_path(graph, "start", "end", "weight")[1:-1]]


# One finger a fret, as scale books print it for the second and fifth positions. From memory.
@pytest.mark.parametrize(
    ("frets_by_string", "fingers"),
    [
        (
            {6: (3, 5), 5: (2, 3, 5), 4: (2, 4, 5), 3: (2, 4, 5), 2: (3, 5), 1: (2, 3)},  # G major
            [2, 4, 1, 2, 4, 1, 3, 4, 1, 3, 4, 2, 4, 1, 2],
        ),
        (
            {6: (5, 8), 5: (5, 7), 4: (5, 7), 3: (5, 7), 2: (5, 8), 1: (5, 8)},  # A minor pentatonic
            [1, 4, 1, 3, 1, 3, 1, 3, 1, 4, 1, 4],
        ),
    ],
)
def test_a_scale_in_one_position_is_fingered_one_finger_a_fret(frets_by_string, fingers) -> None:
    scale = [(string, fret) for string, frets in frets_by_string.items() for fret in frets]
    assert cheapest_fingers(scale) == fingers
    assert cheapest_fingers(scale[::-1]) == fingers[::-1]
