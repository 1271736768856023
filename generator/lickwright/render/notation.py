"""From ticks to written values: which notes, rests, ties, tuplets and beams stand for a Study's events.

Everything that writes music down (the page, MusicXML) takes the values from here, so that they agree. It
knows nothing of pitch. Conventions: ``Written.tick`` counts from the study's start; values carry MusicXML's
names (``quarter``, ``16th``); every tuplet is three in the time of two.

12/8 is written as it is counted (an eighth is 4 ticks). In 4/4 a beat without thirds is written plainly; a
swung beat that only knows "long, short" is written as two eighths; what is left becomes a triplet, of the
beat's eighths or, where the beat's middle is kept, of the half beat's sixteenths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import groupby

from lickwright.study.model import Study
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

HALF_BEAT = TICKS_PER_BEAT // 2
HALF_BAR = TICKS_PER_BAR // 2

#: The written values, with their length in quarters.
VALUES: dict[str, Fraction] = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
}
_BEAMED = frozenset({"eighth", "16th", "32nd"})

#: One way to write a stretch: its units, value, dots, and, modulo a period, where a note or a rest may stand.
_Way = tuple[int, str, int, int, tuple[int, ...], tuple[int, ...]]

# 12/8, in ticks: ties show the beats, a rest never hides one.
_COMPOUND: tuple[_Way, ...] = (
    (48, "whole", 1, 48, (0,), (0,)),
    (24, "half", 1, 48, (0, 12, 24), (0, 24)),
    (12, "quarter", 1, 12, (0,), (0,)),
    (8, "quarter", 0, 12, (0, 4), (0,)),
    (6, "eighth", 1, 12, (0, 6), (0,)),
    (4, "eighth", 0, 4, (0,), (0,)),
    (3, "16th", 1, 3, (0,), (0,)),
    (2, "16th", 0, 2, (0,), (0,)),
    (1, "32nd", 0, 1, (0,), (0,)),
)
# 4/4, in sixteenths: the middle of the bar is shown, a syncopation inside a half is not cut.
_SIMPLE: tuple[_Way, ...] = (
    (16, "whole", 0, 16, (0,), (0,)),
    (12, "half", 1, 16, (0, 4), ()),
    (8, "half", 0, 16, (0, 4, 8), (0, 8)),
    (6, "quarter", 1, 8, (0, 2), ()),
    (4, "quarter", 0, 8, (0, 2, 4), (0, 4)),
    (3, "eighth", 1, 4, (0, 1), (0,)),
    (2, "eighth", 0, 4, (0, 1, 2), (0, 2)),
    (1, "16th", 0, 1, (0,), (0,)),
)
# A beat of 4/4 in three, in ticks.
_TRIPLET: tuple[_Way, ...] = (
    (8, "quarter", 0, 12, (0, 4), (0,)),
    (6, "eighth", 1, 12, (0, 6), ()),
    (4, "eighth", 0, 4, (0,), (0,)),
    (3, "16th", 1, 3, (0,), ()),
    (2, "16th", 0, 2, (0,), (0,)),
    (1, "32nd", 0, 1, (0,), (0,)),
)
# Half a beat of 4/4 in three, in ticks.
_HALF_TRIPLET: tuple[_Way, ...] = (
    (4, "eighth", 0, 6, (0, 2), (0,)),
    (3, "16th", 1, 6, (0, 3), ()),
    (2, "16th", 0, 2, (0,), (0,)),
    (1, "32nd", 0, 1, (0,), (0,)),
)


@dataclass(frozen=True)
class Written:
    """One written note (or chord) or rest.

    ``event`` is the index in ``study.events``, None for a rest; ``tied`` and ``ties`` say that it is tied to
    the piece of the same event before and after it; ``tuplet`` and ``beam`` number the groups within the bar;
    ``bar_rest`` is a rest for the whole bar, whatever the meter.
    """

    tick: int
    ticks: int
    value: str
    dots: int = 0
    event: int | None = None
    tied: bool = False
    ties: bool = False
    tuplet: int | None = None
    beam: int | None = None
    bar_rest: bool = False

    @property
    def quarters(self) -> Fraction:
        """The written length in quarters, dots and tuplet counted in."""
        plain = VALUES[self.value] * (2 - Fraction(1, 2**self.dots))
        return plain if self.tuplet is None else plain * Fraction(2, 3)


@dataclass(frozen=True)
class _Zone:
    """A stretch of a bar written in one way: ``ways`` None means plain, with the rest of the plain beats."""

    start: int
    end: int
    ways: tuple[_Way, ...] | None


def written_bars(study: Study) -> tuple[tuple[Written, ...], ...]:
    """The written values of every bar, in order; those of one bar fill it exactly.

    >>> from tests.studies import tour
    >>> [(w.value, w.dots, w.event) for w in written_bars(tour())[1]][:2]
    [('quarter', 1, 6), ('eighth', 0, 7)]
    """
    stretches = _stretches(study)
    bars = []
    for number in range(study.bars):
        start = number * TICKS_PER_BAR
        inside = [
            (max(a, start) - start, min(b, start + TICKS_PER_BAR) - start, e)
            for a, b, e in stretches
            if a < start + TICKS_PER_BAR and b > start
        ]
        written = _write_bar(inside, study.meter, study.swung)
        bars.append(tuple(replace(w, tick=w.tick + start) for w in written))
    return _tie(study, bars)


def _stretches(study: Study) -> list[tuple[int, int, int | None]]:
    """(start, end, event or None for silence) from the study's start to its end, without gaps."""
    found: list[tuple[int, int, int | None]] = []
    at = 0
    for index, event in enumerate(study.events):
        if event.onset > at:
            found.append((at, event.onset, None))
        found.append((event.onset, event.end, index))
        at = event.end
    if at < study.ticks:
        found.append((at, study.ticks, None))
    return found


