"""Walks a finished study with the rules of its rule files and says where it breaks them.

The rule objects are those that prune the solver's search; here they are put to the touches and moves of one lick at
a time, as read from the study's events.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from lickwright.guitar.neck import Neck
from lickwright.guitar.strings import LARGEST_BEND
from lickwright.rulebook.effort import difficulty, effort, measurable
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.lick_line import line_of_touches
from lickwright.rulebook.places import places
from lickwright.rulebook.read import lead_of
from lickwright.rulebook.rule import At, LickRule, Line, Named, Source
from lickwright.rulebook.touches import IntArray, Touch, TouchTable, touch_of, way_of
from lickwright.rulebook.whole import grip_rules, study_rules
from lickwright.rulebook.written import saying, says, written_lead
from lickwright.study.model import Event, Note, Slot, SlotKind, Study
from lickwright.study.sheet import exercises
from lickwright.theory.rhythm import TICKS_PER_BAR, Onset, beat_text, seconds


@dataclass(frozen=True)
class Violation:
    """A broken rule: its name, sentence and source; where (tick, string, fret) and by how much, if known."""

    rule: str
    sentence: str
    source: str
    tick: int | None = None
    string: int | None = None
    fret: int | None = None
    amount: str = ""

    def __str__(self) -> str:
        where = beat_text(self.tick) if self.tick is not None else "the study"
        if self.string is not None:
            where += f", string {self.string} fret {self.fret}"
        amount = f" ({self.amount})" if self.amount else ""
        return f"{where}: {self.rule}: {self.sentence}{amount} [{self.source}]"


PLACES = Named(
    "study.places",
    "every event has notes and a slot, and every string, fret, finger and hand place is there",
    Source("the study file", "events"),
)


def check(study: Study, lead: Lead, *, whole: bool = True) -> tuple[Violation, ...]:
    """Everything in a study that its rules forbid, in order of time.

    Licks alone are no ``whole`` study: what the rules ask of one (its bends in all, say) is not asked of them.

    A study with places that are not there (off the neck, in no slot) is told those and nothing else: nothing
    about it can be measured. A practice sheet is judged exercise by exercise.
    """
    if study.drills:
        return tuple(_sheet(study, lead))
    found = [*_misplaced(study, lead)]
    if not found:
        found += _study(study, lead, whole)
        for slot in study.slots:
            found += _lick(study, lead, slot) if slot.kind is SlotKind.LICK else _comping(study, lead, slot)
    return tuple(sorted(found, key=lambda v: (-1 if v.tick is None else v.tick, v.rule)))


def check_exercise(study: Study, lead: Lead) -> tuple[Violation, ...]:
    """What an exercise breaks: it may be easier than a whole study of its level, but no harder."""
    easy = measurable(study) and difficulty(effort(study, lead), lead) <= lead.rules.level.difficulty[1]
    return tuple(v for v in check(study, lead) if not (easy and v.rule == "level.difficulty"))


def _sheet(study: Study, lead: Lead) -> Iterator[Violation]:
    for drill, exercise in zip(study.drills, exercises(study), strict=True):
        start = study.phrases[drill.phrase].first_bar * TICKS_PER_BAR
        for v in check_exercise(exercise, lead):
            yield v if v.tick is None else replace(v, tick=v.tick + start)


def _misplaced(study: Study, lead: Lead) -> Iterator[Violation]:
    top = lead.neck.top_fret
    for event in study.events:
        if not event.notes:
            yield _broken(PLACES, tick=event.onset, amount="no notes")
        elif not 0 <= event.slot < len(study.slots):
            yield _broken(PLACES, tick=event.onset, amount="in no slot")
        elif not 0 <= event.hand <= top:
            yield _broken(PLACES, event, f"hand at fret {event.hand}, the neck has {top}")
        for note in event.notes:
            what = _not_there(note, lead.neck)
            if what:
                yield replace(
                    _broken(PLACES, tick=event.onset, amount=what), string=note.string, fret=note.fret
                )


def _not_there(note: Note, neck: Neck) -> str:
    """The first thing about a note's place that is not there; empty when all of it is."""
    if not 1 <= note.string <= neck.strings:
        return f"the neck has {neck.strings} strings"
    if not 0 <= note.fret <= neck.top_fret:
        return f"the neck has {neck.top_fret} frets"
    if not 0 <= note.finger <= 4:
        return f"finger {note.finger}"
    if note.bend and not 0 < note.bend.size <= LARGEST_BEND:
        return f"a bend of {note.bend.size} quarter tones"
    return ""


def _broken(rule: Named, event: Event | None = None, amount: str = "", tick: int | None = None) -> Violation:
    if event is None:
        return Violation(rule.name, rule.sentence, str(rule.source), tick, amount=amount)
    note = event.melody
    return Violation(rule.name, rule.sentence, str(rule.source), event.onset, note.string, note.fret, amount)


def _study(study: Study, lead: Lead, whole: bool) -> Iterator[Violation]:
    for rule in (r for r in study_rules(lead) if whole or not r.whole):
        for fault in rule.faults(study):
            yield Violation(
                rule.name, rule.sentence, str(rule.source), fault.tick, fault.string, fault.fret, fault.amount
            )


