"""The rules of comping and of the study as a whole, each with its name, sentence and source."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

from lickwright.guitar.fingering import grip_faults
from lickwright.guitar.strings import bend_tables, stops
from lickwright.rulebook.effort import difficulty, effort, measurable, seconds_to_move
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import Named
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.study.model import Event, Note, SlotKind, Study
from lickwright.theory.harmony import chord_in_key, semitones
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BEAT, seconds

#: (string, fret, finger)
Held = tuple[int, int, int]


@dataclass(frozen=True)
class Fault:
    """Where a study breaks a rule: tick, string and fret when it is a note's, and by how much."""

    tick: int | None = None
    amount: str = ""
    string: int | None = None
    fret: int | None = None


@dataclass(frozen=True)
class GripRule(Named):
    """Judges what the hand holds in comping: the fault in words, or an empty string.

    ``fault`` takes the notes, the chord's Roman numeral, and the grip's name when it is a named one.
    """

    fault: Callable[[Sequence[Held], str, str | None], str]


@dataclass(frozen=True)
class StudyRule(Named):
    """Judges a study from its first event to its last: yields its faults.

    ``whole`` rules are asked of a whole study, not of licks alone: what it has in all, its tempo, its plan.
    """

    faults: Callable[[Study], Iterator[Fault]]
    whole: bool = True


_Row: TypeAlias = tuple[str, str, Callable[[Study], Iterator[Fault]], tuple[str, ...]]


def grip_rules(lead: Lead) -> tuple[GripRule, ...]:
    """The rules of comping for one event."""
    highest, book = lead.rules.comping.highest_fret, lead.book
    limit = highest + 2

    def held(notes: Sequence[Held], roman: str, grip: str | None) -> str:
        return next(iter(grip_faults(lead.hand, lead.neck, notes)), "")

    def tones(notes: Sequence[Held], roman: str, grip: str | None) -> str:
        if grip is None:
            return ""
        recipe = lead.rules.grips.get(grip)
        if recipe is None:
            return f"no grip {grip!r} in the rule files"
        root = chord_in_key(roman, lead.key).root_pc
        wanted = sorted((root + semitones(d)) % 12 for d in recipe.degrees)
        found = sorted(lead.neck.pitch(s, f) % 12 for s, f, _ in notes)
        return "" if found == wanted else f"{grip} of {roman} has other notes"

    def low_enough(notes: Sequence[Held], roman: str, grip: str | None) -> str:
        top = max(f for _, f, _ in notes)
        return "" if top <= limit else f"fret {top}, limit {limit}"

    return (
        GripRule(
            "hand.grip",
            "one hand can hold every grip and mute what must not sound",
            book.source("hand", "span_frets"),
            held,
        ),
        GripRule("comping.tones", "a grip has just the degrees of its recipe", book.source("grips"), tones),
        GripRule(
            "comping.highest-fret",
            f"comping lies up to fret {highest}, voices that move up to fret {limit}",
            book.source("comping", "highest_fret"),
            low_enough,
        ),
    )


def study_rules(lead: Lead) -> tuple[StudyRule, ...]:
    """The rules that look at a study from its first event to its last."""
    rules, book = lead.rules, lead.book
    bends, tempo, level = rules.lead.bends, rules.study.tempo, rules.level
    counted: list[_Row] = [
        (
            "study.tempo",
            f"the tempo lies between {tempo.least} and {tempo.most}",
            lambda s: _outside(s.tempo_bpm, tempo.least, tempo.most),
            ("study", "tempo"),
        ),
        (
            "study.windows",
            f"the licks use at most {level.windows} hand positions",
            lambda s: _windows(s, level.windows),
            ("level", "windows"),
        ),
        (
            "lead.bends.study",
            f"a study has at most {bends.most_per_study} bends of a half step or more",
            lambda s: _bends(s, bends.most_per_study),
            ("lead", "bends", "most_per_study"),
        ),
        (
            "lead.bends.some",
            f"a study whose hand positions allow bends has {bends.least_per_study} or more",
            lambda s: _some_bends(s, lead),
            ("lead", "bends", "least_per_study"),
        ),
        (
            "lead.graces.study",
            f"the licks of a study have at most {rules.lead.techniques.graces_per_study} grace notes",
            lambda s: _graces(s, rules.lead.techniques.graces_per_study),
            ("lead", "techniques", "graces_per_study"),
        ),
        (
            "level.difficulty",
            "the study is as difficult as its level asks, "
            f"{level.difficulty[0]:g} to {level.difficulty[1]:g} on a scale from 1 to 10",
            lambda s: _difficulty(s, lead),
            ("level", "difficulty"),
        ),
        (
            "lead.quote",
            f"a figure taken up stays within {rules.lead.quote.band} semitones of its model",
            lambda s: _quotes(s, rules.lead.quote.band),
            ("lead", "quote", "band"),
        ),
        (
            "comping.same-pattern",
            f"no answer is used more than {rules.comping.same_pattern} times, "
            "and so often more for each further twelve bars",
            lambda s: _patterns(s, most_alike(rules, s.bars)),
            ("comping", "same_pattern"),
        ),
    ]
    return tuple(
        StudyRule(n, text, book.source(*path), faults, whole)
        for rows, whole in ((_of_any_stretch(lead), False), (counted, True))
        for n, text, faults, path in rows
    )