def _write_bar(stretches: list[tuple[int, int, int | None]], meter: str, swung: bool) -> list[Written]:
    if len(stretches) == 1 and stretches[0][2] is None:
        return [Written(0, TICKS_PER_BAR, "whole", bar_rest=True)]
    pieces: list[Written] = []
    if meter == "12/8":
        for start, end, event in stretches:
            pieces += _fill(start, end, event, _COMPOUND)
        return _beam(pieces, meter)
    marks = {t for start, end, _ in stretches for t in (start, end)}
    zones = [z for beat in range(0, TICKS_PER_BAR, TICKS_PER_BEAT) for z in _zones(beat, marks, swung)]
    for start, end, event in stretches:
        pieces += _write_simple(start, end, event, zones, swung)
    return _beam(pieces, meter)


def _zones(beat: int, marks: set[int], swung: bool) -> list[_Zone]:
    """How a beat of 4/4 is written, given where in the bar something starts or ends."""
    inside = {m - beat for m in marks if beat < m < beat + TICKS_PER_BEAT}
    end = beat + TICKS_PER_BEAT
    if swung:
        return [_Zone(beat, end, None if inside <= {8} else _TRIPLET)]
    if all(m % 3 == 0 for m in inside):
        return [_Zone(beat, end, None)]
    if HALF_BEAT not in inside:
        return [_Zone(beat, end, _TRIPLET)]
    halves = []
    for start in (0, HALF_BEAT):
        own = {m for m in inside if start < m < start + HALF_BEAT}
        plain = all(m % 3 == 0 for m in own)
        halves.append(_Zone(beat + start, beat + start + HALF_BEAT, None if plain else _HALF_TRIPLET))
    return halves


def _write_simple(start: int, end: int, event: int | None, zones: list[_Zone], swung: bool) -> list[Written]:
    """The pieces of one stretch of 4/4: plain zones run together, each triplet is by itself."""
    pieces: list[Written] = []
    plain: list[int] = []

    def flush() -> None:
        if plain:
            first, last = (_sixteenths(t, swung) for t in plain)
            for w in _fill(first, last, event, _SIMPLE):
                a, b = _ticks(w.tick, swung), _ticks(w.tick + w.ticks, swung)
                pieces.append(replace(w, tick=a, ticks=b - a))
            plain.clear()

    for zone in zones:
        a, b = max(start, zone.start), min(end, zone.end)
        if a >= b:
            continue
        if zone.ways is None:
            plain[:] = [plain[0] if plain else a, b]
            continue
        flush()
        for w in _fill(a - zone.start, b - zone.start, event, zone.ways):
            pieces.append(replace(w, tick=w.tick + zone.start, tuplet=zone.start))
    flush()
    return pieces


