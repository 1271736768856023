"""A small study that keeps every rule, spoiled in one place: check names just that rule, bar, beat and string.

The study is written by hand, and the rules that judge it are stated here, so that neither moves with the shipped ones.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest
from lickwright.guitar.neck import Neck
from lickwright.judge.check import check
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.whole import grip_rules, study_rules
from lickwright.solver.plan.layout import form_spans
from lickwright.study.model import (
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
from lickwright.theory.harmony import Key

A, NECK, BAR = Key("A"), Neck(), 48
H, P, S = Technique.HAMMER_ON, Technique.PULL_OFF, Technique.SLIDE
RULES = """
include = ["slow-shuffle"]
[study]
tempo = { least = 50, usual = 60, most = 200 }
[neck]
frets = 18
[level]
name = "mine"
grade = 3
notes_per_second = 3.0
windows = 1
comping_grade = 3
difficulty = [1.0, 4.2]
[hand]
span_frets = { 12 = 2, 13 = 3, 14 = 4, 23 = 1, 24 = 2, 34 = 1 }
stretch = true
shift_start_s = 0.2
shift_mm_per_s = 300.0
plucks_per_s = 8.0
strums_per_s = 5.0
bend_start_s = 0.03
bend_mm_per_s = 150.0
bend_size = [2, 4, 6, 4]
bend_distance_mm = 12.5
[lead.palette]
I = { 1 = 0, 2 = 0, b3 = 0, 3 = 0, 4 = 0, b5 = 0, 5 = 0, 6 = 0, b7 = 0 }
IV = { 1 = 0, 2 = 0, b3 = 0, 4 = 0, 5 = 0, 6 = 0, b7 = 0 }
V = { 1 = 0, 2 = 0, 5 = 0, 7 = 0 }
[lead.landing.question]
I = { 1 = 0, 3 = 0, 5 = 0 }
[lead.landing.answer]
IV = { 1 = 0, b3 = 0 }
[lead.landing.climax]
V = { 2 = 0, 5 = 0 }
[lead.downbeats]
strong = [1, 3]
degrees = ["1", "b3", "3", "5", "b7", "9"]
[lead.windows]
shift_inside = false
[lead.bends]
sizes = ["quarter", "half", "whole"]
kinds = ["bend", "bend-release"]
strings = [2, 3]
fingers = { quarter = [1, 3, 4], half = [2, 3], whole = [3, 4] }
lowest_fret = { quarter = 6, half = 3, whole = 6 }
targets = { quarter = ["b3>b3"], half = ["2>b3"], whole = ["b7>1", "4>5", "1>2"] }
least_beats = { quarter = 0.3, half = 0.3, whole = 0.3 }
most_per_lick = 1
most_per_study = 2
[lead.techniques]
legato_frets = 3
slide_frets = 2
double_stop_intervals = [3, 4, 5]
double_stops_per_lick = 1
graces = ["3 over I", "5 over V"]
grace_beats = 0.9
graces_per_study = 1
[lead.shape]
most_leap = 8
most_run = 4
most_repeats = 2
trills = false
least_distinct = 0.5
most_of_one = 0.4
least_range = 7
held_beats = 1.1
passing = ["b5"]
passing_beats = 0.3
[lead.figure]
hook = true
[lead.quote]
band = 3
[lead.sounded]
V = ["7"]
[comping]
highest_fret = 10
same_pattern = 2
"""
FORM = ["I7", "I7", "IV7", "I7", "V7", "I7"]


@pytest.fixture(scope="module")
def lead(tmp_path_factory: pytest.TempPathFactory) -> Lead:
    path = tmp_path_factory.mktemp("rules") / "mine.toml"
    path.write_text(RULES)
    book, rules = read_rules(str(path))
    return Lead(rules, book, A, NECK)


def note(string: int, fret: int, finger: int, technique: Technique = Technique.PLUCK, **more: object) -> Note:
    return Note(string, fret, finger, NECK.pitch(string, fret), "", technique, **more)  # type: ignore[arg-type]


def whole_step(ticks: int, kind: str = "bend", size: int = 4) -> Bend:
    return Bend(BendKind(kind), size, ((0, 0), (ticks / 2, size), (ticks, size)))


def event(name: str, slot: int, onset: int, ticks: int, roman: str, *notes: Note, hand: int = 5) -> Event:
    return Event(name, slot, onset, ticks, notes, roman, hand, "b7-3-5" if len(notes) == 3 else None)


A7 = (note(4, 5, 1), note(3, 6, 3), note(2, 5, 2))


def kept() -> Study:
    """Three licks (the second takes up the first) and three answers; each note has a name to spoil it by."""
    events = (
        event("a1", 0, 4, 4, "I7", note(3, 5, 1)),
        event("a2", 0, 8, 4, "I7", note(3, 7, 3, H)),
        event("a3", 0, 12, 12, "I7", note(3, 7, 3, bend=whole_step(12))),
        event("a4", 0, 24, 8, "I7", note(2, 8, 4)),
        event("a5", 0, 32, 4, "I7", note(2, 5, 1, P)),
        event("a6", 0, 36, 12, "I7", note(3, 6, 2)),
        event("c1", 1, BAR, 12, "I7", *A7),
        event("c2", 1, BAR + 24, 12, "I7", *A7),
        event("b1", 2, 2 * BAR + 4, 4, "IV7", note(3, 5, 1)),
        event("b2", 2, 2 * BAR + 8, 4, "IV7", note(3, 7, 3)),
        event("b3", 2, 2 * BAR + 12, 12, "IV7", note(2, 5, 1)),
        event("b4", 2, 2 * BAR + 24, 12, "IV7", note(3, 7, 3)),
        event("b5", 2, 2 * BAR + 36, 12, "IV7", note(3, 5, 1)),
        event("c3", 3, 3 * BAR, 12, "I7", *A7),
        event("d1", 4, 4 * BAR + 4, 4, "V7", note(4, 7, 3)),
        event("d2", 4, 4 * BAR + 8, 4, "V7", note(4, 6, 2)),
        event("d3", 4, 4 * BAR + 12, 12, "V7", note(3, 4, 1)),
        event("d4", 4, 4 * BAR + 24, 12, "V7", note(2, 5, 1)),
        event("c4", 5, 5 * BAR, 12, "I7", *A7),
    )
    kinds = [SlotKind.LICK, SlotKind.COMP] * 3
    roles = ["question", "", "answer", "", "climax", ""]
    slots = tuple(
        Slot(
            number, kind, 0, number * BAR, (number + 1) * BAR, "", role, ("C-..C-......",) if not role else ("x",),
            quotes=0 if number == 2 else None, figure_notes=3 if role else 0,
        )
        for number, (kind, role) in enumerate(zip(kinds, roles, strict=True))
    )  # fmt: skip
    slots = (*slots[:5], replace(slots[5], cells=("..C-..C-....",)))
    return Study(
        title="By hand", number=None, brief=Brief("mine", "A", 1), key="A", minor=False, meter="12/8", grid="triplet",
        feel="slow 12/8", tempo_bpm=60, level="mine", neck=NECK, bars=len(FORM), form=form_spans(FORM),
        phrases=(Phrase(0, 0, len(FORM) - 1, "by hand"),), slots=slots, events=events,
    )  # fmt: skip


STUDY = kept()


def named(name: str) -> Event:
    return next(e for e in STUDY.events if e.id == name)


def put(name: str, *notes: Note, **event: object) -> Study:
    """The study with other notes at an event, and other fields."""
    changes = {"notes": notes} | event if notes else event
    return swap(replace(named(name), **changes))  # type: ignore[arg-type]


def swap(*others: Event) -> Study:
    by_id = {e.id: e for e in others}
    return replace(STUDY, events=tuple(by_id.get(e.id, e) for e in STUDY.events))


def slot(number: int, **fields: object) -> Study:
    slots = tuple(replace(s, **fields) if s.number == number else s for s in STUDY.slots)  # type: ignore[arg-type]
    return replace(STUDY, slots=slots)


def octave_up(number: int, **others: Note) -> Study:
    """A lick twelve frets higher, some of its notes exchanged, on a neck longer than the rules'."""
    moved = [
        replace(
            e,
            hand=e.hand + 12,
            notes=(others[e.id],)
            if e.id in others
            else tuple(replace(n, fret=n.fret + 12, pitch=n.pitch + 12) for n in e.notes),
        )
        for e in STUDY.events_of(number)
    ]
    return replace(swap(*moved), neck=replace(NECK, frets=24))


