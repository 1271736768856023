"""Touches as columns, and a finished event read back as the touch it is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lickwright.rulebook.touches import (
    BEND,
    BEND_KINDS,
    BEND_RELEASE,
    GRACE_HAMMER,
    GRACE_SLIDE,
    HAMMER,
    KIND_CODES,
    NO_BEND,
    PRE_BEND,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    WAY_CODES,
    WAYS,
    Touch,
    TouchTable,
    touch_of,
    way_of,
)
from lickwright.study.model import BendKind, SlotKind, Technique

from tests.studies import tour

numbers = st.integers(0, 40)
touches = st.builds(Touch, *[numbers] * len(Touch._fields))


@given(st.lists(touches, max_size=8))
def test_a_table_gives_its_rows_back(rows: list[Touch]) -> None:
    table = TouchTable.of(rows)
    assert len(table) == len(rows)
    assert [table.row(k) for k in range(len(table))] == rows


@given(st.lists(touches, min_size=1, max_size=8), st.data())
def test_rows_are_taken_by_number_or_under_a_mask(rows: list[Touch], data: st.DataObject) -> None:
    table = TouchTable.of(rows)
    index = data.draw(st.lists(st.integers(0, len(rows) - 1), max_size=6))
    taken = table.take(np.array(index, np.int64))
    assert [taken.row(k) for k in range(len(taken))] == [rows[k] for k in index]
    mask = np.array([t.bend > 3 for t in rows])
    assert len(table.take(mask)) == mask.sum()


@pytest.mark.parametrize(
    ("kind", "size", "enter", "leave"),
    [
        (NO_BEND, 0, 60, 60),
        (BEND, 1, 60, 60),
        (BEND, 2, 61, 61),
        (BEND, 4, 62, 62),
        (BEND_RELEASE, 4, 62, 60),
        (PRE_BEND_RELEASE, 4, 62, 60),
        (PRE_BEND, 4, 62, 62),
    ],
)
def test_a_note_arrives_bent_and_is_left_where_it_ends(kind: int, size: int, enter: int, leave: int) -> None:
    table = TouchTable.of([Touch(3, 5, 3, 3, 60, size, kind)])
    assert (table.enter[0], table.leave[0]) == (enter, leave)
    assert bool(table.bent[0]) == (size >= 2)


def test_a_touch_with_a_mate_is_a_double_stop() -> None:
    table = TouchTable.of([Touch(1, 5, 1, 5, 69), Touch(1, 5, 1, 5, 69, mate_string=2, mate_fret=5)])
    assert table.double.tolist() == [False, True]


def test_every_kind_and_way_has_its_code_and_comes_back() -> None:
    assert set(KIND_CODES) == set(BendKind)
    assert all(BEND_KINDS[code] is kind for kind, code in KIND_CODES.items())
    assert set(WAYS) == set(Technique)
    assert [WAY_CODES[way] for way in WAYS] == list(range(len(WAYS)))


def test_the_licks_of_a_study_read_as_the_touches_they_are() -> None:
    study = tour()
    licks = [e for e in study.events if study.slots[e.slot].kind is SlotKind.LICK]
    read = {e.id: touch_of(e) for e in licks}
    for event in licks:
        upper = min(event.notes, key=lambda n: n.string)
        touch = read[event.id]
        assert (touch.string, touch.fret, touch.finger, touch.pitch) == (
            upper.string, upper.fret, upper.finger, upper.pitch,
        )  # fmt: skip
        assert touch.position == event.hand
        assert (touch.mate_string > 0) == (len(event.notes) == 2)
    ways = {way_of(e) for e in licks}
    assert {HAMMER, PULL, SLIDE} <= ways
    assert {t.kind for t in read.values()} >= {NO_BEND, BEND, BEND_RELEASE, PRE_BEND_RELEASE}
    graced = [t for t in read.values() if t.grace]
    assert [(t.grace, t.grace_frets) for t in graced] == [(GRACE_HAMMER, 2)]


def test_a_grip_that_is_slid_in_is_a_slide_of_a_fret() -> None:
    slid = next(
        e for e in tour().events if e.notes[0].grace and e.notes[0].grace.technique is Technique.SLIDE
    )
    assert (touch_of(slid).grace, touch_of(slid).grace_frets) == (GRACE_SLIDE, 1)
