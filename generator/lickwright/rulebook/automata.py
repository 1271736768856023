"""The automata behind the lick rules: the run of a line, and counters. Pure tables, no neck, no key.

An automaton reads one symbol for the first touch of a lick and one for each move after it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable
from dataclasses import dataclass
from typing import TypeAlias, TypeVar

import numpy as np

from lickwright.rulebook.rule import Automaton
from lickwright.rulebook.schema.rule_file import MelodyTable, ShapeTable

State = TypeVar("State", bound=Hashable)

#: Symbols of the line automaton: the melodic interval, cut off at +-LEAP; FIRST for the first touch.
LEAP = 5
FIRST = 2 * LEAP + 1
LINE_SYMBOLS = FIRST + 1
#: A move of so many semitones is a skip.
SKIP = 3


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


@dataclass(frozen=True)
class _Course:
    """What the line automaton remembers of a line.

    ``last`` is the last interval (cut off), ``run`` the moves in its direction, ``zigzag`` the changes of direction in
    a row, ``mirrored`` whether the last two intervals mirror each other, ``repeats`` how often the pitch came again.
    """

    last: int = 0
    run: int = 0
    zigzag: int = 0
    mirrored: bool = False
    repeats: int = 0

    @property
    def leapt(self) -> bool:
        """True right after a leap."""
        return abs(self.last) >= LEAP and self.repeats == 0


#: Where a line goes on, and what that costs; None where it may not.
_Onward: TypeAlias = tuple[_Course, int] | None


def line(shape: ShapeTable, melody: MelodyTable) -> Automaton:
    """The course of a melody: runs, repeats, turns, leaps and trills, forbidden or costed by the tables."""

    def step(course: _Course | None, symbol: int) -> _Onward:
        if symbol == FIRST:
            return (_Course(), 0) if course is None else None
        if course is None:
            return None
        interval = symbol - LEAP
        if interval == 0:
            return _repeated(course, shape, melody)
        cost = _width_cost(course, interval, melody)
        if cost is None:
            return None
        onward = _run_on if course.last * interval > 0 and course.run > 0 else _turned
        return onward(course, interval, cost, shape, melody)

    return explore(None, LINE_SYMBOLS, step, lambda course: course is not None)


def _repeated(course: _Course, shape: ShapeTable, melody: MelodyTable) -> _Onward:
    if course.repeats + 1 >= shape.most_repeats:
        return None
    return _Course(course.last, repeats=course.repeats + 1), melody.repeat


def _width_cost(course: _Course, interval: int, melody: MelodyTable) -> int | None:
    """What a move costs by its width and after a leap; None where the leap is not answered."""
    size, same_way = abs(interval), course.last * interval > 0
    cost = melody.leap if size >= LEAP else melody.skip if size >= SKIP else 0
    if not course.leapt:
        return cost
    if size >= LEAP or (same_way and size >= SKIP):
        return None
    return cost + melody.unanswered_leap if same_way else cost


def _run_on(course: _Course, interval: int, cost: int, shape: ShapeTable, melody: MelodyTable) -> _Onward:
    run = course.run + 1
    if run > shape.most_run:
        return None
    further = melody.run4 if run > 3 else melody.run3 if run == 3 else 0
    return _Course(interval, run), cost + further


def _turned(course: _Course, interval: int, cost: int, shape: ShapeTable, melody: MelodyTable) -> _Onward:
    """A change of direction, or the first move of all."""
    mirror = course.last == -interval and course.repeats == 0
    zigzag = min(course.zigzag + 1, 3) if course.last != 0 and course.run == 1 else 0
    if not shape.trills and ((mirror and course.mirrored) or zigzag == 3):
        return None
    cost += (melody.turn if course.last != 0 else 0) + (melody.zigzag if zigzag == 2 else 0)
    return _Course(interval, 1, zigzag, mirror), cost


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
