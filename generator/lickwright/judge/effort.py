"""What a finished study asks of the hands: a row for each slot and the whole, and the hardest moment in words.

The measures and the formula of the difficulty are those of ``rulebook.effort``. A moment is one thing that the
hands do, with what it asks and the limit it must keep; the hardest is the one that comes nearest to its limit,
or goes furthest beyond it. The hard ones are kept in the study, so that words about it need no rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from math import isfinite

from lickwright.guitar.hand import (
    bend_force_limits_n,
    helpers,
    needed_mm,
    reach_mm,
    shift_mm,
    shift_seconds,
    shift_speed_mm_s,
)
from lickwright.guitar.strings import bend_tables
from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.effort import (
    Effort,
    difficulty,
    effort,
    measurable,
    same_lick,
    seconds_to_move,
    way,
)
from lickwright.rulebook.lead import Lead
from lickwright.study.model import Asks, Event, Moment, Note, Slot, SlotKind, Study
from lickwright.theory.rhythm import bar_of, seconds

_SIZE_NAMES = {quarters: f"{name} step" for name, quarters in BEND_SIZES.items()}


#: What asks for less than this share of a limit is not called hard.
HARD = 0.5
#: Decimals that a hard moment's figures are kept with.
DECIMALS = 4


@dataclass(frozen=True)
class Row:
    """A slot's measures, or the whole study's: name, first and last bar (from 1), difficulty, hardest moment."""

    name: str
    bars: tuple[int, int]
    effort: Effort
    difficulty: float
    hardest: Moment | None


@dataclass(frozen=True)
class Report:
    """The rows in order of time, and the whole study's."""

    rows: tuple[Row, ...]
    whole: Row


#: What ``cells`` gives for each column.
EFFORT_COLUMNS = (
    "slot", "bars", "of 10", "notes\n/ s", "strums\n/ s", "bends\nN mm", "reach\nmm", "shift\nmm/s",
    "cross-\nings", "grip\ncost", "of a\nlimit",
)  # fmt: skip


def cells(row: Row) -> tuple[str, ...]:
    """A row as text, a cell for each of ``EFFORT_COLUMNS``; a dash where nothing was asked."""
    e = row.effort
    values = (
        (e.notes_per_s, ".1f"), (e.strokes_per_s, ".1f"), (e.bend_work_nmm, ".0f"), (e.reach_mm, ".1f"),
        (e.shift_mm_s, ".0f"), (e.crossings, ".2f"), (e.grip_points, ".1f"),
    )  # fmt: skip
    first, last = row.bars
    return (
        row.name,
        f"{first}" if first == last else f"{first}-{last}",
        f"{row.difficulty:.1f}",
        *(format(value, form) if value else "-" for value, form in values),
        "-" if row.hardest is None else f"{row.hardest.share:.0%}",
    )


def report(study: Study, lead: Lead) -> Report:
    """Measures a study whose notes lie on its neck (``rulebook.effort.measurable``)."""
    found = tuple(moments(study, lead))
    slot_at = {event.onset: event.slot for event in study.events}
    rows = []
    for slot in study.slots:
        measured = effort(study, lead, slot.number)
        mine = [m for m in found if slot_at[m.tick] == slot.number]
        bars = (bar_of(slot.start) + 1, bar_of(max(slot.start, slot.end - 1)) + 1)
        rows.append(Row(_name(slot), bars, measured, difficulty(measured, lead), _hardest(mine)))
    whole = effort(study, lead)
    return Report(
        tuple(rows), Row("the study", (1, study.bars), whole, difficulty(whole, lead), _hardest(found))
    )


def _name(slot: Slot) -> str:
    return f"lick {slot.name}" if slot.kind is SlotKind.LICK else "comping"


def _hardest(found: tuple[Moment, ...] | list[Moment]) -> Moment | None:
    return max(found, key=lambda m: m.share, default=None)


