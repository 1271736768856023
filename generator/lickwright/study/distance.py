"""How far two licks, or two studies, are apart: 0 for the same to 1 for nothing in common.

A lick is compared as a ``Line``: its onsets with what sounds there, told in the key's own terms, so that a
line carries over from one study to another. Each of four parts is a distance between two sequences; the
parts are weighed into one. Techniques, fingers, bends' ways and loudness are not looked at.

========  =========================================  ===================================================
part      letters, one an onset                      two letters differ by
========  =========================================  ===================================================
rhythm    onset in the bar, duration                 1/2 for another onset, 1/2 for another duration
contour   the way to the next onset: up or down by   1/2 a class (so up and down differ by 1)
          step (a minor third at most) or leap, level
notes     degrees of the key, in quarter tones,      1/2 a quarter tone, 1 at most; half of it in each
          highest and lowest voice                   voice (octaves do not count)
place     string, frets above the key's root,        1/2 for another string, 1/8 a fret, 1/2 at most; half
          highest and lowest voice                   of it in each voice (an octave up the neck is the same)
========  =========================================  ===================================================

A lick moved to another key, as it stands or on other strings, is at 0 in rhythm, contour and notes. One whose
key and hand move together along the neck, on the same strings, is at 0 in place as well.

Each part is a metric: the letters' differences are metrics of at most 1, putting in or leaving out a letter
costs 1, and the least cost ``d`` of making one sequence of the other is normalised as ``2 d / (m + n + d)``
for lengths m and n (Y. Li, B. Liu, "A normalized Levenshtein distance metric", IEEE TPAMI 29(6):1091-1095,
2007 [from memory]), which keeps the triangle inequality where ``d / max(m, n)`` loses it. A weighted mean of
metrics is one, and so is the mean over the slots of two studies, where a slot that only one has counts 1.
What is 0 apart agrees in all that is looked at, not in all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lickwright.study.model import Event, Slot, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

Place: TypeAlias = tuple[int, int]
Codes: TypeAlias = NDArray[np.int32]

#: Costs of the edits are counted in sixteenths of a letter, so that every share of one is whole.
LETTER = 16
STEP2 = 6
FRETS_TOLD_APART = 4


@dataclass(frozen=True)
class Line:
    """One lick, detached from its study. All four have an item an onset, in order.

    ``onsets`` are ticks from the start of the bar in which the lick's slot begins, so that the same figure a
    beat later is another rhythm; ``durations`` ticks as written, ties added. ``pitches2`` are the sounding pitches
    in half-units above the MIDI number of the key's pitch class (0..11), from high to low; ``places`` the (string,
    fret minus ``Neck.root_fret``) of the same notes.
    """

    onsets: tuple[int, ...]
    durations: tuple[int, ...]
    pitches2: tuple[tuple[int, ...], ...]
    places: tuple[tuple[Place, ...], ...]

    @cached_property
    def _letters(self) -> tuple[Codes, ...]:
        """The letters of the four parts, each (onsets, columns)."""
        outer = [(voices[0], voices[-1]) for voices in self.pitches2]
        hands = [(*voices[0], *voices[-1]) for voices in self.places]
        ways = np.diff(np.array([high for high, _ in outer], dtype=np.int32))
        classes = np.sign(ways) * (1 + (np.abs(ways) > STEP2))
        return (
            np.array([self.onsets, self.durations], dtype=np.int32).T.reshape(-1, 2),
            classes.astype(np.int32).reshape(-1, 1),
            np.array(outer, dtype=np.int32).reshape(-1, 2),
            np.array(hands, dtype=np.int32).reshape(-1, 4),
        )


@dataclass(frozen=True)
class Weights:
    """How much each part counts. Judgement, no source: rhythm and notes are what a listener knows a lick by."""

    rhythm: float = 0.3
    contour: float = 0.2
    notes: float = 0.3
    place: float = 0.2

    def __post_init__(self) -> None:
        if min(self.row) < 0 or not sum(self.row):
            raise ValueError("weights must be 0 or more, and one of them above 0")

    @property
    def row(self) -> tuple[float, float, float, float]:
        """The weights in the order of ``PARTS``."""
        return self.rhythm, self.contour, self.notes, self.place


PARTS = tuple(field.name for field in fields(Weights))
DEFAULT_WEIGHTS = Weights()


@dataclass(frozen=True)
class Distance:
    """How far two lines or studies are apart in each part, each 0 to 1, and in all."""

    rhythm: float
    contour: float
    notes: float
    place: float
    weights: Weights = DEFAULT_WEIGHTS

    @property
    def row(self) -> tuple[float, float, float, float]:
        """The parts in the order of ``PARTS``."""
        return self.rhythm, self.contour, self.notes, self.place

    @property
    def total(self) -> float:
        """The weighted mean of the parts, 0 to 1."""
        weights = self.weights.row
        return sum(w * part for w, part in zip(weights, self.row, strict=True)) / sum(weights)


def line_from(
    onsets: Sequence[int],
    durations: Sequence[int],
    sounds: Sequence[Sequence[tuple[int, int, int]]],
    key_pitch_class: int,
    root_fret: int,
) -> Line:
    """A lick as a line. ``onsets`` are ticks from the start of the lick's bar; ``sounds`` are the notes of each onset in
    any order, as (sounding pitch in half-units, string, fret).
    """
    high_to_low = [sorted(notes, key=lambda note: (-note[0], note[1])) for notes in sounds]
    return Line(
        tuple(onsets),
        tuple(durations),
        tuple(tuple(pitch2 - 2 * key_pitch_class for pitch2, _, _ in notes) for notes in high_to_low),
        tuple(tuple((string, fret - root_fret) for _, string, fret in notes) for notes in high_to_low),
    )


def line_of(study: Study, slot: int) -> Line:
    """The lick of a slot as a line; raises ValueError when the slot is no lick's."""
    if not 0 <= slot < len(study.slots) or study.slots[slot].kind is not SlotKind.LICK:
        licks = ", ".join(str(s.number) for s in lick_slots(study))
        raise ValueError(f"slot {slot} holds no lick: the licks are in {licks}")
    return _line(study, study.slots[slot], study.events_of(slot))


