"""From a brief to a Study: reads the rules, draws a plan, solves the chorus, and writes down what was found.

The only caller of the solver. The same brief and rule files always give the same study.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from generator import __version__
from generator.harmony import Key, chord_in_key
from generator.judge.check import Violation, check
from generator.neck import Neck
from generator.rhythm import TICKS_PER_BEAT
from generator.rulebook.lead import Lead
from generator.rulebook.load import Book, Options, RuleFileError, gather, mistakes
from generator.rulebook.rule import At, Named
from generator.rulebook.schema import RuleFile
from generator.rulebook.whole import grip_rules, study_rules
from generator.solver.chorus import DeadEnd, SolvedComp, solve_chorus
from generator.solver.comping import NAMED_SIGNS, Hit, Stroke, Strokes, slides
from generator.solver.licks import LickMaker, Solved, context
from generator.solver.plan import NoPlan, Plan, make_plan
from generator.solver.ringing import let_ring
from generator.study import (
    Bend,
    BendKind,
    Brief,
    Event,
    Grace,
    Note,
    Phrase,
    Slot,
    SlotKind,
    Study,
    Technique,
)
from generator.touches import BEND_KINDS, GRACES, NO_BEND, NO_GRACE, WAYS, Touch

ATTEMPTS = 60
#: A grip no longer than this, in ticks, is a stab.
MOST_STACCATO = 6
#: Finished studies that may break one and the same rule before it is taken for one that cannot be met.
SAME_FAILURE = 30


class BriefError(ValueError):
    """A brief that cannot be meant: ``problems`` has a line each."""

    def __init__(self, problems: list[str]):
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "; ".join(self.problems)


class CannotBeMet(ValueError):
    """Rules that no study keeps: ``where`` names the slot or table that failed most often."""

    def __init__(self, where: str):
        super().__init__(f"the rules leave no study: {where}")
        self.where = where


@dataclass(frozen=True)
class Setting:
    """A brief with its rules read and checked: everything the solver and the judge need to know."""

    brief: Brief
    book: Book
    rules: RuleFile
    key: Key
    neck: Neck
    lead: Lead
    tempo_bpm: int


def read_rules(style: str, level: str | None = None, options: Options = ()) -> tuple[Book, RuleFile]:
    """A style's rule files, merged and checked; raises RuleFileError with everything that is wrong."""
    book = gather(style, level, options=options)
    problems = mistakes(book)
    if problems:
        raise RuleFileError(problems)
    return book, RuleFile.model_validate(book.data)


def usual_tempo(rules: RuleFile) -> int:
    """The style's usual tempo, or a slower one at which two notes a beat are not too many for the level."""
    tempo = rules.study.tempo
    return max(tempo.least, min(tempo.usual, int(rules.level.notes_per_second * 60 / 2)))


def setting(brief: Brief) -> Setting:
    """Reads and checks what a brief names; raises RuleFileError or BriefError."""
    book, rules = read_rules(brief.style, brief.level, brief.options)
    problems = []
    try:
        key = Key.parse(brief.key, minor=rules.study.minor)
    except ValueError as error:
        problems.append(str(error))
        key = Key("A")
    tempo = usual_tempo(rules) if brief.tempo_bpm is None else brief.tempo_bpm
    least, most = rules.study.tempo.least, rules.study.tempo.most
    if not least <= tempo <= most:
        problems.append(f"tempo {tempo} is outside the style's range: {book.name} allows {least} to {most}")
    if problems:
        raise BriefError(problems)
    neck = rules.neck.neck()
    return Setting(brief, book, rules, key, neck, Lead(rules, book, key, neck), tempo)


def _seed(given: Setting, attempt: int) -> np.random.Generator:
    """A random state of its own for each attempt, by what was meant, however it was written."""
    words = (
        f"{given.brief.seed}|{given.key.name}|{given.rules.level.name}|{given.tempo_bpm}|{attempt}".encode()
    )
    return np.random.default_rng(int.from_bytes(hashlib.sha256(words).digest()[:16], "big"))


