"""The neck as geometry: tunings, where a pitch lies, where frets and strings are; it knows nothing of hands.

Conventions: strings are numbered from 1, the highest; frets from 0, the open string, counted from the
capo where there is one; lengths in millimetres from the nut (or the capo). Equal temperament: the
distance from nut to fret n is s (1 - 2^(-n/12)) for scale length s. Strings fan out evenly from the nut
to the bridge.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

#: Open strings from the first to the last, as MIDI numbers. Common practice, no source.
TUNINGS: dict[str, tuple[int, ...]] = {
    "standard": (64, 59, 55, 50, 45, 40),
    "half a step down": (63, 58, 54, 49, 44, 39),
    "drop D": (64, 59, 55, 50, 45, 38),
    "open G": (62, 59, 55, 50, 43, 38),
    "open E": (64, 59, 56, 52, 47, 40),
    "DADGAD": (62, 57, 55, 50, 45, 38),
    "seven strings": (64, 59, 55, 50, 45, 40, 35),
    "bass": (43, 38, 33, 28),
}

_NOTE = re.compile(r"([A-Ga-g])([#b♯♭]?)(-?\d)")
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def parse_tuning(text: str) -> tuple[int, ...]:
    """Reads a tuning's name, or its notes from the lowest string up as players say them.

    Returns MIDI numbers, first (highest) string first; raises ValueError saying what would be right.

    >>> parse_tuning("drop D") == parse_tuning("D2 A2 D3 G3 B3 E4")
    True
    """
    if text in TUNINGS:
        return TUNINGS[text]
    pitches = []
    for word in text.replace(",", " ").split():
        match = _NOTE.fullmatch(word)
        if not match:
            names = ", ".join(TUNINGS)
            raise ValueError(
                f"unknown tuning {text!r} ({word!r} is no note): use one of {names}, "
                "or notes with octaves from the lowest string up, as in E2 A2 D3 G3 B3 E4"
            )
        alter = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[match[2]]
        pitches.append(12 * (int(match[3]) + 1) + _LETTERS[match[1].upper()] + alter)
    if len(pitches) < 2:
        raise ValueError(f"a tuning needs two strings or more, {text!r} has {len(pitches)}")
    return tuple(reversed(pitches))


@dataclass(frozen=True)
class Neck:
    """A fretted neck: open-string pitches (MIDI, first string first), frets, scale length in mm, capo fret.

    ``nut_spacing_mm`` and ``bridge_spacing_mm`` lie between neighbouring strings, ``edge_mm`` between an
    outer string and the edge of the board. Raises ValueError when it could not be played at all.
    """

    tuning: tuple[int, ...] = TUNINGS["standard"]
    frets: int = 20
    scale_mm: float = 648.0
    capo: int = 0
    nut_spacing_mm: float = 7.0
    bridge_spacing_mm: float = 10.4
    edge_mm: float = 3.5

    def __post_init__(self) -> None:
        if not self.tuning:
            raise ValueError("a neck needs at least one string")
        if not 0 <= self.capo < self.frets:
            raise ValueError(f"capo at fret {self.capo}: it must stand from 0 (none) to {self.frets - 1}")
        if min(self.scale_mm, self.nut_spacing_mm, self.bridge_spacing_mm) <= 0 or self.edge_mm < 0:
            raise ValueError("the scale length and the distances between strings must be above 0 mm")

    @classmethod
    def bass(cls, frets: int = 20) -> Neck:
        """A long-scale bass with four strings (common practice, no source)."""
        return cls(TUNINGS["bass"], frets, 864.0, nut_spacing_mm=10.0, bridge_spacing_mm=19.0, edge_mm=4.0)

    @property
    def strings(self) -> int:
        """How many strings there are."""
        return len(self.tuning)

    @property
    def top_fret(self) -> int:
        """The highest fret that can be played, counted from the capo."""
        return self.frets - self.capo

    @property
    def sounding_mm(self) -> float:
        """The length of an open string, from the nut or the capo to the bridge."""
        return float(self.scale_mm * 2.0 ** (-self.capo / 12))

    def pitch(self, string: int, fret: int) -> int:
        """The MIDI number at a place.

        >>> Neck().pitch(2, 5)
        64
        """
        return self.tuning[string - 1] + self.capo + fret

    def places(self, pitch: int) -> tuple[tuple[int, int], ...]:
        """Every (string, fret) with that pitch, first string first.

        >>> Neck().places(64)
        ((1, 0), (2, 5), (3, 9), (4, 14), (5, 19))
        """
        found = []
        for string in range(1, self.strings + 1):
            fret = pitch - self.pitch(string, 0)
            if 0 <= fret <= self.top_fret:
                found.append((string, fret))
        return tuple(found)

    def root_fret(self, pitch_class: int) -> int:
        """The fret (0..11) of a pitch class on the first string, from which places are counted.

        In standard tuning the sixth string has it at the same fret, but that one is the first to be tuned down;
        a neck of less than six strings counts on its lowest.

        >>> Neck().root_fret(9)
        5
        """
        string = 1 if self.strings >= 6 else self.strings
        return (pitch_class - self.pitch(string, 0)) % 12

    def fret_mm(self, fret: float) -> float:
        """Distance from the nut, or the capo, to a fret in millimetres."""
        return float(self.sounding_mm * (1 - 2.0 ** (-fret / 12)))

    def spacing_mm(self, fret: float) -> float:
        """Distance between neighbouring strings at a fret in millimetres.

        >>> round(Neck().spacing_mm(12), 2)
        8.7
        """
        from_nut = 1 - 2.0 ** (-(fret + self.capo) / 12)
        return float(self.nut_spacing_mm + (self.bridge_spacing_mm - self.nut_spacing_mm) * from_nut)


@lru_cache(maxsize=64)
def frets_mm(neck: Neck) -> NDArray[np.float64]:
    """``Neck.fret_mm`` of the frets 0 .. ``top_fret`` as a read-only array."""
    table = np.array([neck.fret_mm(fret) for fret in range(neck.top_fret + 1)])
    table.flags.writeable = False
    return table


@lru_cache(maxsize=64)
def spacings_mm(neck: Neck) -> NDArray[np.float64]:
    """``Neck.spacing_mm`` of the frets 0 .. ``top_fret`` as a read-only array."""
    table = np.array([neck.spacing_mm(fret) for fret in range(neck.top_fret + 1)])
    table.flags.writeable = False
    return table
