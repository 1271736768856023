"""Goals: what they are called, and where each stands in a study that holds every technique."""

from __future__ import annotations

import pytest
from lickwright.practice.goals import KINDS, GoalError, goal_of, is_strong, times_of
from lickwright.rulebook.read import read_rules
from lickwright.study.model import SlotKind, Study

from tests.practice.reading import counts
from tests.studies import tour
from tests.written import a_study

#: Every kind that a lick of a study can hold by chance.
READ_TWICE = (
    "bend", "half-bend", "whole-bend", "quarter-bend", "bend-release", "pre-bend-release", "hammer-on", "pull-off",
    "slide", "grace", "vibrato", "double-stop", "degree:b3", "degree:5", "key-degree:b7", "string:2", "string:4",
    "window:5", "cell:triplets", "cell:sixteenths", "cell:syncopation", "cell:.xxx-x",
)  # fmt: skip


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_is_made_from_its_own_example_and_says_what_counts(name: str) -> None:
    kind = KINDS[name]
    goal = goal_of(f"{name}:{kind.values}" if kind.values else name)
    assert goal.words
    assert goal.kind == name
    assert any(
        (goal.ask.touches, goal.ask.way is not None, goal.ask.rhythm, goal.ask.position, goal.ask.grip)
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bend-relase", "did you mean bend-release"),
        ("degree", "write it as degree:b3"),
        ("slide:3", "write it as slide"),
        ("degree:h", "unknown degree 'h'"),
        ("string:9", "from 1 to 7"),
        ("window:x", "from 1 to 24"),
        ("cell:xyz", "use x - . 2 3 L; or one of triplets"),
        ("cell:-x-", "begins with a note or a silence"),
        ("", "no goal ''"),
    ],
)
def test_what_is_no_goal_is_told_what_would_be_one(text: str, said: str) -> None:
    with pytest.raises(GoalError, match=r".") as error:
        goal_of(text)
    assert said in str(error.value)


def test_a_strong_place_is_a_beat_a_held_note_or_the_landing() -> None:
    assert is_strong(24, 4, False)
    assert is_strong(28, 12, False)
    assert is_strong(28, 4, True)
    assert not is_strong(28, 8, False)


def test_a_goal_is_asked_for_as_often_as_the_level_allows() -> None:
    _, rules = read_rules("slow-shuffle", "first-year")
    assert times_of(goal_of("double-stop"), rules) == 1
    assert times_of(goal_of("double-stop"), rules, 3) == 3
    assert times_of(goal_of("string:4"), rules) == 3
    assert times_of(goal_of("window:5"), rules, 4) == 1


@pytest.fixture(scope="module")
def studies() -> list[Study]:
    return [tour(), *(a_study(seed=seed, level="fluent") for seed in (1, 2))]


@pytest.mark.parametrize("text", READ_TWICE)
def test_a_goal_counts_where_another_reading_of_the_study_finds_it(text: str, studies: list[Study]) -> None:
    goal = goal_of(text)
    for study in studies:
        licks = [slot for slot in study.slots if slot.kind is SlotKind.LICK]
        assert [len(goal.where(study, slot)) for slot in licks] == counts(study, text)


def test_the_readings_agree_on_something(studies: list[Study]) -> None:
    found = {text for text in READ_TWICE for study in studies if sum(counts(study, text))}
    assert len(found) >= len(READ_TWICE) - 4, set(READ_TWICE) - found
