"""A study, or one lick of it, laid out for measuring: the lead's notes in a row, the comping's answers.

Conventions: ticks from the study's start, ``pitch2`` in half-units as in ``study``. Of a double stop the highest
sounding note is the melody; a tied event lengthens the one before; dead notes have no pitch and are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from lickwright.study.model import Event, Note, Slot, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT


@dataclass(frozen=True)
class Sounded:
    """One onset of the melody: when, how long with its ties, the pitch, and the event it belongs to."""

    onset: int
    duration: int
    pitch2: int
    event: Event
    note: Note

    @property
    def end(self) -> int:
        """The tick at which it is over."""
        return self.onset + self.duration


@dataclass(frozen=True)
class Lick:
    """A lick slot and its melody, in order; never empty."""

    slot: Slot
    notes: tuple[Sounded, ...]

    @cached_property
    def moves(self) -> tuple[float, ...]:
        """The intervals from note to note in semitones, up positive."""
        return tuple((b.pitch2 - a.pitch2) / 2 for a, b in pairwise(self.notes))

    @property
    def peak(self) -> Sounded:
        """The first of its highest notes."""
        return max(self.notes, key=lambda n: (n.pitch2, -n.onset))

    @property
    def landing(self) -> Sounded:
        """Its last note."""
        return self.notes[-1]

    @property
    def opening(self) -> tuple[tuple[int, int], ...]:
        """Onset in the bar and duration of the notes that start within two beats of the first."""
        bar, until = (
            self.slot.start - self.slot.start % TICKS_PER_BAR,
            self.notes[0].onset + 2 * TICKS_PER_BEAT,
        )
        return tuple((n.onset - bar, n.duration) for n in self.notes if n.onset < until)


@dataclass(frozen=True)
class Answer:
    """A comping slot: what is struck in it, in order, and the grips among it; never empty."""

    slot: Slot
    hits: tuple[Event, ...]

    @property
    def grips(self) -> tuple[Event, ...]:
        """The hits of two strings or more that sound."""
        return tuple(hit for hit in self.hits if sum(not note.muted for note in hit.notes) > 1)


@dataclass(frozen=True)
class Passage:
    """What is measured: some licks and answers of a study, in order."""

    study: Study
    licks: tuple[Lick, ...]
    answers: tuple[Answer, ...]


def whole(study: Study) -> Passage:
    """All licks and answers of a study that sound."""
    licks = (lick_of(study, s) for s in study.slots if s.kind is SlotKind.LICK)
    answers = (_answer(study, s) for s in study.slots if s.kind is SlotKind.COMP)
    return Passage(study, tuple(x for x in licks if x), tuple(a for a in answers if a))


def single(study: Study, lick: Lick) -> Passage:
    """One lick by itself."""
    return Passage(study, (lick,), ())


def lick_of(study: Study, slot: Slot) -> Lick | None:
    """A slot's lick, None when nothing with a pitch sounds in it."""
    notes: list[Sounded] = []
    for event in study.events_of(slot.number):
        if notes and all(note.tied for note in event.notes):
            last = notes[-1]
            notes[-1] = Sounded(
                last.onset, last.duration + event.duration, last.pitch2, last.event, last.note
            )
            continue
        heard = [note for note in event.notes if not note.muted]
        if heard:
            melody = max(heard, key=lambda note: note.sounding2)
            notes.append(Sounded(event.onset, event.duration, melody.sounding2, event, melody))
    return Lick(slot, tuple(notes)) if notes else None


def _answer(study: Study, slot: Slot) -> Answer | None:
    hits = tuple(e for e in study.events_of(slot.number) if not all(note.tied for note in e.notes))
    return Answer(slot, hits) if hits else None
