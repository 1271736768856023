"""The chords a file is played over: its chord symbols, else those given, else the form that suits it best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from lickwright.read.limits import Remarks
from lickwright.read.sounds import Score, Sound
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import LETTER_PITCH, LETTERS, Key, chord_in_key
from lickwright.theory.rhythm import TICKS_PER_BAR

_NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
_MAJOR = (0, 2, 4, 5, 7, 9, 11)
_SHARP_TONICS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR_TONICS = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")


def key_of(score: Score, asked: str | None) -> Key:
    """The key: the one asked for, else the signature's; a blank signature gives way to the first chord."""
    if asked is not None:
        return Key.parse(asked)
    fifths = score.fifths or 0
    tonic = (_MINOR_TONICS if score.minor else _SHARP_TONICS)[fifths + 7]
    key = Key.parse(tonic, score.minor)
    if not fifths and not score.minor and score.chords and score.fields.study is None:
        first = score.chords[0]
        home = Key.parse(first.root, first.quality.startswith("m"))
        if home != key:
            score.remarks.add(f"no key signature: read in {home.name}, the first chord's key")
            return home
    if score.fifths is None and not score.chords:
        score.remarks.add(f"no key in the file: read in {key.name}; --key says another")
    return key


def roman_of(root: str, quality: str, key: Key) -> str:
    """A written root as a Roman numeral of a key.

    >>> roman_of("Eb", "7", Key("A")), roman_of("D#", "", Key("A")), roman_of("D", "m7", Key("A", True))
    ('bV7', '#IV', 'IVm7')
    """
    letters = (LETTERS.index(root[0]) - LETTERS.index(key.tonic[0])) % 7
    pitch = LETTER_PITCH[root[0]] + root.count("#") - root[1:].count("b")
    alter = (pitch - key.pitch_class - _MAJOR[letters] + 6) % 12 - 6
    if abs(alter) > 1:
        semitones = (pitch - key.pitch_class) % 12
        letters = next(n for n in range(6, -1, -1) if 0 <= (_MAJOR[n] - semitones) <= 1)
        alter = semitones - _MAJOR[letters]
    return ("b" if alter < 0 else "#" if alter > 0 else "") + _NUMERALS[letters] + quality


def form_of(
    score: Score,
    sounds: Sequence[Sound],
    key: Key,
    given: Sequence[str] | None,
    forms: Mapping[str, Sequence[str]],
) -> tuple[ChordSpan, ...]:
    """The chords as spans, none longer than a bar.

    ``given`` are bars of Roman numerals (as in a rule file's forms), from the study's first bar on; ``forms``
    those to choose from when neither the file nor the caller says anything.
    """
    if score.chords:
        spans = _from_signs(score, key)
        own = score.fields.form
        return own if _same(own, spans, key) else spans
    if given is None:
        given = _best_form(score, sounds, key, forms, score.remarks)
    return _from_bars(given, score.bars)


def _from_signs(score: Score, key: Key) -> tuple[ChordSpan, ...]:
    total = score.bars * TICKS_PER_BAR
    romans = {max(0, c.tick): roman_of(c.root, c.quality, key) for c in score.chords if c.tick < total}
    romans.setdefault(0, romans[min(romans)])
    cuts = sorted({*romans, *range(0, total, TICKS_PER_BAR), total})
    spans, sounding = [], romans[0]
    for start, end in pairwise(cuts):
        sounding = romans.get(start, sounding)
        spans.append(ChordSpan(start, end - start, sounding))
    return tuple(spans)


def _same(own: Sequence[ChordSpan], spans: Sequence[ChordSpan], key: Key) -> bool:
    """Whether the chords that a file carries beside its notes are those of its chord symbols."""

    def changes(form: Sequence[ChordSpan]) -> list[tuple[int, str]]:
        found: list[tuple[int, str]] = []
        for span in form:
            symbol = chord_in_key(span.roman, key).symbol
            if not found or found[-1][1] != symbol:
                found.append((span.onset, symbol))
        return found

    try:
        return bool(own) and changes(own) == changes(spans)
    except ValueError:
        return False


def _from_bars(bars: Sequence[str], count: int) -> tuple[ChordSpan, ...]:
    """Bars of Roman numerals as spans; a form that is too short begins again."""
    spans = []
    for number in range(count):
        romans = bars[number % len(bars)].split()
        ticks = TICKS_PER_BAR // len(romans)
        spans += [ChordSpan(number * TICKS_PER_BAR + k * ticks, ticks, r) for k, r in enumerate(romans)]
    return tuple(spans)


def _best_form(
    score: Score, sounds: Sequence[Sound], key: Key, forms: Mapping[str, Sequence[str]], remarks: Remarks
) -> Sequence[str]:
    """The stretch of a form whose chords hold most of what sounds; the first one, from its start, among equals."""
    best: tuple[float, str, int, list[str]] | None = None
    for name, bars in forms.items():
        starts = range(len(bars)) if score.bars < len(bars) else range(1)
        for start in starts:
            stretch = [bars[(start + n) % len(bars)] for n in range(score.bars)]
            suits = _suits(_from_bars(stretch, score.bars), sounds, key)
            if best is None or suits > best[0] + 1e-9:
                best = suits, name, start, stretch
    if best is None:
        remarks.add("no chords in the file: read over I7 throughout")
        return ["Im7" if key.minor else "I7"]
    where = f" from its bar {best[2] + 1} on" if best[2] else ""
    remarks.add(f"no chords in the file: read over {best[1]!r}{where}, which suits its notes best")
    return best[3]


def _suits(form: Sequence[ChordSpan], sounds: Sequence[Sound], key: Key) -> float:
    """The share of all sounding time that belongs to the chords."""
    inside = total = 0
    for sound in sounds:
        if sound.muted:
            continue
        roman = next(s.roman for s in reversed(form) if s.onset <= sound.tick)
        pitch = sound.pitch + (sound.bend.size // 2 if sound.bend else 0)
        length = min(sound.end - sound.tick, TICKS_PER_BAR)
        total += length
        inside += length * (pitch % 12 in chord_in_key(roman, key).tones)
    return inside / total if total else 0.0
