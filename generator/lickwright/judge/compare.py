"""Studies, or single licks of studies, held side by side: what each asks of the hands, what its music is like,
how far they are apart, and where they differ. It says nothing of which is better.

An entry is a whole study or one lick; all entries of a comparison are of one kind. Measures are taken where the
music stands, in its study; what is shown of a lick is an ``excerpt``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

from lickwright.judge.effort import Row, report
from lickwright.judge.measure import SHARE, Measure, Value, measured, measured_lick
from lickwright.judge.measure_lead import gestures
from lickwright.judge.passage import Passage, single, whole
from lickwright.rulebook.effort import measurable
from lickwright.rulebook.lead import Lead
from lickwright.study.distance import Distance, Line, chorus_distance, lick_slots, line_of, lines_of
from lickwright.study.excerpt import excerpt, lick_bars
from lickwright.study.model import Event, Moment, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

#: What sounds at an onset in the key's own terms: see ``_letter``.
Letter: TypeAlias = tuple[object, ...]


@dataclass(frozen=True)
class Asked:
    """What is put into a comparison: a name to show, a study, one of its lick slots or None for all, its rules.

    Without rules (None) effort is not measured and nothing is marked as unusual.
    """

    name: str
    study: Study
    slot: int | None = None
    lead: Lead | None = None


@dataclass(frozen=True)
class Scale:
    """One row's meaning: name, label, unit and sentence, for music measures and for effort alike."""

    name: str
    label: str
    unit: str
    sentence: str
    show: Callable[[Value], str]


@dataclass(frozen=True)
class Entry:
    """One study or lick: its number from 1, what was asked, the study that shows it, its values by scale.

    ``unusual`` names the scales on which it lies outside its style's bands; ``techniques`` counts licks by technique;
    ``positions`` are the frets under the index finger in its licks.
    """

    number: int
    asked: Asked
    shown: Study
    lines: tuple[Line, ...]
    values: dict[str, Value]
    unusual: frozenset[str]
    techniques: Counter[str]
    positions: tuple[int, ...]
    hardest: Moment | None
    passage: Passage


