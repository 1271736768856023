"""The automata behind the lick rules: the run of a line, and counters. Pure tables, no neck, no key.

An automaton reads one symbol for the first touch of a lick and one for each move after it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable
from typing import TypeVar

import numpy as np

from lickwright.rulebook.rule import Automaton
from lickwright.rulebook.schema.rule_file import MelodyTable, ShapeTable

State = TypeVar("State", bound=Hashable)

#: Symbols of the line automaton: the melodic interval, cut off at +-LEAP; FIRST for the first touch.
LEAP = 5
FIRST = 2 * LEAP + 1
LINE_SYMBOLS = FIRST + 1


def explore(
    start: State,
    symbols: int,
    step: Callable[[State, int], tuple[State, int] | None],
    accept: Callable[[State], bool],
) -> Automaton:
    """The automaton of a step function: all states reachable from ``start``, numbered as they are found."""
    index: dict[State, int] = {start: 0}
    order = [start]
    delta: list[list[int]] = []
    cost: list[list[int]] = []
    for state in order:
        row, costs = [-1] * symbols, [0] * symbols
        for symbol in range(symbols):
            reached = step(state, symbol)
            if reached is None:
                continue
            following, points = reached
            if following not in index:
                index[following] = len(order)
                order.append(following)
            row[symbol], costs[symbol] = index[following], points
        delta.append(row)
        cost.append(costs)
    return Automaton(
        np.array(delta, np.int64), np.array(cost, np.int64), np.array([accept(s) for s in order], bool)
    )


#: What the line automaton remembers: last interval (cut off), steps in one direction, reversals in a row,
#: whether the last two intervals mirror each other, repeats of one pitch.
_LineState = tuple[int, int, int, bool, int]


def line(shape: ShapeTable, melody: MelodyTable) -> Automaton:
    """The course of a melody: runs, repeats, turns, leaps and trills, forbidden or costed by the tables."""

    def step(state: _LineState | None, symbol: int) -> tuple[_LineState, int] | None:
        if symbol == FIRST:
            return ((0, 0, 0, False, 0), 0) if state is None else None
        if state is None:
            return None
        interval = symbol - LEAP
        last, run, zigzag, mirrored, repeats = state
        if interval == 0:
            if repeats + 1 >= shape.most_repeats:
                return None
            return (last, 0, 0, False, repeats + 1), melody.repeat
        size = abs(interval)
        cost = melody.leap if size >= LEAP else melody.skip if size >= 3 else 0
        same_way = last * interval > 0
        if abs(last) >= LEAP and repeats == 0:
            if size >= LEAP or (same_way and size >= 3):
                return None
            if same_way:
                cost += melody.unanswered_leap
        if same_way and run > 0:
            run += 1
            if run > shape.most_run:
                return None
            cost += melody.run3 if run == 3 else melody.run4 if run >= 4 else 0
            return (interval, run, 0, False, 0), cost
        mirror = last == -interval and repeats == 0
        if mirror and mirrored and not shape.trills:
            return None
        if last != 0:
            cost += melody.turn
        zigzag = min(zigzag + 1, 3) if last != 0 and run == 1 else 0
        if zigzag >= 3 and not shape.trills:
            return None
        if zigzag == 2:
            cost += melody.zigzag
        return (interval, 1, zigzag, mirror, 0), cost

    return explore(None, LINE_SYMBOLS, step, lambda state: state is not None)


def counted(symbols: int, these: Collection[int], least: int = 0, most: int | None = None) -> Automaton:
    """Accepts what reads one of ``these`` symbols ``least`` times or more, and no more than ``most`` times.

    >>> counted(3, {2}, least=1).accept.tolist()
    [False, True]
    >>> counted(2, {1}, most=1).delta.tolist()
    [[0, 1], [1, -1]]
    """
    enough = least if most is None else most

    def step(count: int, symbol: int) -> tuple[int, int] | None:
        if symbol not in these:
            return count, 0
        if count < enough:
            return count + 1, 0
        return (count, 0) if most is None else None

    return explore(0, symbols, step, lambda count: count >= least)


def at_most(n: int, symbols: int, these: Collection[int]) -> Automaton:
    """Accepts what reads ``these`` symbols n times or less.

    >>> at_most(0, 2, {1}).delta.tolist()
    [[0, -1]]
    """
    return counted(symbols, these, most=n)


def at_least(n: int, symbols: int, these: Collection[int]) -> Automaton:
    """Accepts what reads ``these`` symbols n times or more.

    >>> at_least(1, 2, {1}).delta.tolist()
    [[0, 1], [1, 1]]
    """
    return counted(symbols, these, least=n)
