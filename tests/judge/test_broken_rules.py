"""A study that is spoiled in one place: check names the rule, the bar, the string, and by how much."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from lickwright.compose.setting import Setting, setting_for
from lickwright.judge.check import Violation, check
from lickwright.study.model import Bend, BendKind, Brief, Event, Note, SlotKind, Study, Technique
from lickwright.theory.harmony import DEGREES

from tests.written import written

BRIEF = Brief("slow-shuffle", "A", 7, level="fluent")


@pytest.fixture(scope="module")
def given() -> Setting:
    return setting_for(BRIEF)


@pytest.fixture(scope="module")
def study() -> Study:
    return written(BRIEF)


def licks(study: Study) -> list[Event]:
    return [e for e in study.events if study.slots[e.slot].kind is SlotKind.LICK and len(e.notes) == 1]


def inner(study: Study) -> Event:
    """A single plain note of a lick, neither first nor last, off the beat."""
    for event in licks(study):
        note = event.notes[0]
        around = study.events_of(event.slot)
        plain = not note.bend and not note.grace and note.technique is Technique.PLUCK and note.fret > 3
        if event not in (around[0], around[-1]) and plain and event.onset % 12:
            return event
    raise AssertionError("the study has no plain inner note")


def put(study: Study, event: Event, **note: object) -> Study:
    changed = replace(event.notes[0], **note)  # type: ignore[arg-type]
    pitch = study.neck.pitch(changed.string, changed.fret)
    if "pitch" not in note:
        changed = replace(changed, pitch=pitch)
    return swap(study, event, replace(event, notes=(changed, *event.notes[1:])))


def swap(study: Study, event: Event, other: Event) -> Study:
    return replace(study, events=tuple(other if e.id == event.id else e for e in study.events))


def off_scale(study: Study, given: Setting) -> Study:
    event = inner(study)
    palettes = given.rules.lead.palette
    for fret in range(event.notes[0].fret - 2, event.notes[0].fret + 3):
        degree = DEGREES[(study.neck.pitch(event.notes[0].string, fret) - study.home.pitch_class) % 12]
        if all(degree not in palette for palette in palettes.values()):
            return put(study, event, fret=fret, finger=max(1, min(4, fret - event.hand + 1)))
    return put(study, inner(study), fret=event.notes[0].fret + 9)


def bent_below(study: Study) -> Study:
    event = inner(study)
    bend = Bend(BendKind.BEND, 4, ((0, 0), (4, 4)))
    return put(study, event, string=6, fret=event.hand, finger=1, bend=bend)


def rush(study: Study) -> Study:
    pairs = pairwise(study.events)
    a, b = min(pairs, key=lambda p: (study.slots[p[1].slot].kind is SlotKind.LICK, p[1].onset - p[0].onset))
    return swap(study, b, replace(b, hand=19 if a.hand < 10 else 1))


def overlap(study: Study) -> Study:
    event = study.events[3]
    return swap(study, event, replace(event, duration=event.duration + 48))


def mistuned(study: Study) -> Study:
    return put(study, inner(study), pitch=inner(study).notes[0].pitch + 1)


def impossible_grip(study: Study) -> Study:
    event = next(e for e in study.events if e.grip)
    low, *rest = event.notes
    far = replace(low, fret=low.fret + 9, pitch=low.pitch + 9)
    return swap(study, event, replace(event, notes=(far, *rest)))


def hammer_down(study: Study) -> Study:
    events = licks(study)
    for a, b in pairwise(events):
        here, there = a.notes[0], b.notes[0]
        if a.slot == b.slot and here.string != there.string and not there.bend and not there.grace:
            return put(study, b, technique=Technique.HAMMER_ON)
    raise AssertionError("no string is crossed")


def too_fast(study: Study) -> Study:
    return replace(study, tempo_bpm=300)


CASES: dict[str, tuple[Callable[..., Study], str]] = {
    "a note outside the palette": (off_scale, "lead.scale"),
    "a bend on the sixth string": (bent_below, "lead.bends.strings"),
    "a shift without time": (rush, "hand.between"),
    "an event that overlaps": (overlap, "study.order"),
    "a pitch that its place does not give": (mistuned, "study.pitches"),
    "a grip no hand can hold": (impossible_grip, "hand.grip"),
    "a hammer-on to another string": (hammer_down, "lead.legato"),
    "a tempo beyond the style": (too_fast, "study.tempo"),
}


@pytest.mark.parametrize("what", CASES)
def test_check_names_the_broken_rule(what: str, study: Study, given: Setting) -> None:
    spoil, rule = CASES[what]
    spoiled = spoil(study, given) if spoil is off_scale else spoil(study)
    found = {v.rule for v in check(spoiled, given.lead)}
    assert rule in found


def test_an_unspoiled_study_breaks_nothing(study: Study, given: Setting) -> None:
    assert check(study, given.lead) == ()


def test_a_violation_says_where_and_by_how_much(study: Study, given: Setting) -> None:
    event = inner(study)
    found = next(v for v in check(mistuned(study), given.lead) if v.rule == "study.pitches")
    assert isinstance(found, Violation)
    assert (found.tick, found.string, found.fret) == (event.onset, event.notes[0].string, event.notes[0].fret)
    text = str(found)
    assert f"bar {event.onset // 48 + 1} beat" in text
    assert "string" in text
    assert "the place gives" in text
    assert "neck.tuning" in text


def test_every_rule_has_a_name_a_sentence_and_a_source(given: Setting) -> None:
    for rule in given.lead.all_rules:
        assert rule.name
        assert len(rule.sentence.split()) >= 3
        assert rule.source.file.endswith(".toml")
        assert rule.source.key


def test_a_note_keeps_its_degree() -> None:
    assert Note(2, 5, 1, 64, "5").sounding2 == 128
