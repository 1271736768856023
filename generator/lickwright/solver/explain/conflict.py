"""Why not: which constraints cannot hold together, as few as possible. Knows nothing of music.

A constraint is anything; ``holds`` says whether a sequence of them can hold together, and must be monotone:
what holds together still does when some are left out. ``background`` is never up for dropping. Items are told
apart by their places, so equal ones may occur.

Conventions: conflicts are tuples in the order of ``items``. A conflict is minimal when it holds as soon as any
one of its items is dropped; it is smallest when no other has fewer items.

References: U. Junker, QuickXplain: Preferred Explanations and Relaxations for Over-Constrained Problems,
AAAI 2004, 167-172; R. Reiter, A Theory of Diagnosis from First Principles, Artificial Intelligence
32(1):57-95, 1987; A. Ignatiev, A. Previti, M. Liffiton, J. Marques-Silva, Smallest MUS
Extraction with Minimal Hitting Set Dualization, CP 2015, 173-182 [from memory].
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeAlias, TypeVar

T = TypeVar("T")
Holds: TypeAlias = Callable[[Sequence[T]], bool]
_Places: TypeAlias = frozenset[int]


class NoConflict(ValueError):
    """Everything holds together: there is no conflict to explain."""


@dataclass(frozen=True)
class Conflict(Generic[T]):
    """Items that cannot hold together. ``smallest`` is true when it is proved that no conflict has fewer."""

    items: tuple[T, ...]
    smallest: bool


class _Asked(Generic[T]):
    """``holds`` over places in ``items``; every set is asked once, and sets of sets already known are inferred."""

    def __init__(self, holds: Holds[T], background: Sequence[T], items: Sequence[T]):
        self.holds, self.background, self.items = holds, tuple(background), tuple(items)
        self.good: list[_Places] = []
        self.bad: list[_Places] = []
        self.checks = 0

    def __call__(self, places: _Places) -> bool:
        if any(places <= known for known in self.good):
            return True
        if any(places >= known for known in self.bad):
            return False
        self.checks += 1
        answer = self.holds((*self.background, *self.named(places)))
        (self.good if answer else self.bad).append(places)
        return answer

    def named(self, places: _Places) -> tuple[T, ...]:
        """The items at the places, in order."""
        return tuple(self.items[k] for k in sorted(places))


def _minimal(asked: _Asked[T], places: Sequence[int]) -> _Places:
    """A minimal conflict within the places, which must not hold; empty when the background itself does not."""

    def explain(kept: _Places, added: bool, left: Sequence[int]) -> _Places:
        if added and not asked(kept):
            return frozenset()
        if len(left) == 1:
            return frozenset(left)
        half = len(left) // 2
        first, second = left[:half], left[half:]
        of_second = explain(kept | frozenset(first), True, second)
        return of_second | explain(kept | of_second, bool(of_second), first)

    if not asked(frozenset()):
        return frozenset()
    return explain(frozenset(), False, places)


def quickxplain(holds: Holds[T], background: Sequence[T], items: Sequence[T]) -> tuple[T, ...]:
    """A minimal conflict; where there is a choice, one that can do without the last items.

    Empty when the background cannot hold by itself. Raises NoConflict when everything holds together.
    Cost: O(k log(n / k)) calls of ``holds`` for a conflict of k of n items.

    >>> quickxplain(lambda costs: sum(costs) <= 3000, [], [500, 500, 800, 500, 2600])
    (500, 2600)
    """
    asked = _Asked(holds, background, items)
    return asked.named(_minimal(asked, _all_in_conflict(asked)))


def _all_in_conflict(asked: _Asked[T]) -> range:
    everything = range(len(asked.items))
    if asked(frozenset(everything)):
        raise NoConflict("everything holds together: there is no conflict to explain")
    return everything


def smallest_conflict(
    holds: Holds[T], background: Sequence[T], items: Sequence[T], most_checks: int = 1000
) -> Conflict[T]:
    """A conflict of as few items as possible, by hitting sets of the corrections found so far.

    A correction is a set of items without which the others hold; every conflict takes an item from each of
    them. The least set that does is a conflict, or shows another correction. After ``most_checks`` calls of
    ``holds`` the search stops with the minimal conflict that ``quickxplain`` gives, and says so. Raises
    NoConflict when everything holds together.

    >>> smallest_conflict(lambda costs: sum(costs) <= 3000, [], [1200, 1200, 1200, 3100])
    Conflict(items=(3100,), smallest=True)
    """
    asked = _Asked(holds, background, items)
    everything = frozenset(_all_in_conflict(asked))
    smallest = _minimal(asked, sorted(everything))
    corrections: list[_Places] = []
    while asked.checks < most_checks:
        hitting = _least_hitting(corrections, len(smallest))
        if hitting is None or len(hitting) == len(smallest):
            return Conflict(asked.named(smallest), True)
        if not asked(hitting):
            return Conflict(asked.named(hitting), True)
        for k in sorted(everything - hitting):
            if asked(hitting | {k}):
                hitting |= {k}
        corrections.append(everything - hitting)
    return Conflict(asked.named(smallest), False)


def _least_hitting(sets: Sequence[_Places], most: int) -> _Places | None:
    """The least set, of ``most`` at the most, that takes something from each; ties by the first places."""
    for size in range(most + 1):
        hitting_set = _hitting(sets, frozenset(), size)
        if hitting_set is not None:
            return hitting_set
    return None


def _hitting(sets: Sequence[_Places], chosen: _Places, room: int) -> _Places | None:
    unhit = [s for s in sets if not s & chosen]
    if not unhit:
        return chosen
    if room == 0:
        return None
    tightest: _Places = min(unhit, key=lambda s: len(s))
    for k in sorted(tightest):
        hitting_set = _hitting(unhit, chosen | {k}, room - 1)
        if hitting_set is not None:
            return hitting_set
    return None
