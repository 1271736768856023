"""Each rule of the lead by itself: what it allows and what it forbids, on touches, moves and lines made by hand.

The key is A on a guitar in standard tuning; the limits that the rows lean on are stated here and not taken from
the shipped files.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from lickwright.guitar.neck import Neck
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.rule import At, Automaton, LickRule, Line
from lickwright.rulebook.touches import (
    BEND,
    BEND_RELEASE,
    GRACE_HAMMER,
    HAMMER,
    NO_BEND,
    PLUCK,
    PRE_BEND,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    Touch,
    TouchTable,
)
from lickwright.rulebook.whole import grip_rules, study_rules
from lickwright.theory.harmony import Key, chord_in_key

A, NECK = Key("A"), Neck()
LIMITS = """
include = ["slow-shuffle"]
[neck]
frets = 20
[hand]
span_frets = { 12 = 2, 13 = 3, 14 = 4, 23 = 1, 24 = 2, 34 = 1 }
stretch = true
bend_start_s = 0.03
bend_mm_per_s = 60.0
shift_start_s = 0.1
shift_mm_per_s = 500.0
plucks_per_s = 8.0
hammer_ons_per_s = 10.0
pull_offs_per_s = 10.0
slides_per_s = 5.0
[lead.palette]
I = { 1 = 0, 2 = 30, b3 = 20, 3 = 0, 4 = 30, b5 = 50, 5 = 0, 6 = 20, b7 = 10 }
[lead.landing.question]
I = { 1 = 0, 3 = 0, 5 = 0 }
[lead.downbeats]
strong = [1, 3]
degrees = ["1", "b3", "3", "5", "b7", "9"]
minor_degrees = ["1", "b3", "5", "b7"]
[lead.windows]
shift_inside = false
[lead.bends]
sizes = ["quarter", "half", "whole"]
kinds = ["bend", "bend-release"]
strings = [1, 2, 3]
fingers = { quarter = [1, 2, 3, 4], half = [2, 3], whole = [3] }
lowest_fret = { quarter = 3, half = 3, whole = 5 }
highest_fret = 17
targets = { quarter = ["b3>b3"], half = ["2>b3"], whole = ["b7>1", "4>5"] }
curls_over = ["I", "V"]
least_beats = { quarter = 0.5, half = 0.5, whole = 0.5 }
most_per_lick = 1
[lead.techniques]
legato_frets = 3
slide_frets = 2
double_stop_intervals = [3, 4, 5]
double_stops_per_lick = 2
graces = ["3 over I"]
grace_beats = 0.9
[lead.shape]
most_leap = 9
most_run = 4
most_repeats = 2
trills = false
least_distinct = 0.5
most_of_one = 0.4
least_range = 7
held_beats = 1.0
passing = ["b5"]
passing_beats = 0.5
[lead.figure]
hook = true
[lead.sounded]
V = ["7"]
[comping]
highest_fret = 12
"""


@pytest.fixture(scope="module")
def lead(tmp_path_factory: pytest.TempPathFactory) -> Lead:
    path = tmp_path_factory.mktemp("rules") / "limits.toml"
    path.write_text(LIMITS)
    book, rules = read_rules(str(path))
    return Lead(rules, book, A, NECK)


def touch(
    string: int,
    fret: int,
    finger: int,
    *,
    position: int = 5,
    bend: int = 0,
    kind: int | None = None,
    mate: tuple[int, int, int] | None = None,
    grace: int = 0,
) -> Touch:
    kind = (BEND if bend else NO_BEND) if kind is None else kind
    below = (*mate, NECK.pitch(mate[0], mate[1])) if mate else (0, 0, 0, 0)
    return Touch(
        string, fret, finger, position, NECK.pitch(string, fret), bend, kind, *below, grace, 1 if grace else 0
    )


def row(one: Touch) -> TouchTable:
    return TouchTable.of([one])


def at(tick: int = 4, ticks: int = 4, roman: str = "I7", **more: object) -> At:
    fields: dict = {"index": 1, "count": 3, "role": "question", "tempo_bpm": 60} | more
    return At(tick, ticks, chord_in_key(roman, A), A, **fields)


def named(rules: Iterable, name: str):
    return next(rule for rule in rules if rule.name == name)


# ---- one touch: (rule, allowed, forbidden) ------------------------------------------------------------------

TOUCHES = [
    ("lead.neck", touch(1, 20, 4, position=17), touch(1, 21, 4, position=18)),
    ("hand.fingers", touch(2, 5, 1), touch(2, 5, 3)),
    ("hand.fingers", touch(2, 8, 4), touch(2, 8, 1)),
    ("hand.fingers", touch(2, 9, 4), touch(2, 10, 4)),
    ("hand.fingers", touch(1, 0, 0, position=1), touch(1, 0, 1, position=1)),
    ("hand.fingers", touch(1, 5, 1, mate=(2, 6, 2)), touch(1, 5, 1, mate=(2, 6, 4))),
    ("hand.double-stops", touch(1, 5, 1, mate=(2, 5, 1)), touch(1, 5, 1, mate=(2, 6, 1))),
    ("hand.double-stops", touch(1, 5, 1, mate=(2, 7, 3)), touch(1, 5, 1, mate=(2, 12, 4))),
    ("lead.double-stops", touch(1, 5, 1, mate=(2, 5, 1)), touch(1, 5, 1, mate=(3, 5, 1))),
    ("lead.double-stops", touch(1, 5, 1, mate=(2, 7, 3)), touch(1, 5, 1, mate=(2, 8, 4))),
    ("lead.double-stops", touch(2, 5, 1, mate=(3, 5, 1)), touch(2, 5, 1, bend=4, mate=(3, 5, 1))),
    ("lead.bends.sizes", touch(3, 7, 3, bend=4), touch(3, 7, 3, bend=6)),
    ("lead.bends.sizes", touch(3, 7, 3, bend=1), touch(3, 7, 3, bend=3)),
    ("lead.bends.kinds", touch(3, 7, 3, bend=4, kind=BEND_RELEASE), touch(3, 7, 3, bend=4, kind=PRE_BEND)),
    ("lead.bends.kinds", touch(3, 7, 3), touch(3, 7, 3, bend=4, kind=PRE_BEND_RELEASE)),
    ("lead.bends.strings", touch(3, 7, 3, bend=4), touch(4, 7, 3, bend=2)),
    ("lead.bends.frets", touch(3, 5, 3, bend=4), touch(3, 4, 3, bend=4)),
    ("lead.bends.frets", touch(3, 17, 3, bend=4, position=15), touch(3, 18, 3, bend=4, position=16)),
    ("lead.bends.frets", touch(3, 3, 3, bend=1), touch(3, 0, 0, bend=1)),
    ("lead.bends.fingers", touch(3, 7, 3, bend=4), touch(3, 7, 2, bend=4)),
    ("lead.bends.fingers", touch(3, 7, 2, bend=2), touch(3, 7, 4, bend=2)),
    ("lead.bends.targets", touch(2, 8, 3, bend=4), touch(2, 5, 3, bend=4)),
    ("lead.bends.targets", touch(3, 7, 3, bend=4), touch(3, 7, 3, bend=2)),
    ("lead.bends.targets", touch(3, 5, 1, bend=1), touch(3, 6, 1, bend=1)),
    ("hand.bends", touch(3, 7, 3, bend=4), touch(3, 7, 1, bend=4)),
    ("hand.bends", touch(6, 7, 3, bend=1), touch(6, 7, 3, bend=4)),
]


@pytest.mark.parametrize(("rule", "allowed", "forbidden"), TOUCHES)
def test_a_touch_by_itself(rule: str, allowed: Touch, forbidden: Touch, lead: Lead) -> None:
    judged = named(lead.touch_rules, rule).allows(TouchTable.of([allowed, forbidden]))
    assert judged.tolist() == [True, False]


# ---- a touch at its onset: (rule, (touch, at) allowed, (touch, at) forbidden) --------------------------------
# string 3: fret 2 A, 3 Bb, 4 B, 5 C, 6 C sharp, 7 D, 8 E flat, 9 E

THIRD = touch(3, 6, 2)
ONSETS = [
    ("lead.scale", (touch(3, 2, 1), at()), (touch(3, 3, 1), at())),
    ("lead.scale", (touch(3, 7, 3, bend=4), at()), (touch(3, 6, 2, bend=4, kind=BEND), at(roman="V7"))),
    ("lead.downbeats", (THIRD, at(0)), (touch(3, 7, 3), at(0))),
    ("lead.downbeats", (touch(3, 7, 3), at(12)), (touch(3, 7, 3), at(24))),
    ("lead.downbeats", (touch(3, 5, 1), at(0, roman="Im7")), (touch(3, 6, 2), at(0, roman="Im7"))),
    ("lead.downbeats", (touch(3, 7, 3, bend=4), at(0)), (touch(3, 8, 3), at(0))),
    ("lead.landing", (THIRD, at(index=2)), (touch(3, 5, 1), at(index=2))),
    ("lead.landing", (touch(3, 5, 1), at(index=1)), (touch(3, 7, 3, bend=4, kind=BEND_RELEASE), at(index=2))),
    ("lead.held", (THIRD, at(ticks=12)), (touch(3, 7, 3), at(ticks=12))),
    ("lead.held", (touch(3, 7, 3), at(ticks=11)), (touch(3, 5, 1), at(ticks=12))),
    (
        "lead.held",
        (touch(3, 5, 1, bend=1), at(ticks=12)),
        (touch(3, 5, 1, bend=1), at(ticks=12, roman="V7")),
    ),
    ("lead.held", (touch(3, 7, 3, bend=4), at(ticks=12)), (touch(3, 9, 4, bend=4), at(ticks=12))),
    ("lead.passing", (touch(3, 8, 4), at(ticks=4)), (touch(3, 8, 4), at(ticks=6))),
    ("lead.passing", (touch(3, 8, 4), at(ticks=6, roman="IV7b9")), (touch(3, 8, 4), at(ticks=8, roman="V7"))),
    ("lead.bends.time", (touch(3, 7, 3, bend=4), at(ticks=6)), (touch(3, 7, 3, bend=4), at(ticks=4))),
    (
        "lead.bends.time",
        (touch(3, 7, 3, bend=4), at(ticks=6)),
        (touch(3, 7, 3, bend=4), at(ticks=6, tempo_bpm=260)),
    ),
    ("lead.bends.curls", (touch(3, 5, 1, bend=1), at()), (touch(3, 5, 1, bend=1), at(roman="IV7"))),
    (
        "lead.double-stops.chord",
        (touch(1, 5, 1, mate=(2, 5, 1)), at()),
        (touch(1, 7, 3, mate=(2, 7, 3)), at()),
    ),
    (
        "lead.double-stops.chord",
        (touch(1, 5, 1, mate=(2, 5, 1)), at(ticks=4)),
        (touch(1, 5, 1, mate=(2, 5, 1)), at(ticks=2)),
    ),
    (
        "lead.graces",
        (touch(3, 6, 2, grace=GRACE_HAMMER), at(ticks=12)),
        (touch(3, 7, 3, grace=GRACE_HAMMER), at(ticks=12)),
    ),
    (
        "lead.graces",
        (touch(3, 6, 2), at(ticks=4)),
        (touch(3, 6, 2, grace=GRACE_HAMMER), at(ticks=4)),
    ),
    (
        "lead.graces",
        (touch(1, 5, 1, mate=(2, 2, 1), grace=GRACE_HAMMER), at(ticks=12)),
        (touch(3, 6, 2, grace=GRACE_HAMMER), at(ticks=12, roman="IV7")),
    ),
]


@pytest.mark.parametrize(("rule", "allowed", "forbidden"), ONSETS)
def test_a_touch_at_its_onset(
    rule: str, allowed: tuple[Touch, At], forbidden: tuple[Touch, At], lead: Lead
) -> None:
    judge = named(lead.onset_rules, rule)
    assert judge.allows(row(allowed[0]), allowed[1]).tolist() == [True]
    assert judge.allows(row(forbidden[0]), forbidden[1]).tolist() == [False]


def test_over_a_chord_without_a_palette_its_tones_are_played(lead: Lead) -> None:
    judge = named(lead.onset_rules, "lead.scale")
    flat_two = at(roman="bII7")
    pitches = [judge.allows(row(touch(3, fret, 1)), flat_two)[0] for fret in range(2, 14)]
    assert sum(pitches) == 4


def test_where_nothing_is_said_of_a_landing_its_chord_is_landed_on(lead: Lead) -> None:
    assert lead.landing(at(roman="bII7")) == {"b2": 0, "4": 0, "b6": 0, "7": 0}


# ---- from touch to touch: (rule, (a, b, way) allowed, (a, b, way) forbidden) ----------------------------------

C, D, E = touch(3, 5, 1), touch(3, 7, 3), touch(2, 5, 1)
BENT, RELEASED = touch(3, 7, 3, bend=4), touch(3, 7, 3, bend=4, kind=BEND_RELEASE)
MOVES = [
    ("lead.legato", (C, D, HAMMER), (D, C, HAMMER)),
    ("lead.legato", (D, C, PULL), (C, D, PULL)),
    ("lead.legato", (C, E, PLUCK), (C, E, HAMMER)),
    ("lead.legato", (C, touch(3, 8, 4), HAMMER), (C, touch(3, 9, 4), HAMMER)),
    ("lead.legato", (C, touch(3, 6, 2), HAMMER), (C, touch(3, 6, 1), HAMMER)),
    ("lead.legato", (C, touch(3, 7, 3), HAMMER), (C, BENT, HAMMER)),
    ("lead.slides", (C, touch(3, 7, 1), SLIDE), (C, touch(3, 8, 1), SLIDE)),
    ("lead.slides", (C, touch(3, 4, 1), SLIDE), (C, touch(3, 7, 3), SLIDE)),
    ("lead.slides", (touch(3, 2, 1), touch(3, 1, 1), SLIDE), (touch(3, 2, 1), touch(3, 0, 1), SLIDE)),
    ("lead.slides", (C, E, PLUCK), (C, E, SLIDE)),
    ("lead.bends.left", (BENT, C, PLUCK), (BENT, C, PULL)),
    ("lead.bends.left", (RELEASED, C, PULL), (RELEASED, touch(3, 8, 4), HAMMER)),
    ("lead.unison", (touch(3, 9, 4), touch(3, 9, 4), PLUCK), (touch(3, 9, 4), E, PLUCK)),
    ("lead.unison", (BENT, E, PLUCK), (E, touch(3, 9, 4), PLUCK)),
    ("lead.leap", (C, touch(1, 5, 1), PLUCK), (C, touch(1, 6, 2), PLUCK)),
    ("lead.leap", (BENT, C, PLUCK), (touch(1, 8, 4), touch(4, 7, 3), PLUCK)),
    ("hand.span", (touch(3, 5, 1), touch(3, 9, 4), PLUCK), (touch(3, 4, 1), touch(3, 9, 4), PLUCK)),
    ("hand.span", (touch(3, 7, 3), touch(2, 8, 4), PLUCK), (touch(3, 6, 3), touch(2, 8, 4), PLUCK)),
    ("lead.windows.shift", (C, D, PLUCK), (C, touch(3, 7, 2, position=6), PLUCK)),
]


@pytest.mark.parametrize(("rule", "allowed", "forbidden"), MOVES)
def test_a_move(
    rule: str, allowed: tuple[Touch, Touch, int], forbidden: tuple[Touch, Touch, int], lead: Lead
) -> None:
    judge = named(lead.move_rules, rule)
    verdicts = [bool(judge.allows(row(a), row(b), np.array([how]))[0]) for a, b, how in (allowed, forbidden)]
    assert verdicts == [True, False]


@pytest.mark.parametrize("how", [HAMMER, PULL, SLIDE])
def test_only_a_plucked_note_stands_after_a_silence(how: int, lead: Lead) -> None:
    ways = np.array([PLUCK, how])
    assert lead.join_rule.allows(ways, False).tolist() == [True, False]
    assert lead.join_rule.allows(ways, np.array([True, True])).all()


def needs(lead: Lead, rule: str, a: Touch, b: Touch, how: int) -> float:
    return float(named(lead.time_rules, rule).needs(row(a), row(b), np.array([how]))[0])


def test_a_shift_takes_its_start_and_then_its_way(lead: Lead) -> None:
    fret_5, fret_7 = NECK.fret_mm(5), NECK.fret_mm(7)
    far = touch(3, 7, 1, position=7)
    assert needs(lead, "hand.shift", C, D, PLUCK) == 0
    assert needs(lead, "hand.shift", C, far, PLUCK) == pytest.approx(0.1 + (fret_7 - fret_5) / 500, abs=0.02)
    assert needs(lead, "hand.shift", C, touch(3, 12, 1, position=12), PLUCK) > needs(
        lead, "hand.shift", C, far, PLUCK
    )


def test_a_finger_that_hops_takes_time_and_another_finger_none(lead: Lead) -> None:
    assert needs(lead, "hand.hop", C, touch(2, 6, 1), PLUCK) > 0.1
    assert needs(lead, "hand.hop", C, touch(2, 6, 2), PLUCK) == 0
    assert needs(lead, "hand.hop", C, touch(2, 5, 1), PLUCK) == 0
    assert needs(lead, "hand.hop", C, touch(3, 6, 1), SLIDE) == 0


@pytest.mark.parametrize(("how", "a_second"), [(PLUCK, 8), (HAMMER, 10), (PULL, 10), (SLIDE, 5)])
def test_each_way_of_sounding_has_its_rate(how: int, a_second: int, lead: Lead) -> None:
    assert needs(lead, "hand.rates", C, D, how) == pytest.approx(1 / a_second)


# ---- a lick in order ---------------------------------------------------------------------------------------


def accepts(automaton: Automaton, symbols: Iterable[int]) -> bool:
    state = 0
    for symbol in symbols:
        state = int(automaton.delta[state, symbol])
        if state < 0:
            return False
    return bool(automaton.accept[state])


def reads(rule: LickRule, touches: list[Touch]) -> bool:
    rows = [row(one) for one in touches]
    how = np.array([PLUCK])
    moves = [int(rule.move(a, b, how)[0]) for a, b in pairwise(rows)]
    return accepts(rule.automaton, [int(rule.first(rows[0])[0]), *moves])


def tune(*frets: int) -> list[Touch]:
    """Notes on one string: only their intervals matter to the line."""
    return [touch(1, fret, 1) for fret in frets]


LINES = [
    ("four steps one way", tune(3, 5, 7, 8, 10, 9), tune(3, 5, 7, 8, 10, 12)),
    ("a pitch twice", tune(5, 5, 7), tune(5, 5, 5)),
    ("a leap that is answered", tune(3, 8, 7, 5), tune(3, 8, 13)),
    ("a leap that is answered by a step on", tune(3, 8, 9, 7), tune(3, 8, 11)),
    ("there and back once", tune(5, 7, 5, 3), tune(5, 7, 5, 7)),
]


@pytest.mark.parametrize(("what", "allowed", "forbidden"), LINES)
def test_the_line(what: str, allowed: list[Touch], forbidden: list[Touch], lead: Lead) -> None:
    rule = named(lead.lick_rules, "lead.line")
    assert [reads(rule, allowed), reads(rule, forbidden)] == [True, False], what


def test_a_bend_counts_from_a_half_step_on(lead: Lead) -> None:
    rule = named(lead.lick_rules, "lead.bends.count")
    curl = touch(3, 5, 1, bend=1)
    assert reads(rule, [curl, curl, BENT, curl])
    assert not reads(rule, [BENT, C, RELEASED])


def test_a_lick_over_v_sounds_its_third_in_either_voice(lead: Lead) -> None:
    (rule,) = [r for r in lead.slot_rules([at(roman="V7")] * 3) if r.name == "lead.sounded.V"]
    leading = touch(4, 6, 2)
    assert reads(rule, [C, leading, D])
    assert reads(rule, [touch(1, 0, 0), touch(1, 7, 1, mate=(2, 9, 3))])
    assert not reads(rule, [C, D])
    assert not [r for r in lead.slot_rules([at(roman="V7")] * 2) if r.name == "lead.sounded.V"]


# ---- a finished lick ---------------------------------------------------------------------------------------


def line(*pitches: int, **more: object) -> Line:
    n = len(pitches)
    ticks = tuple(range(0, 4 * n, 4))
    return replace(Line(pitches, ticks, (4,) * n, (False,) * n, 3), **more)


SHAPES = [
    ("lead.shape.distinct", line(60, 62, 64, 62), line(60, 62, 60, 62, 60)),
    ("lead.shape.one-pitch", line(60, 62, 60, 64, 65), line(60, 62, 60, 64, 60, 65, 60)),
    ("lead.shape.range", line(60, 62, 64, 65, 67, 65, 64), line(60, 62, 64, 65, 66, 65, 64)),
    ("lead.shape.range", line(60, 62, 64), line(60, 62, 64, 62, 61, 62, 60)),
    ("lead.shape.peak", line(60, 64, 64, 62), line(60, 64, 62, 64)),
    ("lead.shape.peak", line(60, 64), line(64, 64, 64)),
    ("lead.shape.rambling", line(60, 62, 64, 60, 62, 63), line(60, 62, 64, 60, 62, 64)),
    (
        "hand.same-finger",
        line(60, 62, 60, places=((3, 5, 1), (3, 7, 3), (3, 5, 1))),
        line(60, 62, 60, places=((3, 5, 1), (3, 7, 3), (3, 5, 2))),
    ),
    ("lead.double-stops.count", line(60, 62, doubles=2), line(60, 62, doubles=3)),
    ("lead.figure.hook", line(60, 64, 65, leads=True), line(60, 62, 64, leads=True)),
    ("lead.figure.hook", line(60, 60, 62, leads=True), line(60, 62, 63, 67, leads=True)),
    ("lead.figure.hook", line(60, 62, 63), line(60, 62, 63, marked=(False,) * 3, leads=True)),
    (
        "lead.figure.hook",
        line(60, 62, 63, marked=(False, True, False), leads=True),
        line(60, 62, 63, 62, marked=(False, False, False, True), leads=True),
    ),
]


@pytest.mark.parametrize(("rule", "allowed", "forbidden"), SHAPES)
def test_a_finished_lick(rule: str, allowed: Line, forbidden: Line, lead: Lead) -> None:
    judge = named(lead.shape_rules, rule)
    assert [judge.allows(allowed), judge.allows(forbidden)] == [True, False]


# ---- grips: (rule, (notes, chord, grip) allowed, forbidden) --------------------------------------------------

A7 = ((4, 5, 1), (3, 6, 3), (2, 5, 2))
GRIPS = [
    ("hand.grip", (A7, "I7", "b7-3-5"), (((4, 5, 1), (3, 11, 3), (2, 5, 2)), "I7", None)),
    ("hand.grip", (((6, 5, 1),), "I7", None), (((6, 5, 1), (5, 6, 1)), "I7", None)),
    ("comping.tones", (A7, "I7", "b7-3-5"), (A7, "IV7", "b7-3-5")),
    ("comping.tones", (A7, "IV7", None), (A7, "I7", "no such grip")),
    ("comping.tones", (A7, "I7", "b7-3-5"), (((4, 5, 1), (3, 5, 1), (2, 5, 1)), "I7", "b7-3-5")),
    (
        "comping.highest-fret",
        (((4, 14, 1),), "I7", None),
        (((4, 15, 1),), "I7", None),
    ),
]


@pytest.mark.parametrize(("rule", "allowed", "forbidden"), GRIPS)
def test_a_grip(rule: str, allowed: tuple, forbidden: tuple, lead: Lead) -> None:
    judge = named(grip_rules(lead), rule)
    assert judge.fault(*allowed) == ""
    assert judge.fault(*forbidden) != ""


# ---- none is left out --------------------------------------------------------------------------------------


def test_every_rule_of_the_lead_is_tried_here(lead: Lead) -> None:
    tables = (TOUCHES, ONSETS, MOVES, SHAPES, GRIPS)
    tried = {case[0] for table in tables for case in table}
    tried |= {
        "lead.joined",
        "hand.shift",
        "hand.hop",
        "hand.rates",
        "lead.line",
        "lead.bends.count",
        "lead.sounded.V",
    }
    assert {rule.name for rule in (*lead.all_rules, *grip_rules(lead))} == tried


def test_a_rule_says_its_limit_and_names_the_file_that_set_it(lead: Lead) -> None:
    leap = named(lead.move_rules, "lead.leap")
    assert "9 semitones" in leap.sentence
    assert str(leap.source).endswith("limits.toml: lead.shape.most_leap")


def with_rules(tmp_path: Path, text: str) -> Lead:
    """The limits of this file with others in their place."""
    own = tmp_path / "own.toml"
    own.write_text(f'include = ["limits"]\n{text}')
    (tmp_path / "limits.toml").write_text(LIMITS)
    book, rules = read_rules(str(own))
    return Lead(rules, book, A, NECK)


def test_the_line_says_no_trill_just_when_trills_are_forbidden(lead: Lead, tmp_path: Path) -> None:
    trilling = with_rules(tmp_path, "[lead.shape]\ntrills = true\n")
    assert "no trill" in named(lead.lick_rules, "lead.line").sentence
    assert "trill" not in named(trilling.lick_rules, "lead.line").sentence
    assert reads(named(trilling.lick_rules, "lead.line"), tune(5, 7, 5, 7))


def test_a_style_that_asks_for_no_hook_has_no_rule_for_it(lead: Lead, tmp_path: Path) -> None:
    plain = with_rules(tmp_path, "[lead.figure]\nhook = false\n")
    assert {r.name for r in lead.shape_rules} - {r.name for r in plain.shape_rules} == {"lead.figure.hook"}


def test_comping_says_how_high_it_lies(tmp_path: Path) -> None:
    rule = named(grip_rules(with_rules(tmp_path, "[comping]\nhighest_fret = 9\n")), "comping.highest-fret")
    assert "up to fret 9" in rule.sentence
    assert "up to fret 11" in rule.sentence


def test_every_rule_names_a_key_that_is_there(lead: Lead) -> None:
    for rule in (*lead.all_rules, *grip_rules(lead), *study_rules(lead)):
        table = lead.book.data
        for key in rule.source.key.split("."):
            assert key in table, f"{rule.name}: {rule.source}"
            table = table[key]


@pytest.mark.parametrize(
    ("rule", "key"),
    [
        ("lead.double-stops.count", "lead.techniques.double_stops_per_lick"),
        ("lead.figure.hook", "lead.figure.hook"),
        ("lead.shape.range", "lead.shape.least_range"),
        ("lead.shape.peak", "lead.shape"),
        ("lead.shape.rambling", "lead.shape"),
        ("lead.unison", "lead.shape"),
        ("hand.same-finger", "hand"),
    ],
)
def test_a_rule_names_the_key_of_its_limit_or_its_table_when_it_has_none(
    rule: str, key: str, lead: Lead
) -> None:
    assert named(lead.all_rules, rule).source.key == key
