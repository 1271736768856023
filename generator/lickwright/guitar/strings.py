"""Strings as physics: gauges, tension, and what a bend of any size asks for at any string and fret.

A bend is a triangle: the string is held at the nut (or the capo) and the bridge and pushed sideways by
``d`` at the finger, without friction. Nut to finger is a, finger to bridge b, L = a + b. The string is
drawn out to L' = a' + b', the sounding part from b to b'. It was stretched from its slack length already,
so that its tension becomes T' = T + (E A + T) (L'/L - 1); its mass stays the same, hence
(f'/f)^2 = (T'/T) (L'/L) (b/b')^2. At the middle of the string this is, to terms of the order T / E A, the
formula of D. R. Grimes, "String Theory - The Physics of String-Bending and Other Electric Guitar
Techniques", PLoS ONE 9(7):e102088, 2014, f = sqrt((E A + cos(theta) (T - E A)) / mu) / (2 L).
The force at the finger is the sideways part of both tensions, T' (d/a' + d/b'), and the work done is
the gain in elastic energy, T x + (E A + T) x^2 / (2 L) for x = L' - L.

Conventions: strings from 1, the highest; sizes in quarter tones (a whole step is 4); mm, N, N mm. Open
strings cannot be bent: their distance and force are infinite.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lickwright.guitar.neck import Neck, spacings_mm

Floats = NDArray[np.float64]

MM_PER_INCH = 25.4
STEEL_DENSITY_KG_M3 = 7850.0
STEEL_MODULUS_GPA = 200.0
LARGEST_BEND = 6  # quarter tones: a minor third, the widest bend in common use
_NEWTON_STEPS = 6


@dataclass(frozen=True)
class StringGauge:
    """One string: its outer diameter in inches, as strings are sold, and whether it is wound.

    A plain string is one steel wire. A wound one is taken as a round steel core, a little thicker for
    thicker strings, with one layer of round steel wire in touching turns; the core alone carries the
    tension. That is an approximation of ours; it gives tensions within 2 % of the usual tables.
    """

    diameter_in: float
    wound: bool = False

    @property
    def diameter_mm(self) -> float:
        """The outer diameter in millimetres."""
        return self.diameter_in * MM_PER_INCH

    @property
    def core_mm(self) -> float:
        """The diameter of the wire that carries the tension, in millimetres."""
        if not self.wound:
            return self.diameter_mm
        return (0.0075 + 0.2 * self.diameter_in) * MM_PER_INCH

    @property
    def density_kg_m(self) -> float:
        """Mass of a metre of string. Touching turns of round wire fill pi/4 of the ring they lie in."""
        core2 = self.core_mm**2
        wrap2 = (self.diameter_mm**2 - core2) * np.pi / 4
        return float(STEEL_DENSITY_KG_M3 * np.pi / 4 * (core2 + wrap2) * 1e-6)

    @property
    def stiffness_n(self) -> float:
        """E A of the core: the force that would stretch it to twice its length, in newtons."""
        return float(STEEL_MODULUS_GPA * 1e3 * np.pi / 4 * self.core_mm**2)


@dataclass(frozen=True)
class StringSet:
    """A set of strings, the first (highest) string first; a neck takes as many as it has strings."""

    name: str
    gauges: tuple[StringGauge, ...]

    def for_neck(self, neck: Neck) -> tuple[StringGauge, ...]:
        """One gauge for each string of the neck; raises ValueError when the set has too few."""
        if neck.strings > len(self.gauges):
            raise ValueError(
                f"string set {self.name!r} has {len(self.gauges)} strings, the neck needs {neck.strings}"
            )
        return self.gauges[: neck.strings]


def string_set(name: str, gauges: str) -> StringSet:
    """Reads a set as players write it, thousandths of an inch from the first string on, ``w`` for wound.

    Raises ValueError saying which string is wrong.

    >>> string_set("light", "9 11 16 24w 32w 42w").gauges[3]
    StringGauge(diameter_in=0.024, wound=True)
    """
    read = []
    for number, word in enumerate(gauges.split(), 1):
        digits = word.removesuffix("w")
        try:
            thousandths = float(digits)
        except ValueError:
            thousandths = 0.0
        if not 4 <= thousandths <= 150:
            raise ValueError(
                f"string {number} of set {name!r}: {word!r} is no gauge; write thousandths of an inch "
                "from 4 to 150, with w for a wound string, as in 9 11 16 24w 32w 42w"
            )
        read.append(StringGauge(round(thousandths / 1000, 6), word.endswith("w")))
    return StringSet(name, tuple(read))


#: Usual sets by weight, a seventh string for those necks that have one. Common practice, no source.
STRING_SETS: dict[str, StringSet] = {
    name: string_set(name, gauges)
    for name, gauges in {
        "extra light": "8 10 15 21w 30w 38w 50w",
        "light": "9 11 16 24w 32w 42w 54w",
        "regular": "10 13 17 26w 36w 46w 56w",
        "heavy": "11 14 18 28w 38w 49w 59w",
        "wound third": "12 16 24w 32w 42w 53w",
        "bass": "45w 65w 85w 105w",
    }.items()
}


def frequency_hz(pitch: ArrayLike) -> Floats:
    """Equal temperament with MIDI 69 at 440 Hz (ISO 16:1975)."""
    return np.asarray(440.0 * 2.0 ** ((np.asarray(pitch, float) - 69) / 12))


def tension_n(frequency: ArrayLike, length_mm: ArrayLike, density_kg_m: ArrayLike) -> Floats:
    """Tension of a string that sounds ``frequency`` Hz: mu (2 L f)^2.

    >>> round(float(tension_n(329.628, 648, STRING_SETS["light"].gauges[0].density_kg_m)), 1)
    58.8
    """
    speed = 2 * np.asarray(length_mm, float) / 1000 * np.asarray(frequency, float)
    return np.asarray(np.asarray(density_kg_m, float) * speed**2)


@lru_cache(maxsize=64)
def tensions_n(neck: Neck, strings: StringSet) -> tuple[float, ...]:
    """Tension of each string of a tuned neck, the first string first, in newtons."""
    return tuple(
        float(tension_n(frequency_hz(open_pitch), neck.scale_mm, gauge.density_kg_m))
        for open_pitch, gauge in zip(neck.tuning, strings.for_neck(neck), strict=True)
    )


@dataclass(frozen=True)
class _Triangle:
    """Broadcast arrays of strings at rest: T and E A + T in N, a and b in mm."""

    tension: Floats
    stiffness: Floats
    a: Floats
    b: Floats

    def stretch(self, d: Floats) -> Floats:
        """L' - L in mm."""
        return np.asarray(np.hypot(self.a, d) - self.a + np.hypot(self.b, d) - self.b)

    def tension_at(self, d: Floats) -> Floats:
        return np.asarray(self.tension + self.stiffness * self.stretch(d) / (self.a + self.b))

    def log_ratio2(self, d: Floats) -> Floats:
        """ln (f'/f)^2 when the string is d aside."""
        strain = self.stretch(d) / (self.a + self.b)
        shorter = np.log(self.b) - np.log(np.hypot(self.b, d))
        return np.asarray(np.log(self.tension_at(d) / self.tension) + np.log1p(strain) + 2 * shorter)

    def force(self, d: Floats) -> Floats:
        """Sideways at the finger, N."""
        return np.asarray(self.tension_at(d) * (d / np.hypot(self.a, d) + d / np.hypot(self.b, d)))

    def work(self, d: Floats) -> Floats:
        """Done on the string, N mm."""
        x = self.stretch(d)
        return np.asarray(self.tension * x + self.stiffness * x**2 / (2 * (self.a + self.b)))

    def solve(self, size: Floats) -> Floats:
        """The d at which the pitch is ``size`` quarter tones up, by Newton's method from the series at 0."""
        goal = 2 * np.log(2) / 24 * size
        length = self.a + self.b
        per_d2 = (self.stiffness / self.tension + 1) / (2 * self.a * self.b) - 1 / self.b**2
        d = np.sqrt(goal / per_d2)
        for _ in range(_NEWTON_STEPS):
            sines = d / np.hypot(self.a, d) + d / np.hypot(self.b, d)
            strain = self.stretch(d) / length
            slope = sines / length * (self.stiffness / self.tension_at(d) + 1 / (1 + strain))
            slope = slope - 2 * d / (self.b**2 + d**2)
            d = d - (self.log_ratio2(d) - goal) / np.where(goal > 0, slope, 1.0)
        return np.asarray(d)


