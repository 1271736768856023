"""Places with rules left out, and the conflicts among them: counts, minimality, and changes that really do."""

from __future__ import annotations

import copy
from dataclasses import replace
from functools import lru_cache
from typing import Any

import pytest
from lickwright.compose import write as compose
from lickwright.compose.setting import Setting, random_state, setting_for
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.solver.explain.problem import LickProblem
from lickwright.solver.explain.why import explain
from lickwright.solver.plan.cells import make_plan
from lickwright.solver.plan.layout import LickPlan, Plan
from lickwright.study.model import Brief

#: Rule files of which nothing can come, by what they change.
CONTRADICTIONS: dict[str, dict[str, Any]] = {
    "downbeats on a degree outside the palette": {"lead.downbeats.degrees": ["7"]},
    "landing where no bend and no downbeat goes": {
        f"lead.landing.{role}": {"I": {"b5": 0}, "IV": {"b5": 0}, "V": {"b5": 0}}
        for role in ("question", "answer", "climax", "close")
    },
    "fingers too slow for the rhythm": {
        f"hand.{way}_per_s": 1.0 for way in ("plucks", "hammer_ons", "pull_offs", "slides")
    },
}


@lru_cache(maxsize=4)
def a_plan(style: str, seed: int = 1) -> tuple[Setting, Plan]:
    given = setting_for(Brief(style, "A", seed))
    rng = random_state(given, 0)
    return given, make_plan(given.rules, given.key, given.neck, given.tempo_bpm, rng)


def changed(given: Setting, changes: dict[str, Any]) -> Lead:
    """The lead of a setting with other values at some keys of its merged rule files."""
    data = copy.deepcopy(given.book.data)
    for key, value in changes.items():
        *path, last = key.split(".")
        table = data
        for step in path:
            table = table[step]
        table[last] = value
    book = Book(given.book.name, data, given.book.origin, given.book.digests)
    return Lead(RuleFile.model_validate(data), book, given.key, given.neck)


def a_place(style: str, lick: int, changes: dict[str, Any] | None = None) -> LickProblem:
    given, plan = a_plan(style)
    lead = changed(given, changes) if changes else given.lead
    return LickProblem(lead, plan.licks[lick], plan.form, given.tempo_bpm)


@pytest.mark.parametrize("style", ["slow-shuffle", "quick-shuffle", "minor-slow"])
def test_a_place_counts_the_licks_of_the_lattices_that_are_drawn_from(style: str) -> None:
    given, plan = a_plan(style)
    maker = compose.Tables(given).maker.for_form(plan.form)
    for lick in plan.licks[:3]:
        place = LickProblem(given.lead, lick, plan.form, given.tempo_bpm)
        drawn_from = sum(maker.lattice(lick, position).count() for position in lick.positions)
        assert place.count(place.rules) == drawn_from
        assert place.holds(place.rules) == (drawn_from > 0)


def test_leaving_a_rule_out_takes_no_lick_away() -> None:
    place = a_place("slow-shuffle", 1)
    every = place.count(place.rules)
    for rule in place.rules:
        assert place.count([other for other in place.rules if other is not rule]) >= every


@pytest.mark.parametrize("what", CONTRADICTIONS)
@pytest.mark.parametrize("style", ["slow-shuffle", "quick-shuffle"])
def test_a_conflict_is_one_and_as_small_as_it_can_be(style: str, what: str) -> None:
    place = a_place(style, 0, CONTRADICTIONS[what])
    why = explain(place)
    assert why is not None
    assert why.rules
    assert not place.holds(why.rules)
    for rule in why.rules:
        assert place.holds([other for other in why.rules if other is not rule]), rule.name


@pytest.mark.parametrize("what", CONTRADICTIONS)
def test_the_change_that_is_told_frees_the_place_with_as_many_licks_as_told(what: str) -> None:
    place = a_place("slow-shuffle", 0, CONTRADICTIONS[what])
    why = explain(place)
    assert why is not None
    assert why.change is not None
    assert why.change.licks > 0
    assert why.change.rule in why.rules
    if why.change.words.startswith("leave"):
        kept = [rule for rule in place.rules if rule.name != why.change.rule.name]
        assert place.count(kept) == why.change.licks


def test_a_place_with_licks_has_no_conflict() -> None:
    assert explain(a_place("slow-shuffle", 0)) is None


def test_rules_out_of_the_conflict_do_not_matter_for_it() -> None:
    place = a_place("slow-shuffle", 0, CONTRADICTIONS["downbeats on a degree outside the palette"])
    why = explain(place)
    assert why is not None
    assert {rule.name for rule in why.rules} == {"lead.scale", "lead.downbeats"}
    assert why.smallest


def test_a_place_is_told_apart_by_its_positions() -> None:
    given, plan = a_plan("slow-shuffle")
    lick: LickPlan = plan.licks[0]
    both = replace(lick, positions=(2, 5))
    counts = [
        LickProblem(given.lead, one, plan.form, given.tempo_bpm).count(a_place("slow-shuffle", 0).rules)
        for one in (replace(lick, positions=(2,)), replace(lick, positions=(5,)), both)
    ]
    assert counts[0] + counts[1] == counts[2]
