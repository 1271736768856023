"""The words of a score: its heading and the names of its strings, fit for any file."""

from __future__ import annotations

from lickwright.guitar.neck import Neck
from lickwright.study.model import Study
from lickwright.theory.harmony import KEY_NAMES, Key, Spelled, spell


def printable(text: str) -> str:
    """Text as one line of characters that XML 1.0 allows (section 2.2), without control characters."""
    return "".join(c for c in " ".join(text.split()) if _allowed(ord(c)))


def _allowed(code: int) -> bool:
    control = code < 0x20 or 0x7F <= code <= 0x9F
    return not control and not 0xD800 <= code <= 0xDFFF and code not in (0xFFFE, 0xFFFF)


def heading(study: Study) -> str:
    """The title with its number, as it is printed over the music."""
    title = printable(study.title)
    return title if study.number is None else f"No. {study.number}: {title}"


def open_strings(neck: Neck) -> tuple[Spelled, ...]:
    """The names of the strings without a capo, first string first, spelled from the lowest string.

    >>> [str(s) for s in open_strings(Neck((63, 58, 54, 49, 44, 39)))]
    ['Eb4', 'Bb3', 'Gb3', 'Db3', 'Ab2', 'Eb2']
    """
    home = Key(KEY_NAMES[neck.tuning[-1] % 12])
    return tuple(spell(pitch, home) for pitch in neck.tuning)
