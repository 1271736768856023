"""Written values: what fills a bar, where it is cut, and what is a triplet."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.render.notation import Written, written_bars
from lickwright.study.model import Study

from tests.studies import tour


def one_bar(meter: str, grid: str, *spans: tuple[int, int]) -> Study:
    """A study of one bar with an event for each (onset, duration)."""
    base = tour(meter=meter, grid=grid)
    events = tuple(replace(base.events[0], id=f"e{i}", onset=a, duration=d) for i, (a, d) in enumerate(spans))
    return replace(base, bars=1, events=events)


def values(study: Study) -> list[str]:
    """One bar in short: q. e r8 (3e), a tie as ~ after the value."""
    short = {"whole": "w", "half": "h", "quarter": "q", "eighth": "e", "16th": "s", "32nd": "t"}

    def text(w: Written) -> str:
        name = ("r" if w.event is None else "") + short[w.value] + "." * w.dots + ("~" if w.ties else "")
        return name if w.tuplet is None else f"3{name}"

    return [text(w) for w in written_bars(study)[0]]


# The cuts are common practice in engraving, no source: ties show the beats of 12/8 and the middle of 4/4.
@pytest.mark.parametrize(
    ("meter", "grid", "spans", "expected"),
    [
        ("12/8", "triplet", [(0, 48)], ["w."]),
        ("12/8", "triplet", [(0, 36)], ["h.~", "q.", "rq."]),
        ("12/8", "triplet", [(12, 36)], ["rq.", "q.~", "h."]),
        ("12/8", "triplet", [(8, 12)], ["rq", "e~", "q", "re", "rh."]),
        ("12/8", "triplet", [(4, 8), (12, 2), (14, 2), (16, 8)], ["re", "q", "s", "s", "q", "rh."]),
        ("12/8", "triplet", [(0, 6), (6, 6)], ["e.", "e.", "rq.", "rh."]),
        ("12/8", "triplet", [], ["rw"]),
        ("4/4", "straight", [(6, 12), (18, 6), (24, 24)], ["re", "q", "e", "h"]),
        ("4/4", "straight", [(0, 18), (18, 12)], ["q.", "e~", "e", "re", "rq"]),
        ("4/4", "straight", [(0, 3), (3, 3), (6, 6)], ["s", "s", "e", "rq", "rh"]),
        ("4/4", "straight", [(0, 4), (4, 4), (8, 4)], ["3e", "3e", "3e", "rq", "rh"]),
        ("4/4", "straight", [(0, 6), (6, 2), (8, 2), (10, 2)], ["e", "3s", "3s", "3s", "rq", "rh"]),
        ("4/4", "triplet", [(0, 8), (8, 4), (12, 12)], ["e", "e", "q", "rh"]),
        ("4/4", "triplet", [(8, 12), (20, 4)], ["re", "q", "e", "rh"]),
        ("4/4", "triplet", [(0, 4), (4, 8)], ["3e", "3q", "rq", "rh"]),
        ("4/4", "triplet", [(8, 16)], ["re", "q.", "rh"]),
    ],
)
def test_a_stretch_is_written_as_a_reader_expects(meter, grid, spans, expected):
    assert values(one_bar(meter, grid, *spans)) == expected


def test_four_plain_eighths_share_a_beam_and_a_beat_of_sixteenths_has_its_own():
    bar = written_bars(
        one_bar("4/4", "straight", *[(6 * i, 6) for i in range(4)], *[(24 + 3 * i, 3) for i in range(4)])
    )[0]
    assert [w.beam for w in bar[:4]] == [0] * 4
    assert [w.beam for w in bar[4:8]] == [4] * 4


@st.composite
def bars(draw):
    meter, grid = draw(st.sampled_from([("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight")]))
    cuts = sorted(draw(st.sets(st.integers(0, 96), min_size=2, max_size=20)))
    spans = [(a, b - a) for a, b in pairwise(cuts) if draw(st.booleans())]
    base = tour(meter=meter, grid=grid)
    events = tuple(replace(base.events[0], id=f"e{i}", onset=a, duration=d) for i, (a, d) in enumerate(spans))
    return replace(base, bars=2, events=events)


@given(bars())
def test_every_bar_is_filled_exactly_and_every_event_keeps_its_ticks(study):
    full = Fraction(6) if study.meter == "12/8" else Fraction(4)
    ticks = dict.fromkeys(range(len(study.events)), 0)
    for number, bar in enumerate(written_bars(study)):
        at = 48 * number
        for w in bar:
            assert w.tick == at
            at += w.ticks
            if w.event is not None:
                ticks[w.event] += w.ticks
        assert at == 48 * (number + 1)
        assert bar[0].bar_rest or sum(w.quarters for w in bar) == full
    assert ticks == {i: e.duration for i, e in enumerate(study.events)}


@given(bars())
def test_pieces_of_one_event_are_tied_and_each_tuplet_fills_its_place(study):
    pieces = [w for bar in written_bars(study) for w in bar]
    for a, b in pairwise(pieces):
        same = a.event is not None and a.event == b.event
        assert a.ties == b.tied == same
    for bar in written_bars(study):
        for group in {w.tuplet for w in bar} - {None}:
            total = sum(w.quarters for w in bar if w.tuplet == group)
            assert total in (Fraction(1), Fraction(1, 2))