def _comping(study: Study, lead: Lead, slot: Slot) -> Iterator[Violation]:
    rules = grip_rules(lead)
    for event in study.events_of(slot.number):
        notes = tuple((n.string, n.fret, n.finger) for n in event.notes)
        for rule in rules:
            fault = rule.fault(notes, event.chord, event.grip)
            if fault:
                yield _broken(rule, event, fault)


def _lick(study: Study, lead: Lead, slot: Slot) -> Iterator[Violation]:
    events = study.events_of(slot.number)
    if not events:
        return
    onsets = [Onset(e.onset, e.duration) for e in events]
    seen = places(onsets, study.form, study.home, study.grid, study.tempo_bpm, slot.role, slot.figure_notes)
    touches = tuple(touch_of(e) for e in events)
    if _as_written(study, lead, slot, touches):
        lead = written_lead(lead)
    whole = TouchTable.of(touches)
    ways = _Ways(
        whole.take(np.arange(len(events) - 1)),
        whole.take(np.arange(1, len(events))),
        np.array([way_of(e) for e in events[1:]], np.int64),
    )
    yield from _touches(lead, events, whole, seen)
    yield from _moves(lead, events, ways, study.tempo_bpm)
    for rule in lead.slot_rules(seen):
        tick = _stops(rule, events, whole, ways)
        if tick is not None:
            yield _broken(rule, tick=tick)
    leads = slot.quotes is None and any(s.quotes == slot.number for s in study.slots)
    line = _line(events, touches, slot.figure_notes, leads)
    for shape in lead.shape_rules:
        if not shape.allows(line):
            yield _broken(shape, tick=slot.start, amount=shape.amount(line) if shape.amount else "")


def _as_written(study: Study, lead: Lead, slot: Slot, touches: Sequence[Touch]) -> bool:
    """True for a lick that says, note for note, the written one that its slot names."""
    name, form = (*slot.cells, "", "")[:2]
    if name not in lead.rules.lick and name not in lead.rules.pair:
        return False
    words = saying(lead.rules, name, form, study.tempo_bpm)
    events = study.events_of(slot.number)
    ways = [way_of(e) for e in events[1:]]
    return words is not None and says(words, study.home.pitch_class, [e.onset for e in events], touches, ways)


class _Ways(NamedTuple):
    """A lick's ways from touch to touch."""

    before: TouchTable
    after: TouchTable
    how: IntArray


def _touches(
    lead: Lead, events: Sequence[Event], whole: TouchTable, seen: Sequence[At]
) -> Iterator[Violation]:
    allowed = [(rule, rule.allows(whole)) for rule in lead.touch_rules]
    for k, (event, at) in enumerate(zip(events, seen, strict=True)):
        row = whole.take(np.array([k]))
        for rule, fine in allowed:
            if not fine[k]:
                yield _broken(rule, event, rule.amount(row) if rule.amount else "")
        for onset_rule in lead.onset_rules:
            if not onset_rule.allows(row, at)[0]:
                degree = at.chord.degree(int(row.enter[0]))
                yield _broken(onset_rule, event, f"{degree} of {at.chord.symbol}")


def _moves(lead: Lead, events: Sequence[Event], ways: _Ways, bpm: int) -> Iterator[Violation]:
    allowed = [(rule, rule.allows(*ways)) for rule in lead.move_rules]
    needed = [(rule, rule.needs(*ways)) for rule in lead.time_rules]
    joined = np.array([a.end == b.onset for a, b in pairwise(events)], bool)
    follows = lead.join_rule.allows(ways.how, joined)
    for k, (a, b) in enumerate(pairwise(events)):
        for rule, fine in allowed:
            if not fine[k]:
                yield _broken(rule, b)
        if not follows[k]:
            yield _broken(lead.join_rule, b)
        there_are = seconds(b.onset - a.onset, bpm)
        for time_rule, needs in needed:
            if needs[k] > there_are + 1e-9:
                yield _broken(time_rule, b, f"takes {needs[k]:.2f} s, there are {there_are:.2f} s")


def _stops(rule: LickRule, events: Sequence[Event], whole: TouchTable, ways: _Ways) -> int | None:
    """The tick at which the rule's automaton stops reading the lick; None when it accepts it."""
    state = int(rule.automaton.delta[0, rule.first(whole)[0]])
    labels = rule.move(*ways)
    for k in range(len(events) - 1):
        if state < 0:
            return events[k].onset
        state = int(rule.automaton.delta[state, labels[k]])
    if state < 0 or not rule.automaton.accept[state]:
        return events[-1].onset
    return None


def _line(events: tuple[Event, ...], touches: tuple[Touch, ...], figure: int, leads: bool) -> Line:
    ticks, durations = [e.onset for e in events], [e.duration for e in events]
    return line_of_touches(touches, ticks, durations, figure, leads)


def checked(study: Study, style: str | None = None, *, whole: bool = True) -> tuple[Violation, ...]:
    """What breaks the rules in a study: those it was written by, or another style's.

    Of licks alone, not ``whole``, nothing is asked that is asked of a study as a whole.
    Raises RuleFileError when the rule files cannot be used.
    """
    return check(study, lead_of(study, style), whole=whole)
