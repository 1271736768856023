"""What is lead and what is comping in a file that does not say: stretches of columns as slots.

A column of three notes or more, or of dead notes only, is a grip. A stretch ends where grips and single lines
change over, after a beat of silence, and where a line that runs on comes to the next phrase of four bars. One or
two low notes next to grips are the comping's bass, also at the end of a higher line that runs into them. What is
left is a lick: a question when it stays open, an answer when it lands on the key's tonic or third or the chord's
root; the last lick of several closes. Each lick of a file gets a letter; the same pitches and rhythm again get the
same one. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lickwright.read.columns import Column
from lickwright.study.model import ChordSpan, Phrase, Slot, SlotKind
from lickwright.theory.harmony import Key, chord_in_key
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

#: Silence, in ticks, after which something new begins.
SILENCE = TICKS_PER_BEAT
#: A bass note of the comping lies no higher than this above the lowest open string, in semitones.
BASS_RANGE = 12
#: Low notes in a row that may belong to the comping; more are a line.
MOST_BASSES = 2
BARS_A_PHRASE = 4
#: A line of this many onsets may be cut at a phrase.
LONG_LICK = 12


@dataclass
class _Stretch:
    columns: list[int]
    comp: bool


def slots_of(
    columns: Sequence[Column], form: Sequence[ChordSpan], key: Key, bars: int, lowest: int
) -> tuple[tuple[Phrase, ...], tuple[Slot, ...], tuple[int, ...]]:
    """Phrases of four bars, slots in order, and the slot of each column; ``lowest`` is the lowest open string."""
    stretches = _merged(_basses(_peeled(_stretches(columns), columns, lowest), columns, lowest), columns)
    licks = [s for s in stretches if not s.comp]
    letters: dict[tuple[tuple[int, int], ...], str] = {}
    phrases = tuple(
        Phrase(n, a, min(a + BARS_A_PHRASE, bars) - 1, "")
        for n, a in enumerate(range(0, bars, BARS_A_PHRASE))
    )
    slots, belongs = [], [0] * len(columns)
    for number, stretch in enumerate(stretches):
        mine = [columns[i] for i in stretch.columns]
        start, end = mine[0].tick, mine[-1].end
        phrase = min(start // (BARS_A_PHRASE * TICKS_PER_BAR), len(phrases) - 1)
        name = role = ""
        if not stretch.comp:
            name = letters.setdefault(_melody(mine), _letter(len(letters)))
            closes = len(licks) > 1 and stretch is licks[-1]
            role = "close" if closes else _role(mine[-1], form, key)
        kind = SlotKind.COMP if stretch.comp else SlotKind.LICK
        slots.append(Slot(number, kind, phrase, start, end, name, role))
        for i in stretch.columns:
            belongs[i] = number
    return phrases, tuple(slots), tuple(belongs)


def _grip(column: Column) -> bool:
    return len(column.sounds) >= 3 or all(s.muted for s in column.sounds)


def _stretches(columns: Sequence[Column]) -> list[_Stretch]:
    found: list[_Stretch] = []
    for i, column in enumerate(columns):
        comp = _grip(column)
        silent = i > 0 and column.tick - columns[i - 1].end >= SILENCE
        phrase = BARS_A_PHRASE * TICKS_PER_BAR
        runs_on = i > 0 and column.tick // phrase != columns[found[-1].columns[0]].tick // phrase
        new_phrase = runs_on and len(found[-1].columns) >= LONG_LICK
        if not found or silent or new_phrase or found[-1].comp != comp:
            found.append(_Stretch([], comp))
        found[-1].columns.append(i)
    return found


def _peeled(stretches: list[_Stretch], columns: Sequence[Column], lowest: int) -> list[_Stretch]:
    """Lines cut before low notes at their end that lead to a grip, and after those that follow one."""
    found: list[_Stretch] = []
    for n, stretch in enumerate(stretches):
        low = [all(s.pitch <= lowest + BASS_RANGE for s in columns[i].sounds) for i in stretch.columns]
        ends = n + 1 < len(stretches) and stretches[n + 1].comp
        begins = n > 0 and stretches[n - 1].comp
        tail = next((k for k, x in enumerate(reversed(low)) if not x), 0) if ends else 0
        head = next((k for k, x in enumerate(low) if not x), 0) if begins else 0
        tail, head = (k if k <= MOST_BASSES else 0 for k in (tail, head))
        pieces = (
            stretch.columns[:head],
            stretch.columns[head : len(low) - tail],
            stretch.columns[len(low) - tail :],
        )
        if stretch.comp or not (head or tail):
            pieces = ([], stretch.columns, [])
        found += [_Stretch(columns, stretch.comp) for columns in pieces if columns]
    return found


def _basses(stretches: list[_Stretch], columns: Sequence[Column], lowest: int) -> list[_Stretch]:
    """One or two low notes with grips right before or after them become comping."""
    for n, stretch in enumerate(stretches):
        low = all(s.pitch <= lowest + BASS_RANGE for i in stretch.columns for s in columns[i].sounds)
        if stretch.comp or len(stretch.columns) > MOST_BASSES or not low:
            continue
        beside = [stretches[k] for k in (n - 1, n + 1) if 0 <= k < len(stretches)]
        near = [b for b in beside if b.comp and _gap(stretch, b, columns) < TICKS_PER_BAR // 2]
        stretch.comp = bool(near)
    return stretches


def _gap(a: _Stretch, b: _Stretch, columns: Sequence[Column]) -> int:
    first, second = sorted((a, b), key=lambda s: s.columns[0])
    return columns[second.columns[0]].tick - columns[first.columns[-1]].end


def _merged(stretches: list[_Stretch], columns: Sequence[Column]) -> list[_Stretch]:
    """Comping with no lick between is one slot to the end of its phrase; licks stay by themselves."""
    found: list[_Stretch] = []
    for stretch in stretches:
        if found and found[-1].comp and stretch.comp:
            phrase = BARS_A_PHRASE * TICKS_PER_BAR
            if columns[found[-1].columns[0]].tick // phrase == columns[stretch.columns[0]].tick // phrase:
                found[-1].columns += stretch.columns
                continue
        found.append(stretch)
    return found


def _melody(columns: Sequence[Column]) -> tuple[tuple[int, int], ...]:
    start = columns[0].tick // TICKS_PER_BEAT * TICKS_PER_BEAT
    return tuple((c.tick - start, c.sounds[-1].pitch) for c in columns)


def _letter(number: int) -> str:
    return chr(ord("A") + number) if number < 26 else f"Z{number - 25}"


def _role(last: Column, form: Sequence[ChordSpan], key: Key) -> str:
    top = last.sounds[-1]
    bend = top.bend.size // 2 if top.bend and "release" not in top.bend.kind else 0
    degree = (top.pitch + bend - key.pitch_class) % 12
    roman = next((s.roman for s in reversed(form) if s.onset <= last.tick), form[0].roman)
    home = {0, 3 if key.minor else 4, (chord_in_key(roman, key).root_pc - key.pitch_class) % 12}
    return "answer" if degree in home else "question"
