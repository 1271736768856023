"""How far licks are apart: what must be 0 is 0, and the measure is a metric."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.study.distance import (
    PARTS,
    Line,
    Weights,
    line_distance,
    line_distances,
    line_of,
    lines_of,
    study_distance,
)
from lickwright.study.model import Study

from tests.studies import tour

NEAR = 1e-12


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """A line of few letters, so that lines meet often; double stops among them."""
    count = draw(st.integers(0, 6))
    onsets = sorted(draw(st.sets(st.sampled_from((0, 4, 8, 12, 16, 20, 24)), min_size=count, max_size=count)))
    voices = [draw(st.integers(1, 2)) for _ in onsets]
    row = st.integers(-8, 8)
    return Line(
        tuple(onsets),
        tuple(draw(st.sampled_from((2, 4, 8))) for _ in onsets),
        tuple(tuple(sorted((draw(row) for _ in range(v)), reverse=True)) for v in voices),
        tuple(tuple((draw(st.integers(1, 3)), draw(st.integers(0, 5))) for _ in range(v)) for v in voices),
    )


@given(lines(), lines(), lines())
@settings(max_examples=300)
def test_each_part_and_the_total_are_a_metric(a: Line, b: Line, c: Line) -> None:
    ab, ba, bc, ac = (line_distance(*pair) for pair in ((a, b), (b, a), (b, c), (a, c)))
    assert ab == ba
    assert line_distance(a, a).row == (0, 0, 0, 0)
    for part in (*PARTS, "total"):
        assert 0 <= getattr(ab, part) <= 1
        assert getattr(ac, part) <= getattr(ab, part) + getattr(bc, part) + NEAR


@given(lines(), lines())
def test_what_is_0_apart_agrees_in_what_is_looked_at(a: Line, b: Line) -> None:
    apart = line_distance(a, b)
    if apart.rhythm == 0:
        assert (a.onsets, a.durations) == (b.onsets, b.durations)
    if apart.notes == 0:
        assert [[p % 24 for p in (v[0], v[-1])] for v in a.pitches2] == [
            [p % 24 for p in (v[0], v[-1])] for v in b.pitches2
        ]
    if apart.place == 0:
        assert [(v[0], v[-1]) for v in a.places] == [(v[0], v[-1]) for v in b.places]


@given(lines(), lines())
@settings(max_examples=60)
def test_edits_agree_with_the_definition_by_recursion(a: Line, b: Line) -> None:
    """Wagner and Fischer's recursion (Journal of the ACM 21(1), 1974 [from memory]) in exact counts."""
    x, y = list(zip(a.onsets, a.durations, strict=True)), list(zip(b.onsets, b.durations, strict=True))

    @cache
    def least(i: int, j: int) -> float:
        if not i or not j:
            return i + j
        change = sum(p != q for p, q in zip(x[i - 1], y[j - 1], strict=True)) / 2
        return min(least(i - 1, j) + 1, least(i, j - 1) + 1, least(i - 1, j - 1) + change)

    d = least(len(x), len(y))
    expected = 2 * d / (len(x) + len(y) + d) if d else 0
    assert line_distance(a, b).rhythm == pytest.approx(expected)


def test_many_pairs_at_once_are_what_they_are_one_by_one() -> None:
    a, b = lines_of(tour())
    empty = Line((), (), (), ())
    one = Line((4,), (8,), ((24,),), (((2, 0),),))
    pairs = list(product((a, b, empty, one), repeat=2))
    for row, pair in zip(line_distances(pairs), pairs, strict=True):
        assert tuple(row) == line_distance(*pair).row
    assert line_distances([]).shape == (0, 4)
    assert line_distance(empty, a).row == (1, 1, 1, 1)
    assert line_distance(empty, one).row == (1, 0, 1, 1), "one note has no contour"


@pytest.mark.parametrize("key", ["A", "B", "C", "D", "E"])
def test_a_study_moved_along_the_neck_to_another_key_is_0_apart(key: str) -> None:
    assert study_distance(tour("A"), tour(key)).row == pytest.approx((0, 0, 0, 0))


def test_the_same_notes_on_other_strings_differ_in_place_alone() -> None:
    study = tour()
    lick = line_of(study, 0)
    lower = replace(lick, places=tuple(tuple((s + 1, f + 5) for s, f in voices) for voices in lick.places))
    apart = line_distance(lick, lower)
    assert (apart.rhythm, apart.contour, apart.notes) == (0, 0, 0)
    assert apart.place > 0.5


def test_small_changes_are_nearer_than_large_ones() -> None:
    lick = Line((0, 4, 8, 12), (4, 4, 4, 24), ((24,), (30,), (34,), (38,)), (((3, 0),),) * 4)
    curled = replace(lick, pitches2=((24,), (31,), (34,), (38,)))
    other_note = replace(lick, pitches2=((24,), (28,), (34,), (38,)))
    later = replace(lick, onsets=(12, 16, 20, 24))
    longer = replace(lick, durations=(4, 4, 4, 12))
    assert 0 < line_distance(lick, curled).notes < line_distance(lick, other_note).notes < 0.5
    assert 0 < line_distance(lick, longer).rhythm < line_distance(lick, later).rhythm < 0.6


def test_a_slot_that_only_one_study_has_counts_1() -> None:
    once, twice = tour(repeats=1), tour(repeats=2)
    assert study_distance(once, twice).row == pytest.approx((0.5, 0.5, 0.5, 0.5))
    none = replace(once, slots=(), events=())
    assert study_distance(once, none).total == 1
    assert study_distance(none, none).total == 0


def _with_slots(study: Study, order: tuple[int, ...]) -> Study:
    licks = [slot for slot in study.slots if slot.kind == "lick"]
    slots, events = [], []
    for number, n in enumerate(order):
        slots.append(replace(licks[n], number=number))
        events += [replace(e, slot=number) for e in study.events_of(licks[n].number)]
    return replace(study, slots=tuple(slots), events=tuple(events))


orders = st.lists(st.integers(0, 1), max_size=4).map(tuple)


@given(orders, orders, orders)
@settings(max_examples=60)
def test_the_distance_of_studies_is_a_metric_whatever_their_slots(
    a: tuple[int, ...], b: tuple[int, ...], c: tuple[int, ...]
) -> None:
    one, two, three = (_with_slots(tour(), order) for order in (a, b, c))
    direct, first, second = (study_distance(*p).total for p in ((one, three), (one, two), (two, three)))
    assert direct <= first + second + NEAR
    assert (first == 0) == (a == b)


def test_a_tied_note_is_one_with_the_note_it_rings_on_from() -> None:
    study = tour()
    first = study.events_of(0)[0]
    held = replace(first, id="held", onset=first.end, duration=4, notes=(replace(first.notes[0], tied=True),))
    events = (first, held, *[e for e in study.events if e.onset > held.onset])
    line = line_of(replace(study, events=events), 0)
    assert line.onsets[:2] == (4, 16)
    assert line.durations[0] == first.duration + 4


def test_weights_say_how_much_a_part_counts() -> None:
    a, b = lines_of(tour())
    assert line_distance(a, b, Weights(1, 0, 0, 0)).total == line_distance(a, b).rhythm
    with pytest.raises(ValueError, match="above 0"):
        Weights(0, 0, 0, 0)


def test_a_slot_without_a_lick_is_named_with_those_that_have_one() -> None:
    with pytest.raises(ValueError, match="slot 1 holds no lick: the licks are in 0, 2"):
        line_of(tour(), 1)
