"""The neck as geometry: tunings, where a pitch lies, where a fret is; it knows nothing of hands or music.

Conventions: strings are numbered from 1, the highest; frets from 0, the open string, counted from the
capo where there is one; lengths in millimetres from the nut (or the capo). Equal temperament: the
distance from nut to fret n is s (1 - 2^(-n/12)) for scale length s.
"""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True)
class Neck:
    """A fretted neck: open-string pitches (MIDI, first string first), frets, scale length in mm, capo fret."""

    tuning: tuple[int, ...] = TUNINGS["standard"]
    frets: int = 20
    scale_mm: float = 648.0
    capo: int = 0

    @property
    def strings(self) -> int:
        """How many strings there are."""
        return len(self.tuning)

    @property
    def top_fret(self) -> int:
        """The highest fret that can be played, counted from the capo."""
        return self.frets - self.capo

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

    def fret_mm(self, fret: float) -> float:
        """Distance from the nut, or the capo, to a fret in millimetres."""
        length = self.scale_mm * 2.0 ** (-self.capo / 12)
        return float(length * (1 - 2.0 ** (-fret / 12)))
