"""Variations within their ranges and apart from each other; candidates for one place that differ and fit."""

from __future__ import annotations

from itertools import combinations

import pytest
from lickwright.compose import write as compose
from lickwright.compose.choose import candidates
from lickwright.compose.vary import NAMES, same_notes, vary
from lickwright.judge.check import check
from lickwright.rulebook.read import lead_of
from lickwright.study.distance import line_distance, line_of, study_distance
from lickwright.study.model import SlotKind, Study
from lickwright.theory.harmony import KEY_NAMES
from music21 import interval, pitch

from tests.sweeps import reach, some
from tests.written import a_study


def faults(study: Study) -> list[str]:
    return [str(v) for v in check(study, lead_of(study))]


def ranges(study: Study) -> dict[str, tuple[float, float]]:
    table = lead_of(study).rules.vary
    return {name: getattr(table, name) for name in NAMES}


def test_the_named_ranges_do_not_meet() -> None:
    near, cousin, far = (ranges(a_study())[name] for name in NAMES)
    assert near[0] < near[1] < cousin[0] < cousin[1] < far[0] < far[1]


@pytest.mark.parametrize(("key", "distance"), [("C", "near"), ("E", "cousin"), ("Bb", "far")])
def test_a_variation_lies_in_its_range_and_keeps_the_rules(key: str, distance: str) -> None:
    model = a_study()
    made = vary(model, key, 1, distance)
    low, high = ranges(model)[distance]
    assert low <= study_distance(made.study, model).total <= high
    assert made.study.key == key
    assert faults(made.study) == []


def test_variations_keep_apart_from_each_other_and_come_the_same_again() -> None:
    model = a_study()
    first = vary(model, "G", 1, "cousin").study
    second = vary(model, "G", 2, "cousin", [first]).study
    assert study_distance(first, second).total >= lead_of(model).rules.vary.apart
    assert vary(model, "G", 2, "cousin", [first]).study == second


def test_a_pinned_phrase_keeps_its_notes_in_another_key() -> None:
    model = a_study()
    made = vary(model, "D", 1, "cousin", pins=["phrases=1"]).study
    for slot in model.slots:
        if slot.phrase == 0 and slot.kind is SlotKind.LICK:
            parts = line_distance(line_of(made, slot.number), line_of(model, slot.number))
            assert (parts.rhythm, parts.contour) == (0, 0)
            old = [e.melody.sounding2 // 2 for e in model.events_of(slot.number)]
            new = [e.melody.sounding2 // 2 for e in made.events_of(slot.number)]
            assert len({b - a for a, b in zip(old, new, strict=True)}) == 1


def moved(key: str) -> tuple[Study, Study]:
    """A study and its notes in another key."""
    for seed in range(1, 10):
        try:
            return a_study(seed=seed), same_notes(a_study(seed=seed), key)
        except compose.CannotBeMet:
            continue
    raise AssertionError("none of nine studies has its notes in this key")


@pytest.mark.parametrize("key", ["C", "E"])
def test_the_same_notes_in_another_key_are_those_that_music21_transposes_to(key: str) -> None:
    """music21's Interval transposes each sounding pitch; only the octave is left to the fingering.

    Some studies have no window for a lick in some keys, and are refused: the first that has is taken.
    """
    model, made = moved(key)
    up = interval.Interval(pitch.Pitch(model.key.replace("b", "-")), pitch.Pitch(key.replace("b", "-")))
    shifts = set()
    for slot in model.slots:
        if slot.kind is not SlotKind.LICK:
            continue
        for old, new in zip(model.events_of(slot.number), made.events_of(slot.number), strict=True):
            expected = pitch.Pitch(old.melody.sounding2 // 2).transpose(up)
            assert expected.pitchClass == new.melody.sounding2 // 2 % 12
            shifts.add(int(expected.midi) - new.melody.sounding2 // 2)
    assert len(shifts) == 1
    assert faults(made) == []


def test_candidates_differ_from_each_other_and_from_what_was_there() -> None:
    model = a_study()
    slot = next(s.number for s in model.slots if s.kind is SlotKind.LICK)
    found = candidates(model, slot, 4)
    assert len(found) == 4
    apart = lead_of(model).rules.vary.candidates_apart
    lines = [line_of(model, slot), *(line_of(c.study, slot) for c in found)]
    for a, b in combinations(lines, 2):
        assert line_distance(a, b).total >= apart
    for candidate in found:
        assert faults(candidate.study) == []
        others = [s.number for s in model.slots if s.number != slot]
        for other in others:
            mine = [(e.onset, e.notes) for e in model.events_of(other)]
            assert mine == [(e.onset, e.notes) for e in candidate.study.events_of(other)]


def test_candidates_for_a_place_without_a_lick_are_refused() -> None:
    model = a_study()
    comp = next(s.number for s in model.slots if s.kind is SlotKind.COMP)
    with pytest.raises(ValueError, match="holds no lick"):
        candidates(model, comp, 3)


@pytest.mark.long
@pytest.mark.parametrize("key", some(KEY_NAMES, 4))
@pytest.mark.parametrize("distance", NAMES)
def test_three_variations_in_every_key_lie_in_their_range_and_apart(key: str, distance: str) -> None:
    model = a_study()
    low, high = ranges(model)[distance]
    apart = lead_of(model).rules.vary.apart
    made: list[Study] = []
    for number in (1, 2, 3):
        study = vary(model, key, number, distance, made).study
        assert low <= study_distance(study, model).total <= high
        assert all(study_distance(study, other).total >= apart for other in made)
        assert faults(study) == []
        made.append(study)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(reach(20, 4)))
def test_six_candidates_for_every_slot_of_a_study(seed: int) -> None:
    style = ("slow-shuffle", "quick-shuffle", "minor-slow")[seed % 3]
    model = a_study(style, KEY_NAMES[seed % 12], seed)
    apart = lead_of(model).rules.vary.candidates_apart
    counts = []
    for slot in model.slots:
        if slot.kind is SlotKind.LICK:
            found = candidates(model, slot.number, 6)
            counts.append(len(found))
            lines = [line_of(c.study, slot.number) for c in found]
            assert min(line_distance(a, b).total for a, b in combinations(lines, 2)) >= apart
            assert all(faults(c.study) == [] for c in found)
    # short licks that quote each other have fewer: one such pair in a study at the most
    assert min(counts) >= 3
    assert sum(count < 6 for count in counts) <= 2, counts
