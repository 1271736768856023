"""Licks written by hand: what is said at which tick, and the rules that hold for them.

A written lick answers for its own line: it was judged by people before it went into a rule file. What the hand, the
strings, the neck and the level allow holds for it as for every lick.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import (
    At,
    LickRule,
    MoveRule,
    OnsetRule,
    ShapeRule,
    TouchRule,
)
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import (
    BEND,
    BEND_RELEASE,
    GRACE_HAMMER,
    HAMMER,
    NO_BEND,
    NO_GRACE,
    PLUCK,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    Touch,
)
from lickwright.theory.rhythm import Onset, seconds
from lickwright.theory.row import RowNote, begins_at, parse_row

#: Rules about what a line says: a written lick is not asked them.
OF_THE_LINE = frozenset({
    "lead.double-stops", "lead.bends.targets", "lead.scale", "lead.downbeats", "lead.landing", "lead.held",
    "lead.passing", "lead.bends.curls", "lead.double-stops.chord", "lead.graces", "lead.unison", "lead.leap",
    "lead.line", "lead.shape.distinct", "lead.shape.one-pitch", "lead.shape.range", "lead.shape.peak",
    "lead.shape.rambling", "lead.double-stops.count", "lead.figure.hook",
})  # fmt: skip
_WAYS = {"": PLUCK, "hammer": HAMMER, "pull": PULL, "slide": SLIDE}
_KINDS = {"": NO_BEND, "bend": BEND, "release": BEND_RELEASE, "prebend": PRE_BEND_RELEASE}


class Said(NamedTuple):
    """One onset of a written lick: ``pitch`` and ``mate_pitch`` (the lower voice, or None) in semitones above the tonic.

    ``bend`` is in quarter tones; ``kind``, ``grace`` and ``way`` are codes of ``touches``.
    """

    pitch: int
    bend: int = 0
    kind: int = NO_BEND
    mate_pitch: int | None = None
    grace: int = NO_GRACE
    way: int = PLUCK

    @property
    def heard(self) -> int:
        """The pitch that is heard: a bent note where it arrives."""
        return self.pitch + self.bend // 2

    def sounds_as(self, touch: Touch, tonic: int) -> bool:
        """True when a touch sounds this onset, with the row's 1 at the MIDI pitch ``tonic``."""
        mate = 0 if self.mate_pitch is None else self.mate_pitch + tonic
        return (touch.pitch, touch.bend, touch.kind, touch.mate_pitch, touch.grace) == (
            self.pitch + tonic,
            self.bend,
            self.kind,
            mate,
            self.grace,
        )


@dataclass(frozen=True)
class Saying:
    """A written lick at a tempo: where its onsets lie (ticks from the bar line) and what sounds at each."""

    onsets: tuple[Onset, ...]
    notes: tuple[Said, ...]

    @property
    def peak(self) -> int:
        """The highest pitch heard, in semitones above the row's 1."""
        return max(note.heard for note in self.notes)


def saying(rules: RuleFile, name: str, form: str, tempo_bpm: int) -> Saying | None:
    """The written lick of a name in one of its forms (``over V``, ``question``); None when it has no such form,

    or when the hand of the rules cannot play a note of it in the time it has at the tempo.
    """
    row = row_of(rules, name, form)
    if row is None:
        return None
    table = rules.lick[name] if name in rules.lick else rules.pair[name]
    return said(parse_row(row, rules.study.grid), begins_at(table.begins, rules.study.grid), rules, tempo_bpm)


def row_of(rules: RuleFile, name: str, form: str) -> str | None:
    """The row of a written lick in one of its forms, as the rule file has it."""
    if name in rules.lick:
        return rules.lick[name].over.get(form.removeprefix("over "))
    if name in rules.pair and form in ("question", "answer"):
        return str(getattr(rules.pair[name], form))
    return None


