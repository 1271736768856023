"""Which notes print an accidental; it knows the rules of a bar and nothing of a file.

music21 decides this too, but takes a sign in one octave for enough in another, or else repeats signs that
still hold. The rules: a sign holds for its line until the bar line; a note tied over it prints none. Beside
those that are needed, a first note prints its sign as a courtesy when the same line stood otherwise in the
bar before, or the same letter stands otherwise in another octave. Common practice in engraving, no source.
"""

from __future__ import annotations

from lickwright.theory.harmony import Spelled

_SHARPS = "FCGDAEB"


def signature(letter: str, fifths: int) -> int:
    """What a key signature does to a letter, in semitones.

    >>> signature("F", 1), signature("B", -1), signature("C", 1)
    (1, -1, 0)
    """
    if fifths >= 0:
        return int(letter in _SHARPS[:fifths])
    return -int(letter in _SHARPS[fifths:])


class Accidentals:
    """Follows one staff, note by note in the order of writing."""

    def __init__(self, fifths: int):
        self._fifths = fifths
        self._before: dict[tuple[str, int], int] = {}
        self._bar: dict[tuple[str, int], int] = {}

    def next_bar(self) -> None:
        """A bar line."""
        self._before, self._bar = self._bar, {}

    def prints(self, note: Spelled, tied: bool) -> bool:
        """Whether the next note needs or deserves a sign; ``tied`` is one held from before."""
        if tied:
            return False
        line = (note.letter, note.octave)
        needed = self._bar.get(line, signature(note.letter, self._fifths)) != note.alter
        elsewhere = [alter for (letter, _), alter in self._bar.items() if letter == note.letter]
        otherwise = [*elsewhere, self._before.get(line, note.alter)]
        courtesy = line not in self._bar and any(alter != note.alter for alter in otherwise)
        self._bar[line] = note.alter
        return needed or courtesy
