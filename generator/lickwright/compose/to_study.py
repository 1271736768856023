"""From what the solver found to a Study: slots, events with ids, notes with their bends and techniques."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from lickwright import __version__
from lickwright.compose.setting import Setting
from lickwright.judge.effort import with_hard_moments
from lickwright.rulebook.places import sways
from lickwright.rulebook.rule import At
from lickwright.rulebook.touches import BEND_KINDS, GRACES, NO_BEND, NO_GRACE, WAYS, Touch, TouchTable
from lickwright.solver.chorus import Part, SolvedComp
from lickwright.solver.comping import NAMED_SIGNS, Hit, Stroke, slides
from lickwright.solver.kept import Kept
from lickwright.solver.licks import Solved, context
from lickwright.solver.plan.layout import LickPlan, Plan
from lickwright.solver.ringing import let_ring
from lickwright.study.model import (
    Bend,
    Event,
    Grace,
    Note,
    Phrase,
    Slot,
    SlotKind,
    Study,
    Technique,
    bend_curve,
)
from lickwright.theory.harmony import chord_in_key
from lickwright.theory.rhythm import TICKS_PER_BAR

#: A grip no longer than this, in ticks, is a stab.
MOST_STACCATO = 6


def written(setting: Setting, plan: Plan, solved: tuple[Part, ...], title: str, origin: str = "") -> Study:
    """The study that the parts of a plan make, with its hard moments; a part that was kept brings its own events."""
    slots: list[Slot] = []
    events: list[Event] = []
    number_of: dict[int, int] = {}
    for part in solved:
        n = len(slots)
        if isinstance(part, Kept):
            own_events = [replace(e, slot=n) for e in part.events]
        elif isinstance(part, Solved):
            own_events = list(_lick_events(setting, plan, part, n))
        else:
            own_events = list(_comp_events(setting, part, n))
        if isinstance(part.plan, LickPlan):
            number_of[part.plan.number] = n
            slot = _lick_slot(part.plan, n, own_events, number_of)
        else:
            positions = tuple(sorted({e.hand for e in own_events}))
            slot = Slot(
                n,
                SlotKind.COMP,
                _phrase_at(plan, own_events[0].onset, part.plan.phrase),
                own_events[0].onset,
                own_events[-1].end,
                cells=(part.plan.pattern,),
                windows=positions,
            )
        slots.append(slot)
        events += own_events
    events = list(let_ring(numbered(events), slots))
    rules, brief = setting.rules, setting.brief
    study = Study(
        title=title,
        number=brief.number,
        brief=brief,
        key=setting.key.tonic,
        minor=setting.key.minor,
        meter=rules.study.meter,
        grid=rules.study.grid,
        feel=rules.study.feel,
        tempo_bpm=setting.tempo_bpm,
        level=rules.level.name,
        neck=setting.neck,
        bars=plan.phrases[-1][1] + 1,
        form=plan.form,
        phrases=tuple(Phrase(i, a, b, name) for i, (a, b, name) in enumerate(plan.phrases)),
        slots=tuple(slots),
        events=tuple(events),
        rules=setting.book.digests,
        tool_version=__version__,
        cost=sum(p.cost for p in solved if isinstance(p, Solved)),
        scheme=plan.scheme,
        origin=origin,
    )
    return with_hard_moments(study, setting.lead)


def _phrase_at(plan: Plan, tick: int, planned: int) -> int:
    """The phrase in which comping first sounds: a row that begins with silence may have been planned before it."""
    bar = tick // TICKS_PER_BAR
    return next((n for n, (first, last, _) in enumerate(plan.phrases) if first <= bar <= last), planned)


def _lick_slot(plan: LickPlan, n: int, events: list[Event], number_of: dict[int, int]) -> Slot:
    return Slot(
        n,
        SlotKind.LICK,
        plan.phrase,
        events[0].onset,
        events[-1].end,
        plan.letter,
        plan.role,
        (plan.figure, plan.tail),
        (events[0].hand,),
        None if plan.quotes is None else number_of.get(plan.quotes),
        plan.figure_notes,
    )


def numbered(events: list[Event]) -> list[Event]:
    """Events in order of time with ids; one that runs into the next is cut, a grip rings on instead."""
    events = sorted(events, key=lambda e: e.onset)
    done = []
    for k, event in enumerate(events):
        end = min(event.end, events[k + 1].onset) if k + 1 < len(events) else event.end
        notes = event.notes if end == event.end else tuple(_cut(n, end - event.onset) for n in event.notes)
        done.append(replace(event, id=f"e{k + 1}", duration=end - event.onset, notes=notes))
    return done


def _cut(note: Note, ticks: int) -> Note:
    """A note of an event that is cut to so many ticks: its bend goes its way in the time left."""
    if note.bend is None:
        return note
    return replace(note, bend=replace(note.bend, curve=bend_curve(note.bend.kind, note.bend.size, ticks)))


def _lick_events(setting: Setting, plan: Plan, lick: Solved, slot: int) -> Iterator[Event]:
    places = context(lick.plan, plan.form, setting.lead, setting.tempo_bpm)
    tech = setting.rules.lead.techniques
    for i, (touch, at) in enumerate(zip(lick.touches, places, strict=True)):
        way = WAYS[lick.ways[i - 1]] if i else Technique.PLUCK
        vibrato = bool(sways(TouchTable.of([touch]), at, tech)[0])
        yield Event(
            "",
            slot,
            at.tick,
            at.duration,
            tuple(lick_notes(touch, way, at, vibrato)),
            at.chord.roman,
            touch.position,
        )


def lick_notes(touch: Touch, way: Technique, at: At, vibrato: bool) -> Iterator[Note]:
    """The notes of a touch at its onset, the lower voice first."""
    grace = None
    if touch.grace != NO_GRACE:
        on_fret, on_finger = (
            (touch.mate_fret, touch.mate_finger) if touch.mate_string else (touch.fret, touch.finger)
        )
        grace = Grace(on_fret - touch.grace_frets, max(1, on_finger - 1), GRACES[touch.grace])
    bend = None
    if touch.kind != NO_BEND:
        kind = BEND_KINDS[touch.kind]
        bend = Bend(kind, touch.bend, bend_curve(kind, touch.bend, at.duration))
    if touch.mate_string:
        yield Note(
            touch.mate_string,
            touch.mate_fret,
            touch.mate_finger,
            touch.mate_pitch,
            at.chord.degree(touch.mate_pitch),
            way,
            grace=grace,
        )
    yield Note(
        touch.string,
        touch.fret,
        touch.finger,
        touch.pitch,
        at.chord.degree(touch.pitch + touch.bend // 2),
        way,
        bend=bend,
        grace=None if touch.mate_string else grace,
        vibrato=vibrato,
    )


def _comp_events(setting: Setting, part: SolvedComp, slot: int) -> Iterator[Event]:
    before: tuple[Hit, Stroke] | None = None
    for hit, stroke in zip(part.hits, part.strokes, strict=True):
        chord = chord_in_key(stroke.roman, setting.key)
        joined = before is not None and before[0].tick + before[0].duration == hit.tick
        slid = before is not None and joined and slides(before[1], stroke, setting.rules.comping.slide_frets)
        way = Technique.SLIDE if slid else Technique.PLUCK
        before = hit, stroke
        notes = []
        for string, fret, finger in stroke.notes:
            pitch = setting.neck.pitch(string, fret)
            grace = None
            if stroke.graced == string:
                grace = Grace(fret - 1, max(1, finger - 1), Technique.HAMMER_ON)
            if stroke.slid:
                grace = Grace(fret - stroke.slid, finger, Technique.SLIDE)
            trill = fret + 1 if stroke.trilled == string else None
            degree = chord.degree(pitch)
            notes.append(
                Note(string, fret, finger, pitch, degree, way, grace=grace, muted=stroke.muted, trill=trill)
            )
        yield Event(
            "",
            slot,
            hit.tick,
            hit.duration,
            tuple(notes),
            stroke.roman,
            stroke.position,
            stroke.base.name if stroke.base and stroke.sign in NAMED_SIGNS else None,
            staccato=_short(hit, stroke),
        )


def _short(hit: Hit, stroke: Stroke) -> bool:
    """A stab: a grip of one grid step that is not held."""
    still = not (stroke.muted or stroke.trilled or stroke.graced or stroke.slid)
    return stroke.base is not None and still and hit.duration <= MOST_STACCATO
