"""How the trade says it: degrees, fingers, frets, beats and lengths in plain English. All of it is wording.

Other renderers that speak (a caption, a label for a screen reader) take their terms from here, so that one
thing has one name. Common practice, no source.
"""

from __future__ import annotations

import unicodedata
import zlib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from lickwright.study.model import Study
from lickwright.theory.harmony import Chord, spell
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BAR, TICKS_PER_BEAT

DEGREE_WORDS: dict[str, str] = {
    "1": "root", "b2": "flat second", "2": "second", "b3": "minor third", "3": "major third", "4": "fourth",
    "b5": "flat fifth", "5": "fifth", "b6": "flat sixth", "6": "sixth", "b7": "flat seventh",
    "7": "major seventh", "bb7": "diminished seventh", "b9": "flat ninth", "9": "ninth", "#9": "sharp ninth",
    "#5": "sharp fifth", "b13": "flat thirteenth", "13": "thirteenth", "11": "eleventh",
    "#11": "sharp eleventh", "#4": "sharp fourth", "b4": "flat fourth",
    "#1": "sharp root", "#2": "sharp second",
}  # fmt: skip
FINGERS = ("open", "index", "middle", "ring", "little")
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
           "twelve", "thirteen", "fourteen", "fifteen", "sixteen")  # fmt: skip
ORDINALS = ("open", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
            "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth",
            "seventeenth", "eighteenth", "nineteenth", "twentieth", "twenty-first", "twenty-second",
            "twenty-third", "twenty-fourth")  # fmt: skip
STEPS = {1: "a quarter tone", 2: "a half step", 3: "three quarter tones", 4: "a whole step",
         5: "five quarter tones", 6: "a step and a half", 8: "two whole steps"}  # fmt: skip
INTERVALS = {1: "a half step", 2: "a whole step", 3: "a minor third", 4: "a major third", 5: "a fourth",
             6: "a flat fifth", 7: "a fifth", 8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh",
             11: "a major seventh", 12: "an octave"}  # fmt: skip
_FRACTIONS = {
    Fraction(1, 2): "half", Fraction(1, 3): "a third of", Fraction(2, 3): "two thirds of",
    Fraction(1, 4): "a quarter of", Fraction(3, 4): "three quarters of", Fraction(1, 6): "a sixth of",
    Fraction(5, 6): "five sixths of",
}  # fmt: skip
_AND_FRACTIONS = {
    Fraction(1, 2): "a half", Fraction(1, 3): "a third", Fraction(2, 3): "two thirds",
    Fraction(1, 4): "a quarter", Fraction(3, 4): "three quarters", Fraction(1, 6): "a sixth",
    Fraction(5, 6): "five sixths",
}  # fmt: skip


def plain(text: str) -> str:
    """The text on one line: control and format characters dropped, every run of blanks one space."""
    kept = (" " if c in "\t\n\r" else c for c in text)
    return " ".join("".join(c for c in kept if unicodedata.category(c)[0] != "C").split())


def number(n: int) -> str:
    """A count in words up to sixteen, in figures beyond."""
    return NUMBERS[n] if n < len(NUMBERS) else str(n)


def ordinal(n: int) -> str:
    """``fifth`` for 5; beyond twenty-four in figures."""
    return ORDINALS[n] if 0 < n < len(ORDINALS) else f"{n}th"


def listed(items: Sequence[str], last: str = "and") -> str:
    """``a, b and c``.

    >>> listed(["a", "b", "c"]), listed(["a"])
    ('a, b and c', 'a')
    """
    return f"{', '.join(items[:-1])} {last} {items[-1]}" if len(items) > 1 else "".join(items)


def counted(n: int, singular: str, plural: str = "") -> str:
    """``one bend``, ``two bends``."""
    return f"{number(n)} {singular if n == 1 else plural or singular + 's'}"


def signs(text: str) -> str:
    """A note's or a degree's name with its sharp or flat as a sign (``Bb`` is ``B♭``, ``b7`` is ``♭7``)."""
    return text[:1].replace("b", "♭").replace("#", "♯") + text[1:].replace("b", "♭").replace("#", "♯")


def note_name(study: Study, pitch: int, chord: Chord | None = None) -> str:
    """The written name of a pitch over a chord, without its octave."""
    return signs(spell(pitch, study.home, chord).name)


