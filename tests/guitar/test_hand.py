"""The fretting hand: reach, hand shapes, what it can bend, and how fast it moves."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.guitar.hand import (
    FINGERS,
    HAND_SHAPES,
    PAIRS,
    Hand,
    bend_faults,
    bend_force_limits_n,
    bend_seconds,
    bend_table,
    helpers,
    needed_mm,
    reach_beyond_rest_mm,
    reach_mm,
    shift_mm,
    shift_seconds,
    shift_speed_mm_s,
    span_table,
    spans_ok,
    string_crossings,
)
from lickwright.guitar.neck import Neck
from lickwright.guitar.strings import LARGEST_BEND, STRING_SETS

NECK = Neck(frets=22)
HAND = Hand()
SMALL = Hand(size=0.85, spread_deg=(17.2, 14.3, 32.1))
FREE = replace(HAND, span_limit_frets=(9,) * 6)  # bounded by geometry alone
LIGHT = STRING_SETS["light"]
for hand in HAND, FREE, SMALL:
    span_table(hand, NECK)  # made beforehand, so that no example is slow

pairs = st.sampled_from(PAIRS)
fingers = st.integers(1, 4)
frets = st.integers(1, 22)
apart = st.integers(-5, 5)
places = st.integers(0, 22)


# ---- reach ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("low", "high"), PAIRS)
def test_reach_is_what_hands_posed_at_random_get_to_and_no_further(low: int, high: int) -> None:
    rng = np.random.default_rng(low * 10 + high)
    n = 400_000
    turn = np.radians(rng.uniform(*HAND.turn_deg, n))
    share = rng.uniform(0, 1, n)
    splay = {2: 0.0, 1: HAND.spread_deg[0], 3: -HAND.spread_deg[1], 4: -sum(HAND.spread_deg[1:])}
    along, across = [], []
    for finger in (low, high):
        angle = turn + share * np.radians(splay[finger])
        length = rng.uniform(HAND.curled, HAND.straight, n) * HAND.finger_mm[finger - 1]
        knuckle = (finger - 1) * HAND.knuckle_mm
        along.append(knuckle * np.cos(turn) - length * np.sin(angle))
        across.append(knuckle * np.sin(turn) + length * np.cos(angle))
    level = np.abs(across[1] - across[0]) < 1.0
    furthest = (along[1] - along[0])[level].max()
    assert furthest - 2.0 < reach_mm(HAND, low, high) < furthest + 5.0


@given(pairs, st.floats(-60, 60))
def test_reach_does_not_depend_on_which_finger_is_named_first(pair, across) -> None:
    assert reach_mm(HAND, *pair, across) == reach_mm(HAND, *reversed(pair), across)


@given(pairs, st.floats(-40, 40))
def test_a_smaller_hand_reaches_less(pair, across) -> None:
    assert reach_mm(SMALL, *pair, across) < reach_mm(HAND, *pair, across)


def test_the_outer_fingers_reach_furthest() -> None:
    assert reach_mm(HAND, 1, 4) > reach_mm(HAND, 1, 3) > reach_mm(HAND, 1, 2)
    assert reach_mm(HAND, 1, 4) > reach_mm(HAND, 2, 4) > reach_mm(HAND, 3, 4)


@given(frets, frets)
def test_the_distance_two_frets_ask_for_is_symmetric_and_less_than_that_of_their_wires(a, b) -> None:
    needed = float(needed_mm(HAND, NECK, a, b))
    assert needed == float(needed_mm(HAND, NECK, b, a))
    assert 0 <= needed <= abs(NECK.fret_mm(a) - NECK.fret_mm(b))


# ---- spans ------------------------------------------------------------------------------------------------


@given(fingers, frets, fingers, frets, apart)
def test_spans_are_symmetric(finger_a, fret_a, finger_b, fret_b, strings) -> None:
    assert spans_ok(HAND, NECK, finger_a, fret_a, finger_b, fret_b, strings) == spans_ok(
        HAND, NECK, finger_b, fret_b, finger_a, fret_a, -strings
    )


@given(pairs, st.integers(1, 16), st.integers(0, 5))
def test_what_is_in_reach_stays_in_reach_higher_up(pair, fret, span) -> None:
    low, high = pair
    here, above = (spans_ok(FREE, NECK, low, f, high, f + span) for f in (fret, fret + 1))
    assert above or not here


def test_the_hand_spans_more_frets_high_on_the_neck() -> None:
    def most(fret: int) -> int:
        return max(d for d in range(10) if spans_ok(FREE, NECK, 1, fret, 4, fret + d))

    assert most(1) < most(5) < most(12)


@given(pairs, frets, frets)
def test_a_higher_finger_never_goes_behind_a_lower_one(pair, fret_a, fret_b) -> None:
    if fret_b < fret_a:
        assert not spans_ok(HAND, NECK, pair[0], fret_a, pair[1], fret_b)


@given(fingers, frets, apart)
def test_an_open_string_goes_with_everything(finger, fret, strings) -> None:
    assert spans_ok(HAND, NECK, finger, fret, 0, 0, strings)
    assert spans_ok(HAND, NECK, 0, 0, finger, fret, strings)
    assert spans_ok(HAND, NECK, 0, 0, 0, 0, strings)
    assert not spans_ok(HAND, NECK, 0, fret, finger, fret, strings)
    assert not spans_ok(HAND, NECK, finger, 0, finger, fret, strings)


def test_one_finger_goes_to_a_neighbouring_fret_but_not_far() -> None:
    assert spans_ok(HAND, NECK, 3, 7, 3, 8)
    assert not spans_ok(HAND, NECK, 3, 7, 3, 11)


def test_the_stated_limits_bound_what_the_fingers_could_reach() -> None:
    first_year = replace(HAND, span_limit_frets=(2, 2, 3, 1, 2, 1))
    assert spans_ok(HAND, NECK, 1, 7, 4, 11)
    assert not spans_ok(first_year, NECK, 1, 7, 4, 11)
    assert spans_ok(first_year, NECK, 1, 7, 4, 10)
    in_mm = replace(HAND, span_limit_mm=(40.0, 60.0, 80.0, 40.0, 60.0, 40.0))
    assert not spans_ok(in_mm, NECK, 1, 1, 4, 4)
    assert spans_ok(in_mm, NECK, 1, 9, 4, 12)


def test_spans_of_arrays_are_the_spans_one_by_one() -> None:
    rng = np.random.default_rng(1)
    finger_a, finger_b = rng.integers(1, 5, (2, 500))
    fret_a, fret_b = rng.integers(1, 23, (2, 500))
    strings = rng.integers(-5, 6, 500)
    together = spans_ok(HAND, NECK, finger_a, fret_a, finger_b, fret_b, strings)
    assert together.any()
    assert not together.all()
    columns = np.stack([finger_a, fret_a, finger_b, fret_b, strings], axis=1).tolist()
    assert together.tolist() == [spans_ok(HAND, NECK, *row) for row in columns]
    with pytest.raises(ValueError, match="read-only"):
        span_table(HAND, NECK)[0] = True


# ---- hand shapes ------------------------------------------------------------------------------------------


def test_one_finger_a_fret_and_a_stretch_at_either_end() -> None:
    shape = HAND_SHAPES["one finger a fret"]
    assert [shape.fingers(offset) for offset in range(-1, 6)] == [(1,), (1,), (2,), (3,), (4, 3), (4,), ()]
    assert [shape.fingers(offset, stretch=False) for offset in (-1, 0, 3, 4)] == [(), (1,), (4, 3), ()]


def test_the_three_finger_shape_gives_the_ring_finger_two_frets() -> None:
    shape = HAND_SHAPES["three fingers"]
    assert [shape.fingers(offset) for offset in range(4)] == [(1,), (2,), (3, 2), (3,)]


@pytest.mark.parametrize("shape", HAND_SHAPES.values(), ids=lambda s: s.name)
@pytest.mark.parametrize("place", [1, 5, 12])
def test_an_unstretched_hand_shape_is_in_reach_everywhere(shape, place) -> None:
    held = [(f, place + o) for f in FINGERS for o in shape.offsets[f - 1]]
    for a in held:
        for b in held:
            assert spans_ok(HAND, NECK, *a, *b)


# ---- bends ------------------------------------------------------------------------------------------------


def test_a_whole_step_near_the_nut_is_refused_with_its_force_and_the_limit() -> None:
    faults = bend_faults(HAND, NECK, LIGHT, 1, 3, 4, 3, 2)
    assert set(faults) == {"force_n"}
    asked, limit = faults["force_n"]
    assert asked == pytest.approx(12.2, abs=0.05)
    assert limit == 12.0
    assert bend_faults(HAND, NECK, LIGHT, 1, 5, 4, 3, 2) == {}


def test_helping_fingers_add_force_and_busy_ones_do_not_help() -> None:
    assert [helpers(3), helpers(3, (1,)), helpers(3, (1, 2)), helpers(1), helpers(4, (3,))] == [2, 1, 0, 0, 2]
    assert not bend_faults(HAND, NECK, LIGHT, 1, 8, 4, 3, 2)
    assert "force_n" in bend_faults(HAND, NECK, LIGHT, 1, 8, 4, 3, 0)


def test_a_finger_has_no_more_helpers_than_fingers_behind_it() -> None:
    limits = bend_force_limits_n(HAND)
    assert limits[3].tolist() == [8.0, 10.0, 12.0, 0.0]
    assert limits[1].tolist() == [5.5, 0.0, 0.0, 0.0]
    assert not limits[0].any()


def test_the_index_finger_bends_quarter_tones_only() -> None:
    table = bend_table(HAND, NECK, LIGHT)
    assert table[3, 5, 1, 1, 0]
    assert not table[1:, :, 2:, 1].any()


def test_a_wound_string_is_bent_by_half_a_step_at_most() -> None:
    table = bend_table(HAND, NECK, LIGHT)
    assert table[4, 7, 2, 3, 2]
    assert not table[4:, :, 3:].any()


def test_no_open_string_is_bent_and_none_without_a_finger() -> None:
    table = bend_table(HAND, NECK, LIGHT)
    assert not table[:, 0, 1:].any()
    assert not table[:, :, 1:, 0].any()


@given(
    st.integers(1, 6), places, st.integers(1, LARGEST_BEND), fingers, st.integers(0, 3),
    st.sampled_from(["extra light", "light", "regular", "heavy"]),
)  # fmt: skip
def test_a_bend_is_in_the_table_when_it_breaks_no_limit(string, fret, size, finger, helping, name) -> None:
    strings = STRING_SETS[name]
    able = bool(bend_table(HAND, NECK, strings)[string, fret, size, finger, helping])
    assert able == (not bend_faults(HAND, NECK, strings, string, fret, size, finger, helping))


def test_lighter_strings_and_a_stronger_hand_allow_every_bend_that_heavier_and_weaker_do() -> None:
    light, heavy = (bend_table(HAND, NECK, STRING_SETS[n]) for n in ("light", "heavy"))
    strong = bend_table(replace(HAND, helper_force_n=4.0), NECK, STRING_SETS["heavy"])
    assert (light | ~heavy)[1:4].all()
    assert light.sum() > heavy.sum()
    assert (strong | ~heavy).all()
    assert strong.sum() > heavy.sum()


def test_a_bend_takes_longer_the_wider_it_is_and_no_bend_takes_no_time() -> None:
    seconds = bend_seconds(HAND, [0.0, 5.0, 15.0])
    assert seconds[0] == 0
    assert HAND.bend_start_s < seconds[1] < seconds[2] < 0.25


# ---- time and effort --------------------------------------------------------------------------------------


@given(places, places)
def test_a_shift_takes_as_long_there_as_back_and_none_takes_no_time(a, b) -> None:
    there, back = float(shift_seconds(HAND, NECK, a, b)), float(shift_seconds(HAND, NECK, b, a))
    assert there == back
    assert there == 0 if a == b else there > HAND.shift_start_s


@given(places, places, places)
def test_a_stop_on_the_way_never_makes_a_shift_quicker(a, b, c) -> None:
    straight, via = float(shift_seconds(HAND, NECK, a, c)), shift_seconds(HAND, NECK, [a, b], [b, c]).sum()
    assert straight <= via + 1e-12


def test_the_same_frets_take_less_time_high_on_the_neck() -> None:
    seconds = shift_seconds(HAND, NECK, np.arange(1, 10), np.arange(1, 10) + 5)
    assert (np.diff(seconds) < 0).all()


# common practice, no source
def test_seven_frets_within_a_sixteenth_at_120_cannot_be_played() -> None:
    sixteenth = 60 / 120 / 4
    assert shift_seconds(HAND, NECK, 5, 12) > sixteenth
    assert shift_speed_mm_s(HAND, NECK, 5, 12, sixteenth) > HAND.shift_speed_mm_s


@given(places, places, st.floats(0.0, 2.0))
def test_a_shift_asks_for_more_than_the_hands_speed_when_its_time_is_too_short(a, b, seconds) -> None:
    least, speed = float(shift_seconds(HAND, NECK, a, b)), float(shift_speed_mm_s(HAND, NECK, a, b, seconds))
    if a == b:
        assert speed == 0
    elif seconds <= HAND.shift_start_s:
        assert speed == np.inf
    elif abs(seconds - least) > 1e-9:
        assert (speed > HAND.shift_speed_mm_s) == (seconds < least)


def test_a_capo_shortens_no_shift_of_the_same_frets() -> None:
    assert shift_mm(Neck(frets=22, capo=2), 1, 5) == pytest.approx(float(shift_mm(NECK, 3, 7)))


@given(pairs, st.integers(1, 17), st.integers(0, 5))
def test_effort_beyond_rest_is_symmetric_and_falls_up_the_neck(pair, fret, span) -> None:
    here, swapped, above = (
        float(reach_beyond_rest_mm(HAND, NECK, *args))
        for args in (
            (pair[0], fret, pair[1], fret + span),
            (pair[1], fret + span, pair[0], fret),
            (pair[0], fret + 1, pair[1], min(22, fret + 1 + span)),
        )
    )
    assert here == swapped >= above >= 0
    assert reach_beyond_rest_mm(HAND, NECK, 0, 0, pair[1], fret) == 0


def test_string_crossings_count_strings_both_ways() -> None:
    assert string_crossings([1, 3, 6], [1, 2, 2]).tolist() == [0, 1, 4]


@pytest.mark.parametrize("technique", ["pluck", "hammer-on", "pull-off", "slide"])
def test_every_technique_has_its_rate(technique: str) -> None:
    assert 5 <= HAND.rate(technique) <= 12