def _triangle(neck: Neck, strings: StringSet, string: ArrayLike, fret: ArrayLike) -> _Triangle:
    index = np.asarray(string, int) - 1
    if index.size and (index.min() < 0 or index.max() >= neck.strings):
        raise ValueError(f"strings are numbered 1 to {neck.strings} on this neck")
    tension = np.array(tensions_n(neck, strings))
    stiffness = np.array([gauge.stiffness_n for gauge in strings.for_neck(neck)]) + tension
    b = neck.sounding_mm * 2.0 ** (-np.asarray(fret, float) / 12)
    # a fret of 0 leaves no triangle; it is given a harmless one here and made infinite by the callers
    a = np.where(np.asarray(fret) > 0, neck.sounding_mm - b, neck.sounding_mm)
    return _Triangle(tension[index], stiffness[index], a, b)


def _open_is_infinite(fret: ArrayLike, size: ArrayLike, values: Floats) -> Floats:
    impossible = (np.asarray(fret) <= 0) & (np.asarray(size) > 0)
    return np.asarray(np.where(impossible, np.inf, values))


def bend_distance_mm(
    neck: Neck, strings: StringSet, string: ArrayLike, fret: ArrayLike, size: ArrayLike
) -> Floats:
    """How far aside a string is pushed for a bend of ``size`` quarter tones; the arguments broadcast.

    >>> round(float(bend_distance_mm(Neck(), STRING_SETS["light"], 1, 12, 4)), 1)
    19.8
    """
    d = _triangle(neck, strings, string, fret).solve(np.asarray(size, float))
    return _open_is_infinite(fret, size, d)