def _sixteenths(tick: int, swung: bool) -> int:
    """A tick of a plain beat in written sixteenths: a swung beat's 8 is its half."""
    if not swung:
        return tick // 3
    beat, rest = divmod(tick, TICKS_PER_BEAT)
    return 4 * beat + (2 if rest else 0)


def _ticks(sixteenth: int, swung: bool) -> int:
    if not swung:
        return sixteenth * 3
    beat, rest = divmod(sixteenth, 4)
    return TICKS_PER_BEAT * beat + (8 if rest else 0)


def _fill(start: int, end: int, event: int | None, ways: tuple[_Way, ...]) -> list[Written]:
    """The fewest values that fill a stretch, cut where the count is strongest."""
    pieces = []
    at = start
    for units, value, dots in _cut(start, end, event is None, ways)[2]:
        pieces.append(Written(at, units, value, dots, event))
        at += units
    return pieces


@lru_cache(maxsize=4096)
def _cut(
    start: int, end: int, rest: bool, ways: tuple[_Way, ...]
) -> tuple[int, int, tuple[tuple[int, str, int], ...]]:
    """(pieces, weakness of the cuts, the pieces) of the best way to write a stretch."""
    best: tuple[int, int, tuple[tuple[int, str, int], ...]] | None = None
    for units, value, dots, period, notes, rests in ways:
        if start + units > end or start % period not in (rests if rest else notes):
            continue
        if start + units == end:
            return (1, 0, ((units, value, dots),))
        count, weakness, tail = _cut(start + units, end, rest, ways)
        cut = start + units
        weak = sum(cut % strong != 0 for strong in (2, 4, 8, 12, 24))
        found = (count + 1, weakness + weak, ((units, value, dots), *tail))
        if best is None or found[:2] < best[:2]:
            best = found
    if best is None:
        raise ValueError(f"nothing is written from {start} to {end}")
    return best


def _beam(pieces: list[Written], meter: str) -> list[Written]:
    """Numbers the beams: those of one beat hang together; four plain eighths of 4/4 by the half bar."""
    spans = {half: _beam_span(pieces, half, meter) for half in (0, HALF_BAR)}

    def place(piece: Written) -> tuple[bool, int, int]:
        half = piece.tick // HALF_BAR * HALF_BAR
        beamed = piece.event is not None and piece.value in _BEAMED
        return beamed, half, piece.tick // spans[half]

    numbered: list[Written] = []
    for (beamed, *_), run in groupby(pieces, key=place):
        members, first = list(run), len(numbered)
        if beamed and len(members) > 1:
            members = [replace(piece, beam=first) for piece in members]
        numbered += members
    return numbered


def _beam_span(pieces: list[Written], half: int, meter: str) -> int:
    """How many ticks a beam may span in a half of the bar: all of it where 4/4 has nothing but plain eighths there."""
    inside = [piece for piece in pieces if half <= piece.tick < half + HALF_BAR]
    plain = all((piece.value, piece.dots, piece.tuplet) == ("eighth", 0, None) for piece in inside)
    return HALF_BAR if meter == "4/4" and plain else TICKS_PER_BEAT


def _tie(
    study: Study, bars: list[list[Written]] | list[tuple[Written, ...]]
) -> tuple[tuple[Written, ...], ...]:
    """Marks the pieces of one event as tied to each other."""
    out = []
    for bar in bars:
        tied = []
        for w in bar:
            if w.event is None:
                tied.append(w)
                continue
            event = study.events[w.event]
            tied.append(replace(w, tied=w.tick > event.onset, ties=w.tick + w.ticks < event.end))
        out.append(tuple(tied))
    return tuple(out)
