"""Parts of a study that stay while the rest is solved anew: slots, bars, notes, grips, rhythms."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.compose import write as compose
from lickwright.judge.check import check
from lickwright.rulebook.read import lead_of
from lickwright.solver.kept import kept_slots, plan_of
from lickwright.study.model import Event, SlotKind, Study, StudyFileError
from lickwright.study.pins import PinError, Pins, read_pins
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.written import a_study

STYLES = ("slow-shuffle", "quick-shuffle", "minor-slow")


def alike(a: Event, b: Event) -> bool:
    """The same but for its id, which counts events."""
    return (a.onset, a.duration, a.notes, a.hand, a.grip) == (b.onset, b.duration, b.notes, b.hand, b.grip)


def same_slot(a: Study, b: Study, slot: int) -> bool:
    mine, theirs = a.events_of(slot), b.events_of(slot)
    return len(mine) == len(theirs) and all(alike(x, y) for x, y in zip(mine, theirs, strict=True))


def kept_rules(study: Study) -> bool:
    return not check(study, lead_of(study))


@pytest.mark.parametrize("style", STYLES)
def test_a_plan_is_read_back_from_its_study(style: str) -> None:
    study = a_study(style)
    plan = plan_of(study, lead_of(study))
    licks = [slot for slot in study.slots if slot.kind is SlotKind.LICK]
    assert [lick.letter for lick in plan.licks] == [slot.name for slot in licks]
    assert [tuple(o.tick for o in lick.onsets) for lick in plan.licks] == [
        tuple(e.onset for e in study.events_of(slot.number)) for slot in licks
    ]
    every = kept_slots(study, plan, {slot.number for slot in study.slots})
    assert sorted(k.first_tick for k in every.values()) == sorted(
        study.events_of(s.number)[0].onset for s in study.slots
    )


def test_comping_in_signs_that_no_rule_file_knows_is_refused() -> None:
    study = a_study()
    comp = next(slot for slot in study.slots if slot.kind is SlotKind.COMP)
    slots = [replace(s, cells=("C-?---",)) if s is comp else s for s in study.slots]
    with pytest.raises(StudyFileError, match=rf"slots\.{comp.number}\.cells: unknown sign '\?'"):
        plan_of(replace(study, slots=tuple(slots)), lead_of(study))


@pytest.mark.parametrize("style", STYLES)
def test_one_slot_solved_anew_leaves_the_others_alone(style: str) -> None:
    study = a_study(style)
    changed = 0
    for slot in study.slots[:6]:
        made = compose.redo(study, slot.number, seed=3)
        assert all(same_slot(study, made, other.number) for other in study.slots if other is not slot)
        assert kept_rules(made)
        changed += not same_slot(study, made, slot.number)
    assert changed >= 2


def test_the_same_seed_solves_a_slot_the_same_way() -> None:
    study = a_study()
    slot = next(s.number for s in study.slots if s.kind is SlotKind.LICK)
    assert compose.redo(study, slot, 5) == compose.redo(study, slot, 5)


def test_bars_that_are_pinned_stay_and_the_rest_is_new() -> None:
    study = a_study()
    made = compose.around(read_pins(study, ["bars=1-4"]), seed=2)
    first = [e for e in study.events if e.onset < 4 * TICKS_PER_BAR]
    there = [e for e in made.events if e.onset < 4 * TICKS_PER_BAR]
    assert len(first) == len(there)
    assert all(alike(a, b) for a, b in zip(first, there, strict=True))
    assert made.events[len(first) :] != study.events[len(first) :]
    assert kept_rules(made)


def test_single_notes_stay_where_and_how_they_are() -> None:
    study = a_study()
    slot = next(s for s in study.slots if s.kind is SlotKind.LICK)
    event = study.events_of(slot.number)[2]
    made = compose.around(read_pins(study, [f"notes={event.id}"]), seed=4)
    there = next(e for e in made.events if e.onset == event.onset)
    assert (there.melody.string, there.melody.fret, there.melody.finger) == (
        event.melody.string,
        event.melody.fret,
        event.melody.finger,
    )
    assert kept_rules(made)


def test_a_pinned_grip_stays() -> None:
    study = a_study()
    event = next(e for e in study.events if e.grip is not None)
    made = compose.around(read_pins(study, [f"grips={event.id}"]), seed=4)
    there = next(e for e in made.events if e.onset == event.onset)
    assert {(n.string, n.fret) for n in there.notes} == {(n.string, n.fret) for n in event.notes}


def test_a_pinned_rhythm_stays_under_new_notes() -> None:
    study = a_study()
    licks = [s for s in study.slots if s.kind is SlotKind.LICK]
    words = ["cells=" + ",".join(str(s.number + 1) for s in licks)]
    made = compose.around(read_pins(study, words), seed=6)
    for slot in licks:
        assert [e.onset for e in made.events_of(slot.number)] == [
            e.onset for e in study.events_of(slot.number)
        ]


def test_everything_pinned_gives_the_study_back() -> None:
    study = a_study()
    made = compose.around(Pins(study, frozenset(s.number for s in study.slots)), seed=9)
    assert all(same_slot(study, made, slot.number) for slot in study.slots)


@pytest.mark.parametrize(
    ("word", "what"),
    [
        ("bars", "write one of bars"),
        ("bars=0", "the study has bars 1 to 12"),
        ("bars=9-13", "the study has bars 1 to 12"),
        ("bars=four", "is no bar"),
        ("slots=99", "the study has slots"),
        ("notes=x9", "no note 'x9'"),
        ("grips=e1,e2", "no grip"),
        ("frets=3", "write one of bars"),
    ],
)
def test_a_pin_that_cannot_be_meant_says_what_would_be_right(word: str, what: str) -> None:
    study = a_study()
    with pytest.raises(PinError) as error:
        read_pins(study, [word])
    assert what in error.value.problems[0]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(1, 12), min_size=1, max_size=5))
def test_pins_hold_whole_slots_apart_from_single_events(bars: list[int]) -> None:
    study = a_study()
    pins = read_pins(study, ["bars=" + ",".join(map(str, bars))])
    wanted = {e.id for e in study.events if e.onset // TICKS_PER_BAR + 1 in bars}
    held = {e.id for e in study.events if e.slot in pins.slots} | {e.id for e in pins.events}
    assert held == wanted
    assert not {e.slot for e in pins.events} & pins.slots