def said(row: Sequence[RowNote], start: int, rules: RuleFile, tempo_bpm: int) -> Saying | None:
    """A row from a tick on. Where a note is too short to be played in time, or moves one voice of two, it becomes a

    grace note of the one hammered after it. None when neither can be.
    """
    hand = rules.hand
    onsets: list[Onset] = []
    notes: list[Said] = []
    tick = start
    k = 0
    while k < len(row):
        note = row[k]
        after = row[k + 1] if k + 1 < len(row) else None
        if not note.degrees:
            tick += note.ticks
            k += 1
            continue
        ticks, grace, upper, lower = note.ticks, NO_GRACE, note.degrees[-1], note.degrees[:-1]
        bend, kind = note.bend, note.kind
        hammered = after is not None and after.technique == "hammer" and len(after.degrees) == 1
        if hammered and after is not None:
            moves = [d for d in note.degrees if after.degrees[0] - d == 1]
            hurried = seconds(note.ticks, tempo_bpm) < 1 / hand.hammer_ons_per_s
            if len(note.degrees) == 2 or hurried:
                if not moves or moves[0] != note.degrees[0] or note.kind or after.kind or note.technique:
                    return None
                ticks, grace = note.ticks + after.ticks, GRACE_HAMMER
                raised = sorted((after.degrees[0], *(d for d in note.degrees if d != moves[0])))
                upper, lower = raised[-1], tuple(raised[:-1])
                k += 1
        if len(lower) > 1 or (lower and kind):
            return None
        way = _WAYS[note.technique]
        joined = bool(onsets) and onsets[-1].tick + onsets[-1].duration == tick
        if way != PLUCK and not joined:
            return None
        onsets.append(Onset(tick, ticks))
        notes.append(Said(upper, bend, _KINDS[kind], lower[0] if lower else None, grace, way))
        tick += ticks
        k += 1
    onsets[-1] = Onset(onsets[-1].tick, onsets[-1].duration, True)
    return Saying(tuple(onsets), tuple(notes))


def says(
    saying: Saying, tonic_pc: int, ticks: Sequence[int], touches: Sequence[Touch], ways: Sequence[int]
) -> bool:
    """True when finished touches, their onsets and the ways between them say a written lick, in whatever octave."""
    if len(touches) != len(saying.notes):
        return False
    tonic = touches[0].pitch - saying.notes[0].pitch
    same = [t - ticks[0] for t in ticks] == [o.tick - saying.onsets[0].tick for o in saying.onsets]
    return (
        same
        and tonic % 12 == tonic_pc
        and all(n.sounds_as(t, tonic) for n, t in zip(saying.notes, touches, strict=True))
        and all(n.way == way for n, way in zip(saying.notes[1:], ways, strict=True))
    )


@dataclass(frozen=True)
class WrittenLead(Lead):
    """The rules of the lead without those about what a line says; ``free`` has all of them."""

    free: Lead

    @cached_property
    def touch_rules(self) -> tuple[TouchRule, ...]:
        """What neck, hand and strings allow."""
        return tuple(r for r in self.free.touch_rules if r.name not in OF_THE_LINE)

    @cached_property
    def onset_rules(self) -> tuple[OnsetRule, ...]:
        """The time that bends need."""
        return tuple(r for r in self.free.onset_rules if r.name not in OF_THE_LINE)

    @cached_property
    def move_rules(self) -> tuple[MoveRule, ...]:
        """How notes are joined, and how far fingers reach."""
        return tuple(r for r in self.free.move_rules if r.name not in OF_THE_LINE)

    @cached_property
    def lick_rules(self) -> tuple[LickRule, ...]:
        """How many bends there may be."""
        return tuple(r for r in self.free.lick_rules if r.name not in OF_THE_LINE)

    def slot_rules(self, seen: Sequence[At]) -> tuple[LickRule, ...]:
        """The same in every place."""
        return self.lick_rules

    @cached_property
    def shape_rules(self) -> tuple[ShapeRule, ...]:
        """What the hand asks of a whole lick."""
        return tuple(r for r in self.free.shape_rules if r.name not in OF_THE_LINE)


def written_lead(lead: Lead) -> WrittenLead:
    """The same rules, book, key and neck for written licks."""
    return WrittenLead(lead.rules, lead.book, lead.key, lead.neck, lead)
