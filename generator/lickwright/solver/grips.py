"""Grips on the neck: each recipe of the rule files as a small constraint problem over its strings.

A variable is a string, its values are (degree, fret) pairs; the constraints say that every degree sounds
once, in the recipe's order, within a hand's reach. The hand's own rules then give the fingers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import constraint

from lickwright.guitar.fingering import fingerings, grip_cost, grip_position
from lickwright.guitar.hand import Hand
from lickwright.guitar.neck import Neck
from lickwright.rulebook.schema.rule_file import GripTable
from lickwright.theory.harmony import Chord, semitones

#: (string, fret, finger)
Held = tuple[int, int, int]
#: (degree, fret)
_Value = tuple[str, int]
WIDEST_GRIP = 4


@dataclass(frozen=True)
class Grip:
    """A fretted chord: ``notes`` from the lowest string up with their ``degrees``, and its position."""

    name: str
    roman: str
    notes: tuple[Held, ...]
    degrees: tuple[str, ...]
    position: int
    cost: int

    def frets(self) -> dict[int, int]:
        """String to fret."""
        return {string: fret for string, fret, _ in self.notes}


def voicings(
    name: str, recipe: GripTable, chord: Chord, neck: Neck, hand: Hand, highest_fret: int, barre: int = 0
) -> tuple[Grip, ...]:
    """Every way the hand can hold the recipe for the chord, lowest on the neck first.

    The index finger lies across the lowest fret where that costs at most ``barre`` points more.

    >>> seventh = GripTable(qualities=["7"], degrees=["b7", "3", "5"], strings=[[4, 3, 2]])
    >>> from lickwright.theory.harmony import Key, chord_in_key
    >>> a7 = chord_in_key("I7", Key("A"))
    >>> voicings("b7-3-5", seventh, a7, Neck(), Hand(), 12)[-1].notes
    ((4, 5, 1), (3, 6, 3), (2, 5, 2))
    """
    grips = []
    for strings in recipe.strings:
        for places, degrees in _places(
            tuple(strings), tuple(recipe.degrees), recipe.order, chord, neck, highest_fret
        ):
            fingered = fingerings(hand, neck, places)
            if fingered:
                notes = _laid_across(hand, neck, fingered, barre)
                points = recipe.cost + grip_cost(hand, neck, notes)
                grips.append(Grip(name, chord.roman, notes, degrees, max(1, grip_position(notes)), points))
    return tuple(sorted(grips, key=lambda g: (g.position, g.notes)))


def _laid_across(
    hand: Hand, neck: Neck, fingered: Sequence[tuple[Held, ...]], barre: int
) -> tuple[Held, ...]:
    """The cheapest fingering, or one whose index finger takes all of the lowest fret if that is hardly dearer."""
    best = fingered[0]
    lowest = min(fret for _, fret, _ in best)
    if lowest == 0 or sum(fret == lowest for _, fret, _ in best) < 2:
        return best
    limit = grip_cost(hand, neck, best) + barre
    laid = (n for n in fingered if all(g == 1 for _, f, g in n if f == lowest))
    return next((n for n in laid if grip_cost(hand, neck, n) <= limit), best)


@lru_cache(maxsize=8192)
def _places(
    strings: tuple[int, ...],
    degrees: tuple[str, ...],
    order: str,
    chord: Chord,
    neck: Neck,
    highest_fret: int,
) -> tuple[tuple[tuple[tuple[int, int], ...], tuple[str, ...]], ...]:
    """The (string, fret) places and the degree of each, from the lowest string up."""
    if max(strings) > neck.strings:
        return ()
    problem = constraint.Problem()
    for k, string in enumerate(strings):
        own_degrees = degrees if order == "any" else (degrees[k],)
        values = list(_values(string, own_degrees, chord, neck, highest_fret))
        if not values:
            return ()
        problem.addVariable(string, values)
    problem.addConstraint(_each_degree_once(len(degrees)), strings)
    problem.addConstraint(_within_a_hand, strings)
    placings = []
    for solution in problem.getSolutions():
        places = tuple((string, solution[string][1]) for string in strings)
        placings.append((places, tuple(solution[string][0] for string in strings)))
    return tuple(sorted(placings))


def _values(
    string: int, degrees: tuple[str, ...], chord: Chord, neck: Neck, highest_fret: int
) -> Iterator[_Value]:
    for degree in degrees:
        lowest = (chord.root_pc + semitones(degree) - neck.pitch(string, 0)) % 12
        for fret in range(lowest, min(highest_fret, neck.top_fret) + 1, 12):
            yield degree, fret


def _each_degree_once(count: int):  # type: ignore[no-untyped-def]
    def holds(*values: _Value) -> bool:
        return len({degree for degree, _ in values}) == count

    return holds


def _within_a_hand(*values: _Value) -> bool:
    """Fretted notes lie close together, and open strings only go with the first frets."""
    frets = [fret for _, fret in values]
    fretted = [fret for fret in frets if fret > 0]
    if not fretted:
        return True
    if min(frets) == 0 and max(fretted) > WIDEST_GRIP:
        return False
    return max(fretted) - min(fretted) <= WIDEST_GRIP