def write(brief: Brief) -> Study:
    """Writes the study that a brief asks for.

    Raises RuleFileError and BriefError for what cannot be used, CannotBeMet when no plan leads to a study.
    """
    given = setting(brief)
    maker = LickMaker(given.lead, (), given.tempo_bpm)
    strokes = Strokes(given.lead, given.rules.level.comping_grade)
    failures: dict[str, int] = {}
    for attempt in range(ATTEMPTS):
        rng = _seed(given, attempt)
        try:
            plan = make_plan(given.rules, given.key, given.neck, given.tempo_bpm, rng)
            maker.form = plan.form
            solved = solve_chorus(given.lead, plan, given.tempo_bpm, rng, maker, strokes)
        except (NoPlan, DeadEnd) as dead:
            failures[dead.where] = failures.get(dead.where, 0) + 1
            continue
        study = _written(given, plan, solved, rng)
        broken = check(study, given.lead)
        if not broken:
            return study
        first = f"{broken[0].rule}: {broken[0].sentence} [{broken[0].source}]"
        failures[first] = failures.get(first, 0) + 1
        if failures[first] == SAME_FAILURE:
            break
    raise CannotBeMet(max(failures, key=lambda k: failures[k]))


def checked(study: Study, style: str | None = None) -> tuple[Violation, ...]:
    """What breaks the rules in a study: those it was written by, or another style's.

    Raises RuleFileError when the rule files cannot be used.
    """
    return check(study, lead_of(study, style))


def lead_of(study: Study, style: str | None = None) -> Lead:
    """The rules a study was written by, or another style's for the same player and instrument.

    Raises RuleFileError when the rule files cannot be used.
    """
    brief = study.brief
    book, rules = read_rules(style or brief.style, brief.level if style is None else None, brief.options)
    return Lead(rules, book, study.home, study.neck)


def sentences(style: str, level: str | None = None) -> tuple[Named, ...]:
    """Every rule of a style as a sentence; raises RuleFileError."""
    book, rules = read_rules(style, level)
    lead = Lead(rules, book, Key("A", rules.study.minor), rules.neck.neck())
    return (*lead.all_rules, *grip_rules(lead), *study_rules(lead))


# ---------------------------------------------------------------------- writing down


def _written(
    given: Setting, plan: Plan, solved: tuple[Solved | SolvedComp, ...], rng: np.random.Generator
) -> Study:
    slots: list[Slot] = []
    events: list[Event] = []
    number_of: dict[int, int] = {}
    for part in solved:
        n = len(slots)
        if isinstance(part, Solved):
            number_of[part.plan.number] = n
            made = list(_lick_events(given, plan, part, n))
            quotes = None if part.plan.quotes is None else number_of.get(part.plan.quotes)
            slot = Slot(
                n,
                SlotKind.LICK,
                part.plan.phrase,
                made[0].onset,
                made[-1].end,
                part.plan.letter,
                part.plan.role,
                (part.plan.figure, part.plan.tail),
                (part.touches[0].hand,),
                quotes,
                part.plan.figure_notes,
            )
        else:
            made = list(_comp_events(given, part, n))
            hands = tuple(sorted({e.hand for e in made}))
            slot = Slot(
                n,
                SlotKind.COMP,
                part.plan.phrase,
                made[0].onset,
                made[-1].end,
                cells=(part.plan.pattern,),
                windows=hands,
            )
        slots.append(slot)
        events += made
    events = list(let_ring(_numbered(events), slots))
    rules, brief = given.rules, given.brief
    title = brief.title or rules.study.titles[int(rng.integers(len(rules.study.titles)))]
    return Study(
        title=title,
        number=brief.number,
        brief=brief,
        key=given.key.tonic,
        minor=given.key.minor,
        meter=rules.study.meter,
        grid=rules.study.grid,
        feel=rules.study.feel,
        tempo_bpm=given.tempo_bpm,
        level=rules.level.name,
        neck=given.neck,
        bars=plan.phrases[-1][1] + 1,
        form=plan.form,
        phrases=tuple(Phrase(i, a, b, name) for i, (a, b, name) in enumerate(plan.phrases)),
        slots=tuple(slots),
        events=tuple(events),
        rules=given.book.digests,
        tool_version=__version__,
        cost=sum(p.cost for p in solved if isinstance(p, Solved)),
        scheme=plan.scheme,
    )