def other_lick(*places: tuple[int, int, int, int, int]) -> Study:
    """The second lick with other notes: (tick in its bar, ticks, string, fret, finger) each."""
    notes = [
        event(f"b{n}", 2, 2 * BAR + tick, ticks, "IV7", note(string, fret, finger))
        for n, (tick, ticks, string, fret, finger) in enumerate(places, 1)
    ]
    rest = [e for e in STUDY.events if e.slot != 2]
    return replace(STUDY, events=tuple(sorted((*rest, *notes), key=lambda e: e.onset)))


def doubled(string: int, fret: int, finger: int, mate: tuple[int, int, int]) -> tuple[Note, Note]:
    return note(*mate), note(string, fret, finger)


def many(**notes: Note) -> Study:
    """Several events with another single note each."""
    return swap(*(replace(named(name), notes=(changed,)) for name, changed in notes.items()))


def bent(string: int, fret: int, finger: int, size: int = 4, kind: str = "bend") -> Note:
    return note(string, fret, finger, bend=whole_step(4, kind, size))


C, C_SHARP, D, E, LOW_A = note(3, 5, 1), note(3, 6, 2), note(3, 7, 3), note(2, 5, 1), note(4, 7, 3)


@dataclass(frozen=True)
class Spoiled:
    """A spoiled study and what check must say: the rule, the event and string if it has them.

    ``also`` are rules that cannot but be broken with it.
    """

    study: Study
    rule: str
    event: str | None = None
    string: int | None = None
    also: frozenset[str] = frozenset()


