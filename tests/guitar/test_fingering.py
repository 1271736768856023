"""Grips: what one hand can hold at once, and which fingers it takes."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.guitar.fingering import barre_cost, fingerings, grip_cost, grip_faults, grip_position
from lickwright.guitar.hand import Hand
from lickwright.guitar.neck import Neck

NECK = Neck(frets=22)
HAND = Hand()


def shapes(fewest: int, most: int, lowest_fret: int = 0) -> st.SearchStrategy:
    """Sets of places within six frets, on different strings."""

    def within(base: int) -> st.SearchStrategy:
        frets = st.one_of(st.just(0), st.integers(base, base + 5)) if not lowest_fret else st.integers(
            base, base + 4
        )  # fmt: skip
        places = st.tuples(st.integers(1, 6), frets)
        return st.lists(places, min_size=fewest, max_size=most, unique_by=lambda p: p[0]).map(tuple)

    return st.integers(max(1, lowest_fret), 14).flatmap(within)


def grip_ok(hand: Hand, neck: Neck, notes) -> bool:
    return next(grip_faults(hand, neck, notes), None) is None


def first_fault(*notes: tuple[int, int, int], hand: Hand = HAND) -> str | None:
    return next(grip_faults(hand, NECK, notes), None)


@settings(max_examples=60, deadline=None)
@given(shapes(1, 5))
def test_fingerings_are_all_that_one_hand_can_hold_and_no_others(places) -> None:
    every = {
        notes
        for fingers in product(range(5), repeat=len(places))
        if grip_ok(HAND, NECK, notes := tuple((s, f, g) for (s, f), g in zip(places, fingers, strict=True)))
    }
    found = fingerings(HAND, NECK, places)
    assert len(found) == len(set(found))
    assert set(found) == every


@settings(deadline=None)  # the first example makes the hand's tables
@given(shapes(1, 6))
def test_fingerings_come_in_order_of_cost_and_keep_the_order_of_places(places) -> None:
    found = fingerings(HAND, NECK, places)
    costs = [grip_cost(HAND, NECK, notes) for notes in found]
    assert costs == sorted(costs)
    assert all(tuple(note[:2] for note in notes) == places for notes in found)


@settings(deadline=None)  # the first example makes the hand's tables
@given(shapes(1, 6), st.randoms())
def test_the_order_of_places_does_not_change_the_fingers(places, random) -> None:
    shuffled = list(places)
    random.shuffle(shuffled)
    one, other = fingerings(HAND, NECK, places), fingerings(HAND, NECK, tuple(shuffled))
    assert {frozenset(n) for n in one} == {frozenset(n) for n in other}


# on strings that run side by side: where they fan out, a few wide grips are lost to the way across
@settings(deadline=None)  # the first example makes the hand's tables
@given(shapes(2, 6, lowest_fret=1))
def test_a_grip_that_can_be_held_can_be_held_a_fret_higher(places) -> None:
    neck = Neck(frets=22, bridge_spacing_mm=7.0)
    for notes in fingerings(HAND, neck, places):
        assert grip_ok(HAND, neck, [(s, f + 1, g) for s, f, g in notes])


@settings(deadline=None)  # the first example makes the hand's tables
@given(shapes(1, 6))
def test_a_smaller_hand_holds_no_grip_that_a_larger_one_cannot(places) -> None:
    small = Hand(size=0.85, spread_deg=(17.2, 14.3, 32.1))
    # three fingers and more share one turn of the hand, which may suit a small one better
    narrow = {n for n in fingerings(small, NECK, places) if len({g for _, _, g in n if g}) < 3}
    assert narrow <= set(fingerings(HAND, NECK, places))


@settings(deadline=None)  # the first example makes the hand's tables
@given(shapes(3, 6))
def test_leaving_out_an_outer_string_never_spoils_a_grip(places) -> None:
    for notes in fingerings(HAND, NECK, places)[:3]:
        for outer in min(notes), max(notes):
            assert grip_ok(HAND, NECK, [n for n in notes if n != outer])


def test_no_finger_is_in_two_places() -> None:
    assert first_fault((4, 4, 1), (2, 3, 1)) == "finger 1 in two places, frets 4 and 3"


def test_a_higher_finger_is_not_behind_a_lower_one() -> None:
    assert first_fault((3, 7, 1), (2, 6, 2)) == "finger 2 at fret 6 behind finger 1 at fret 7"


def test_on_one_fret_the_higher_finger_takes_the_thinner_string() -> None:
    assert first_fault((4, 7, 1), (3, 7, 2)) is None
    assert "cross on fret 7" in str(first_fault((4, 7, 2), (3, 7, 1)))


def test_fingers_that_do_not_reach_are_named() -> None:
    assert first_fault((5, 1, 1), (2, 5, 2)) == "fingers 1 and 2 do not reach frets 1 and 5 together"


def test_a_barre_lies_over_strings_that_sound_no_lower() -> None:
    assert first_fault((6, 5, 1), (5, 7, 3), (4, 7, 4), (3, 6, 2), (2, 5, 1), (1, 5, 1)) is None
    assert "lies across string 2" in str(first_fault((3, 5, 1), (2, 3, 2), (1, 5, 1)))
    assert "lies across string 2, which sounds at fret 0" in str(first_fault((3, 5, 1), (2, 0, 0), (1, 5, 1)))


def test_a_barre_is_no_wider_than_the_finger_allows() -> None:
    wide = [(s, 5, 2) for s in range(1, 7)]
    assert first_fault(*wide) == "finger 2 bars 6 strings, limit 3"


@pytest.mark.parametrize(
    ("notes", "says"),
    [
        (((3, 5, 1), (3, 7, 3)), "two notes on one string"),
        (((7, 5, 1),), "string 7 fret 5 finger 1 is not on this neck"),
        (((1, 23, 1),), "is not on this neck"),
        (((1, 5, 5),), "is not on this neck"),
        (((1, 5, 0),), "finger 0 is for open strings only"),
        (((1, 0, 2),), "finger 0 is for open strings only"),
    ],
)
def test_what_is_no_grip_at_all_is_said_first(notes, says) -> None:
    assert says in str(first_fault(*notes))


def test_a_string_between_is_muted_by_a_neighbour_or_by_a_free_finger_or_not_at_all() -> None:
    shell = ((6, 3, 2), (4, 3, 3), (3, 4, 4))  # string 5 is leaned on
    between_open = ((5, 0, 0), (3, 0, 0))  # string 4 needs a finger laid on it
    assert first_fault(*shell) is None
    assert first_fault(*between_open) is None
    busy = ((6, 0, 0), (4, 0, 0), (3, 1, 1), (2, 2, 2), (1, 2, 3))
    neck = Neck(tuning=(64, 59, 55, 50, 45, 40, 35), frets=22)
    assert next(grip_faults(HAND, neck, busy), None) is None
    full = ((7, 0, 0), (5, 0, 0), (4, 2, 1), (3, 3, 2), (2, 3, 3), (1, 3, 4))
    assert "no finger can mute" in str(next(grip_faults(HAND, neck, full), None))


def test_open_strings_alone_cost_nothing_and_have_no_place() -> None:
    notes = ((3, 0, 0), (2, 0, 0))
    assert fingerings(HAND, NECK, ((3, 0), (2, 0))) == (notes,)
    assert grip_cost(HAND, NECK, notes) == 0
    assert grip_position(notes) == 0
    assert fingerings(HAND, NECK, ()) == ((),)


def test_the_place_of_a_grip_is_the_fret_under_the_index_finger() -> None:
    assert grip_position(((4, 5, 2), (3, 6, 3))) == 4
    assert grip_position(((1, 1, 3),)) == 1


def test_five_frets_at_once_are_too_many_for_four_fingers() -> None:
    assert fingerings(HAND, NECK, ((6, 10), (5, 11), (4, 12), (3, 13), (2, 14))) == ()


def test_places_off_the_neck_or_twice_on_a_string_are_refused() -> None:
    for places in (((1, 5), (1, 6)), ((7, 5),), ((1, 40),)):
        with pytest.raises(ValueError, match="not places on different strings of this neck"):
            fingerings(HAND, NECK, places)


def test_a_barre_costs_more_when_wide_near_the_nut_or_with_another_finger_than_the_index() -> None:
    assert barre_cost(1, 6, 1) > barre_cost(1, 6, 5) > barre_cost(1, 6, 9) > barre_cost(1, 3, 9)
    assert barre_cost(3, 3, 9) > barre_cost(1, 3, 9)
    assert barre_cost(4, 1, 9) == 0


@pytest.mark.parametrize("fret", [1, 3, 5])
def test_low_wide_grips_cost_more_than_the_same_higher_up(fret: int) -> None:
    def best(base: int) -> int:
        places = ((6, base), (5, base + 2), (4, base + 2), (3, base + 1), (2, base), (1, base))
        return grip_cost(HAND, NECK, fingerings(HAND, NECK, places)[0])

    assert best(fret) > best(fret + 4)


# common practice, no source: the usual fingers of small dominant grips
@pytest.mark.parametrize(
    ("places", "fingers"),
    [
        (((5, 7), (4, 6), (3, 7)), (2, 1, 3)),
        (((6, 1), (4, 1), (3, 2)), (1, 2, 3)),
        (((6, 5), (5, 7)), (1, 3)),
        (((3, 5), (2, 5)), (1, 1)),
        (((6, 1), (5, 3), (4, 3), (3, 2), (2, 1), (1, 1)), (1, 3, 4, 2, 1, 1)),
        (((5, 3), (4, 2), (2, 1)), (3, 2, 1)),
    ],
)
def test_common_grips_get_their_common_fingers_among_the_first_two(places, fingers) -> None:
    first = [tuple(g for _, _, g in notes) for notes in fingerings(HAND, NECK, places)[:2]]
    assert fingers in first