def _numbered(events: list[Event]) -> list[Event]:
    """Events in order of time with ids; one that runs into the next is cut, a grip rings on instead."""
    events = sorted(events, key=lambda e: e.onset)
    done = []
    for k, event in enumerate(events):
        end = min(event.end, events[k + 1].onset) if k + 1 < len(events) else event.end
        done.append(replace(event, id=f"e{k + 1}", duration=end - event.onset))
    return done


def bend_curve(kind: BendKind, size: int, ticks: int) -> tuple[tuple[float, float], ...]:
    """A bend's way in time: (tick after the onset, quarter tones). Up in the first third, at most half a beat."""
    rise = min(ticks / 3, TICKS_PER_BEAT / 2)
    if kind is BendKind.BEND:
        return ((0.0, 0.0), (rise, float(size)), (float(ticks), float(size)))
    if kind is BendKind.PRE_BEND:
        return ((0.0, float(size)), (float(ticks), float(size)))
    down, up = ticks * 0.55, min(ticks / 4, TICKS_PER_BEAT / 3)
    start = ((0.0, 0.0), (up, float(size))) if kind is BendKind.BEND_RELEASE else ((0.0, float(size)),)
    return (*start, (down, float(size)), (ticks * 0.8, 0.0), (float(ticks), 0.0))


def _lick_events(given: Setting, plan: Plan, lick: Solved, slot: int) -> Iterator[Event]:
    places = context(lick.plan, plan.form, given.lead, given.tempo_bpm)
    held = given.rules.lead.techniques.vibrato_beats * TICKS_PER_BEAT
    for i, (touch, at) in enumerate(zip(lick.touches, places, strict=True)):
        way = WAYS[lick.ways[i - 1]] if i else Technique.PLUCK
        sings = at.duration >= held and touch.fret > 0 and touch.kind in (NO_BEND, 1)
        vibrato = sings and (at.last or at.duration >= 1.3 * TICKS_PER_BEAT) and touch.bend != 1
        yield Event(
            "",
            slot,
            at.tick,
            at.duration,
            tuple(_lick_notes(touch, way, at, vibrato)),
            at.chord.roman,
            touch.hand,
        )


def _lick_notes(touch: Touch, way: Technique, at: At, vibrato: bool) -> Iterator[Note]:
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
        vibrato=vibrato and not touch.mate_string,
    )


def _comp_events(given: Setting, part: SolvedComp, slot: int) -> Iterator[Event]:
    before: tuple[Hit, Stroke] | None = None
    for hit, stroke in zip(part.hits, part.strokes, strict=True):
        chord = chord_in_key(stroke.roman, given.key)
        joined = before is not None and before[0].tick + before[0].duration == hit.tick
        slid = before is not None and joined and slides(before[1], stroke)
        way = Technique.SLIDE if slid else Technique.PLUCK
        before = hit, stroke
        notes = []
        for string, fret, finger in stroke.notes:
            pitch = given.neck.pitch(string, fret)
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
            stroke.hand,
            stroke.base.name if stroke.base and stroke.sign in NAMED_SIGNS else None,
            staccato=_short(hit, stroke),
        )


def _short(hit: Hit, stroke: Stroke) -> bool:
    """A stab: a grip of one grid step that is not held."""
    still = not (stroke.muted or stroke.trilled or stroke.graced or stroke.slid)
    return stroke.base is not None and still and hit.duration <= MOST_STACCATO
