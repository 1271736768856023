"""Strings: gauges and sets, and the physics of bends as properties that hold on any neck."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.guitar.strings import (
    LARGEST_BEND,
    STRING_SETS,
    StringGauge,
    StringSet,
    bend_direction,
    bend_distance_mm,
    bend_force_n,
    bend_size,
    bend_tables,
    bend_work_nmm,
    frequency_hz,
    stops,
    string_set,
    tension_n,
    tensions_n,
)

LIGHT = STRING_SETS["light"]
sets = st.sampled_from([s for s in STRING_SETS.values() if len(s.gauges) == 7])
necks = st.builds(
    Neck, frets=st.just(22), scale_mm=st.floats(600, 700), capo=st.integers(0, 4),
    tuning=st.sampled_from([t for t in TUNINGS.values() if len(t) >= 6]),
)  # fmt: skip
strings = st.integers(1, 6)
frets = st.integers(1, 18)
sizes = st.integers(1, LARGEST_BEND)


# ---- sets -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", STRING_SETS)
def test_a_set_gets_thicker_and_turns_from_plain_to_wound_once(name: str) -> None:
    gauges = STRING_SETS[name].gauges
    assert [g.diameter_in for g in gauges] == sorted(g.diameter_in for g in gauges)
    assert [g.wound for g in gauges] == sorted(g.wound for g in gauges)


def test_a_wound_string_is_lighter_than_solid_steel_and_its_core_is_softer() -> None:
    wound, plain = StringGauge(0.042, True), StringGauge(0.042)
    assert wound.density_kg_m < plain.density_kg_m
    assert wound.stiffness_n < plain.stiffness_n
    assert wound.core_mm < wound.diameter_mm


@pytest.mark.parametrize("word", ["ten", "", "2", "400w", "w", "10ww", "-9", "nan"])
def test_an_unreadable_gauge_says_which_string_and_what_would_be_right(word: str) -> None:
    with pytest.raises(ValueError, match=r"string 2 of set 'mine'.*as in 9 11 16 24w"):
        string_set("mine", f"9 {word or '?'}")


def test_a_set_with_too_few_strings_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="'bass' has 4 strings, the neck needs 6"):
        tensions_n(Neck(), STRING_SETS["bass"])


def test_strings_that_the_neck_lacks_are_refused() -> None:
    for string in (0, 7):
        with pytest.raises(ValueError, match="numbered 1 to 6"):
            bend_force_n(Neck(), LIGHT, string, 5, 2)


# ---- bends ------------------------------------------------------------------------------------------------


@given(necks, sets, strings, frets, st.floats(0.01, 6))
def test_a_bend_of_the_distance_found_sounds_the_size_asked_for(neck, set_, string, fret, size) -> None:
    distance = bend_distance_mm(neck, set_, string, fret, size)
    assert float(bend_size(neck, set_, string, fret, distance)) == pytest.approx(size, abs=1e-6)


@given(necks, sets, strings, frets, st.floats(0, 40))
def test_it_does_not_matter_to_the_pitch_which_way_a_string_is_pushed(neck, set_, string, fret, mm) -> None:
    up, down = (float(bend_size(neck, set_, string, fret, d)) for d in (mm, -mm))
    assert up == down >= 0


@given(necks, sets, strings, frets)
def test_wider_bends_take_more_way_more_force_and_more_work(neck, set_, string, fret) -> None:
    size = np.arange(LARGEST_BEND + 1)
    for measure in (bend_distance_mm, bend_force_n, bend_work_nmm):
        values = measure(neck, set_, string, fret, size)
        assert values[0] == 0
        assert (np.diff(values) > 0).all()


@given(necks, strings, frets, sizes, st.floats(7, 20), st.floats(0.5, 5))
def test_a_thicker_plain_string_takes_more_force_over_the_same_way(
    neck, string, fret, size, thin, more
) -> None:
    thinner, thicker = (
        StringSet("plain", (StringGauge(thousandths / 1000),) * 7) for thousandths in (thin, thin + more)
    )
    at = (string, fret, size)
    assert bend_distance_mm(neck, thinner, *at) == pytest.approx(bend_distance_mm(neck, thicker, *at))
    assert bend_force_n(neck, thinner, *at) < bend_force_n(neck, thicker, *at)


@given(necks, sets, strings, frets, st.floats(0.2, 6))
def test_work_grows_by_force_times_way(neck, set_, string, fret, size) -> None:
    less, more = size - 1e-3, size + 1e-3
    way, work = (
        float(measure(neck, set_, string, fret, more) - measure(neck, set_, string, fret, less))
        for measure in (bend_distance_mm, bend_work_nmm)
    )
    assert work / way == pytest.approx(float(bend_force_n(neck, set_, string, fret, size)), rel=1e-4)


@given(necks, sets, strings, sizes)
def test_near_the_nut_a_bend_takes_the_most_force(neck, set_, string, size) -> None:
    force = bend_force_n(neck, set_, string, np.arange(1, 8), size)
    assert (np.diff(force) < 0).all()


@given(necks, sets, strings, frets, sizes)
def test_a_lower_tuning_makes_bends_softer_and_wider(neck, set_, string, fret, size) -> None:
    down = Neck(tuple(p - 1 for p in neck.tuning), neck.frets, neck.scale_mm, neck.capo)
    assert bend_force_n(down, set_, string, fret, size) < bend_force_n(neck, set_, string, fret, size)
    assert bend_distance_mm(down, set_, string, fret, size) < bend_distance_mm(neck, set_, string, fret, size)


def test_an_open_string_cannot_be_bent_but_may_stay_as_it_is() -> None:
    for measure in (bend_distance_mm, bend_force_n, bend_work_nmm):
        assert np.isposinf(measure(Neck(), LIGHT, 1, 0, 2))
        assert measure(Neck(), LIGHT, 1, 0, 0) == 0


def board_room_mm(neck: Neck, string: int, fret: float) -> float:
    """How far a string can go in its bend's direction before it leaves the board, in millimetres."""
    strings_ahead = neck.strings - string if bend_direction(neck, string) > 0 else string - 1
    return strings_ahead * neck.spacing_mm(fret) + neck.edge_mm


