"""A rule: a name, a sentence a teacher understands, where its limits were read, and one predicate.

The same object prunes the solver's graph, judges a finished study and is named when rules conflict. A rule's
reach says what it looks at: one touch, a touch at its onset, the move between two touches, whether a silence
lies between them, the time a move needs, a lick's order of events (an automaton), or the finished shape of a
lick. Predicates work on columns:
many candidates in the solver, one row in the judge. A preference is the same with an integer cost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from lickwright.rulebook.touches import BoolArray, FloatArray, IntArray, TouchTable
from lickwright.theory.harmony import Chord, Key
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BEAT, seconds

#: A cost no path may take: forbidden.
FORBIDDEN = 1 << 28


@dataclass(frozen=True)
class Source:
    """Where a rule's limits stand: the rule file's name and the key in it."""

    file: str
    key: str

    def __str__(self) -> str:
        return f"{self.file}: {self.key}"


@dataclass(frozen=True)
class At:
    """An onset as the rules see it: when, how long, over which chord, where in its lick.

    ``rest_after`` is the silence in ticks before the next one; ``role`` is the lick's (question,
    answer, climax, close); ``in_figure`` is true for the notes of the figure, false for the way home.
    """

    tick: int
    duration: int
    chord: Chord
    key: Key
    tempo_bpm: int
    index: int
    count: int
    rest_after: int = 0
    role: str = ""
    in_figure: bool = False

    @property
    def last(self) -> bool:
        """The lick's landing."""
        return self.index == self.count - 1

    @property
    def joined(self) -> bool:
        """True when the next note follows without a silence."""
        return self.rest_after == 0

    @property
    def beat(self) -> int | None:
        """The beat (1..4) it falls on, None between beats."""
        return None if self.tick % TICKS_PER_BEAT else self.tick // TICKS_PER_BEAT % BEATS_PER_BAR + 1

    @property
    def seconds(self) -> float:
        """How long the note lasts."""
        return seconds(self.duration, self.tempo_bpm)

    def key_degrees(self, pitches: IntArray) -> IntArray:
        """Semitones above the key's tonic, 0..11."""
        return np.asarray((pitches - self.key.pitch_class) % 12)

    def chord_degrees(self, pitches: IntArray) -> IntArray:
        """Semitones above the chord's root, 0..11."""
        return np.asarray((pitches - self.chord.root_pc) % 12)

    def in_chord(self, pitches: IntArray) -> BoolArray:
        """True for tones of the chord."""
        tones = np.zeros(12, dtype=bool)
        tones[list(self.chord.tones)] = True
        return np.asarray(tones[pitches % 12])


@dataclass(frozen=True)
class Named:
    """What every rule has."""

    name: str
    sentence: str
    source: Source


@dataclass(frozen=True)
class TouchRule(Named):
    """Judges a touch by itself: True where it is allowed. ``amount`` says by how much one row errs."""

    allows: Callable[[TouchTable], BoolArray]
    amount: Callable[[TouchTable], str] | None = None


@dataclass(frozen=True)
class OnsetRule(Named):
    """Judges touches at an onset."""

    allows: Callable[[TouchTable, At], BoolArray]


@dataclass(frozen=True)
class OnsetPreference(Named):
    """Costs touches at an onset."""

    cost: Callable[[TouchTable, At], IntArray]


@dataclass(frozen=True)
class MoveRule(Named):
    """Judges moves row by row: from touch a to touch b, sounded in a way (PLUCK, HAMMER, PULL, SLIDE)."""

    allows: Callable[[TouchTable, TouchTable, IntArray], BoolArray]


@dataclass(frozen=True)
class JoinRule(Named):
    """Judges ways of sounding a note by whether it is joined to the one before: no silence between them."""

    allows: Callable[[IntArray, BoolArray | bool], BoolArray]


@dataclass(frozen=True)
class MovePreference(Named):
    """Costs moves row by row."""

    cost: Callable[[TouchTable, TouchTable, IntArray], IntArray]


@dataclass(frozen=True)
class TimeRule(Named):
    """The seconds a move needs at least between its two onsets."""

    needs: Callable[[TouchTable, TouchTable, IntArray], FloatArray]


@dataclass(frozen=True)
class Automaton:
    """A deterministic automaton with costs over symbols 0..S-1; state 0 is the start, -1 the dead state.

    ``delta`` is Q x S, ``cost`` Q x S, ``accept`` Q. The first symbol read is that of the first touch, then
    one for each move.
    """

    delta: IntArray
    cost: IntArray
    accept: BoolArray

    @property
    def states(self) -> int:
        """Number of states."""
        return len(self.delta)


@dataclass(frozen=True)
class LickRule(Named):
    """Judges the order of events in a lick: symbols of the first touch and of each move, read by an automaton."""

    automaton: Automaton
    first: Callable[[TouchTable], IntArray]
    move: Callable[[TouchTable, TouchTable, IntArray], IntArray]


@dataclass(frozen=True)
class Line:
    """A lick's melody for the shape rules: entry pitches, onsets, durations, and how many notes its figure has.

    ``marked`` says of each note whether it is bent, graced or doubled, ``doubles`` counts the double stops;
    ``leads`` is true for a lick whose figure others will take up; ``places`` are (string, fret, finger).
    """

    pitches: tuple[int, ...]
    ticks: tuple[int, ...]
    durations: tuple[int, ...]
    marked: tuple[bool, ...] = ()
    figure: int = 0
    leads: bool = False
    doubles: int = 0
    places: tuple[tuple[int, int, int], ...] = ()


@dataclass(frozen=True)
class ShapeRule(Named):
    """Judges a finished lick as a whole; the solver applies it to what it draws."""

    allows: Callable[[Line], bool]
    amount: Callable[[Line], str] | None = None


Rule: TypeAlias = TouchRule | OnsetRule | MoveRule | JoinRule | TimeRule | LickRule | ShapeRule
