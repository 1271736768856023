"""Words that a line may not contain, and contours, as automata: instances for the solver that no rule gives."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from lickwright.rulebook.automata import FIRST, LEAP, LINE_SYMBOLS, explore
from lickwright.rulebook.rule import Automaton

Word = tuple[int, ...]
_NOTHING_READ: Word = ()
_ContourStep = tuple[tuple[tuple[int, ...], ...], int] | None


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
