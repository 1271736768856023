"""Touches as columns: what the hand can do at one onset, many of them side by side for the rules to judge.

The solver fills a table with every touch of a position, the judge with the touches of a finished lick; both
hand it to the same rules. Conventions as in ``study``: strings from 1 (highest), fingers 0..4, bends in
quarter tones. ``position`` is the fret under the index finger. ``enter`` and ``leave`` are the melody's MIDI
pitches when the note begins to matter (a bend's target) and when it is left (a release's fretted pitch);
a quarter-tone curl does not change them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from lickwright.study.model import BendKind, Event, Technique

IntArray: TypeAlias = NDArray[np.int64]
FloatArray: TypeAlias = NDArray[np.float64]
BoolArray: TypeAlias = NDArray[np.bool_]

#: Column codes of ``kind``, ``grace`` and of the ways from one touch to the next.
NO_BEND, BEND, BEND_RELEASE, PRE_BEND_RELEASE, PRE_BEND = range(5)
NO_GRACE, GRACE_HAMMER, GRACE_SLIDE = range(3)
PLUCK, HAMMER, PULL, SLIDE = range(4)

BEND_KINDS = {
    BEND: BendKind.BEND,
    BEND_RELEASE: BendKind.BEND_RELEASE,
    PRE_BEND_RELEASE: BendKind.PRE_BEND_RELEASE,
    PRE_BEND: BendKind.PRE_BEND,
}
KIND_CODES = {kind: code for code, kind in BEND_KINDS.items()}
GRACES = {GRACE_HAMMER: Technique.HAMMER_ON, GRACE_SLIDE: Technique.SLIDE}
WAYS = (Technique.PLUCK, Technique.HAMMER_ON, Technique.PULL_OFF, Technique.SLIDE)
WAY_CODES = {technique: code for code, technique in enumerate(WAYS)}


class Touch(NamedTuple):
    """One way to sound an onset. ``mate_*`` is the lower voice of a double stop, string 0 when there is none.

    ``grace`` is a note struck a fret (or ``grace_frets``) below and left at once by a hammer-on or slide; it
    stands on the mate when there is one, else on the note.
    """

    string: int
    fret: int
    finger: int
    position: int
    pitch: int
    bend: int = 0
    kind: int = NO_BEND
    mate_string: int = 0
    mate_fret: int = 0
    mate_finger: int = 0
    mate_pitch: int = 0
    grace: int = NO_GRACE
    grace_frets: int = 0


@dataclass(frozen=True)
class TouchTable:
    """Touches as equally long integer columns; boolean indexing and ``take`` give smaller tables."""

    string: IntArray
    fret: IntArray
    finger: IntArray
    position: IntArray
    pitch: IntArray
    bend: IntArray
    kind: IntArray
    mate_string: IntArray
    mate_fret: IntArray
    mate_finger: IntArray
    mate_pitch: IntArray
    grace: IntArray
    grace_frets: IntArray

    @classmethod
    def of(cls, touches: Iterable[Touch]) -> TouchTable:
        """A table of the touches, in order."""
        rows = np.array(list(touches), dtype=np.int64).reshape(-1, len(Touch._fields))
        return cls(*(np.ascontiguousarray(rows[:, k]) for k in range(rows.shape[1])))

    def __len__(self) -> int:
        return len(self.string)

    def take(self, index: IntArray | BoolArray) -> TouchTable:
        """The rows at an index array (repeats allowed) or under a mask."""
        return replace(self, **{f.name: getattr(self, f.name)[index] for f in fields(self)})

    def row(self, index: int) -> Touch:
        """One touch."""
        return Touch(*(int(getattr(self, f.name)[index]) for f in fields(self)))

    @cached_property
    def enter(self) -> IntArray:
        """The melody's pitch as the note arrives, MIDI."""
        return self.pitch + self.bend // 2

    @cached_property
    def leave(self) -> IntArray:
        """The melody's pitch as the note is left, MIDI."""
        falls = (self.kind == BEND_RELEASE) | (self.kind == PRE_BEND_RELEASE)
        return self.pitch + np.where(falls, 0, self.bend // 2)

    @cached_property
    def double(self) -> BoolArray:
        """True for double stops."""
        return self.mate_string > 0

    @cached_property
    def bent(self) -> BoolArray:
        """True for bends of a half step or more."""
        return self.bend >= 2


def touch_of(event: Event) -> Touch:
    """The touch that a lick's event is: its highest string is the melody, a second one its mate."""
    upper, *rest = sorted(event.notes, key=lambda n: n.string)
    mate = rest[0] if rest else None
    graced = next((n for n in (mate, upper) if n is not None and n.grace is not None), None)
    grace, frets = NO_GRACE, 0
    if graced is not None and graced.grace is not None:
        grace = GRACE_SLIDE if graced.grace.technique is Technique.SLIDE else GRACE_HAMMER
        frets = graced.fret - graced.grace.fret
    return Touch(
        upper.string, upper.fret, upper.finger, event.hand, upper.pitch,
        upper.bend.size if upper.bend else 0,
        KIND_CODES[upper.bend.kind] if upper.bend else NO_BEND,
        mate.string if mate else 0, mate.fret if mate else 0, mate.finger if mate else 0,
        mate.pitch if mate else 0, grace, frets,
    )  # fmt: skip


def way_of(event: Event) -> int:
    """How a lick's event is sounded from the one before: the code of the melody note's technique."""
    return WAY_CODES[event.melody.technique]
