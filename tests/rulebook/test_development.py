"""What a way home makes of its figure, on lines by hand."""

from __future__ import annotations

import pytest
from lickwright.rulebook.development import Development, development
from lickwright.rulebook.rule import Line


def line(figure: list[tuple[int, int]], home: list[tuple[int, int]]) -> Line:
    """A line of (tick, pitch)."""
    notes = [*figure, *home]
    return Line(tuple(p for _, p in notes), tuple(t for t, _ in notes), (4,) * len(notes), figure=len(figure))


FIGURE = [(0, 69), (4, 72), (8, 74), (16, 72)]


@pytest.mark.parametrize(
    ("home", "made"),
    [
        ([(24, 67), (28, 69), (32, 72), (40, 69)], Development.SEQUENCE),
        ([(24, 67), (28, 70), (32, 72)], Development.SHORTENED),
        ([(24, 72), (28, 69), (32, 67), (40, 69)], Development.TURNED),
        ([(24, 72), (28, 72), (32, 72), (40, 72)], Development.NONE),
        ([(24, 67), (32, 70), (36, 72)], Development.NONE),
        ([(24, 67), (28, 69)], None),
    ],
)
def test_a_way_home_is_named_by_what_it_takes_up(
    home: list[tuple[int, int]], made: Development | None
) -> None:
    assert development(line(FIGURE, home)) is made


def test_four_notes_are_heard_again_without_their_rhythm_and_three_are_not() -> None:
    other = [(24, 67), (32, 69), (36, 72), (40, 69)]
    assert development(line(FIGURE, other)) is Development.SEQUENCE
    assert development(line(FIGURE[:3], [(24, 67), (32, 69), (36, 72)])) is Development.NONE


def test_a_figure_of_two_notes_cannot_be_asked() -> None:
    assert development(line(FIGURE[:2], FIGURE)) is None