def moments(study: Study, lead: Lead) -> Iterator[Moment]:
    """Everything the hands do that has a limit: bends, spreads, shifts, quick notes; in order of time."""
    before: Event | None = None
    for event in study.events:
        for note in event.notes:
            if note.bend and not note.tied:
                yield from _bend(lead, event, note)
        yield from _spreads(study, lead, before, event)
        if before is not None:
            yield from _shift(study, lead, before, event)
            yield from _quick(study, lead, before, event)
        before = event


def with_hard_moments(study: Study, lead: Lead) -> Study:
    """The study with its moments of at least ``HARD`` of a limit, as the player of ``lead`` has them.

    None are kept, and ``hard_moments`` is None, where nothing can be measured: a note off the neck, more strings than
    the set has gauges.
    """
    if not measurable(study) or study.neck.strings > len(lead.strings.gauges):
        return replace(study, hard_moments=None)
    hard = (
        replace(m, asked=round(m.asked, DECIMALS), limit=round(m.limit, DECIMALS))
        for m in moments(study, lead)
        if m.share >= HARD
    )
    return replace(study, hard_moments=tuple(hard))


def _bend(lead: Lead, event: Event, note: Note) -> Iterator[Moment]:
    assert note.bend is not None
    size = note.bend.size
    at = (note.string, note.fret, size)
    tables = bend_tables(lead.neck, lead.strings)
    name = _SIZE_NAMES.get(size, f"bend of {size} quarter tones")
    what = f"{name} on string {note.string} fret {note.fret} with finger {note.finger}"
    force = float(bend_force_limits_n(lead.hand)[note.finger, helpers(note.finger)])
    there = (event.onset, Asks.BEND, (note.fret, note.fret), what)
    yield Moment(*there, float(tables.force_n[at]), force, "N")
    yield Moment(*there, float(tables.distance_mm[at]), lead.hand.bend_distance_limit_mm, "mm")


def _spreads(study: Study, lead: Lead, before: Event | None, event: Event) -> Iterator[Moment]:
    pairs = [(Asks.SPREAD, *pair) for pair in combinations(event.notes, 2)]
    if before is not None and same_lick(study, before, event) and before.hand == event.hand:
        pairs.append((Asks.REACH, before.melody, event.melody))
    for asks, a, b in pairs:
        low, high = sorted((a, b), key=lambda n: n.finger)
        if not low.finger or low.finger == high.finger or low.fret == high.fret:
            continue
        across = (high.string - low.string) * lead.neck.spacing_mm(low.fret)
        yield Moment(
            event.onset,
            asks,
            (low.fret, high.fret) if asks is Asks.SPREAD else (a.fret, b.fret),
            f"fingers {low.finger} and {high.finger} on frets {low.fret} and {high.fret}",
            float(needed_mm(lead.hand, lead.neck, low.fret, high.fret)),
            reach_mm(lead.hand, low.finger, high.finger, across),
            "mm apart",
        )


def _shift(study: Study, lead: Lead, a: Event, b: Event) -> Iterator[Moment]:
    start, end = way(study, a, b)
    if float(shift_mm(lead.neck, start, end)) > 0:
        free_s = max(seconds_to_move(study, a, b), 0.01)
        speed = float(shift_speed_mm_s(lead.hand, lead.neck, start, end, free_s))
        whole = (start, end) == (a.hand, b.hand)
        mover = "the hand" if whole else f"finger {b.melody.finger}"
        there = (b.onset, Asks.SHIFT if whole else Asks.HOP, (start, end))
        what = f"{mover} goes from fret {start} to {end}"
        if isfinite(speed):
            yield Moment(*there, what, speed, lead.hand.shift_speed_mm_s, "mm/s")
        else:
            yield Moment(*there, what, float(shift_seconds(lead.hand, lead.neck, start, end)), free_s, "s")


def _quick(study: Study, lead: Lead, a: Event, b: Event) -> Iterator[Moment]:
    if same_lick(study, a, b):
        technique, frets = b.melody.technique, (a.melody.fret, b.melody.fret)
        rate = 1 / seconds(b.onset - a.onset, study.tempo_bpm)
        what = f"one note after another, by {technique.value}"
        yield Moment(
            b.onset, Asks.QUICK, frets, what, rate, lead.hand.rate(technique.value), "notes a second"
        )