def lines_of(study: Study) -> tuple[Line, ...]:
    """The lines of all lick slots, in order."""
    return tuple(_line(study, slot, study.events_of(slot.number)) for slot in lick_slots(study))


def lick_slots(study: Study) -> tuple[Slot, ...]:
    """The slots given to the lead, in order."""
    return tuple(slot for slot in study.slots if slot.kind is SlotKind.LICK)


def _line(study: Study, slot: Slot, events: Sequence[Event]) -> Line:
    bar = slot.start - slot.start % TICKS_PER_BAR
    root = study.neck.root_fret(study.home.pitch_class)
    onsets: list[int] = []
    durations: list[int] = []
    sounds = []
    for event in events:
        if onsets and all(note.tied for note in event.notes):
            durations[-1] += event.duration
            continue
        onsets.append(event.onset - bar)
        durations.append(event.duration)
        sounds.append([(note.sounding2, note.string, note.fret) for note in event.notes])
    return line_from(onsets, durations, sounds, study.home.pitch_class, root)


def line_distance(a: Line, b: Line, weights: Weights = DEFAULT_WEIGHTS) -> Distance:
    """How far two lines are apart; for many at once ``line_distances`` is much faster a pair.

    >>> once = Line((0, 12), (12, 36), ((24,), (30,)), (((2, 0),), ((2, 3),)))
    >>> later = Line((12, 24), (12, 24), ((24,), (30,)), (((2, 0),), ((2, 3),)))
    >>> line_distance(once, later).row
    (0.5454545454545454, 0.0, 0.0, 0.0)
    """
    return distance_of(line_distances([(a, b)])[0], weights)


def line_distances(pairs: Sequence[tuple[Line, Line]]) -> NDArray[np.float64]:
    """The parts (pairs, 4) of many pairs of lines, columns in the order of ``PARTS``."""
    if not pairs:
        return np.zeros((0, len(PARTS)))
    firsts = [_padded([pair[0]._letters[part] for pair in pairs]) for part in range(len(PARTS))]
    seconds = [_padded([pair[1]._letters[part] for pair in pairs]) for part in range(len(PARTS))]
    rows, columns = firsts[0][0].shape[1], seconds[0][0].shape[1]
    changes = np.zeros((len(PARTS), len(pairs), rows, columns), dtype=np.int32)
    for part, differ in enumerate((_rhythms_differ, _ways_differ, _notes_differ, _places_differ)):
        made = differ(firsts[part][0][:, :, None], seconds[part][0][:, None])
        changes[part, :, : made.shape[1], : made.shape[2]] = made
    m = np.stack([lengths for _, lengths in firsts])
    n = np.stack([lengths for _, lengths in seconds])
    edits = _edits(changes, m, n) / LETTER
    normal = m + n + edits
    return np.divide(2 * edits, normal, out=np.zeros_like(normal), where=normal > 0).T


