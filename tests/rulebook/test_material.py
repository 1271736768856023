"""How much the shipped rule files have to draw from."""

from __future__ import annotations

import pytest
from lickwright.rulebook.read import read_rules
from lickwright.theory.rhythm import TICKS_PER_BEAT, parse_cell

#: A style for each grid.
STYLES = {"triplet": "slow-shuffle", "straight": "straight"}


@pytest.mark.parametrize(("grid", "style"), STYLES.items())
def test_sixty_cells_and_more_on_each_grid(grid: str, style: str) -> None:
    rules = read_rules(style)[1]
    cells = {
        (table, cell): family.grade
        for table in ("figures", "tails")
        for family in getattr(rules, table).values()
        if family.grid == grid
        for cell in family.cells
    }
    assert len(cells) >= 60
    for grade in (1, 2, 3):
        assert sum(g == grade for g in cells.values()) >= 12
    lengths = {parse_cell(c, grid).ticks // TICKS_PER_BEAT for t, c in cells if t == "figures"}
    assert {2, 3, 4} <= lengths
    starts = {c[0] for t, c in cells if t == "figures"}
    assert {".", "x"} <= starts


@pytest.mark.parametrize(("grid", "style"), STYLES.items())
@pytest.mark.parametrize("beats", [2, 3, 4])
def test_twenty_five_answers_and_more_of_each_usual_length(grid: str, style: str, beats: int) -> None:
    rules = read_rules(style)[1]
    patterns = {p for f in rules.answers.values() if f.grid == grid and f.beats == beats for p in f.patterns}
    assert len(patterns) >= 25


def test_endings_close_and_turn_round_for_every_gap() -> None:
    for style in ("slow-shuffle", "minor-slow", "straight"):
        rules = read_rules(style, "first-year")[1]
        for to in ("I", "V"):
            mine = {
                e.beats
                for e in rules.endings.values()
                if (e.to, e.minor, e.grid) == (to, rules.study.minor, rules.study.grid)
                and e.grade <= rules.level.comping_grade
            }
            assert {2, 3, 4} <= mine