def bend_force_n(
    neck: Neck, strings: StringSet, string: ArrayLike, fret: ArrayLike, size: ArrayLike
) -> Floats:
    """The force that holds a bend of ``size`` quarter tones, in newtons; the arguments broadcast.

    >>> round(float(bend_force_n(Neck(), STRING_SETS["light"], 1, 12, 4)), 1)
    9.1
    """
    triangle = _triangle(neck, strings, string, fret)
    force = triangle.force(triangle.solve(np.asarray(size, float)))
    return _open_is_infinite(fret, size, force)


def bend_work_nmm(
    neck: Neck, strings: StringSet, string: ArrayLike, fret: ArrayLike, size: ArrayLike
) -> Floats:
    """The work done on the string by a bend of ``size`` quarter tones, in N mm; the arguments broadcast."""
    triangle = _triangle(neck, strings, string, fret)
    work = triangle.work(triangle.solve(np.asarray(size, float)))
    return _open_is_infinite(fret, size, work)


def bend_size(
    neck: Neck, strings: StringSet, string: ArrayLike, fret: ArrayLike, distance_mm: ArrayLike
) -> Floats:
    """The quarter tones by which the pitch rises when a string is pushed ``distance_mm`` aside."""
    ratio2 = _triangle(neck, strings, string, fret).log_ratio2(np.abs(np.asarray(distance_mm, float)))
    return np.asarray(ratio2 / (2 * np.log(2) / 24))


def bend_direction(neck: Neck, string: int) -> int:
    """+1 when a bend pushes the string towards the thicker ones (up, for a player), -1 when it pulls it down.

    The thinner half of the strings is pushed, the thicker half pulled, so that none leaves the board.
    """
    return 1 if 2 * string <= neck.strings else -1


def stops(neck: Neck, bent: tuple[int, int, float], other: tuple[int, int, float]) -> bool:
    """True when a bent string runs into the part of another one that sounds.

    Each is (string, fret, mm aside in the direction of its bend, 0 for a note that is not bent). The bent
    string leans from the finger to the bridge, so a note held nearer the bridge is met later.
    """
    string, fret, distance = bent
    other_string, other_fret, other_distance = other
    step = bend_direction(neck, string)
    apart = (other_string - string) * step
    if apart <= 0:
        return False
    meets = max(fret, other_fret)
    moved = distance * 2.0 ** (-(meets - fret) / 12)
    ahead = other_distance * bend_direction(neck, other_string) * step * 2.0 ** (-(meets - other_fret) / 12)
    return bool(moved - ahead >= apart * neck.spacing_mm(meets))


@dataclass(frozen=True)
class BendTables:
    """What every bend asks for, indexed [string, fret, size]: string from 1 (row 0 unused), size in quarters.

    ``distance_mm``, ``force_n``, ``work_nmm`` are float64; ``runs_into`` int8, how many neighbouring strings
    are reached; ``on_board`` bool. Read-only; shape (strings + 1, top_fret + 1, LARGEST_BEND + 1).
    """

    distance_mm: Floats
    force_n: Floats
    work_nmm: Floats
    runs_into: NDArray[np.int8]
    on_board: NDArray[np.bool_]


@lru_cache(maxsize=64)
def bend_tables(neck: Neck, strings: StringSet) -> BendTables:
    """The tables of one neck and set, cached."""
    shape = (neck.strings + 1, neck.top_fret + 1, LARGEST_BEND + 1)
    numbers = np.arange(1, neck.strings + 1)
    string, fret, size = np.ix_(numbers, np.arange(shape[1]), np.arange(shape[2]))
    triangle = _triangle(neck, strings, string, fret)
    d = triangle.solve(size.astype(float))
    distance, force, work = np.full((3, *shape), np.inf)
    for table, values in (distance, d), (force, triangle.force(d)), (work, triangle.work(d)):
        table[1:] = _open_is_infinite(fret, size, values)
    spacing = spacings_mm(neck)[None, :, None]
    ahead = np.where(2 * numbers <= neck.strings, neck.strings - numbers, numbers - 1)[:, None, None]
    runs_into = np.zeros(shape, np.int8)
    runs_into[1:] = np.minimum(np.minimum(distance[1:], 1e6) // spacing, ahead)
    on_board = np.zeros(shape, bool)
    on_board[1:] = distance[1:] <= ahead * spacing + neck.edge_mm
    for table in (distance, force, work, runs_into, on_board):
        table.flags.writeable = False
    return BendTables(distance, force, work, runs_into, on_board)