@dataclass(frozen=True)
class Comparison:
    """Entries in the order asked, the scales they are measured by, and how far each is from each."""

    entries: tuple[Entry, ...]
    scales: tuple[Scale, ...]
    distances: tuple[tuple[Distance, ...], ...]

    @cached_property
    def of_licks(self) -> bool:
        """True when single licks are compared."""
        return self.entries[0].asked.slot is not None

    @property
    def telling(self) -> tuple[Scale, ...]:
        """The scales on which not all entries show the same."""
        return tuple(
            scale
            for scale in self.scales
            if len({scale.show(entry.values.get(scale.name)) for entry in self.entries}) > 1
        )

    @property
    def bars(self) -> int:
        """How many bars all entries have."""
        return min(entry.shown.bars for entry in self.entries)

    def differing(self, number: int) -> frozenset[int]:
        """The onsets (ticks) at which entry ``number`` sounds otherwise than the first, or alone."""
        mine, first = _letters(self.entries[number - 1].shown), _letters(self.entries[0].shown)
        return frozenset(tick for tick, letter in mine.items() if first.get(tick) != letter)

    def differing_bars(self) -> tuple[int, ...]:
        """The bars (from 0) in which an entry differs from the first by a note more, other or less."""
        first = _letters(self.entries[0].shown)
        ticks = {
            tick
            for entry in self.entries[1:]
            for mine in (_letters(entry.shown),)
            for tick in first.keys() | mine.keys()
            if first.get(tick) != mine.get(tick)
        }
        return tuple(sorted({tick // TICKS_PER_BAR for tick in ticks if tick // TICKS_PER_BAR < self.bars}))


#: The effort rows: label, unit, what they mean, and where the value stands in a report's row.
_EFFORT: tuple[tuple[str, str, str, str, Callable[[Row], Value]], ...] = (
    ("difficulty", "difficulty", "of 10", "What it asks of the hands in all, on a scale from 1 to 10.",
     lambda r: r.difficulty),
    ("limit", "nearest to a limit", SHARE, "How near its hardest moment comes to what the hand's rules allow.",
     lambda r: r.hardest.share if r.hardest else None),
    ("notes_per_s", "notes a second", "a second", "How fast the quickest four notes of the lead follow each other.",
     lambda r: r.effort.notes_per_s),
    ("strokes_per_s", "strokes a second", "a second", "How fast the comping's quickest strokes follow each other.",
     lambda r: r.effort.strokes_per_s),
    ("bend_work", "work of the bends", "N mm", "How much work its bends are, pushed against their strings.",
     lambda r: r.effort.bend_work_nmm),
    ("reach", "reach", "mm", "How far beyond the hand at rest its fingers reach, on average.",
     lambda r: r.effort.reach_mm),
    ("shift", "fastest shift", "mm/s", "How fast the hand goes in its quickest change of place.",
     lambda r: r.effort.shift_mm_s),
    ("crossings", "strings crossed", "strings", "How many strings lie between one note of the lead and the next.",
     lambda r: r.effort.crossings),
)  # fmt: skip


def _show(value: Value, unit: str) -> str:
    if not value:
        return "-"
    if unit == SHARE:
        return f"{value:.0%}"
    return f"{value:.0f}" if value >= 20 else f"{value:.1f}".removesuffix(".0")


def _scale_of(measure: Measure) -> Scale:
    return Scale(measure.name, measure.label, measure.unit, measure.sentence, measure.show)


def _effort_scale(name: str, label: str, unit: str, sentence: str) -> Scale:
    return Scale(name, label, unit, sentence, lambda value: _show(value, unit))


def compare(asked: Sequence[Asked]) -> Comparison:
    """Holds two or more studies, or two or more licks, side by side.

    Raises ValueError saying what would be right: fewer than two, studies mixed with licks, a slot without a lick.
    """
    if len(asked) < 2:
        raise ValueError("name two studies or more, or two licks of one study (a.json@2 a.json@5)")
    if len({a.slot is None for a in asked}) > 1:
        raise ValueError("compare whole studies with whole studies, or licks (a.json@3) with licks")
    entries = tuple(
        _entry(n, a, shown) for n, (a, shown) in enumerate(zip(asked, _shown(asked), strict=True), 1)
    )
    first = _measures(asked[0])
    scales = (
        *(_effort_scale(name, label, unit, text) for name, label, unit, text, _ in _EFFORT),
        *(_scale_of(measure) for measure, _, _ in first),
    )
    distances = tuple(tuple(chorus_distance(a.lines, b.lines) for b in entries) for a in entries)
    return Comparison(entries, scales, distances)


def focused(asked: Sequence[Asked]) -> tuple[Asked, ...]:
    """Whole studies that differ in one lick alone (candidates for a place, say), as that lick; others as they are."""
    slots = {tuple((s.kind, s.phrase) for s in a.study.slots) for a in asked}
    if len(asked) < 2 or any(a.slot is not None for a in asked) or len(slots) > 1:
        return tuple(asked)
    differ = [
        slot.number
        for slot in asked[0].study.slots
        if len({tuple(_letters(a.study, slot.number).items()) for a in asked}) > 1
    ]
    if len(differ) != 1 or any(differ[0] not in lick_numbers(a.study) for a in asked):
        return tuple(asked)
    return tuple(replace(a, slot=differ[0]) for a in asked)


def _shown(asked: Sequence[Asked]) -> list[Study]:
    bars = [
        last - first + 1 for a in asked if a.slot is not None for first, last in (lick_bars(a.study, a.slot),)
    ]
    return [a.study if a.slot is None else excerpt(a.study, a.slot, max(bars)) for a in asked]


def _measures(asked: Asked) -> list[tuple[Measure, Value, bool]]:
    """Each measure with its value, and whether that is unusual in the style."""
    if asked.slot is not None:
        return [(measure, value, False) for measure, value in measured_lick(asked.study, asked.slot)]
    music = asked.lead.rules.music if asked.lead else None
    return [(row.measure, row.value, row.outside) for row in measured(asked.study, music)]


def _entry(number: int, asked: Asked, shown: Study) -> Entry:
    study, slot = asked.study, asked.slot
    found = _measures(asked)
    values: dict[str, Value] = {measure.name: value for measure, value, _ in found}
    row = _effort_row(asked)
    if row is not None:
        values |= {name: value(row) for name, _, _, _, value in _EFFORT}
    everything = whole(study)
    licks = [lick for lick in everything.licks if slot in (None, lick.slot.number)]
    return Entry(
        number,
        asked,
        shown,
        lines_of(study) if slot is None else (line_of(study, slot),),
        values,
        frozenset(measure.name for measure, _, outside in found if outside),
        Counter(name for lick in licks for name in gestures(lick)),
        tuple(sorted({note.event.hand for lick in licks for note in lick.notes})),
        row.hardest if row else None,
        everything if slot is None else single(study, licks[0]),
    )


def _effort_row(asked: Asked) -> Row | None:
    if asked.lead is None or not measurable(asked.study):
        return None
    found = report(asked.study, asked.lead)
    return found.whole if asked.slot is None else found.rows[asked.slot]


def slot_name(asked: Asked) -> str:
    """``lick A, question`` for a lick, an empty string for a whole study."""
    if asked.slot is None:
        return ""
    slot = asked.study.slots[asked.slot]
    return ", ".join(part for part in (f"lick {slot.name}".strip(), slot.role) if part)


def lick_numbers(study: Study) -> tuple[int, ...]:
    """The numbers of the slots that hold a lick."""
    return tuple(slot.number for slot in lick_slots(study) if study.events_of(slot.number))


def _letters(study: Study, slot: int | None = None) -> dict[int, Letter]:
    return {e.onset: _letter(study, e) for e in study.events if slot in (None, e.slot)}


def _letter(study: Study, event: Event) -> Letter:
    """What sounds in an event and how, pitches above the key's root and frets from its place on the neck."""
    root = study.neck.root_fret(study.home.pitch_class)
    return (
        event.duration,
        tuple(
            sorted(
                (
                    note.string,
                    (note.sounding2 - 2 * study.home.pitch_class) % 24,
                    (note.fret - root) % 12,
                    note.technique.value,
                    note.bend.kind.value if note.bend else "",
                    bool(note.grace),
                    note.vibrato,
                    note.muted,
                )
                for note in event.notes
            )
        ),
    )
