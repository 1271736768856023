"""Hard moments stay with their notes when a study is cut into pieces or put together."""

from __future__ import annotations

from dataclasses import replace

import pytest
from lickwright.judge.effort import HARD, moments, with_hard_moments
from lickwright.rulebook.read import lead_of
from lickwright.study.excerpt import excerpt, lick_bars
from lickwright.study.json_text import from_json, to_json
from lickwright.study.model import FROM_BEFORE, Asks, Before, Drill, Step
from lickwright.study.sheet import exercises, joined
from lickwright.theory.rhythm import TICKS_PER_BAR

from tests.studies import measured, tour

DRILL = Drill(0, 1, ("bend",), ((16,),), 3.5, (Step(100, 60, 3),), Before.WARM_UP, 60.0, 90.0)


def test_a_study_keeps_what_asks_for_half_of_a_limit_or_more_in_order_of_time() -> None:
    study = tour("A")
    kept = measured(study).hard_moments
    asked = [m for m in moments(study, lead_of(study, "slow-shuffle")) if m.share >= HARD]
    assert kept is not None
    assert [(m.tick, m.asks, m.frets, m.what) for m in kept] == [
        (m.tick, m.asks, m.frets, m.what) for m in asked
    ]
    assert [m.share for m in kept] == pytest.approx([m.share for m in asked], abs=1e-3)
    assert from_json(to_json(measured(study))) == measured(study)


@pytest.mark.parametrize("slot", [0, 2, 4, 6])
def test_a_lick_alone_has_the_hard_moments_that_it_would_be_measured_to_have(slot: int) -> None:
    study = measured(tour("E", repeats=2))
    alone = excerpt(study, slot)
    assert alone.hard_moments == with_hard_moments(alone, lead_of(study, "slow-shuffle")).hard_moments
    assert {m.tick + lick_bars(study, slot)[0] * TICKS_PER_BAR for m in alone.hard_moments or ()} <= {
        m.tick for m in study.hard_moments or ()
    }


def test_what_leads_into_the_first_note_of_an_excerpt_is_left_out() -> None:
    study = measured(tour("A", repeats=2))
    first = study.events_of(4)[0].onset
    assert study.hard_moments is not None
    into = replace(study.hard_moments[0], tick=first, asks=Asks.SHIFT)
    assert into.asks in FROM_BEFORE
    assert excerpt(replace(study, hard_moments=(into,)), 4).hard_moments == ()


def test_the_exercises_of_a_sheet_keep_their_own_and_nothing_leads_from_one_to_the_next() -> None:
    one, other = measured(tour("A")), measured(replace(tour("A"), tempo_bpm=60))
    sheet = joined([one, other], [DRILL, replace(DRILL, number=2)], "Sheet")
    assert [e.hard_moments for e in exercises(sheet)] == [one.hard_moments, other.hard_moments]
    assert len(sheet.hard_moments or ()) == 2 * len(one.hard_moments or ())
    assert from_json(to_json(sheet)) == sheet


def test_pieces_of_a_study_that_was_not_measured_were_not_measured_either() -> None:
    assert excerpt(tour(), 0).hard_moments is None
    sheet = joined([tour(), measured(tour())], [DRILL, replace(DRILL, number=2)], "Sheet")
    assert sheet.hard_moments is None
    assert [e.hard_moments for e in exercises(sheet)] == [None, None]