#: What is spoiled may well be harder to play than the level allows.
HARDER = frozenset({"level.difficulty"})


def also(*rules: str) -> frozenset[str]:
    return frozenset(rules)


CASES = {
    # the hand and the neck
    "a fret that the neck lacks": Spoiled(
        put("a4", replace(named("a4").notes[0], fret=21)), "study.places", "a4", 2
    ),
    "a string that the neck lacks": Spoiled(
        put("a4", replace(named("a4").notes[0], string=7)), "study.places", "a4", 7
    ),
    "a finger that no hand has": Spoiled(put("c1", replace(A7[0], finger=5)), "study.places", "c1", 4),
    "an event in no slot": Spoiled(put("a4", slot=9), "study.places", "a4"),
    "an event of nothing": Spoiled(replace(STUDY, events=(replace(named("a1"), notes=()),)), "study.places", "a1"),
    "a finger on another's fret": Spoiled(put("d4", note(2, 5, 2)), "hand.fingers", "d4", 2),
    "one finger on two frets": Spoiled(
        swap(
            replace(named("a4"), notes=doubled(2, 8, 4, (3, 9, 4))),
            replace(named("a5"), notes=(E,)),
        ),
        "hand.double-stops",
        "a4",
        2,
    ),
    "two fingers too far apart": Spoiled(put("d1", note(4, 9, 4)), "hand.span", "d2", 4),
    "a hand that moves inside a lick": Spoiled(
        put("d4", note(2, 5, 2), hand=4), "lead.windows.shift", "d4", 2, also("study.windows")
    ),
    "a shift without time in a lick": Spoiled(
        swap(
            replace(named("d3"), onset=4 * BAR + 22, duration=2),
            replace(named("d4"), notes=(note(2, 5, 2),), hand=4),
        ),
        "hand.shift",
        "d4",
        2,
        also("lead.windows.shift", "study.windows"),
    ),
    "a shift without time between lick and answer": Spoiled(put("c1", hand=19), "hand.between", "c1"),
    "a finger that hops too fast": Spoiled(
        put("d3", onset=4 * BAR + 22, duration=2), "hand.hop", "d4", 2
    ),
    "notes too fast for the fingers": Spoiled(put("a1", onset=7, duration=1), "hand.rates", "a2", 3),
    "strokes too fast for the arm": Spoiled(
        swap(replace(named("c1"), duration=2), replace(named("c2"), onset=BAR + 2)), "hand.strums", "c2"
    ),
    "a grip that no hand holds": Spoiled(
        put("c1", note(4, 5, 1), note(3, 12, 3), note(2, 5, 2), grip=None), "hand.grip", "c1", 2
    ),
    "a bend too far for the hand": Spoiled(many(a3=bent(2, 8, 4)), "hand.bends", "a3", 2),
    "a bend into a string that rings": Spoiled(
        swap(
            replace(named("c2"), ring=96),
            replace(named("b1"), notes=(bent(3, 7, 3),)),
            replace(named("b2"), notes=(C,)),
            replace(named("b3"), notes=(D,)),
        ),
        "hand.bends.run-into",
        "b1",
        3,
    ),
    # pitches, chords and degrees
    "a pitch that the place does not give": Spoiled(
        put("a5", replace(named("a5").notes[0], pitch=62)), "study.pitches", "a5", 2
    ),
    "a note outside the palette": Spoiled(put("d3", C), "lead.scale", "d3", 3),
    "a strong beat without a chord tone": Spoiled(
        many(a4=D, a5=note(3, 5, 1, P)), "lead.downbeats", "a4", 3
    ),
    "an end that is no home": Spoiled(put("a6", D), "lead.landing", "a6", 3),
    "a long note foreign to its chord": Spoiled(
        swap(replace(named("b3"), duration=18), replace(named("b4"), onset=2 * BAR + 30, duration=6)),
        "lead.held",
        "b3",
        2,
    ),
    "a passing note that stays": Spoiled(put("a5", note(3, 8, 4)), "lead.passing", "a5", 3),
    "a lick over V without its third": Spoiled(put("d2", LOW_A), "lead.sounded.V"),
    # bends
    "a bend of a size that is not bent": Spoiled(
        many(a2=bent(3, 6, 2, 3), a3=E), "lead.bends.sizes", "a2", 3
    ),
    "a bend of another kind": Spoiled(many(a3=bent(3, 7, 3, 4, "pre-bend")), "lead.bends.kinds", "a3", 3),
    "a bend on a string that is not bent": Spoiled(
        many(a4=bent(1, 8, 4, 1), a5=note(1, 5, 1)), "lead.bends.strings", "a4", 1
    ),
    "a bend too low on the neck": Spoiled(many(a1=bent(3, 5, 1, 1), a2=D), "lead.bends.frets", "a1", 3),
    "a bend by another finger": Spoiled(many(a2=bent(3, 4, 1, 2), a3=E), "lead.bends.fingers", "a2", 3),
    "a bend to a note that is not bent to": Spoiled(
        many(a2=bent(3, 6, 2, 2), a3=E), "lead.bends.targets", "a2", 3
    ),
    "a curl on the seventh of IV": Spoiled(
        put("b5", bent(3, 5, 1, 1)), "lead.bends.curls", "b5", 3, also=also("lead.bends.frets")
    ),
    "a bend without its time": Spoiled(put("a3", duration=3), "lead.bends.time", "a3", 3),
    "a bend left by a pull-off": Spoiled(
        many(a4=note(3, 5, 1, P), a5=note(3, 7, 3, H)), "lead.bends.left", "a4", 3
    ),
    "a bend too many in a lick": Spoiled(many(a2=bent(3, 7, 3), a5=C), "lead.bends.count", "a3"),
    "a bend too many in the study": Spoiled(
        swap(
            replace(named("b2"), notes=(bent(3, 7, 3),)),
            replace(named("c4"), notes=(bent(3, 7, 3),), grip=None),
        ),
        "lead.bends.study",
        "c4",
    ),
    # techniques
    "a hammer-on to another string": Spoiled(put("a5", note(3, 7, 3, H)), "lead.legato", "a5", 3),
    "a slide by another finger": Spoiled(put("a2", note(3, 7, 3, S)), "lead.slides", "a2", 3),
    "a slur after a silence": Spoiled(put("a1", duration=2), "lead.joined", "a2", 3),
    "a slide after a silence": Spoiled(
        swap(
            replace(named("b1"), notes=(note(3, 4, 1),), duration=2),
            replace(named("b2"), notes=(note(3, 5, 1, S),)),
        ),
        "lead.joined",
        "b2",
        3,
    ),
    "a double stop across a string": Spoiled(
        swap(
            replace(named("a4"), notes=doubled(1, 5, 1, (3, 9, 4))),
            replace(named("a5"), notes=(note(2, 8, 4),)),
        ),
        "lead.double-stops",
        "a4",
        1,
    ),
    "a double stop outside the chord": Spoiled(
        put("b3", *doubled(2, 5, 1, (3, 5, 1))), "lead.double-stops.chord", "b3", 2
    ),
    "a double stop too many": Spoiled(
        swap(
            replace(named("a4"), notes=doubled(2, 8, 4, (3, 9, 4))),
            replace(named("a5"), notes=doubled(2, 5, 1, (3, 6, 2))),
            replace(named("a6"), notes=doubled(3, 6, 2, (4, 7, 3))),
        ),
        "lead.double-stops.count",
        also=also("hand.double-stops", "lead.double-stops"),
    ),
    "a grace to another note": Spoiled(
        put("d3", note(3, 4, 1, grace=Grace(3, 1, H))), "lead.graces", "d3", 3
    ),
    "a grace too many": Spoiled(
        many(a6=note(3, 6, 2, grace=Grace(5, 1, H)), d4=note(2, 5, 1, grace=Grace(4, 1, H))),
        "lead.graces.study",
        "d4",
    ),
    # the line
    "a leap too wide": Spoiled(put("d1", note(1, 4, 1)), "lead.leap", "d2", 4),
    "a pitch again on another string": Spoiled(put("b2", note(3, 9, 4)), "lead.unison", "b3", 2),
    "a pitch three times": Spoiled(
        many(b2=C, b3=C, b5=LOW_A), "lead.line", "b3", None, also("lead.shape.one-pitch")
    ),
    "few pitches": Spoiled(
        many(b3=D, b4=C), "lead.shape.distinct", None, None, also("lead.shape.one-pitch")
    ),
    "one pitch again and again": Spoiled(many(b3=C, b4=LOW_A), "lead.shape.one-pitch"),
    "many notes in a narrow range": Spoiled(
        other_lick(
            (4, 4, 3, 5, 1), (8, 4, 3, 7, 3), (12, 4, 2, 5, 1), (16, 4, 3, 5, 1), (20, 4, 3, 4, 1),
            (24, 12, 3, 7, 3), (36, 12, 3, 5, 1),
        ),
        "lead.shape.range",
    ),
    "two peaks": Spoiled(put("d1", E), "lead.shape.peak"),
    "a model without a hook": Spoiled(put("a3", E), "lead.figure.hook", also=also("lead.bends.some")),
    "a restatement that goes its own way": Spoiled(many(b1=E, b2=D, b3=C, b4=LOW_A), "lead.quote"),
    # the whole
    "an event that overlaps": Spoiled(put("c1", duration=30), "study.order", "c2"),
    "an event without length": Spoiled(put("c2", duration=0), "study.order", "c2"),
    "a tempo beyond the style": Spoiled(replace(STUDY, tempo_bpm=40), "study.tempo"),
    "a window too many": Spoiled(octave_up(4, d1=note(3, 16, 1)), "study.windows"),
    "notes beyond the level's rate": Spoiled(
        other_lick(
            (4, 4, 3, 5, 1), (8, 4, 3, 7, 3), (12, 3, 2, 5, 1), (15, 3, 3, 7, 3), (18, 3, 3, 5, 1),
            (21, 3, 4, 9, 4), (24, 12, 3, 5, 1), (36, 12, 4, 7, 3),
        ),
        "level.rate",
        "b3",
    ),
    # comping
    "another note in a grip": Spoiled(
        put("c1", note(4, 5, 1), note(3, 6, 3), note(2, 7, 4)), "comping.tones", "c1", 2
    ),
    "a grip high up": Spoiled(
        put("c3", note(4, 17, 1), note(3, 18, 3), note(2, 17, 2)), "comping.highest-fret", "c3", 2
    ),
    "an answer once too often": Spoiled(slot(5, cells=STUDY.slots[1].cells), "comping.same-pattern"),
}  # fmt: skip


