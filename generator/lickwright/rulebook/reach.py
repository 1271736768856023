"""The rules of neck and hand: frets there are, what fingers take and reach, the time that moves need."""

from __future__ import annotations

from functools import partial

import numpy as np

from lickwright.guitar.hand import shift_seconds, spans_ok
from lickwright.rulebook.context import Context
from lickwright.rulebook.rule import MoveRule, TimeRule, TouchRule
from lickwright.rulebook.touches import SLIDE, WAYS, BoolArray, FloatArray, IntArray, TouchTable


def touch_rules(context: Context) -> tuple[TouchRule, ...]:
    """Where a touch by itself may lie, and with which fingers."""
    neck = context.neck
    return (
        TouchRule(
            "lead.neck",
            f"every fret lies on the neck of {neck.frets} frets",
            context.source("neck", "frets"),
            lambda t: (t.fret >= 0) & (t.fret <= neck.top_fret),
        ),
        TouchRule(
            "hand.fingers",
            f"each finger takes the frets that the hand's shape gives it: {context.shape.name}",
            context.source("hand", "shape"),
            partial(_fingers_fit, context),
        ),
        TouchRule(
            "hand.double-stops",
            "the two fingers of a double stop can reach their frets together",
            context.source("hand", "span_frets"),
            partial(_double_reach, context),
        ),
    )


def _fingers_fit(context: Context, t: TouchTable) -> BoolArray:
    shape, stretch = context.shape, context.rules.hand.stretch

    def fits(fret: IntArray, finger: IntArray) -> BoolArray:
        offset = fret - t.position
        own = np.zeros(len(t), bool)
        for frets_above in range(-1, 5):
            for able in shape.fingers(frets_above, stretch):
                own |= (offset == frets_above) & (finger == able)
        return np.asarray(np.where(fret == 0, finger == 0, own & (finger > 0)))

    return fits(t.fret, t.finger) & (~t.double | fits(t.mate_fret, t.mate_finger))


def _double_reach(context: Context, t: TouchTable) -> BoolArray:
    same = (t.finger == t.mate_finger) & (t.fret == t.mate_fret)
    top = context.neck.top_fret
    fret, mate_fret = np.clip(t.fret, 0, top), np.clip(t.mate_fret, 0, top)
    apart = spans_ok(context.hand, context.neck, t.finger, fret, t.mate_finger, mate_fret, 1)
    return np.asarray(~t.double | same | ((t.finger != t.mate_finger) & apart))


def move_rules(context: Context) -> tuple[MoveRule, ...]:
    """How far the hand and its fingers go from one touch of a lick to the next."""
    shift = context.rules.lead.windows.shift_inside
    return (
        MoveRule(
            "hand.span",
            "two fingers in turn lie no further apart than they reach",
            context.source("hand", "span_frets"),
            partial(_spans, context),
        ),
        MoveRule(
            "lead.windows.shift",
            "the hand may shift" if shift else "the hand stays in its window during a lick",
            context.source("lead", "windows", "shift_inside"),
            lambda a, b, how: np.ones(len(a), bool) if shift else a.position == b.position,
        ),
    )


def _spans(context: Context, a: TouchTable, b: TouchTable, how: IntArray) -> BoolArray:
    """True where both melody notes lie within one position, or the hand moves between them."""
    top = context.neck.top_fret
    fret_a, fret_b = np.clip(a.fret, 0, top), np.clip(b.fret, 0, top)
    near = spans_ok(context.hand, context.neck, a.finger, fret_a, b.finger, fret_b, b.string - a.string)
    return np.asarray((a.position != b.position) | (how == SLIDE) | near)


def time_rules(context: Context) -> tuple[TimeRule, ...]:
    """The time that moves need."""
    hand, neck = context.hand, context.neck
    rates = np.array([1 / hand.rate(way.value) for way in WAYS])

    def shift(a: TouchTable, b: TouchTable, how: IntArray) -> FloatArray:
        return context.shift_s(a.position, b.position)

    def hop(a: TouchTable, b: TouchTable, how: IntArray) -> FloatArray:
        hops = (a.finger == b.finger) & (a.finger > 0) & (a.position == b.position) & (how != SLIDE)
        return np.asarray(np.where(hops, shift_seconds(hand, neck, a.fret, b.fret), 0.0))

    return (
        TimeRule(
            "hand.shift",
            f"a shift takes {hand.shift_start_s:g} s and a second for {hand.shift_speed_mm_s:g} mm",
            context.source("hand", "shift_start_s"),
            shift,
        ),
        TimeRule(
            "hand.hop",
            "a finger that goes to another fret needs the time of a shift that long",
            context.source("hand", "shift_start_s"),
            hop,
        ),
        TimeRule(
            "hand.rates",
            f"at most {hand.plucks_per_s:g} plucked, {hand.hammer_ons_per_s:g} hammered, "
            f"{hand.pull_offs_per_s:g} pulled off or {hand.slides_per_s:g} slid notes a second",
            context.source("hand", "plucks_per_s"),
            lambda a, b, how: np.asarray(rates[how], float),
        ),
    )
