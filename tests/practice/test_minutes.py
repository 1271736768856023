"""The minutes of a practice sheet: they add up, slow comes first, and nobody plays half an hour without a rest."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from lickwright.practice.minutes import Schedule, TooLittleTime, longest_stretch_s, once_s, schedule
from lickwright.rulebook.load import shipped_rules
from lickwright.rulebook.schema.practice import PracticeTable

TABLE = PracticeTable()
#: Five minutes in every half hour, as the cautions of every sheet say. Common practice, no source; that breaks and
#: pacing prevent injuries: Music Educators Journal 96:28-34, 2010, doi:10.1177/0027432110370736.
HALF_HOUR_S, REST_S = 30 * 60, 5 * 60


def total_s(made: Schedule) -> float:
    return made.warm_up_s + sum(e.playing_s + e.rest_s for e in made.exercises)


@given(
    st.integers(1, 24),
    st.floats(3.0, 6.0),
    st.sampled_from([96, 192]),
    st.integers(44, 132),
)
def test_the_minutes_add_up_with_a_long_rest_in_every_half_hour(
    count: int, minutes_each: float, ticks: int, tempo: int
) -> None:
    minutes = int(count * minutes_each) + 1
    try:
        made = schedule([ticks] * count, [tempo] * count, minutes, TABLE)
    except TooLittleTime:
        assume(False)
    assert total_s(made) == pytest.approx(60 * minutes, abs=1e-6)
    assert made.warm_up_s >= TABLE.warm_up_s - 1e-6
    assert longest_stretch_s(made) <= HALF_HOUR_S - REST_S
    assert all(e.rest_s == REST_S for e in made.exercises if e.long_rest)
    for exercise in made.exercises:
        steps = exercise.steps
        assert [s.percent for s in steps] == [60, 75, 90, 100]
        assert all(s.times >= 1 for s in steps)
        slow = sum(once_s(ticks, s, TABLE) for s in steps[:2])
        assert slow >= 0.45 * exercise.playing_s
        assert exercise.playing_s == pytest.approx(sum(once_s(ticks, s, TABLE) for s in steps))


def test_a_step_lasts_its_repetitions_and_the_bar_counted_in() -> None:
    made = schedule([96], [60], 4, TABLE)
    slow = made.exercises[0].steps[0]
    assert slow.tempo_bpm == 36
    assert once_s(96, slow, TABLE) == pytest.approx((8 * slow.times + 4) * 60 / 36)


def test_too_few_minutes_are_told_how_many_would_do() -> None:
    with pytest.raises(TooLittleTime, match=r"ask for (\d+) minutes") as error:
        schedule([96] * 5, [58] * 5, 3, TABLE)
    enough = int(str(error.value).split("ask for ")[1].split()[0])
    assert schedule([96] * 5, [58] * 5, enough, TABLE).minutes == enough


def test_too_many_minutes_are_told_how_many_licks_would_do() -> None:
    with pytest.raises(TooLittleTime, match="ask for") as error:
        schedule([96] * 2, [58] * 2, 60, TABLE)
    enough = int(str(error.value).split("ask for ")[1].split()[0])
    assert total_s(schedule([96] * enough, [58] * enough, 60, TABLE)) == pytest.approx(3600)


def test_the_shipped_part_says_what_holds_without_it() -> None:
    with (shipped_rules() / "parts" / "practice.toml").open("rb") as file:
        assert PracticeTable.model_validate(tomllib.load(file)["practice"]) == TABLE
