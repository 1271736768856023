"""The automaton of the line and the counters: what they charge, and that they read what their words say."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from lickwright.rulebook.automata import FIRST, LEAP, LINE_SYMBOLS, explore, line
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.rule import Automaton

RULES = read_rules("slow-shuffle")[1].lead
SHAPE = RULES.shape.model_copy(update={"most_run": 4, "most_repeats": 2, "trills": False})
MELODY = RULES.melody.model_copy(
    update={
        "skip": 10, "leap": 30, "unanswered_leap": 40, "turn": 12, "run3": 5, "run4": 25, "zigzag": 29, "repeat": 31,
    }
)  # fmt: skip


def reading(automaton: Automaton, symbols: list[int]) -> int | None:
    """The cost of a word, or None when it is not accepted."""
    state = cost = 0
    for symbol in symbols:
        cost += int(automaton.cost[state, symbol])
        state = int(automaton.delta[state, symbol])
        if state < 0:
            return None
    return cost if automaton.accept[state] else None


def charged(*intervals: int) -> int | None:
    return reading(line(SHAPE, MELODY), [FIRST, *(max(-LEAP, min(LEAP, i)) + LEAP for i in intervals)])


@pytest.mark.parametrize(
    ("intervals", "points"),
    [
        ((), 0),
        ((2,), 0),
        ((3,), 10),
        ((5,), 30),
        ((12,), 30),
        ((2, 2), 0),
        ((2, -1), 12),
        ((2, 0), 31),
        ((1, 1, 1), 5),
        ((1, 1, 1, 1), 5 + 25),
        ((5, 2), 30 + 40),
        ((5, -2), 30 + 12),
    ],
)
def test_the_line_charges_what_the_rule_file_says(intervals: tuple[int, ...], points: int) -> None:
    assert charged(*intervals) == points


@pytest.mark.parametrize(
    "intervals", [(1, 1, 1, 1, 1), (0, 0), (5, 5), (7, 3), (2, -2, 2), (-3, 3, -3), (1, -2, 1, -2)]
)
def test_the_line_forbids_long_runs_drumming_two_leaps_on_and_trills(intervals: tuple[int, ...]) -> None:
    assert charged(*intervals) is None


def test_trills_may_be_allowed() -> None:
    with_trills = line(SHAPE.model_copy(update={"trills": True}), MELODY)
    assert reading(with_trills, [FIRST, *(i + LEAP for i in (2, -2, 2, -2))]) is not None


def test_a_line_upside_down_is_the_same_line() -> None:
    """What is charged or forbidden going up is so going down."""
    for intervals in product((-5, -2, 0, 2, 5), repeat=4):
        assert charged(*intervals) == charged(*(-i for i in intervals))


def test_what_is_accepted_is_accepted_up_to_any_note() -> None:
    for intervals in product((-3, -1, 0, 1, 4), repeat=4):
        if charged(*intervals) is not None:
            assert all(charged(*intervals[:n]) is not None for n in range(4))


def test_the_first_touch_is_read_once_and_first() -> None:
    automaton = line(SHAPE, MELODY)
    assert reading(automaton, []) is None
    assert reading(automaton, [LEAP]) is None
    assert reading(automaton, [FIRST, FIRST]) is None


def test_states_are_those_that_can_be_reached_and_numbered_from_the_start() -> None:
    automaton = explore(0, 2, lambda s, x: ((s + x) % 3, x), lambda s: s == 2)
    assert automaton.states == 3
    assert automaton.delta.tolist() == [[0, 1], [1, 2], [2, 0]]
    assert automaton.cost.tolist() == [[0, 1]] * 3
    assert automaton.accept.tolist() == [False, False, True]


def test_the_line_stays_small() -> None:
    automaton = line(SHAPE, MELODY)
    assert automaton.delta.shape == (automaton.states, LINE_SYMBOLS)
    assert automaton.states < 300
    assert np.all(automaton.cost[automaton.delta < 0] == 0)
