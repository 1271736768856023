"""Keys, chords, degrees, scales and how to spell them; it knows nothing of a neck or of time.

Conventions: pitches are MIDI numbers (60 = middle C), pitch classes 0..11 with C = 0, degrees are
counted in semitones above a root and named ``1 b2 2 b3 3 4 b5 5 b6 6 b7 7``. Chords are written as
Roman numerals with a quality (``IV7``, ``bII9``, ``#IVdim7``) and are turned into notes by a key.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

LETTERS = "CDEFGAB"
LETTER_PITCH = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
DEGREE_ALIASES = {
    "#1": 1, "b9": 1, "9": 2, "#9": 3, "#2": 3, "b4": 4, "11": 5, "#11": 6, "#4": 6,
    "#5": 8, "b13": 8, "13": 9, "bb7": 9,
}  # fmt: skip

#: The degrees of each chord quality, low to high, and how the quality is printed after the root's name.
#: The third column is music21's and MusicXML's name of the kind.
QUALITIES: dict[str, tuple[tuple[str, ...], str, str]] = {
    "": (("1", "3", "5"), "", "major"),
    "5": (("1", "5"), "5", "power"),
    "6": (("1", "3", "5", "6"), "6", "major-sixth"),
    "7": (("1", "3", "5", "b7"), "7", "dominant-seventh"),
    "9": (("1", "3", "5", "b7", "9"), "9", "dominant-ninth"),
    "13": (("1", "3", "5", "b7", "9", "13"), "13", "dominant-13th"),
    "7#5": (("1", "3", "#5", "b7"), "7♯5", "augmented-seventh"),
    "7b9": (("1", "3", "5", "b7", "b9"), "7♭9", "dominant-seventh"),
    "7#9": (("1", "3", "5", "b7", "#9"), "7♯9", "dominant-seventh"),
    "m": (("1", "b3", "5"), "m", "minor"),
    "m6": (("1", "b3", "5", "6"), "m6", "minor-sixth"),
    "m7": (("1", "b3", "5", "b7"), "m7", "minor-seventh"),
    "m9": (("1", "b3", "5", "b7", "9"), "m9", "minor-ninth"),
    "dim7": (("1", "b3", "b5", "bb7"), "°7", "diminished-seventh"),
    "aug": (("1", "3", "#5"), "+", "augmented"),
}

KEY_NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_MINOR_RENAMES = {"Db": "C#", "Gb": "F#", "Ab": "G#", "Cb": "B"}
_PLAIN_ROOTS = {"Cb": "B", "Fb": "E", "E#": "F", "B#": "C"}
_MAJOR_RENAMES = {"C#": "Db", "D#": "Eb", "G#": "Ab", "A#": "Bb", "E#": "F", "B#": "C", "Fb": "E", "Cb": "B"}
_FIFTHS = {"C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6, "Gb": -6, "Db": -5, "Ab": -4, "Eb": -3,
           "Bb": -2, "F": -1}  # fmt: skip
_NUMERALS = {"I": 0, "II": 1, "III": 2, "IV": 3, "V": 4, "VI": 5, "VII": 6}
_MAJOR_STEPS = (0, 2, 4, 5, 7, 9, 11)
_ROMAN = re.compile(r"^([b#]?)(VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)(.*)$")


def semitones(degree: str) -> int:
    """The degree's distance above its root in semitones, 0..11.

    >>> semitones("b7"), semitones("9"), semitones("#5")
    (10, 2, 8)
    """
    if degree in DEGREE_ALIASES:
        return DEGREE_ALIASES[degree]
    try:
        return DEGREES.index(degree)
    except ValueError:
        raise ValueError(f"unknown degree {degree!r}: use one of {' '.join(DEGREES)}") from None


def _degree_letter(degree: str) -> int:
    """How many letters above the root the degree is written (0 for 1, 1 for 2 and 9, ...)."""
    return (int(degree.lstrip("b#")) - 1) % 7


@dataclass(frozen=True)
class Spelled:
    """A written note: letter, alteration in semitones, and octave in scientific notation (sounding)."""

    letter: str
    alter: int
    octave: int

    @property
    def name(self) -> str:
        """The name without its octave, as ``Eb`` or ``F#``."""
        return self.letter + ("#" * self.alter if self.alter > 0 else "b" * -self.alter)

    @property
    def midi(self) -> int:
        """The MIDI number of the written note."""
        return 12 * (self.octave + 1) + LETTER_PITCH[self.letter] + self.alter

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"


def _name_pitch(name: str) -> int:
    return (LETTER_PITCH[name[0]] + name.count("#") - name[1:].count("b")) % 12


def _raise_name(name: str, letters: int, semitones_up: int) -> str:
    """The note ``semitones_up`` above ``name``, written ``letters`` letters further on."""
    letter = LETTERS[(LETTERS.index(name[0]) + letters) % 7]
    alter = (_name_pitch(name) + semitones_up - LETTER_PITCH[letter] + 6) % 12 - 6
    return letter + ("#" * alter if alter > 0 else "b" * -alter)


def _simplify(name: str) -> str:
    """The same pitch with one accidental at most (``Abb`` is written ``G``, ``Fb`` stays)."""
    if len(name) <= 2:
        return name
    pitch = _name_pitch(name)
    accidental = name[1]
    natural = next((n for n in LETTERS if LETTER_PITCH[n] == pitch), None)
    return natural or next(n + accidental for n in LETTERS if _name_pitch(n + accidental) == pitch)