def degrees_text(degrees: Iterable[str]) -> str:
    """Degrees in a row, ``♭7-3-5``."""
    return "-".join(signs(d) for d in degrees)


def bar_text(tick: int) -> str:
    """``bar 2``."""
    return f"bar {tick // TICKS_PER_BAR + 1}"


def beat_text(study: Study, tick: int) -> str:
    """The place in the bar as it is counted: ``beat 2``, ``the last eighth of beat 2``, ``the and of 2``."""
    beat, part = divmod(tick, TICKS_PER_BEAT)
    number_in_bar = beat % BEATS_PER_BAR + 1
    if part == 0:
        return f"beat {number_in_bar}"
    name = _part_text(study, part)
    if name == "and":
        return f"the and of {number_in_bar}"
    return f"the {name} of beat {number_in_bar}"


def near_beat(study: Study, tick: int, bar: bool = False) -> str:
    """The place as it is said in passing: ``on beat 2``, ``just before beat 3``, ``on the and of 2``.

    With ``bar`` the bar is named as well.
    """
    beat, part = divmod(tick, TICKS_PER_BEAT)
    within = beat % BEATS_PER_BAR + 1
    of_bar = f" of {bar_text(tick)}" if bar else ""
    if part == 0:
        return f"on beat {within}{of_bar}"
    if _part_text(study, part) == "and":
        return f"on the and of {within}" + (f" in {bar_text(tick)}" if bar else "")
    if part == TICKS_PER_BEAT // 2:
        return f"halfway through beat {within}{of_bar}"
    if part < TICKS_PER_BEAT // 2:
        return f"just after beat {within}{of_bar}"
    if within == BEATS_PER_BAR:
        return f"just before {bar_text(tick + TICKS_PER_BEAT)}"
    return f"just before beat {within + 1}{of_bar}"


def _part_text(study: Study, part: int) -> str:
    """What a tick inside a beat is called."""
    if study.grid == "straight":
        names = {
            3: "second sixteenth",
            6: "and",
            9: "last sixteenth",
            4: "second triplet",
            8: "third triplet",
        }
    elif study.swung:
        names = {4: "middle triplet", 8: "and", 2: "second triplet sixteenth", 6: "fourth triplet sixteenth",
                 10: "last triplet sixteenth"}  # fmt: skip
    else:
        names = {4: "second eighth", 8: "last eighth", 2: "second sixteenth", 6: "fourth sixteenth",
                 10: "last sixteenth"}  # fmt: skip
    return names.get(part, f"{ordinal(part + 1)} twelfth")


def beats(ticks: float) -> str:
    """A length in beats: ``one beat``, ``a third of a beat``, ``one and a third beats``.

    >>> beats(12), beats(4), beats(16), beats(6)
    ('one beat', 'a third of a beat', 'one and a third beats', 'half a beat')
    """
    whole, rest = divmod(Fraction(ticks) / TICKS_PER_BEAT, 1)
    twelfths = counted(int(rest * 12), "twelfth")
    if rest == 0:
        return counted(int(whole), "beat")
    if whole == 0:
        return f"{_FRACTIONS.get(rest, f'{twelfths} of')} a beat"
    return f"{number(int(whole))} and {_AND_FRACTIONS.get(rest, twelfths)} beats"


def step_text(size: int) -> str:
    """The size of a bend, given in quarter tones."""
    return STEPS.get(size) or f"{number(size)} quarter tones"


@dataclass
class Voice:
    """Picks wordings in turn, from a starting point that the study's content sets; ``used`` counts them.

    No wording comes twice before the others of its kind have had their turn.
    """

    seed: int
    used: Counter[str] = field(default_factory=Counter)

    @classmethod
    def of(cls, study: Study) -> Voice:
        """The voice of a study: the same events always start it at the same wordings."""
        content = repr([(e.onset, [(n.string, n.fret) for n in e.notes]) for e in study.events])
        return cls(zlib.crc32(content.encode()))

    def pick(self, options: Sequence[str]) -> str:
        """The next of the options."""
        kind = options[0]
        chosen = options[(self.seed + self.used[kind]) % len(options)]
        self.used[kind] += 1
        return chosen

    def copy(self) -> Voice:
        """The voice as it is now, to try a wording and go back."""
        return Voice(self.seed, self.used.copy())
