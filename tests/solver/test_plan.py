"""Plans: what every plan that a style draws keeps to."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from lickwright.guitar.neck import Neck
from lickwright.solver.plan.cells import make_plan
from lickwright.solver.plan.layout import Plan, by_weight, form_spans
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR

from tests.solver.instances import style

STYLES = ["slow-shuffle", "quick-shuffle", "minor-slow", "eight-bar", "straight", "two-chorus"]


def a_plan(name: str, seed: int) -> Plan:
    given = style(name)
    return make_plan(given.rules, given.key, given.neck, given.tempo_bpm, np.random.default_rng(seed))


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("seed", range(4))
def test_licks_follow_each_other_without_overlap_inside_the_form(name: str, seed: int) -> None:
    plan = a_plan(name, seed)
    total = sum(span.duration for span in plan.form)
    assert [x.number for x in plan.licks] == list(range(len(plan.licks)))
    for a, b in pairwise(plan.licks):
        assert a.end <= b.start
    assert plan.licks[0].start >= 0
    assert plan.licks[-1].end <= total
    for lick in plan.licks:
        assert all(x.tick + x.duration <= y.tick for x, y in pairwise(lick.onsets))


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("seed", range(4))
def test_comping_lies_in_the_gaps(name: str, seed: int) -> None:
    plan = a_plan(name, seed)
    step = GRIDS[style(name).rules.study.grid]
    for comp in plan.comps:
        struck = comp.start + step * (len(comp.pattern) - len(comp.pattern.lstrip(".")))
        end = comp.start + len(comp.pattern.rstrip(".")) * step
        assert all(end <= lick.start or struck >= lick.end for lick in plan.licks), comp


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("seed", range(4))
def test_quotes_take_up_an_earlier_lick_of_the_same_letter_and_figure(name: str, seed: int) -> None:
    plan = a_plan(name, seed)
    for lick in plan.licks:
        assert (lick.quotes is not None) == lick.letter.endswith("'")
        if lick.quotes is not None:
            leader = plan.licks[lick.quotes]
            assert leader.number < lick.number
            assert leader.leads
            assert (leader.figure, leader.letter) == (lick.figure, lick.letter.rstrip("'"))


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("seed", range(4))
def test_lengths_and_positions_are_those_of_the_rule_files(name: str, seed: int) -> None:
    given, plan = style(name), a_plan(name, seed)
    shape, windows = given.rules.lead.shape, given.rules.lead.windows
    for lick in plan.licks:
        most = shape.close_notes if lick.role == "close" else shape.long_notes
        assert shape.short_notes <= len(lick.onsets) <= most
        assert plan.home in lick.positions
        assert all(max(1, windows.lowest) <= position <= windows.highest for position in lick.positions)
        assert 0 < lick.figure_notes <= len(lick.onsets)
    letters = {lick.letter.rstrip("'"): lick.figure for lick in plan.licks}
    assert len(set(letters.values())) == len(letters)


@pytest.mark.parametrize("name", STYLES)
def test_the_same_random_state_draws_the_same_plan(name: str) -> None:
    assert a_plan(name, 7) == a_plan(name, 7)
    assert len({repr(a_plan(name, seed)) for seed in range(4)}) > 1


@pytest.mark.parametrize("name", STYLES)
@pytest.mark.parametrize("seed", range(4))
def test_a_last_note_is_over_before_anything_else_is_struck(name: str, seed: int) -> None:
    plan = a_plan(name, seed)
    step = GRIDS[style(name).rules.study.grid]
    struck = [c.start + i * step for c in plan.comps for i, sign in enumerate(c.pattern) if sign not in "-."]
    for lick in plan.licks:
        assert not [tick for tick in struck if lick.start <= tick < lick.end]


def test_a_chorus_that_goes_on_is_turned_round_on_five() -> None:
    for seed in range(4):
        plan = a_plan("two-chorus", seed)
        turned = [c for c in plan.comps if c.chords and c.start < 12 * TICKS_PER_BAR]
        assert all(c.chords[-1].startswith("V") for c in turned)
        assert len(plan.phrases) == 6


def test_chords_that_share_a_bar_share_it_equally() -> None:
    spans = form_spans(["I7", "ii7 V7"])
    assert [(s.onset, s.duration, s.roman) for s in spans] == [
        (0, TICKS_PER_BAR, "I7"),
        (TICKS_PER_BAR, TICKS_PER_BAR // 2, "ii7"),
        (TICKS_PER_BAR * 3 // 2, TICKS_PER_BAR // 2, "V7"),
    ]


@pytest.mark.parametrize(("key", "fret"), [("E", 0), ("A", 5), ("G", 3), ("Eb", 11)])
def test_positions_are_counted_from_the_root_on_the_outer_strings(key: str, fret: int) -> None:
    assert Neck().root_fret(Key.parse(key).pitch_class) == fret


def test_heavier_items_come_first_as_often_as_their_weight_says() -> None:
    """The first of a weighted order without replacement is drawn in proportion: Efraimidis, Spirakis, 2006."""
    rng = np.random.default_rng(1)
    first = [by_weight("ab", {"a": 3.0, "b": 1.0}.__getitem__, rng)[0] for _ in range(4000)]
    assert first.count("a") / 4000 == pytest.approx(0.75, abs=0.03)