def test_the_study_by_hand_keeps_every_rule(lead: Lead) -> None:
    assert check(STUDY, lead) == ()


@pytest.mark.parametrize("what", CASES)
def test_check_names_just_the_broken_rule_and_its_place(what: str, lead: Lead) -> None:
    case = CASES[what]
    found = check(case.study, lead)
    assert {v.rule for v in found} - case.also - HARDER == {case.rule}, [str(v) for v in found]
    onsets = {e.onset: e.id for e in case.study.events}
    for violation in (v for v in found if v.rule == case.rule):
        if case.event is not None:
            assert violation.tick is not None
            assert (onsets[violation.tick], violation.string) == (case.event, case.string)
        bar = "" if violation.tick is None else f"bar {violation.tick // BAR + 1} beat"
        assert str(violation).startswith(bar or "the study")


def test_a_study_harder_than_its_level_is_told_so(lead: Lead) -> None:
    assert "level.difficulty" in {v.rule for v in check(replace(STUDY, tempo_bpm=150), lead)}


def test_every_rule_of_the_judge_is_broken_here(lead: Lead) -> None:
    """All but lead.neck, which prunes the search alone: in a study it is study.places that is broken."""
    names = {rule.name for rule in (*lead.all_rules, *grip_rules(lead), *study_rules(lead))}
    broken = {case.rule for case in CASES.values()} | HARDER | {"lead.bends.some", *LINES}
    assert broken == names - {"lead.neck"} | {"study.places"}


