"""From written time to ticks: bars put end to end, repeats played, swing applied.

A study's bar has four beats: 4/4, or 12/8 in dotted quarters. Bars of 2/4 and 2/2 are read as halves of or whole
4/4 bars, 6/8 as half bars of 12/8; other meters are refused. A bar that begins short is a pickup and is filled with
silence before it.
"""

from __future__ import annotations

from fractions import Fraction

from lickwright.read.limits import Remarks, UnreadableError
from lickwright.read.musicxml_parts import Measure, Part, played_order
from lickwright.theory.rhythm import TICKS_PER_BEAT, beat_text

_METERS = {(12, 8): "12/8", (6, 8): "12/8", (4, 4): "4/4", (2, 4): "4/4", (2, 2): "4/4"}


class Clock:
    """The time of one part. ``order`` are its measures as played, ``starts`` their quarters from the beginning."""

    def __init__(self, part: Part, remarks: Remarks):
        self.remarks = remarks
        self.meter = _meter(part.measures)
        self.beat = Fraction(3, 2) if self.meter == "12/8" else Fraction(1)
        self.order = played_order(part.measures)
        if len(self.order) > len(part.measures):
            remarks.add(f"repeats are written out: {len(self.order)} bars are played")
        self.starts, quarters = self._laid_out(part.measures)
        bar = 4 * self.beat
        self.bars = max(1, -(-quarters // bar))
        self.swung = self._swing(part)
        self._tuplets = self._tuplet_beats(part) if self.swung else frozenset()

    def _laid_out(self, measures: list[Measure]) -> tuple[list[Fraction], Fraction]:
        at, starts = Fraction(0), []
        bar = 4 * self.beat
        for visit, number in enumerate(self.order):
            measure = measures[number]
            length, nominal = measure.length, measure.nominal
            if length > nominal:
                raise UnreadableError(
                    f"{measure.where}: {_quarters(length)} quarters in a bar of {_quarters(nominal)}"
                )
            if visit == 0 and 0 < length < nominal and len(self.order) > 1:
                at = bar - length
                self.remarks.add("the pickup is bar 1 of the study, with silence before it")
            starts.append(at)
            following = measures[self.order[visit + 1]] if visit + 1 < len(self.order) else None
            if 0 < length < nominal and visit and following is not None:
                before = measures[self.order[visit - 1]]
                halves = nominal in (length + following.length, length + before.length)
                if not halves:
                    self.remarks.add(
                        f"{measure.where}: holds {_quarters(length)} of {_quarters(nominal)} quarters; "
                        "the rest is read as silence"
                    )
                    length = nominal
            elif length == 0 or following is None or (not visit and length < nominal and at == 0):
                length = nominal
            at += length
        return starts, at

    def _swing(self, part: Part) -> bool:
        if self.meter != "4/4" or part.swung is False:
            return False
        if part.swung is None and part.swing_words:
            self.remarks.add(f"plain eighths are read as swung, for it says {part.swing_words[:40]!r}")
        return bool(part.swung or part.swing_words)

    def _tuplet_beats(self, part: Part) -> frozenset[int]:
        """The beats in which a tuplet is written: there the values count as they stand."""
        found = set()
        for visit, number in enumerate(self.order):
            for head in part.measures[number].heads:
                if head.tuplet:
                    begin = self.starts[visit] + head.at
                    found |= set(range(int(begin // 1), int(-(-(begin + head.length) // 1))))
        return frozenset(found)

    def tick(self, quarters: Fraction) -> int:
        """The tick of a written time; one that lies between ticks is moved to the nearest, with a remark."""
        exact = quarters / self.beat * TICKS_PER_BEAT
        beat, inside = divmod(exact, TICKS_PER_BEAT)
        if self.swung and int(beat) not in self._tuplets:
            inside = inside * 4 / 3 if inside <= 6 else 8 + (inside - 6) * 2 / 3
        exact = beat * TICKS_PER_BEAT + inside
        tick = round(exact)
        if tick != exact:
            self.remarks.add(f"{beat_text(tick)}: moved to the nearest twelfth of a beat")
        return int(tick)


def _meter(measures: list[Measure]) -> str:
    if not measures:
        raise UnreadableError("not read: the part has no bars")
    first = measures[0]
    for measure in measures:
        meter = _METERS.get(measure.time)
        shown = "/".join(map(str, measure.time))
        if meter is None:
            raise UnreadableError(
                f"{measure.where}: {shown} time; studies are in 4/4 or 12/8 (2/4, 2/2, 6/8 are read too)"
            )
        if meter != _METERS[first.time]:
            raise UnreadableError(f"{measure.where}: the time changes to {shown}; a study keeps one meter")
    return _METERS[first.time]


def _quarters(value: Fraction) -> str:
    return f"{float(value):.4g}"
