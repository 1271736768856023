"""What users wait for: a study cold and with tables kept, several, variations, candidates, and a refusal.

Run: pytest tests/benchmarks/test_bench_compose.py --benchmark-only
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from typing import Any

import pytest
from lickwright.compose import choose
from lickwright.compose import write as compose
from lickwright.compose.setting import random_state, setting_for
from lickwright.compose.vary import NAMES, vary
from lickwright.solver.chorus import Chorus
from lickwright.solver.choruses import best
from lickwright.solver.choruses import count as count_choruses
from lickwright.solver.plan.cells import make_plan
from lickwright.study.model import Brief, SlotKind

from tests.solver.test_why import CONTRADICTIONS, a_place

Benchmark = Callable[..., Any]
STYLE = "slow-shuffle"


def test_a_study_cold(benchmark: Benchmark) -> None:
    seeds = count(1)
    benchmark.pedantic(lambda: compose.write(Brief(STYLE, "A", next(seeds))), rounds=12)


def test_a_study_with_its_tables_kept(benchmark: Benchmark) -> None:
    given = setting_for(Brief(STYLE, "A", 1))
    tables = compose.Tables(given)
    words = count(1)
    benchmark.pedantic(
        lambda: compose.write_in(given, tables, "another", next(words)), rounds=12, warmup_rounds=2
    )


def test_ten_studies_far_from_each_other(benchmark: Benchmark) -> None:
    found = benchmark.pedantic(lambda: choose.studies(Brief(STYLE, "A", 1), 10), rounds=1)
    assert len(found) == 10


@pytest.mark.parametrize("distance", NAMES)
def test_a_variation(benchmark: Benchmark, distance: str) -> None:
    model = compose.write(Brief(STYLE, "A", 7))
    numbers = count(1)
    benchmark.pedantic(lambda: vary(model, "C", next(numbers), distance), rounds=6)


def test_six_candidates_for_a_place(benchmark: Benchmark) -> None:
    model = compose.write(Brief(STYLE, "A", 7))
    slot = next(s.number for s in model.slots if s.kind is SlotKind.LICK)
    seeds = count(1)
    benchmark.pedantic(lambda: choose.candidates(model, slot, 6, next(seeds)), rounds=5)


@pytest.mark.parametrize("what", CONTRADICTIONS)
def test_why_not(benchmark: Benchmark, what: str) -> None:
    from lickwright.solver.explain.why import explain

    def asked() -> Any:
        return explain(a_place(STYLE, 0, CONTRADICTIONS[what]))

    assert benchmark.pedantic(asked, rounds=3) is not None


@pytest.mark.parametrize("what", ["the cheapest", "how many"])
def test_all_choruses_of_a_plan(benchmark: Benchmark, what: str) -> None:
    given = setting_for(Brief(STYLE, "A", 1))
    rng = random_state(given, 0)
    plan = make_plan(given.rules, given.key, given.neck, given.tempo_bpm, rng)
    tables = compose.Tables(given)
    chain = Chorus(given.lead, plan, given.tempo_bpm, rng, tables.maker, tables.strokes).plain_chain()
    benchmark.pedantic(lambda: best(chain) if what == "the cheapest" else count_choruses(chain), rounds=3)