def test_a_study_without_a_bend_is_told_so_where_the_hand_could_bend(lead: Lead) -> None:
    plain = tuple(replace(e, notes=tuple(replace(n, bend=None) for n in e.notes)) for e in STUDY.events)
    assert "lead.bends.some" in {v.rule for v in check(replace(STUDY, events=plain), lead)}


#: Second licks that break a rule of their whole line: (tick, ticks, string, fret, finger) a note.
LINES = {
    "lead.shape.rambling": [
        (0, 4, 3, 5, 1), (4, 4, 3, 7, 3), (8, 4, 2, 5, 1), (12, 4, 3, 5, 1), (16, 4, 3, 7, 3), (20, 4, 2, 5, 1),
        (24, 16, 3, 7, 3),
    ],
    "hand.same-finger": [(0, 8, 3, 7, 3), (8, 8, 3, 5, 1), (16, 8, 2, 5, 1), (24, 8, 3, 7, 4), (32, 16, 3, 5, 1)],
}  # fmt: skip


@pytest.mark.parametrize("rule", LINES)
def test_a_line_that_rambles_or_changes_fingers_is_told_so(rule: str, lead: Lead) -> None:
    assert rule in {v.rule for v in check(other_lick(*LINES[rule]), lead)}


#: What is asked of a whole study alone.
OF_A_STUDY = {"study.tempo", "study.windows", "lead.bends.study", "lead.bends.some", "lead.graces.study",
              "lead.quote", "level.difficulty", "comping.same-pattern"}  # fmt: skip


