"""How long distances take: a thousand pairs of licks, and a study against a hundred others."""

from __future__ import annotations

from typing import Any

from lickwright.study.distance import line_distances, lines_of, study_distance

from tests.studies import tour


def test_a_thousand_pairs_of_licks(benchmark: Any) -> None:
    a, b = lines_of(tour())
    rows = benchmark(line_distances, [(a, b)] * 1000)
    assert rows.shape == (1000, 4)


def test_two_studies_of_six_licks(benchmark: Any) -> None:
    a, b = tour(repeats=3), tour("E", repeats=3)
    assert benchmark(study_distance, a, b).total < 1