def study_distance(a: Study, b: Study, weights: Weights = DEFAULT_WEIGHTS) -> Distance:
    """How far the licks of two studies are apart: the mean over their slots, compared in order.

    A slot that only one of them has counts 1 in every part; studies without licks are 0 apart.
    """
    return chorus_distance(lines_of(a), lines_of(b), weights)


def chorus_distance(a: Sequence[Line], b: Sequence[Line], weights: Weights = DEFAULT_WEIGHTS) -> Distance:
    """``study_distance`` of studies whose lines are at hand."""
    parts = line_distances(list(zip(a, b, strict=False))).sum(axis=0)
    longer, missing = max(len(a), len(b)), abs(len(a) - len(b))
    return distance_of((parts + missing) / longer if longer else parts, weights)


def distance_of(row: Iterable[float], weights: Weights = DEFAULT_WEIGHTS) -> Distance:
    """A row of four parts, as ``line_distances`` gives it, as a value."""
    rhythm, contour, notes, place = (float(part) for part in row)
    return Distance(rhythm, contour, notes, place, weights)


def _padded(letters: list[Codes]) -> tuple[Codes, NDArray[np.int64]]:
    """Sequences (letters, columns) as one array (sequences, longest, columns), and their lengths."""
    lengths = np.array([len(sequence) for sequence in letters])
    made = np.zeros((len(letters), lengths.max(), letters[0].shape[1]), dtype=np.int32)
    made[np.arange(lengths.max()) < lengths[:, None]] = np.concatenate(letters)
    return made, lengths


def _rhythms_differ(a: Codes, b: Codes) -> Codes:
    made: Codes = (LETTER // 2) * (a != b).sum(axis=-1, dtype=np.int32)
    return made


def _ways_differ(a: Codes, b: Codes) -> Codes:
    made: Codes = np.minimum(LETTER, (LETTER // 2) * np.abs(a - b)[..., 0])
    return made


def _notes_differ(a: Codes, b: Codes) -> Codes:
    made: Codes = np.minimum(LETTER // 2, (LETTER // 4) * _circular(a - b, 24)).sum(axis=-1, dtype=np.int32)
    return made


def _places_differ(a: Codes, b: Codes) -> Codes:
    strings = (LETTER // 4) * (a != b)[..., ::2]
    frets = (LETTER // 4 // FRETS_TOLD_APART) * np.minimum(FRETS_TOLD_APART, _circular(a - b, 12)[..., 1::2])
    made: Codes = (strings + frets).sum(axis=-1, dtype=np.int32)
    return made


def _circular(difference: Codes, octave: int) -> Codes:
    up = difference % octave
    return np.minimum(up, octave - up)


def _edits(changes: Codes, m: NDArray[np.int64], n: NDArray[np.int64]) -> NDArray[np.int64]:
    """The least costs (parts, pairs) of making one sequence of the other, letters put in or left out at ``LETTER``.

    ``changes`` (parts, pairs, rows, columns) is what it costs to change one letter into another; ``m`` and ``n``
    (parts, pairs) are the lengths. Dynamic programming over all pairs at once, a row at a time: the cost of
    letters put in along a row is a running minimum once the row is seen from a slope.
    """
    slope = LETTER * np.arange(changes.shape[-1] + 1)
    row = np.broadcast_to(slope, (*m.shape, len(slope)))
    rows = [row]
    for i in range(changes.shape[-2]):
        new = row + LETTER
        np.minimum(new[..., 1:], row[..., :-1] + changes[..., i, :], out=new[..., 1:])
        row = np.minimum.accumulate(new - slope, axis=-1) + slope
        rows.append(row)
    part, pair = np.indices(m.shape)
    least: NDArray[np.int64] = np.stack(rows)[m, part, pair, n]
    return least