def test_licks_alone_are_asked_all_but_what_a_whole_study_is(lead: Lead) -> None:
    """Of every spoiled study just the rules that count over all of it are let pass, wherever they are broken."""
    for what, case in CASES.items():
        found = check(case.study, lead)
        left = tuple(v for v in found if v.rule not in OF_A_STUDY)
        assert check(case.study, lead, whole=False) == left, what
    assert {r.name for r in study_rules(lead) if r.whole} == OF_A_STUDY


def test_violations_come_in_order_of_time(lead: Lead) -> None:
    spoiled = replace(put("d3", C), tempo_bpm=40)
    ticks = [-1 if v.tick is None else v.tick for v in check(spoiled, lead)]
    assert ticks == sorted(ticks)
    assert len(ticks) >= 2


def test_a_study_in_pieces_is_judged_and_not_stumbled_over(lead: Lead) -> None:
    """Whatever a file holds, check answers: no events, no slots' events, places off the neck."""
    assert check(replace(STUDY, events=()), lead) is not None
    off = put("a4", replace(named("a4").notes[0], string=6, fret=40))
    assert [v.amount for v in check(off, lead)] == ["the neck has 20 frets"]


@pytest.mark.parametrize(
    ("study", "said"),
    [
        (put("a4", replace(named("a4").notes[0], string=7)), "the neck has 6 strings"),
        (put("a4", replace(named("a4").notes[0], finger=5)), "finger 5"),
        (put("a4", replace(named("a4").notes[0], bend=Bend(BendKind.BEND, 20, ()))), "a bend of 20 quarter tones"),
        (put("a4", hand=21), "hand at fret 21, the neck has 20"),
        (put("a4", notes=()), "no notes"),
        (put("a4", slot=6), "in no slot"),
    ],
)  # fmt: skip
def test_what_is_not_on_the_neck_or_in_no_slot_is_told_and_nothing_else(
    study: Study, said: str, lead: Lead
) -> None:
    assert [(v.rule, v.amount) for v in check(study, lead)] == [("study.places", said)]


def test_a_study_for_a_longer_neck_than_its_own_is_told_the_notes_off_its_own(lead: Lead) -> None:
    found = check(replace(STUDY, neck=Neck(frets=5)), lead)
    high = sum(n.fret > 5 for e in STUDY.events for n in e.notes)
    assert sum(v.amount == "off the neck" for v in found) == high > 0
    assert "level.difficulty" not in {v.rule for v in found}


def test_an_event_that_ends_after_the_last_bar_is_told_so(lead: Lead) -> None:
    (found,) = (v for v in check(put("c4", duration=BAR + 1), lead) if v.rule == "study.order")
    assert (found.tick, found.amount) == (STUDY.ticks, "runs on after the last bar")
