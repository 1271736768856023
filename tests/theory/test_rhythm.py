"""Rhythm cells written as text, places in the bar, and ticks as seconds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.theory.rhythm import (
    GRIDS,
    TICKS_PER_BAR,
    Onset,
    bar_of,
    beat_text,
    parse_cell,
    seconds,
    shared_gaps,
)

grids = st.sampled_from(list(GRIDS))


def well_formed(text: str) -> bool:
    """A dash holds a note, or opens the cell; said here once more and plainly."""
    for i, character in enumerate(text):
        if character == "-" and i and text[i - 1] == ".":
            return False
    return bool(text)


@given(st.text("x-.2L", min_size=1, max_size=12), grids)
def test_a_cell_is_read_sign_by_sign_or_refused(text: str, grid: str) -> None:
    if not well_formed(text):
        with pytest.raises(ValueError, match="holds nothing"):
            parse_cell(text, grid)
        return
    cell = parse_cell(text, grid)
    assert cell.ticks == len(text) * GRIDS[grid]
    assert len(cell.onsets) == sum({"x": 1, "L": 1, "2": 2}.get(c, 0) for c in text)
    assert sum(o.landing for o in cell.onsets) == text.count("L")
    assert cell.tied == text.startswith("-")
    end = 0
    for onset in cell.onsets:
        assert onset.tick >= end
        end = onset.tick + onset.duration
    opening = len(text) - len(text.lstrip("-"))
    silent = (text.count(".") + opening) * GRIDS[grid]
    assert sum(o.duration for o in cell.onsets) == cell.ticks - silent


def test_the_signs_of_a_cell() -> None:
    assert parse_cell("x-.L").onsets == (Onset(0, 8), Onset(12, 4, True))
    assert parse_cell("22").onsets == tuple(Onset(2 * n, 2) for n in range(4))
    assert parse_cell("3", "straight").onsets == tuple(Onset(2 * n, 2) for n in range(3))
    assert parse_cell("2-").onsets == (Onset(0, 2), Onset(2, 6))


def test_spaces_and_bars_are_for_the_eye() -> None:
    assert parse_cell(".x2 L-- | x..").onsets == parse_cell(".x2L--x..").onsets


@pytest.mark.parametrize(
    ("text", "grid", "said"),
    [
        ("", "triplet", "empty cell"),
        (" | ", "triplet", "empty cell"),
        ("x?", "triplet", r"'\?' at place 2"),
        ("x.-", "triplet", "'-' at place 3 .* holds nothing"),
        ("3", "triplet", "does not divide the triplet grid"),
        ("l", "straight", "'l' at place 1"),
    ],
)
def test_a_cell_that_cannot_be_read_says_which_sign(text: str, grid: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        parse_cell(text, grid)


@given(st.integers(1, 40))
def test_a_cell_takes_whole_beats(signs: int) -> None:
    assert parse_cell("x" * signs).beats == -(-signs // 3)
    assert parse_cell("x" * signs, "straight").beats == -(-signs // 2)


@given(st.integers(0, 40 * TICKS_PER_BAR))
def test_a_place_is_told_from_1_and_no_two_places_alike(tick: int) -> None:
    assert beat_text(tick).startswith(f"bar {bar_of(tick) + 1} beat {tick % TICKS_PER_BAR // 12 + 1}")
    assert len({beat_text(tick + k) for k in range(12)}) == 12


@given(st.integers(0, 10_000), st.integers(30, 300))
def test_twelve_ticks_last_a_beat(ticks: int, tempo: int) -> None:
    assert seconds(12, tempo) == pytest.approx(60 / tempo)
    assert seconds(ticks, tempo) == pytest.approx(ticks * seconds(1, tempo))


def test_rhythms_share_their_longest_run_of_gaps() -> None:
    assert shared_gaps([0, 4, 8, 16], [100, 108, 112, 120]) == (1, 1, 2)
    assert shared_gaps([0, 4], [10]) == (0, 0, 0)