def _of_any_stretch(lead: Lead) -> list[_Row]:
    """What is asked of any events in a row, be they a study or not."""
    level = lead.rules.level
    return [
        (
            "study.order",
            "events follow each other without overlap, inside the study's bars",
            _ordered,
            ("forms",),
        ),
        ("study.pitches", "every note is the pitch of its string and fret", _pitches, ("neck", "tuning")),
        (
            "level.rate",
            f"a beat of a lick holds two notes, or as many as {level.notes_per_second:g} a second allow",
            lambda s: _rate(s, level.notes_per_second),
            ("level", "notes_per_second"),
        ),
        (
            "hand.between",
            "the hand has time to move from one event to the next",
            lambda s: _between(s, lead),
            ("hand", "shift_start_s"),
        ),
        (
            "hand.strums",
            f"at most {lead.hand.strums_per_s:g} strokes of comping a second",
            lambda s: _strums(s, lead.hand.strums_per_s),
            ("hand", "strums_per_s"),
        ),
        (
            "hand.bends.run-into",
            "no bend runs into another string while that one sounds",
            lambda s: _run_into(s, lead),
            ("hand", "bend_runs_into"),
        ),
    ]


def _ordered(study: Study) -> Iterator[Fault]:
    end = 0
    for event in study.events:
        if event.onset < end or event.duration <= 0:
            yield Fault(event.onset, "begins before the last one has ended")
        end = event.end
    if end > study.ticks:
        yield Fault(study.ticks, "runs on after the last bar")


def _pitches(study: Study) -> Iterator[Fault]:
    for event, note in study.notes():
        if not (1 <= note.string <= study.neck.strings and 0 <= note.fret <= study.neck.top_fret):
            yield Fault(event.onset, "off the neck", note.string, note.fret)
        elif note.pitch != study.neck.pitch(note.string, note.fret):
            expected = study.neck.pitch(note.string, note.fret)
            yield Fault(
                event.onset, f"pitch {note.pitch}, the place gives {expected}", note.string, note.fret
            )


def _outside(value: int, least: int, most: int) -> Iterator[Fault]:
    if not least <= value <= most:
        yield Fault(None, f"{value}")


def _windows(study: Study, most: int) -> Iterator[Fault]:
    used = {e.hand for e in study.events if study.slots[e.slot].kind is SlotKind.LICK}
    if len(used) > most:
        yield Fault(None, f"{len(used)}: frets {', '.join(map(str, sorted(used)))}")


def _bends(study: Study, most: int) -> Iterator[Fault]:
    bent = [e for e, n in study.notes() if n.bend and n.bend.size >= 2]
    if len(bent) > most:
        yield Fault(bent[most].onset, f"{len(bent)} bends, limit {most}")


def _some_bends(study: Study, lead: Lead) -> Iterator[Fault]:
    bends = lead.rules.lead.bends
    least = min(bends.least_per_study, bends.most_per_study)
    bent = sum(n.bend is not None for _, n in study.notes())
    places = {e.hand for e in study.events if study.slots[e.slot].kind is SlotKind.LICK}
    if bent < least and places & lead.bending_places:
        yield Fault(None, f"{bent}")


