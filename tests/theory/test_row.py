"""Rows of written licks: what is read, and what is refused with what would be right."""

from __future__ import annotations

import pytest
from lickwright.theory.row import begins_at, parse_row
from music21 import interval

#: Degrees of the key as the names of intervals above the tonic: music21 says how many semitones they have.
INTERVALS = {
    "1": "P1", "b2": "m2", "2": "M2", "b3": "m3", "3": "M3", "4": "P4", "b5": "d5", "5": "P5", "b6": "m6", "6": "M6",
    "b7": "m7", "7": "M7", "'1": "P8", "'b3": "m10",
}  # fmt: skip


@pytest.mark.parametrize("degree", INTERVALS)
def test_degrees_have_the_semitones_that_music21_gives_their_intervals(degree: str) -> None:
    (note,) = parse_row(f"{degree} 1", "triplet")
    assert note.degrees == (interval.Interval(INTERVALS[degree]).semitones,)


def test_a_note_below_the_middle_octave_is_an_octave_lower() -> None:
    low, middle = parse_row(",b7 1; b7 1", "triplet")
    assert middle.degrees[0] - low.degrees[0] == 12


def test_an_eighth_is_a_third_of_a_beat_or_half_of_one() -> None:
    assert [parse_row("1 1", grid)[0].ticks for grid in ("triplet", "straight")] == [4, 6]


def test_techniques_bends_and_silences_are_read() -> None:
    row = parse_row(
        "b3+5 .5; hammer 3 1.5; rest 1; 4 2 bend whole vibrato; b3 1 curl; 4 2 release half", "triplet"
    )
    assert [(n.degrees, n.ticks, n.technique, n.bend, n.kind, n.vibrato) for n in row] == [
        ((3, 7), 2, "", 0, "", False),
        ((4,), 6, "hammer", 0, "", False),
        ((), 4, "", 0, "", False),
        ((5,), 8, "", 4, "bend", True),
        ((3,), 4, "", 1, "bend", False),
        ((5,), 8, "", 2, "release", False),
    ]
    assert row[3].heard == 7


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("5 1; h3 2", "'h3' is no degree"),
        ("5 one", "'one' is no length in eighths"),
        ("5 .3", "halves of them, not .3"),
        ("5", "a degree and a length"),
        ("5 1 wobble", "'wobble' is not known after a length"),
        ("5 1; ; 3 1", "separated by one semicolon"),
        ("rest 1; 3 1", "begins and ends with a note"),
        ("hammer 3 1", "nothing stands before it"),
        ("5 1 bend", "bend, release or prebend with half or whole"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_would_be_right(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        parse_row(text, "triplet")


def test_a_place_in_a_bar_is_a_beat_and_its_eighth() -> None:
    assert [begins_at(text, "triplet") for text in ("1", "2.3", "before 4.2")] == [0, 20, -8]
    for text in ("5", "1.4", "1.3"):
        with pytest.raises(ValueError, match="no place in a bar"):
            begins_at(text, "straight")
