"""The rules of bending: sizes, places, fingers and targets by the rule file, force and way by the hand."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from lickwright.guitar.hand import bend_faults, bend_seconds, bend_table, helpers
from lickwright.guitar.strings import bend_tables
from lickwright.rulebook.degrees import BEND_SIZES, pair_table
from lickwright.rulebook.rule import At, TouchRule
from lickwright.rulebook.schema.rule_file import Size
from lickwright.rulebook.touches import BEND, BEND_RELEASE, NO_BEND, PRE_BEND_RELEASE, BoolArray, TouchTable
from lickwright.theory.rhythm import TICKS_PER_BEAT

if TYPE_CHECKING:
    from lickwright.rulebook.lead import Lead

KIND_NAMES = {BEND: "bend", BEND_RELEASE: "bend-release", PRE_BEND_RELEASE: "pre-bend-release"}


def bend_rules(lead: Lead) -> tuple[TouchRule, ...]:
    """Rules for a bend by itself."""
    b = lead.rules.lead.bends
    sizes = [BEND_SIZES[s] for s in b.sizes]
    named = [code for code, name in KIND_NAMES.items() if name in b.kinds]
    pairs = {name: pair_table(texts) for name, texts in b.targets.items()}

    def by_size(t: TouchTable, allowed: Callable[[Size], BoolArray]) -> BoolArray:
        good = np.ones(len(t), bool)
        for name, size in BEND_SIZES.items():
            good &= (t.bend != size) | allowed(name)
        return good

    def targets(t: TouchTable) -> BoolArray:
        low = (t.pitch - lead.key.pitch_class) % 12
        high = (t.enter - lead.key.pitch_class) % 12
        return by_size(t, lambda name: np.asarray(pairs[name][low, high], bool))

    def frets(t: TouchTable) -> BoolArray:
        inside = (t.fret > 0) & (t.fret <= b.highest_fret)
        return np.asarray((t.bend == 0) | (inside & by_size(t, lambda name: t.fret >= b.lowest_fret[name])))

    return (
        lead.touch_rule(
            "lead.bends.sizes",
            f"bends are {', '.join(b.sizes)} steps",
            lambda t: np.isin(t.bend, [0, *sizes]),
            "lead",
            "bends",
            "sizes",
        ),
        lead.touch_rule(
            "lead.bends.kinds",
            f"a bent note is one of: {', '.join(b.kinds)}",
            lambda t: np.isin(t.kind, [NO_BEND, *named]),
            "lead",
            "bends",
            "kinds",
        ),
        lead.touch_rule(
            "lead.bends.strings",
            f"only strings {', '.join(map(str, b.strings))} are bent",
            lambda t: (t.bend == 0) | np.isin(t.string, b.strings),
            "lead",
            "bends",
            "strings",
        ),
        lead.touch_rule(
            "lead.bends.frets",
            f"no open string is bent, none below its size's lowest fret or above fret {b.highest_fret}",
            frets,
            "lead",
            "bends",
            "lowest_fret",
        ),
        lead.touch_rule(
            "lead.bends.fingers",
            "each size of bend has its fingers",
            lambda t: by_size(t, lambda name: np.isin(t.finger, b.fingers[name])),
            "lead",
            "bends",
            "fingers",
        ),
        lead.touch_rule(
            "lead.bends.targets",
            "a bend goes from a note the style bends to the note it bends to",
            targets,
            "lead",
            "bends",
            "targets",
        ),
        TouchRule(
            "hand.bends",
            "no bend takes more force or way than the finger and those behind it have",
            lead.book.source("hand", "bend_force_n"),
            partial(_bendable, lead),
            partial(_bend_fault, lead),
        ),
    )


def _bendable(lead: Lead, t: TouchTable) -> BoolArray:
    able = bend_table(lead.hand, lead.neck, lead.strings)
    fret = np.clip(t.fret, 0, lead.neck.top_fret)
    return np.asarray((t.bend == 0) | able[t.string, fret, t.bend, t.finger, np.maximum(t.finger - 1, 0)])


def _bend_fault(lead: Lead, t: TouchTable) -> str:
    touch = t.row(0)
    faults = bend_faults(
        lead.hand,
        lead.neck,
        lead.strings,
        touch.string,
        touch.fret,
        touch.bend,
        touch.finger,
        helpers(touch.finger),
    )
    return ", ".join(
        f"{name.replace('_', ' ')} {asked:.1f}, limit {limit:g}" for name, (asked, limit) in faults.items()
    )


def bend_time(lead: Lead, t: TouchTable, at: At) -> BoolArray:
    """True where a bend has the time that its size and its way across the board need."""
    good = np.ones(len(t), bool)
    for name, beats in lead.rules.lead.bends.least_beats.items():
        good &= (t.bend != BEND_SIZES[name]) | (at.duration >= beats * TICKS_PER_BEAT)
    tables = bend_tables(lead.neck, lead.strings)
    way = tables.distance_mm[t.string, np.clip(t.fret, 0, lead.neck.top_fret), t.bend]
    return np.asarray(good & (bend_seconds(lead.hand, way) <= at.seconds))
