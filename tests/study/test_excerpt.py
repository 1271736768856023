"""A lick cut out of a study is what it was, at the start of a study of its own."""

from __future__ import annotations

import pytest
from lickwright.study.distance import line_distance, line_of
from lickwright.study.excerpt import excerpt, lick_bars
from lickwright.study.json_text import from_json, to_json
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.studies import tour


@pytest.mark.parametrize("slot", [0, 2, 4, 6])
def test_a_lick_keeps_its_notes_its_place_in_the_bar_and_the_chords_under_it(slot: int) -> None:
    study = tour("E", repeats=2)
    alone = excerpt(study, slot)
    start = lick_bars(study, slot)[0] * TICKS_PER_BAR
    for before, after in zip(study.events_of(slot), alone.events, strict=True):
        assert (after.onset, after.notes, after.chord) == (before.onset - start, before.notes, before.chord)
        assert alone.chord_at(after.onset) == study.chord_at(before.onset)
    assert line_distance(line_of(study, slot), line_of(alone, 0)).total == 0
    assert from_json(to_json(alone)) == alone


def test_an_excerpt_can_be_longer_than_its_lick_even_past_the_study() -> None:
    study = tour()
    longer = excerpt(study, 2, bars=6)
    assert longer.bars == 6
    assert sum(span.duration for span in longer.form) == 6 * TICKS_PER_BAR
    assert longer.phrases[0].last_bar == 5
    with pytest.raises(ValueError, match="lies in 1 bars, more than 0"):
        excerpt(study, 2, bars=0)


def test_a_slot_without_a_lick_is_told_where_the_licks_are() -> None:
    with pytest.raises(ValueError, match="slot 1 holds no lick; the slots with licks are 0, 2"):
        excerpt(tour(), 1)
