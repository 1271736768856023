"""Figures: what one lick has in common with another, whatever its key and place. It knows studies, no rules.

A *move* goes from one note of a lick to the next: (semitones up or down, ticks from onset to onset). A *figure*
of order n is n moves in a row, so n + 1 notes. Conventions: the melody is the highest string of each event, at
the pitch it arrives at (a bend's target; a quarter-tone curl counts as its fret, as for the rules of the lead);
a note that only rings on from the one before begins nothing and belongs to that note; dead notes are left out.
Figures never run from one lick into the next. How long the last note is held, fingering and technique are not
part of a figure, and neither is the beat it begins on: the same moves a beat later are the same figure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple, TypeAlias

from lickwright.study.model import Bend, BendKind, Event, Note, SlotKind, Study

#: (semitones, ticks)
Move: TypeAlias = tuple[int, int]
Figure: TypeAlias = tuple[Move, ...]


@dataclass(frozen=True)
class Avoid:
    """Figures of one order that must not be heard again: those of the studies before. Raises ValueError for an
    order under 1.
    """

    order: int
    figures: frozenset[Figure]

    def __post_init__(self) -> None:
        _checked(self.order)

    def allows(self, pitches: Sequence[int], onsets: Sequence[int]) -> bool:
        """True when a line has none of the figures; pitches are MIDI numbers, onsets ticks.

        >>> Avoid(2, figures_of_line([60, 63, 65], [0, 4, 8], 2)).allows([70, 72, 75, 77], [0, 8, 12, 16])
        False
        """
        return self.figures.isdisjoint(_figures(_moves(pitches, onsets), self.order))


class Line(NamedTuple):
    """The melody of one lick: its slot's number, the tick of each note, the move from each to the next."""

    slot: int
    onsets: tuple[int, ...]
    moves: tuple[Move, ...]


#: All that figures are told by. What takes a study takes its lines too, which are quicker to keep and to ask.
Lines: TypeAlias = tuple[Line, ...]


@dataclass(frozen=True)
class Place:
    """Where a figure begins: the number of its slot, and the tick of its first note."""

    slot: int
    onset: int


@dataclass(frozen=True)
class Shared:
    """A figure that two studies have: its order, the number of the earlier one in the order given (from 0),
    and where it first stands in both.
    """

    order: int
    earlier: int
    here: Place
    there: Place


@dataclass(frozen=True)
class Novelty:
    """How new a study is: the share of its figures of ``order`` not heard before, from 0 to 1.

    ``closest`` is the number (from 0) of the earlier study that has most of them, the first of equals; None
    when no earlier one has any.
    """

    order: int
    share: float
    closest: int | None


def _moves(pitches: Sequence[int], onsets: Sequence[int]) -> list[Move]:
    return [(b - a, t - s) for (a, b), (s, t) in zip(pairwise(pitches), pairwise(onsets), strict=True)]


def _figures(moves: Sequence[Move], order: int) -> Iterator[Figure]:
    """Every figure of the moves, in order, repeats included."""
    return zip(*(moves[k:] for k in range(order)), strict=False)


def figures_of_line(pitches: Sequence[int], onsets: Sequence[int], order: int) -> frozenset[Figure]:
    """The figures of one line: pitches are MIDI numbers, onsets ticks, as many of the one as of the other.

    >>> sorted(figures_of_line([60, 63, 60, 63], [0, 4, 8, 12], 2))
    [((-3, 4), (3, 4)), ((3, 4), (-3, 4))]
    """
    _checked(order)
    return frozenset(_figures(_moves(pitches, onsets), order))


def lines(study: Study) -> Lines:
    """The licks of a study that have a move at all, in order of their slots."""
    return _lines([s.number for s in study.slots if s.kind is SlotKind.LICK], study.events)


def lines_of_data(data: dict[str, Any]) -> Lines:
    """The same from the parsed JSON of a study file, looking at nothing else in it.

    Raises KeyError, TypeError, ValueError or AttributeError for what is no study; much that is wrong passes.
    """
    licks = [s["number"] for s in data["slots"] if s["kind"] == SlotKind.LICK]
    known = set(licks)
    events = (
        Event("", e["slot"], e["onset"], 0, tuple(_note(n) for n in e["notes"]), "", 0)
        for e in data["events"]
        if e["slot"] in known
    )
    return _lines(licks, events)


def _note(data: dict[str, Any]) -> Note:
    bent = data["bend"]
    bend = None if bent is None else Bend(BendKind.BEND, bent["size"], ())
    return Note(data["string"], 0, 0, data["pitch"], "", bend=bend, muted=data["muted"], tied=data["tied"])


def _lines(licks: Iterable[int], events: Iterable[Event]) -> Lines:
    heard: dict[int, tuple[list[int], list[int]]] = {number: ([], []) for number in licks}
    for event in events:
        upper = event.melody
        if event.slot in heard and not upper.tied and not upper.muted:
            pitches, onsets = heard[event.slot]
            pitches.append(upper.sounding2 // 2)
            onsets.append(event.onset)
    return tuple(
        Line(slot, tuple(onsets), tuple(_moves(pitches, onsets)))
        for slot, (pitches, onsets) in heard.items()
        if len(onsets) > 1
    )


def figures(study: Study | Lines, order: int) -> frozenset[Figure]:
    """The figures of all licks of a study. Raises ValueError for an order under 1."""
    _checked(order)
    return frozenset(figure for line in _of(study) for figure in _figures(line.moves, order))


def longest_shared(study: Study | Lines, earlier: Iterable[Study | Lines]) -> Shared | None:
    """The figure of most moves that a study has in common with an earlier one; None when not even one move is.

    The first of equals, by the earlier study's number and then by the place in it. Read once, lazily. Each
    earlier study costs one look at its figures, and one more for each move by which it beats those before.
    """
    mine = _of(study)
    places: dict[int, dict[Figure, Place]] = {}
    best: Shared | None = None
    for number, other in enumerate(earlier):
        theirs = _of(other)
        order = best.order + 1 if best else 1
        while True:
            if order not in places:
                places[order] = _first_places(mine, order)
            found = next(((f, p) for f, p in _placed(theirs, order) if f in places[order]), None)
            if found is None:
                break
            best = Shared(order, number, places[order][found[0]], found[1])
            order += 1
    return best


def novelty(study: Study | Lines, earlier: Iterable[Study | Lines], order: int) -> Novelty:
    """How much of a study was not heard in earlier ones, and which of them is closest.

    A study without figures of the order is all new. Raises ValueError for an order under 1.
    """
    mine = figures(study, order)
    heard: set[Figure] = set()
    closest, most = None, 0
    for number, other in enumerate(earlier):
        common = mine & figures(other, order)
        heard |= common
        if len(common) > most:
            closest, most = number, len(common)
    return Novelty(order, 1 - len(heard) / max(len(mine), 1), closest)


def _of(study: Study | Lines) -> Lines:
    return lines(study) if isinstance(study, Study) else study


def _checked(order: int) -> None:
    if order < 1:
        raise ValueError(f"order {order}: a figure has one move at least")


def _placed(heard: Lines, order: int) -> Iterator[tuple[Figure, Place]]:
    """Every figure with its place, slot by slot in order of time."""
    for line in heard:
        for figure, onset in zip(_figures(line.moves, order), line.onsets, strict=False):
            yield figure, Place(line.slot, onset)


def _first_places(heard: Lines, order: int) -> dict[Figure, Place]:
    places: dict[Figure, Place] = {}
    for figure, place in _placed(heard, order):
        places.setdefault(figure, place)
    return places
