"""The rules of bending: sizes, places, fingers and targets by the rule file, force and travel by the hand."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from lickwright.guitar.hand import bend_faults, bend_seconds, bend_table, helpers
from lickwright.guitar.strings import bend_tables
from lickwright.rulebook.context import Context
from lickwright.rulebook.degrees import BEND_SIZES, pair_table, root_numeral
from lickwright.rulebook.rule import At, MoveRule, OnsetRule, TouchRule
from lickwright.rulebook.schema.rule_file import Size
from lickwright.rulebook.touches import (
    BEND,
    BEND_RELEASE,
    NO_BEND,
    PLUCK,
    PRE_BEND_RELEASE,
    PULL,
    BoolArray,
    TouchTable,
)
from lickwright.theory.rhythm import TICKS_PER_BEAT

KIND_NAMES = {BEND: "bend", BEND_RELEASE: "bend-release", PRE_BEND_RELEASE: "pre-bend-release"}


def touch_rules(context: Context) -> tuple[TouchRule, ...]:
    """Rules for a bend by itself."""
    b = context.rules.lead.bends
    sizes = [BEND_SIZES[s] for s in b.sizes]
    named = [code for code, name in KIND_NAMES.items() if name in b.kinds]
    pairs = {name: pair_table(texts) for name, texts in b.targets.items()}

    def by_size(t: TouchTable, allowed: Callable[[Size], BoolArray]) -> BoolArray:
        good = np.ones(len(t), bool)
        for name, size in BEND_SIZES.items():
            good &= (t.bend != size) | allowed(name)
        return good

    def targets(t: TouchTable) -> BoolArray:
        low = (t.pitch - context.key.pitch_class) % 12
        high = (t.enter - context.key.pitch_class) % 12
        return by_size(t, lambda name: np.asarray(pairs[name][low, high], bool))

    def frets(t: TouchTable) -> BoolArray:
        inside = (t.fret > 0) & (t.fret <= b.highest_fret)
        return np.asarray((t.bend == 0) | (inside & by_size(t, lambda name: t.fret >= b.lowest_fret[name])))

    return (
        TouchRule(
            "lead.bends.sizes",
            f"bends are {', '.join(b.sizes)} steps",
            context.source("lead", "bends", "sizes"),
            lambda t: np.isin(t.bend, [0, *sizes]),
        ),
        TouchRule(
            "lead.bends.kinds",
            f"a bent note is one of: {', '.join(b.kinds)}",
            context.source("lead", "bends", "kinds"),
            lambda t: np.isin(t.kind, [NO_BEND, *named]),
        ),
        TouchRule(
            "lead.bends.strings",
            f"only strings {', '.join(map(str, b.strings))} are bent",
            context.source("lead", "bends", "strings"),
            lambda t: (t.bend == 0) | np.isin(t.string, b.strings),
        ),
        TouchRule(
            "lead.bends.frets",
            f"no open string is bent, none below its size's lowest fret or above fret {b.highest_fret}",
            context.source("lead", "bends", "lowest_fret"),
            frets,
        ),
        TouchRule(
            "lead.bends.fingers",
            "each size of bend has its fingers",
            context.source("lead", "bends", "fingers"),
            lambda t: by_size(t, lambda name: np.isin(t.finger, b.fingers[name])),
        ),
        TouchRule(
            "lead.bends.targets",
            "a bend goes from a note the style bends to the note it bends to",
            context.source("lead", "bends", "targets"),
            targets,
        ),
        TouchRule(
            "hand.bends",
            "no bend needs more force or travel than the bending finger and its helpers have",
            context.source("hand", "bend_force_n"),
            partial(_bendable, context),
            partial(_bend_fault, context),
        ),
    )


def _bendable(context: Context, t: TouchTable) -> BoolArray:
    able = bend_table(context.hand, context.neck, context.strings)
    fret = np.clip(t.fret, 0, context.neck.top_fret)
    return np.asarray((t.bend == 0) | able[t.string, fret, t.bend, t.finger, np.maximum(t.finger - 1, 0)])


def _bend_fault(context: Context, t: TouchTable) -> str:
    touch = t.row(0)
    faults = bend_faults(
        context.hand,
        context.neck,
        context.strings,
        touch.string,
        touch.fret,
        touch.bend,
        touch.finger,
        helpers(touch.finger),
    )
    return ", ".join(
        f"{name.replace('_', ' ')} {asked:.1f}, limit {limit:g}" for name, (asked, limit) in faults.items()
    )


def onset_rules(context: Context) -> tuple[OnsetRule, ...]:
    """When a note may be bent, over which chord."""
    table = context.rules.lead.bends
    return (
        OnsetRule(
            "lead.bends.time",
            "a bend has the time its size needs",
            context.source("lead", "bends", "least_beats"),
            partial(_has_time, context),
        ),
        OnsetRule(
            "lead.bends.curls",
            f"a quarter-tone bend is made over {' and '.join(table.curls_over) or 'any chord'}",
            context.source("lead", "bends", "curls_over"),
            partial(_curls, context),
        ),
    )


def _curls(context: Context, t: TouchTable, at: At) -> BoolArray:
    over = context.rules.lead.bends.curls_over
    here = not over or root_numeral(at.chord.roman) in over
    return np.asarray((t.bend != BEND_SIZES["quarter"]) | here)


def move_rules(context: Context) -> tuple[MoveRule, ...]:
    """How a bent note is left."""
    return (
        MoveRule(
            "lead.bends.left",
            "a bent note is left by a fresh stroke; a released one falls to its own fret or is pulled off",
            context.source("lead", "bends", "kinds"),
            lambda a, b, how: (
                (how == PLUCK)
                | (a.kind == NO_BEND)
                | ((how == PULL) & ((a.kind == BEND_RELEASE) | (a.kind == PRE_BEND_RELEASE)))
            ),
        ),
    )


def _has_time(context: Context, t: TouchTable, at: At) -> BoolArray:
    """True where a bend has the time that its size and its way across the board need."""
    good = np.ones(len(t), bool)
    for name, beats in context.rules.lead.bends.least_beats.items():
        good &= (t.bend != BEND_SIZES[name]) | (at.duration >= beats * TICKS_PER_BEAT)
    tables = bend_tables(context.neck, context.strings)
    way = tables.distance_mm[t.string, np.clip(t.fret, 0, context.neck.top_fret), t.bend]
    return np.asarray(good & (bend_seconds(context.hand, way) <= at.seconds))
