"""Degrees, Roman numerals and lengths as rule files write them, turned into tables and ticks; it knows no rule."""

from __future__ import annotations

import re

import numpy as np

from lickwright.rulebook.schema.rule_file import Palette, Size
from lickwright.rulebook.touches import BoolArray, IntArray
from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import TICKS_PER_BEAT

#: Bend sizes in quarter tones.
BEND_SIZES: dict[Size, int] = {"quarter": 1, "half": 2, "whole": 4}


def root_numeral(roman: str) -> str:
    """The chord's root as rule files name it: accidental and upper-case numeral without the quality.

    >>> root_numeral("bVI7"), root_numeral("IVm7")
    ('bVI', 'IV')
    """
    match = re.match(r"[b#]?[IViv]+", roman)
    text = match[0] if match else roman
    return text[0] + text[1:].upper() if text[0] in "b#" else text.upper()


def ticks(beats: float) -> int:
    """A length in beats as the nearest whole number of ticks.

    >>> ticks(0.67), ticks(0.17)
    (8, 2)
    """
    return round(beats * TICKS_PER_BEAT)


def pair_table(texts: list[str]) -> BoolArray:
    """A 12 x 12 table of "from>to" degrees."""
    table = np.zeros((12, 12), bool)
    for text in texts:
        low, _, high = text.partition(">")
        table[semitones(low), semitones(high)] = True
    return table


def cost_table(palette: Palette, absent: int) -> IntArray:
    """The points of each of the twelve degrees; ``absent`` for those that the palette does not list."""
    table = np.full(12, absent, np.int64)
    for degree, points in palette.items():
        table[semitones(degree)] = points
    return table
