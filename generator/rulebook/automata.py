"""The automata behind the lick rules: the run of a line, and counters. Pure tables, no neck, no key.

An automaton reads one symbol for the first touch of a lick and one for each move after it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from typing import TypeAlias, TypeVar

import numpy as np

from generator.rulebook.rule import Automaton
from generator.rulebook.schema import MelodyTable, ShapeTable

State = TypeVar("State", bound=Hashable)
Word: TypeAlias = tuple[int, ...]
_NOTHING_READ: Word = ()
_ContourStep: TypeAlias = tuple[tuple[tuple[int, ...], ...], int] | None

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


def exactly(n: int, symbols: int, these: Collection[int]) -> Automaton:
    """Accepts what reads ``these`` symbols just n times.

    >>> exactly(1, 2, {1}).accept.tolist()
    [False, True]
    """
    return counted(symbols, these, least=n, most=n)


def _longest_end(word: Word, among: Collection[Word]) -> Word:
    """The longest end of a word that is one of the given words (the empty word always is)."""
    return next((word[k:] for k in range(len(word)) if word[k:] in among), ())


def forbid_ngrams(ngrams: Iterable[Sequence[int]], symbols: int) -> Automaton:
    """Accepts what contains none of the words, of whatever lengths.

    States are the longest beginnings of forbidden words that have just been read. A. V. Aho, M. J. Corasick,
    Communications of the ACM 18(6):333-340, 1975; for music A. Papadopoulos, P. Roy, F. Pachet, Avoiding
    Plagiarism in Markov Sequence Generation, AAAI 2014.

    >>> forbid_ngrams([(0, 1)], 2).delta.tolist()
    [[1, 0], [1, -1]]
    """
    forbidden = {tuple(word) for word in ngrams}
    if () in forbidden:
        raise ValueError("the empty word is part of every word: a forbidden word has a symbol at least")
    beginnings = {word[:k] for word in forbidden for k in range(1, len(word))}

    def step(read: Word, symbol: int) -> tuple[Word, int] | None:
        word = (*read, symbol)
        return None if _longest_end(word, forbidden) else (_longest_end(word, beginnings), 0)

    return explore(_NOTHING_READ, symbols, step, lambda read: True)


def forbid_word(word: Sequence[int], symbols: int) -> Automaton:
    """Accepts what does not contain the word.

    >>> forbid_word((1, 1), 2).delta.tolist()
    [[0, 1], [0, -1]]
    """
    return forbid_ngrams([word], symbols)


def require_word(word: Sequence[int], symbols: int) -> Automaton:
    """Accepts what contains the word. D. E. Knuth, J. H. Morris, V. R. Pratt, SIAM J Comput 6(2), 1977 [memory].

    >>> require_word((1, 1), 2).delta.tolist()
    [[0, 1], [0, 2], [2, 2]]
    """
    whole = tuple(word)
    beginnings = {whole[:k] for k in range(1, len(whole) + 1)}

    def step(read: Word, symbol: int) -> tuple[Word, int]:
        return (whole if read == whole else _longest_end((*read, symbol), beginnings)), 0

    return explore(_NOTHING_READ, symbols, step, lambda read: read == whole)


def starts_with(word: Sequence[int], symbols: int) -> Automaton:
    """Accepts what begins with the word.

    >>> starts_with((1,), 2).delta.tolist()
    [[-1, 1], [1, 1]]
    """
    whole = tuple(word)

    def step(read: int, symbol: int) -> tuple[int, int] | None:
        if read == len(whole):
            return read, 0
        return (read + 1, 0) if symbol == whole[read] else None

    return explore(0, symbols, step, lambda read: read == len(whole))


def ends_with(word: Sequence[int], symbols: int) -> Automaton:
    """Accepts what ends with the word.

    >>> ends_with((1, 0), 2).accept.tolist()
    [False, False, True]
    """
    whole = tuple(word)
    beginnings = {whole[:k] for k in range(1, len(whole) + 1)}

    def step(read: Word, symbol: int) -> tuple[Word, int]:
        return _longest_end((*read, symbol), beginnings), 0

    return explore(_NOTHING_READ, symbols, step, lambda read: read == whole)


#: Contours as the directions a line takes in turn: 1 up, -1 down. A line follows one of those listed.
CONTOURS: dict[str, tuple[tuple[int, ...], ...]] = {
    "rising": ((1,),),
    "falling": ((-1,),),
    "arch": ((1, -1),),
    "wave": ((1, -1, 1), (-1, 1, -1)),
}


def contour(name: str, exceptions: int = 0) -> Automaton:
    """Accepts a melody that takes a contour's directions in turn, each at least once, over interval symbols.

    The alphabet is that of ``line``: FIRST, then intervals cut off at +-LEAP. A repeated pitch fits anywhere;
    ``exceptions`` intervals may go against the direction. A state holds, for each direction that the line may
    be in, the fewest exceptions that led there. Raises KeyError for a name that is not in ``CONTOURS``.

    >>> contour("rising").delta[1].tolist()
    [-1, -1, -1, -1, -1, 1, 2, 2, 2, 2, 2, -1]
    """
    routes = CONTOURS[name]
    never = exceptions + 1

    def along(route: tuple[int, ...], before: tuple[int, ...], way: int) -> tuple[int, ...]:
        """``before[k]`` is for the line being in direction k - 1, before the first of all at k = 0."""
        after = [min(cost + (way != (0, *route)[k]), never) for k, cost in enumerate(before)]
        for k, direction in enumerate(route):
            if way == direction:
                after[k + 1] = min(after[k + 1], before[k])
        return tuple(after)

    def step(state: tuple[tuple[int, ...], ...] | None, symbol: int) -> _ContourStep:
        if (symbol == FIRST) != (state is None):
            return None
        if state is None:
            return tuple((0, *(never for _ in route)) for route in routes), 0
        interval = symbol - LEAP
        if interval == 0:
            return state, 0
        way = 1 if interval > 0 else -1
        reached = tuple(along(route, before, way) for route, before in zip(routes, state, strict=True))
        return (reached, 0) if min(min(costs) for costs in reached) < never else None

    return explore(None, LINE_SYMBOLS, step, lambda s: s is not None and any(c[-1] < never for c in s))