@dataclass(frozen=True)
class Key:
    """A tonic and a mode. ``Key.parse`` accepts what a person writes (``bb``, ``F#m``)."""

    tonic: str
    minor: bool = False

    @classmethod
    def parse(cls, text: str, minor: bool = False) -> Key:
        """Reads ``A``, ``bb``, ``F#m``; raises ValueError with the keys there are.

        >>> Key.parse("bb"), Key.parse("Db", minor=True).name
        (Key(tonic='Bb', minor=False), 'C#m')
        """
        match = re.fullmatch(r"\s*([A-Ga-g])([b#♭♯]?)\s*(m|min|minor|maj|major)?\s*", text)
        if not match:
            raise ValueError(f"unknown key {text!r}: use one of {' '.join(KEY_NAMES)}, with m for minor")
        tonic = match[1].upper() + match[2].replace("♭", "b").replace("♯", "#")
        minor = minor or (match[3] or "").startswith("mi") or match[3] == "m"
        tonic = (_MINOR_RENAMES if minor else _MAJOR_RENAMES).get(tonic, tonic)
        return cls(tonic, minor)

    @property
    def pitch_class(self) -> int:
        """The tonic's pitch class."""
        return _name_pitch(self.tonic)

    @property
    def name(self) -> str:
        """The key as a teacher writes it, ``A`` or ``Dm``."""
        return self.tonic + ("m" if self.minor else "")

    @property
    def fifths(self) -> int:
        """The key signature: sharps positive, flats negative."""
        if self.minor:
            return _FIFTHS[_simplify(_raise_name(self.tonic, 2, 3))]
        return _FIFTHS[self.tonic]


@dataclass(frozen=True)
class Chord:
    """A chord in a key: ``roman`` (``IV7``), the root's written name, the quality, its pitch classes.

    ``tones`` maps each pitch class to its degree of this chord, as the quality's recipe writes it.
    """

    roman: str
    root: str
    quality: str

    @cached_property
    def root_pc(self) -> int:
        """The root's pitch class."""
        return _name_pitch(self.root)

    @property
    def degrees(self) -> tuple[str, ...]:
        """The chord's degrees, low to high."""
        return QUALITIES[self.quality][0]

    @cached_property
    def tones(self) -> Mapping[int, str]:
        """Pitch class to degree for each tone of the chord."""
        return {(self.root_pc + semitones(d)) % 12: d for d in self.degrees}

    @property
    def symbol(self) -> str:
        """As printed over the staff, ``B♭7`` or ``Dm7``."""
        return self.root.replace("b", "♭").replace("#", "♯") + QUALITIES[self.quality][1]

    @property
    def kind(self) -> str:
        """music21's and MusicXML's name of the quality."""
        return QUALITIES[self.quality][2]

    def degree(self, pitch_class: int) -> str:
        """The degree of any pitch class over this chord.

        >>> chord_in_key("IV7", Key("A")).degree(0)
        'b7'
        """
        return self.tones.get(pitch_class % 12) or DEGREES[(pitch_class - self.root_pc) % 12]


@lru_cache(maxsize=1024)
def chord_in_key(roman: str, key: Key) -> Chord:
    """The chord that a Roman numeral means in a key. Numerals count from the major scale in both modes.

    An altered numeral whose root would be a white key written black is named plainly (bII in B flat is B, not C flat).

    >>> chord_in_key("bVI7", Key("D", minor=True)).symbol
    'B♭7'
    """
    match = _ROMAN.match(roman)
    if not match or match[3] not in QUALITIES:
        raise ValueError(f"unknown chord {roman!r}: write a Roman numeral and one of {' '.join(QUALITIES)}")
    accidental, numeral, quality = match.groups()
    number = _NUMERALS[numeral.upper()]
    alter = {"": 0, "b": -1, "#": 1}[accidental]
    root = _simplify(_raise_name(key.tonic, number, _MAJOR_STEPS[number] + alter))
    return Chord(roman, _PLAIN_ROOTS.get(root, root) if alter else root, quality)


@lru_cache(maxsize=4096)
def _name_of(pitch_class: int, key: Key, chord: Chord | None) -> str:
    if chord is not None:
        tone = chord.tones.get(pitch_class)
        if tone is not None:
            return _simplify(_raise_name(chord.root, _degree_letter(tone), semitones(tone)))
    degree = DEGREES[(pitch_class - key.pitch_class) % 12]
    return _simplify(_raise_name(key.tonic, _degree_letter(degree), semitones(degree)))


def spell(pitch: int, key: Key, chord: Chord | None = None) -> Spelled:
    """How a MIDI pitch is written: by its degree of the chord if it is one, else by its degree of the key.

    Never a double accidental. This is the only place where the choice is made.

    >>> str(spell(61, Key("A"), chord_in_key("I7", Key("A")))), str(spell(63, Key("A")))
    ('C#4', 'Eb4')
    """
    name = _name_of(pitch % 12, key, chord)
    alter = name.count("#") - name[1:].count("b")
    octave = (pitch - alter - LETTER_PITCH[name[0]]) // 12 - 1
    return Spelled(name[0], alter, octave)
