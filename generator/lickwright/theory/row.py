"""A lick written as a row of words: notes as degrees of the key with lengths and techniques; nothing of frets.

``5 1; '1 3 vibrato; b7 2; b3 .5; hammer 3 2`` has notes separated by semicolons. A note is a technique by which it is
come to (``hammer``, ``pull``, ``slide``; picked without one), a degree of the key (``'`` before it an octave up, ``,``
an octave down; ``3+5`` two notes at once), a length in eighths, and how it is bent (``curl``; ``bend``, ``release`` or
``prebend`` with ``half`` or ``whole``; the degree is the one that is fretted) or held with ``vibrato``. ``rest 2`` is
a silence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import BEATS_PER_BAR, GRIDS, TICKS_PER_BEAT

#: How a note is come to, and how it is bent; sizes in quarter tones.
TECHNIQUES = ("hammer", "pull", "slide")
BENDS = ("bend", "release", "prebend")
SIZES = {"half": 2, "whole": 4}
CURL = 1


@dataclass(frozen=True)
class RowNote:
    """One note of a row. ``degrees`` are semitones above the key's tonic, the lowest first; none is a silence.

    ``ticks`` is its length, ``technique`` one of TECHNIQUES or empty, ``bend`` its size in quarter tones and ``kind``
    one of BENDS or empty.
    """

    ticks: int
    degrees: tuple[int, ...] = ()
    technique: str = ""
    bend: int = 0
    kind: str = ""
    vibrato: bool = False

    @property
    def heard(self) -> int:
        """The highest pitch that is meant, in semitones above the tonic: a note bent up counts where it arrives."""
        return max(self.degrees) + (self.bend // 2 if self.kind else 0)


@lru_cache(maxsize=8192)
def parse_row(text: str, grid: str) -> tuple[RowNote, ...]:
    """Reads a row on a grid; raises ValueError with the note that cannot be read and what would be right.

    >>> [(n.degrees, n.ticks) for n in parse_row("5 1; rest .5; '1 2 bend whole", "triplet")]
    [((7,), 4), ((), 2), ((12,), 8)]
    """
    notes = tuple(_note(part.split(), part.strip(), grid) for part in text.split(";"))
    if not notes[0].degrees or not notes[-1].degrees:
        raise ValueError("a row begins and ends with a note: say by 'begins' where it starts")
    if notes[0].technique:
        raise ValueError(
            f"the first note cannot be come to by a {notes[0].technique}: nothing stands before it"
        )
    return notes


def _note(words: list[str], text: str, grid: str) -> RowNote:
    if not words:
        raise ValueError("an empty note: notes are separated by one semicolon")
    if words[0] == "rest":
        if len(words) != 2:
            raise ValueError(f"{text!r}: a silence is written as in 'rest 2'")
        return RowNote(_ticks(words[1], text, grid))
    technique = words.pop(0) if words[0] in TECHNIQUES else ""
    if len(words) < 2:
        raise ValueError(f"{text!r}: a note is a degree and a length in eighths, as in 'b3 2'")
    degrees = tuple(sorted(_degree(d, text) for d in words[0].split("+")))
    ticks = _ticks(words[1], text, grid)
    bend, kind, vibrato = 0, "", False
    rest = words[2:]
    while rest:
        word = rest.pop(0)
        if word == "vibrato":
            vibrato = True
        elif word == "curl":
            bend, kind = CURL, "bend"
        elif word in BENDS and rest and rest[0] in SIZES:
            bend, kind = SIZES[rest.pop(0)], word
        else:
            wanted = "curl, vibrato, or bend, release or prebend with half or whole"
            raise ValueError(f"{text!r}: {word!r} is not known after a length: use {wanted}")
    return RowNote(ticks, degrees, technique, bend, kind, vibrato)


def _degree(word: str, text: str) -> int:
    marks = re.match(r"[',]*", word)
    assert marks is not None
    octave = marks[0].count("'") - marks[0].count(",")
    try:
        return 12 * octave + semitones(word[marks.end() :])
    except (ValueError, KeyError):
        raise ValueError(
            f"{text!r}: {word!r} is no degree: use 1 b2 2 b3 3 4 b5 5 b6 6 b7 7, with ' or , before it"
        ) from None


def _ticks(word: str, text: str, grid: str) -> int:
    try:
        ticks = float(word) * GRIDS[grid]
    except ValueError:
        raise ValueError(f"{text!r}: {word!r} is no length in eighths") from None
    if not 0 < ticks <= 1000 or ticks != int(ticks):
        raise ValueError(f"{text!r}: a length is a number of eighths or of halves of them, not {word}")
    return int(ticks)


def begins_at(text: str, grid: str) -> int:
    """The tick, from the bar line, of a beat and its eighth: ``2.3``, or ``before 4.2`` in the bar before.

    Raises ValueError when there is no such place.

    >>> begins_at("1.3", "triplet"), begins_at("before 4", "straight")
    (8, -12)
    """
    step = GRIDS[grid]
    match = re.fullmatch(r"(before )?([1-4])(?:\.([1-3]))?", text.strip())
    eighth = int(match[3] or 1) - 1 if match else 0
    if match is None or eighth * step >= TICKS_PER_BEAT:
        raise ValueError(
            f"{text!r} is no place in a bar: write beat.eighth, as in 2.1, or before 4.2 for the bar before"
        )
    tick = (int(match[2]) - 1) * TICKS_PER_BEAT + eighth * step
    return tick - BEATS_PER_BAR * TICKS_PER_BEAT if match[1] else tick
