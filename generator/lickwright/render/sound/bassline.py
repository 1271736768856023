"""A bass line that follows the form: which note where, from the chords and the feel. It makes no sound.

Common practice, no source: the root on a chord's first beat, chord tones and the sixth after it, and on
the last beat before a new root a note that leads there by a half step or from its fifth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from lickwright.study.model import ChordSpan, Study
from lickwright.theory.harmony import Chord, semitones
from lickwright.theory.rhythm import TICKS_PER_BEAT

#: The lowest note of a bass in standard tuning (E1) and the highest that the line uses.
LOWEST, HIGHEST = 28, 48


@dataclass(frozen=True)
class BassNote:
    """A note of the bass: tick of the study, length in ticks, MIDI pitch, loudness 0 to 1."""

    tick: int
    duration: int
    pitch: int
    velocity: float


#: For each feel, the degrees of two bars, beat by beat; within a beat (part of the beat in ticks, length
#: in ticks, degree). "3" and "b7" are the chord's own third and seventh, "6" its sixth, "8" the root
#: above.
_Beat = tuple[tuple[int, int, str], ...]
_WALK: tuple[_Beat, ...] = tuple(((0, 11, d),) for d in ("1", "3", "5", "6", "b7", "6", "5", "3"))
_LINES: dict[str, tuple[_Beat, ...]] = {
    "slow 12/8": (
        ((0, 11, "1"),), ((0, 7, "1"), (8, 4, "3")), ((0, 11, "5"),), ((0, 7, "6"), (8, 4, "5")),
        ((0, 11, "1"),), ((0, 7, "8"), (8, 4, "b7")), ((0, 11, "5"),), ((0, 7, "3"), (8, 4, "1")),
    ),
    "shuffle": _WALK,
    "straight": (
        ((0, 6, "1"), (6, 5, "1")), ((0, 6, "5"), (6, 5, "5")),
        ((0, 6, "6"), (6, 5, "6")), ((0, 6, "5"), (6, 5, "5")),
        ((0, 6, "1"), (6, 5, "1")), ((0, 6, "5"), (6, 5, "5")),
        ((0, 6, "b7"), (6, 5, "b7")), ((0, 6, "6"), (6, 5, "5")),
    ),
    "rhumba": (
        ((0, 16, "1"),), ((6, 16, "3"),), (), ((0, 11, "5"),),
        ((0, 16, "1"),), ((6, 16, "5"),), (), ((0, 11, "6"),),
    ),
}  # fmt: skip


def feel_of(study: Study) -> str:
    """The study's feel if the band knows it, else the one nearest to its grid."""
    if study.feel in _LINES:
        return study.feel
    return "shuffle" if study.grid == "triplet" else "straight"


def bass_line(study: Study, start: int = 0, end: int | None = None) -> tuple[BassNote, ...]:
    """The bass from tick ``start`` to ``end`` (the study's end unless given)."""
    end = study.ticks if end is None else end
    line = _LINES[feel_of(study)]
    notes: list[BassNote] = []
    spans = merged(study.form)
    for i, span in enumerate(spans):
        following = study.chord(spans[(i + 1) % len(spans)].roman)
        notes.extend(_over(study.chord(span.roman), following, span, line))
    kept = [n for n in notes if start <= n.tick < end]
    ends = [n.tick for n in kept[1:]] + [end]
    return tuple(replace(n, duration=min(n.duration, e - n.tick)) for n, e in zip(kept, ends, strict=True))


def merged(form: tuple[ChordSpan, ...]) -> list[ChordSpan]:
    """The form with a chord that goes on in the next span written once."""
    spans: list[ChordSpan] = []
    for span in form:
        if spans and spans[-1].roman == span.roman:
            spans[-1] = ChordSpan(spans[-1].onset, spans[-1].duration + span.duration, span.roman)
        else:
            spans.append(span)
    return spans


def _over(chord: Chord, following: Chord, span: ChordSpan, line: tuple[_Beat, ...]) -> list[BassNote]:
    """The line over one chord: the pattern from its first beat on, the last beat leading to the next root."""
    beats = -(-span.duration // TICKS_PER_BEAT)
    root = root_pitch(chord)
    notes: list[BassNote] = []
    for beat in range(beats):
        at = span.onset + beat * TICKS_PER_BEAT
        leads = beats > 1 and beat == beats - 1 and following.root_pc != chord.root_pc
        for part, length, degree in line[beat % len(line)]:
            if at + part >= span.onset + span.duration:
                continue
            pitch = root + _interval(chord, degree)
            pitch -= 12 if pitch > HIGHEST else 0
            notes.append(BassNote(at + part, length, pitch, 0.8 if part == 0 else 0.6))
        if leads:
            notes = [n for n in notes if n.tick < at]
            before = notes[-1].pitch if notes else root
            notes.append(BassNote(at, TICKS_PER_BEAT - 1, _leading(before, root_pitch(following)), 0.78))
    return notes


def root_pitch(chord: Chord) -> int:
    """The chord's root in the lowest octave of the bass."""
    return LOWEST + (chord.root_pc - LOWEST) % 12


def _interval(chord: Chord, degree: str) -> int:
    """Semitones above the root; the third, fifth and seventh are the chord's own where it has them."""
    if degree == "8":
        return 12
    own = {d.lstrip("b#"): semitones(d) for d in chord.degrees}
    if degree == "6" and "3" in own and own["3"] == 3:
        return own.get("7", 10) if own.get("7", 10) == 10 else 9
    return own.get(degree.lstrip("b"), semitones(degree))


def _leading(before: int, root: int) -> int:
    """A half step below the root when the line comes from below it, else a half step above; never under
    the open string.
    """
    if root - 1 >= LOWEST and before < root:
        return root - 1
    return root + 1