def strings_run_into(neck: Neck, string: int, fret: int, distance_mm: float) -> tuple[int, ...]:
    """The neighbouring strings that a bent string reaches at the finger, the nearest first."""
    step = bend_direction(neck, string)
    reached = int(distance_mm // neck.spacing_mm(fret)) if np.isfinite(distance_mm) else neck.strings
    ahead = range(string + step, neck.strings + 1 if step > 0 else 0, step)
    return tuple(ahead)[:reached]


@given(necks, sets)
def test_the_tables_hold_what_the_functions_give(neck, set_) -> None:
    tables = bend_tables(neck, set_)
    numbers, sizes_ = np.arange(1, neck.strings + 1), np.arange(LARGEST_BEND + 1)
    at = np.ix_(numbers, np.arange(neck.top_fret + 1), sizes_)
    for table, measure in (
        (tables.distance_mm, bend_distance_mm),
        (tables.force_n, bend_force_n),
        (tables.work_nmm, bend_work_nmm),
    ):
        np.testing.assert_allclose(table[1:], measure(neck, set_, *at))
    for string, fret, size in ((1, 5, 4), (2, 10, 6), (4, 7, 2), (6, 3, 2), (3, 0, 2)):
        distance = float(tables.distance_mm[string, fret, size])
        assert tables.runs_into[string, fret, size] == len(strings_run_into(neck, string, fret, distance))
        assert tables.on_board[string, fret, size] == (distance <= board_room_mm(neck, string, fret))


def test_the_tables_are_made_once_and_cannot_be_changed() -> None:
    tables = bend_tables(Neck(), LIGHT)
    assert bend_tables(Neck(), LIGHT) is tables
    with pytest.raises(ValueError, match="read-only"):
        tables.force_n[1, 1, 1] = 0


# ---- the board --------------------------------------------------------------------------------------------


def test_thin_strings_are_pushed_and_thick_ones_pulled() -> None:
    assert [bend_direction(Neck(), s) for s in range(1, 7)] == [1, 1, 1, -1, -1, -1]
    assert [bend_direction(Neck.bass(), s) for s in range(1, 5)] == [1, 1, -1, -1]


@given(necks, frets)
def test_there_is_room_on_the_board_for_two_strings_and_more(neck, fret) -> None:
    for string in range(1, neck.strings + 1):
        assert board_room_mm(neck, string, fret) > 2 * neck.spacing_mm(fret)


def test_a_whole_step_high_on_the_first_string_runs_into_two_others() -> None:
    distance = float(bend_distance_mm(Neck(), LIGHT, 1, 12, 4))
    assert strings_run_into(Neck(), 1, 12, distance) == (2, 3)
    assert strings_run_into(Neck(), 6, 12, distance) == (5, 4)


def test_a_note_on_the_string_run_into_stops_and_those_on_the_other_side_ring_on() -> None:
    bent = (2, 8, float(bend_distance_mm(Neck(), LIGHT, 2, 8, 4)))
    assert stops(Neck(), bent, (3, 7, 0.0))
    assert stops(Neck(), bent, (3, 0, 0.0))
    assert not stops(Neck(), bent, (1, 5, 0.0))
    assert not stops(Neck(), bent, (5, 7, 0.0))


def test_two_strings_bent_together_keep_out_of_each_others_way() -> None:
    distance = float(bend_distance_mm(Neck(), LIGHT, 2, 8, 4))
    assert not stops(Neck(), (2, 8, distance), (3, 8, distance))


@given(strings, frets, st.floats(0, 30))
def test_a_neighbour_held_nearer_the_bridge_is_met_later(string, fret, distance) -> None:
    other = string + bend_direction(Neck(), string)
    behind, ahead = (stops(Neck(), (string, fret, distance), (other, f, 0.0)) for f in (fret, fret + 2))
    assert behind or not ahead


# ---- tension ----------------------------------------------------------------------------------------------


@given(st.floats(30, 1400), st.floats(400, 900), st.floats(1e-4, 1e-2))
def test_a_string_of_the_tension_found_sounds_the_frequency_asked_for(hz, length, density) -> None:
    tension = float(tension_n(hz, length, density))
    assert np.sqrt(tension / density) / (2 * length / 1000) == pytest.approx(hz)


@given(necks, sets)
def test_a_capo_changes_no_tension(neck, set_) -> None:
    bare = Neck(neck.tuning, neck.frets, neck.scale_mm)
    assert tensions_n(bare, set_) == tensions_n(neck, set_)


def test_an_octave_doubles_the_frequency() -> None:
    assert frequency_hz([57, 69, 81]) == pytest.approx([220, 440, 880])
