"""What touches and moves of the lead cost, in points: each preference by name, with its numbers' source."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Literal

import numpy as np

from lickwright.rulebook.context import Context
from lickwright.rulebook.degrees import BEND_SIZES, cost_table, ticks
from lickwright.rulebook.rule import At, MovePreference, OnsetPreference
from lickwright.rulebook.touches import (
    BEND,
    BEND_RELEASE,
    GRACE_HAMMER,
    GRACE_SLIDE,
    NO_BEND,
    NO_GRACE,
    PLUCK,
    PRE_BEND_RELEASE,
    PULL,
    SLIDE,
    IntArray,
    TouchTable,
)
from lickwright.theory.harmony import semitones


def onset_preferences(context: Context) -> tuple[OnsetPreference, ...]:
    """What touches cost at their onsets."""
    rows: list[tuple[str, str, Callable[[TouchTable, At], IntArray], tuple[str, ...]]] = [
        (
            "lead.palette",
            "degrees that suit the chord are cheaper",
            partial(_palette_cost, context),
            ("lead", "palette"),
        ),
        (
            "lead.downbeats.lean",
            "beats carry chord tones",
            partial(_off_chord_cost, context),
            ("lead", "melody", "off_chord_strong"),
        ),
        (
            "lead.landing.choice",
            "some landings say more than others",
            partial(_landing_cost, context),
            ("lead", "landing"),
        ),
        ("lead.bends.cost", "what a bend costs", partial(_bend_cost, context), ("lead", "bends", "cost")),
        (
            "lead.ornaments",
            "what double stops and graces cost",
            partial(_ornament_cost, context),
            ("lead", "techniques"),
        ),
        (
            "lead.strings",
            "the melody lies on the upper strings, under the strong fingers",
            partial(_place_cost, context),
            ("lead", "melody", "string"),
        ),
        ("lead.figure", "the figure fits I and IV", partial(_figure_cost, context), ("lead", "figure")),
    ]
    return tuple(OnsetPreference(n, s, context.source(*path), cost) for n, s, cost, path in rows)


def _palette_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    weights = context.rules.lead.palette_weights
    times = weights.on_beat if at.beat else weights.between
    if at.duration >= ticks(weights.long_beats):
        weight = times.long
    else:
        weight = times.short if at.duration <= ticks(weights.short_beats) else times.usual
    costs = cost_table(context.palette(at), 0)[at.key_degrees(t.enter)]
    return np.asarray(costs * round(100 * weight) // 100)


def _off_chord_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    strong = at.beat is not None
    return np.where(at.in_chord(t.enter), 0, context.rules.lead.melody.off_chord_strong if strong else 0)


def _landing_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    if not at.last:
        return np.zeros(len(t), np.int64)
    return np.asarray(cost_table(context.landing(at), 0)[at.key_degrees(t.leave)])


def _bend_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    cost = context.rules.lead.bends.cost
    by_size = np.zeros(7, np.int64)
    for name, size in BEND_SIZES.items():
        by_size[size] = cost.get(name, 0)
    release = cost.get("bend-release", 0) * (t.kind == BEND_RELEASE)
    pre = cost.get("pre-bend-release", 0) * (t.kind == PRE_BEND_RELEASE)
    table = context.rules.lead.bends
    long = at.duration >= ticks(table.held_beats)
    held = np.where((t.bend == BEND_SIZES["whole"]) & (t.kind == BEND) & long, table.held, 0)
    said = _role_points(context, at, "bend") * t.bent
    return np.asarray(by_size[t.bend] + release + pre - held + said)


def _role_points(context: Context, at: At, ornament: Literal["bend", "double-stop", "grace"]) -> int:
    """What an ornament costs more or less in a lick of this role."""
    points = context.rules.lead.role_points
    return points.get(at.role, {}).get(ornament, 0)  # type: ignore[call-overload, no-any-return]


def _ornament_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    tech = context.rules.lead.techniques
    double, grace = (_role_points(context, at, kind) for kind in ("double-stop", "grace"))
    cost = (tech.double_stop + double) * t.double + (tech.grace_hammer + grace) * (t.grace == GRACE_HAMMER)
    return np.asarray(cost + (tech.grace_slide + grace) * (t.grace == GRACE_SLIDE))


def _place_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    melody = context.rules.lead.melody
    strings = np.zeros(9, np.int64)
    for number, points in melody.string.items():
        strings[int(number)] = points
    fingers = np.zeros(5, np.int64)
    for number, points in melody.finger.items():
        fingers[int(number)] = points
    stretched = (t.fret > 0) & ((t.fret < t.position) | (t.fret > t.position + 3))
    return np.asarray(strings[t.string] + fingers[t.finger] + melody.stretched * stretched)


def _figure_cost(context: Context, t: TouchTable, at: At) -> IntArray:
    figure = context.rules.lead.figure
    if not at.in_figure or not (at.beat or at.duration >= ticks(figure.long_beats)):
        return np.zeros(len(t), np.int64)
    return np.asarray(cost_table(figure.fits, figure.other)[at.key_degrees(t.enter)])


def move_preferences(context: Context) -> tuple[MovePreference, ...]:
    """What moves cost."""
    rows = [
        (
            "lead.ways",
            "legato is cheaper than plucking everything",
            partial(_way_cost, context),
            ("lead", "techniques"),
        ),
        (
            "lead.pairs",
            "notes that pull towards each other follow each other",
            partial(_pair_cost, context),
            ("lead", "melody", "pairs"),
        ),
        (
            "hand.crossings",
            "few skipped strings, fresh fingers, a quiet hand",
            partial(_crossing_cost, context),
            ("lead", "melody", "string_skip"),
        ),
    ]
    return tuple(MovePreference(n, s, context.source(*path), cost) for n, s, cost, path in rows)


def _way_cost(context: Context, a: TouchTable, b: TouchTable, how: IntArray) -> IntArray:
    tech = context.rules.lead.techniques
    ways = np.array([tech.pluck, tech.hammer, tech.pull, tech.slide], np.int64)[how]
    struck_for_free = (how == PLUCK) & ((b.kind != NO_BEND) | b.double | (b.grace != NO_GRACE))
    return np.asarray(np.where(struck_for_free, 0, ways))


def _pair_cost(context: Context, a: TouchTable, b: TouchTable, how: IntArray) -> IntArray:
    table = np.zeros((12, 12), np.int64)
    for pair, points in context.rules.lead.melody.pairs.items():
        low, _, high = pair.partition(">")
        table[semitones(low), semitones(high)] = points
    tonic, interval = context.key.pitch_class, np.abs(b.enter - a.leave)
    melody = context.rules.lead.melody
    wide = melody.wide_semitone * np.maximum(interval - melody.wide_beyond, 0)
    wide += melody.very_wide * (interval > melody.very_wide_beyond)
    unresolved = melody.unresolved_release * ((a.kind == BEND_RELEASE) & (how != PULL))
    near = interval <= melody.pairs_within
    degrees = table[(a.leave - tonic) % 12, (b.enter - tonic) % 12]
    return np.asarray(np.where(near | (degrees > 0), degrees, 0) + wide + unresolved)


def _crossing_cost(context: Context, a: TouchTable, b: TouchTable, how: IntArray) -> IntArray:
    melody = context.rules.lead.melody
    skipped = np.maximum(np.abs(a.string - b.string) - 1, 0)
    same = (a.finger == b.finger) & (a.finger > 0) & (a.fret != b.fret) & (how != SLIDE)
    return np.asarray(
        melody.string_skip * skipped
        + melody.same_finger * same
        + melody.other_finger * ((a.string == b.string) & (a.fret == b.fret) & (a.finger != b.finger))
        + melody.hand_fret * np.abs(a.position - b.position)
    )
