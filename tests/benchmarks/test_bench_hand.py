"""What the rules of the hand cost: studies written with and without them, turn by turn in one run."""

from __future__ import annotations

import statistics
from functools import cached_property
from time import perf_counter

import pytest
from lickwright.compose import write as compose
from lickwright.rulebook import whole
from lickwright.rulebook.effort import effort
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.read import lead_of
from lickwright.study.model import Brief

BRIEFS = [Brief(style, key, 3) for style in ("slow-shuffle", "quick-shuffle") for key in ("A", "F")]
ROUNDS = 5


def _handless(names: tuple[str, ...], patch: pytest.MonkeyPatch) -> None:
    """Takes every rule whose name begins with ``hand.`` out of the lead's and the study's lists."""
    for name in names:
        made = Lead.__dict__[name]

        def without(lead: Lead, made: cached_property = made) -> tuple:  # type: ignore[type-arg]
            return tuple(rule for rule in made.func(lead) if not rule.name.startswith("hand."))

        kept = cached_property(without)
        kept.__set_name__(Lead, name)
        patch.setattr(Lead, name, kept)
    for name in ("grip_rules", "study_rules"):
        listed = getattr(whole, name)

        def judged(lead: Lead, listed=listed) -> tuple:  # type: ignore[no-untyped-def, type-arg]
            return tuple(rule for rule in listed(lead) if not rule.name.startswith("hand."))

        patch.setattr(f"lickwright.judge.check.{name}", judged)
        if name == "grip_rules":
            patch.setattr("lickwright.solver.comping.grip_rules", judged)


def _seconds(brief: Brief) -> float:
    start = perf_counter()
    compose.write(brief)
    return perf_counter() - start


def test_writing_with_the_hand_against_without(benchmark) -> None:
    """``extra_info`` has the median of with / without over the rounds, one study after the other."""
    ratios: list[float] = []

    def round_of_studies() -> None:
        for brief in BRIEFS:
            with_hand = _seconds(brief)
            with pytest.MonkeyPatch.context() as patch:
                _handless(("touch_rules", "move_rules", "time_rules"), patch)
                ratios.append(with_hand / _seconds(brief))

    round_of_studies()  # the tables of neck and strings are made once for all
    ratios.clear()
    benchmark.pedantic(round_of_studies, rounds=ROUNDS, iterations=1)
    benchmark.extra_info["with / without"] = round(statistics.median(ratios), 3)
    assert len(ratios) == ROUNDS * len(BRIEFS)


def test_the_measures_of_a_study(benchmark) -> None:
    study = compose.write(BRIEFS[0])
    lead = lead_of(study)
    assert benchmark(effort, study, lead).notes_per_s > 0