def _graces(study: Study, most: int) -> Iterator[Fault]:
    graced = [e for e, n in study.notes() if n.grace and study.slots[e.slot].kind is SlotKind.LICK]
    if len(graced) > most:
        yield Fault(graced[most].onset, f"{len(graced)} grace notes, limit {most}")


def _rate(study: Study, per_second: float) -> Iterator[Fault]:
    most = max(2, round(per_second * seconds(TICKS_PER_BEAT, study.tempo_bpm)))
    counts: dict[tuple[int, int], int] = {}
    for event in study.events:
        if study.slots[event.slot].kind is SlotKind.LICK:
            at = (event.slot, event.onset // TICKS_PER_BEAT)
            counts[at] = counts.get(at, 0) + 1
    for (_, beat), count in counts.items():
        if count > most:
            yield Fault(beat * TICKS_PER_BEAT, f"{count} notes in a beat, limit {most}")


def _difficulty(study: Study, lead: Lead) -> Iterator[Fault]:
    if not measurable(study):
        return
    value = difficulty(effort(study, lead), lead)
    least, most = lead.rules.level.difficulty
    if not least <= value <= most:
        yield Fault(None, f"{value:.1f}")


def _between(study: Study, lead: Lead) -> Iterator[Fault]:
    for a, b in zip(study.events, study.events[1:], strict=False):
        if a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK:
            continue
        needs = float(lead.shift_s(a.hand, b.hand))
        free = seconds_to_move(study, a, b)
        if needs > free + 1e-9:
            yield Fault(b.onset, f"fret {a.hand} to {b.hand} takes {needs:.2f} s, there are {free:.2f} s")


def _strums(study: Study, per_second: float) -> Iterator[Fault]:
    for a, b in pairwise(study.events):
        if a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK:
            continue
        rate = 1 / seconds(max(b.onset - a.onset, 1), study.tempo_bpm)
        if rate > per_second + 1e-9:
            yield Fault(b.onset, f"{rate:.1f} a second, limit {per_second:g}")


def _run_into(study: Study, lead: Lead) -> Iterator[Fault]:
    """A string that stops sounding because a bent one is pushed against it, in one event or from one that rings."""
    if not measurable(study):
        return
    tables = bend_tables(lead.neck, lead.strings)

    def held(note: Note) -> tuple[int, int, float]:
        size = note.bend.size if note.bend else 0
        return note.string, note.fret, float(tables.distance_mm[note.string, note.fret, size])

    before: Event | None = None
    for event in study.events:
        ringing = before.notes if before is not None and before.end + before.ring > event.onset else ()
        for bent in (n for n in event.notes if n.bend):
            for other in (*event.notes, *ringing):
                if other.string != bent.string and stops(lead.neck, held(bent), held(other)):
                    yield Fault(event.onset, f"string {other.string} is run into", bent.string, bent.fret)
        before = event


def _melody(events: Sequence[Event]) -> list[int]:
    upper = (e.melody for e in events)
    return [n.pitch + (n.bend.size // 2 if n.bend else 0) for n in upper]


def _quotes(study: Study, band: int) -> Iterator[Fault]:
    for slot in study.slots:
        if slot.quotes is None:
            continue
        mine = _melody(study.events_of(slot.number)[: slot.figure_notes])
        model = _melody(study.events_of(slot.quotes)[: slot.figure_notes])
        off = min(
            max((abs(a - b - shift) for a, b in zip(mine, model, strict=False)), default=0)
            for shift in range(-12, 13)
        )
        if off > band or len(mine) != len(model):
            yield Fault(slot.start, f"up to {off} semitones away")


def most_alike(rules: RuleFile, bars: int) -> int:
    """How often one and the same answer may come in a study of so many bars."""
    return rules.comping.same_pattern * max(1, bars // 12)


def _patterns(study: Study, most: int) -> Iterator[Fault]:
    seen: dict[str, int] = {}
    for slot in study.slots:
        if (
            slot.kind is SlotKind.COMP
            and slot.cells
            and len(slot.cells[0]) * GRIDS[study.grid] > TICKS_PER_BEAT
        ):
            seen[slot.cells[0]] = seen.get(slot.cells[0], 0) + 1
            if seen[slot.cells[0]] > most:
                yield Fault(slot.start, f"{slot.cells[0]!r} for the {seen[slot.cells[0]]}. time")
