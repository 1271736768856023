"""What types cannot say of a study file: each thing that makes no sense is said, with its keys and what would be right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from typing import Any

import pytest
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import Asks, Before, Drill, Moment, Step, Study, StudyFileError
from lickwright.study.validate import MOST_EVENTS, senseless

from tests.studies import tour


def good() -> Study:
    """Four bars with every technique, as a practice sheet of one exercise."""
    steps = (Step(70, 42, 5), Step(100, 60, 3))
    drill = Drill(0, 1, ("bend-release",), ((16,),), 3.5, steps, Before.WARM_UP, 60.0, 90.0)
    hard = Moment(16, Asks.BEND, (7, 7), "whole step on string 3 fret 7 with finger 3", 9.5, 12.0, "N")
    return replace(tour(), drills=(drill,), hard_moments=(hard,))


def changed(value: Any, keys: Sequence[str], new: Any) -> Any:
    """A value of frozen dataclasses and tuples with another one where the keys lead."""
    if not keys:
        return new
    key, *rest = keys
    if is_dataclass(value):
        assert key in {field.name for field in fields(value)}
        return replace(value, **{key: changed(getattr(value, key), rest, new)})  # type: ignore[type-var]
    n = int(key)
    return (*value[:n], changed(value[n], rest, new), *value[n + 1 :])


def messages(*changes: tuple[str, Any]) -> list[str]:
    study = good()
    for where, new in changes:
        study = changed(study, where.split("."), new)
    return list(senseless(study))


LICK, GRIP, BENT, GRACED, TRILLED = "events.0", "events.10", "events.2", "events.7", "events.18"

#: What is changed in the good study, and how the first message begins.
CASES: list[tuple[str, Any, str]] = [
    # ---- the whole
    ("key", "H", "key: unknown key 'H': use one of C Db"),
    ("meter", "3/4", "meter: '3/4': use 12/8 or 4/4"),
    ("grid", "even", "grid: 'even': use triplet or straight"),
    ("tempo_bpm", 0, "tempo_bpm: 0 beats a minute; a study has 1 to 1000"),
    ("tempo_bpm", 1001, "tempo_bpm: 1001 beats a minute"),
    ("bars", 0, "bars: 0; a study has 1 to 1000"),
    ("bars", 1001, "bars: 1001;"),
    ("events", good().events[:1] * (MOST_EVENTS + 1), "events: 20001; a study has at most 20000"),
    *((name, "x" * 2001, f"{name}: 2001 characters; at most 2000") for name in ("title", "feel", "level")),
    ("scheme", "x" * 2001, "scheme: 2001 characters; at most 2000"),
    ("number", -1, "number: -1; numbers go from 0 to 1000000"),
    ("number", 1_000_001, "number: 1000001;"),
    ("neck.tuning", (64,), "neck.tuning: a neck has 2 to 12 strings with pitches from 0 to 127"),
    ("neck.tuning", tuple(range(76, 50, -2)), "neck.tuning: a neck has 2 to 12 strings"),
    ("neck.tuning.0", 128, "neck.tuning: a neck has 2 to 12 strings with pitches from 0 to 127"),
    ("neck.frets", 37, "neck.frets: 37; a neck has at most 36"),
    *(
        (f"neck.{name}", length, "neck: a length is above 10000 mm, or no number")
        for name in ("scale_mm", "nut_spacing_mm", "bridge_spacing_mm", "edge_mm")
        for length in (10_001.0, math.inf, math.nan)
    ),
    # ---- the form
    ("form", (), "form: has no chord"),
    ("form.2.roman", "X7", "form.2: unknown chord 'X7'"),
    ("form.0.onset", -1, "form.0: ticks -1 to 47, the study has 0 to 192"),
    ("form.6.onset", 192, "form.6: ticks 192 to 204, the study has 0 to 192"),
    ("form.0.duration", 0, "form.0: ticks 0 to 0"),
    ("form.0.duration", 193, "form.0: ticks 0 to 193"),
    ("form.1.onset", 0, "form: its chords must be in order of their onsets"),
    # ---- slots and phrases
    ("slots.1.number", 2, "slots.1.number: 2; slots are numbered in order from 0"),
    ("slots.1.start", -1, "slots.1: ticks -1 to 96, the study has 0 to 192"),
    ("slots.1.end", 47, "slots.1: ticks 48 to 47"),
    ("slots.3.end", 193, "slots.3: ticks 144 to 193"),
    ("slots.1.phrase", 1, "slots.1.phrase: 1; there is no such phrase"),
    ("slots.2.quotes", 1, "slots.2.quotes: 1; no lick has that slot"),
    ("slots.0.figure_notes", 7, "slots.0.figure_notes: 7; a figure has onsets of its slot, which has 6"),
    ("slots.0.figure_notes", -1, "slots.0.figure_notes: -1;"),
    ("slots.0.windows", (5, 37), "slots.0.windows: a hand lies at a fret from 0 to 36"),
    ("slots.0.windows", (-1,), "slots.0.windows: a hand lies at a fret from 0 to 36"),
    ("phrases.0.first_bar", -1, "phrases.0: bars -1 to 3 counted from 0; the study has 0 to 3"),
    ("phrases.0.last_bar", 4, "phrases.0: bars 0 to 4 counted from 0; the study has 0 to 3"),
    # ---- drills
    ("drills.0.phrase", 1, "drills.0.phrase: 1; each phrase has one drill, in order from 0"),
    ("drills.0.steps", (), "drills.0.steps: there is none"),
    *(
        (f"drills.0.steps.1.{name}", number, "drills.0.steps: ")
        for name, number in (("percent", 0), ("percent", 401), ("tempo_bpm", 0), ("times", 0), ("times", 1001))
    ),
    ("drills.0.steps.0", Step(70, 1001, 5), "drills.0.steps: 70 %, 1001 beats a minute, 5 times: out of reach"),
    ("drills.0.places", (), "drills.0.places: 0 for 1 things it trains; one list of ticks for each"),
    ("drills.0.places.0", (16, 192), "drills.0.places: a tick lies outside 0 to 192"),
    *(
        (f"drills.0.{name}", number, "drills.0: difficulty, before_s and lasts_s are 0 or more")
        for name in ("difficulty", "before_s", "lasts_s")
        for number in (-0.5, math.nan)
    ),
    # ---- hard moments
    ("hard_moments.0.frets", (7, 37), "hard_moments.0.frets: a fret lies outside 0 to 36"),
    *(
        (f"hard_moments.0.{name}", number, "hard_moments.0: asked and limit are numbers from 0 to 1000000")
        for name in ("asked", "limit")
        for number in (-0.5, math.nan, math.inf)
    ),
    *((f"hard_moments.0.{name}", "x" * 2001, "hard_moments.0: what and unit have") for name in ("what", "unit")),
    # ---- events
    (f"{LICK}.onset", -1, "events.0: ticks -1 to 3, the study has 192"),
    ("events.21.onset", 192, "events.21: ticks 192 to 204, the study has 192"),
    (f"{LICK}.duration", 0, "events.0: ticks 4 to 4"),
    (f"{GRIP}.ring", -1, "events.10.ring: -1 ticks; it rings on past the end of the study, or not at all"),
    ("events.21.ring", 49, "events.21.ring: 49 ticks; it rings on past the end of the study"),
    (f"{LICK}.chord", "H7", "events.0.chord (bar 1 beat 1 + 1/3): unknown chord 'H7'"),
    (f"{LICK}.notes", (), "events.0: has no notes or no slot"),
    (f"{LICK}.slot", 4, "events.0: has no notes or no slot"),
    (f"{LICK}.slot", -1, "events.0: has no notes or no slot"),
    (f"{LICK}.hand", 37, "events.0.hand: 37; it lies at a fret from 0 to 36"),
    (f"{GRIP}.notes.0.string", 3, "events.10.notes (bar 2 beat 4): two notes on one string"),
    (f"{LICK}.onset", 8, "events: they must be in order of their onsets, one at each"),
    (f"{LICK}.duration", 5, "events (bar 1 beat 1 + 2/3): e2 begins before e1 has ended; shorten e1"),
    ("events.1.id", "e1", "events: two have one id"),
    # ---- notes
    (f"{LICK}.notes.0.pitch", 128, "events.0.notes (bar 1 beat 1 + 1/3): a pitch of 128 lies outside 0 to 127"),
    (f"{LICK}.notes.0.string", 0, "events.0.notes (bar 1 beat 1 + 1/3): string 0; the neck has 1 to 6"),
    (f"{LICK}.notes.0.string", 7, "events.0.notes (bar 1 beat 1 + 1/3): string 7; the neck has 1 to 6"),
    (f"{LICK}.notes.0.fret", 37, "events.0.notes (bar 1 beat 1 + 1/3): a fret lies outside 0 to 36"),
    (f"{GRACED}.notes.1.grace.fret", -1, "events.7.notes (bar 2 beat 2): a fret lies outside 0 to 36"),
    (f"{TRILLED}.notes.0.trill", 37, "events.18.notes (bar 3 beat 4 + 1/3): a fret lies outside 0 to 36"),
    (f"{LICK}.notes.0.finger", 10, "events.0.notes (bar 1 beat 1 + 1/3): finger"),
    (f"{GRACED}.notes.1.grace.finger", -1, "events.7.notes (bar 2 beat 2): finger"),
    # ---- bends
    (f"{BENT}.notes.0.bend.size", 25, "events.2.notes (bar 1 beat 2 + 1/3).bend: a bend goes up by 0 to 24"),
    (f"{BENT}.notes.0.bend.curve.1", (2.0, -1.0), "events.2.notes (bar 1 beat 2 + 1/3).bend: a bend goes up by"),
    (f"{BENT}.notes.0.bend.curve.1", (2.0, math.nan), "events.2.notes (bar 1 beat 2 + 1/3).bend: a bend goes up"),
    (f"{BENT}.notes.0.bend.curve", (), "events.2.notes (bar 1 beat 2 + 1/3).bend.curve: needs points, at ticks from"),
    (f"{BENT}.notes.0.bend.curve.4", (10.0, 0.0), "events.2.notes (bar 1 beat 2 + 1/3).bend.curve: needs points"),
    (f"{BENT}.notes.0.bend.curve.1", (7.0, 4.0), "events.2.notes (bar 1 beat 2 + 1/3).bend.curve: its points must"),
]  # fmt: skip


def test_a_good_study_has_no_message() -> None:
    assert list(senseless(good())) == []
    assert list(senseless(tour())) == []
    assert from_json(to_json(good())) == good()


@pytest.mark.parametrize(
    ("where", "new", "message"), CASES, ids=[f"{n}-{where}" for n, (where, _, _) in enumerate(CASES)]
)
def test_what_makes_no_sense_is_said(where: str, new: object, message: str) -> None:
    first, *_ = messages((where, new))
    assert first.startswith(message)


def test_two_phrases_and_one_drill_are_said() -> None:
    """Slots that still name the phrase there is leave no other message."""
    again = replace(good().phrases[0], number=1)
    assert messages(("phrases", (good().phrases[0], again))) == [
        "drills: 1 for 2 phrases; each phrase has one"
    ]
    assert messages(("phrases", (good().phrases[0], replace(again, number=2)))) == [
        "phrases.1.number: 2; phrases are numbered in order from 0",
        "drills: 1 for 2 phrases; each phrase has one",
    ]


def test_several_faults_are_said_together_in_the_order_of_the_file() -> None:
    found = messages(("form.2.roman", "X7"), ("slots.1.phrase", 4), ("events.0.hand", 99))
    assert [m.split(":")[0] for m in found] == ["form.2", "slots.1.phrase", "events.0.hand"]


def test_while_the_whole_makes_no_sense_its_parts_are_not_looked_at() -> None:
    found = messages(("meter", "3/4"), ("tempo_bpm", 0), ("events.0.hand", 99))
    assert [m.split(":")[0] for m in found] == ["meter", "tempo_bpm"]


def test_the_last_tick_and_a_bar_of_ringing_are_not_too_much() -> None:
    """What is allowed at the edges: a chord that rings a bar past the end, a bend's last point on the note's end."""
    last = good().events[21]
    assert last.end == good().ticks
    assert messages(("events.21.ring", 48)) == []
    assert messages(("bars", 1000)) == []
    assert messages(("neck.frets", 36), ("tempo_bpm", 1000), ("number", 1_000_000)) == []


def test_reading_a_file_says_the_same_messages() -> None:
    bad = changed(good(), ["events", "0", "hand"], 99)
    with pytest.raises(StudyFileError) as caught:
        from_json(to_json(bad))
    assert caught.value.problems == list(senseless(bad))


def test_a_file_full_of_faults_gets_twenty_lines_at_most() -> None:
    bad = replace(good(), events=tuple(replace(e, hand=99) for e in good().events))
    assert len(list(senseless(bad))) == len(good().events) > 20
    with pytest.raises(StudyFileError) as caught:
        from_json(to_json(bad))
    assert len(caught.value.problems) == 20
