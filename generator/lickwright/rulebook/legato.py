"""The rules of how a note is sounded from the one before: hammer-ons, pull-offs, slides."""

from __future__ import annotations

from functools import partial

import numpy as np

from lickwright.rulebook.context import Context
from lickwright.rulebook.rule import JoinRule, MoveRule
from lickwright.rulebook.touches import (
    HAMMER,
    NO_BEND,
    NO_GRACE,
    PLUCK,
    PULL,
    SLIDE,
    BoolArray,
    IntArray,
    TouchTable,
)


def move_rules(context: Context) -> tuple[MoveRule, ...]:
    """What a hammer-on, a pull-off or a slide may join."""
    tech = context.rules.lead.techniques
    return (
        MoveRule(
            "lead.legato",
            f"a hammer-on goes up, a pull-off down, on one string, by another finger, at most {tech.legato_frets} frets",
            context.source("lead", "techniques", "legato_frets"),
            partial(_legato, context),
        ),
        MoveRule(
            "lead.slides",
            f"a slide keeps string and finger and moves {tech.slide_frets} frets at most",
            context.source("lead", "techniques", "slide_frets"),
            partial(_slides, context),
        ),
    )


def _legato(context: Context, a: TouchTable, b: TouchTable, how: IntArray) -> BoolArray:
    frets = b.fret - a.fret
    plain = (b.grace == NO_GRACE) & ~b.double & ~a.double & (b.kind == NO_BEND)
    near = (a.string == b.string) & (np.abs(frets) <= context.rules.lead.techniques.legato_frets) & plain
    up = near & (frets > 0) & (b.finger > a.finger)
    down = near & (frets < 0) & (b.finger < a.finger)
    return np.asarray(((how != HAMMER) | up) & ((how != PULL) | down))


def _slides(context: Context, a: TouchTable, b: TouchTable, how: IntArray) -> BoolArray:
    frets = np.abs(b.fret - a.fret)
    good = (a.string == b.string) & (a.finger == b.finger) & (frets > 0) & (a.fret > 0) & (b.fret > 0)
    good &= (frets <= context.rules.lead.techniques.slide_frets) & (b.grace == NO_GRACE)
    good &= ~a.double & ~b.double & (b.kind == NO_BEND)
    return np.asarray((how != SLIDE) | good)


def join_rule(context: Context) -> JoinRule:
    """The rule for what is not struck: it sounds on from the note before."""
    return JoinRule(
        "lead.joined",
        "a hammer-on, a pull-off or a slide follows the note before it without a silence",
        context.source("lead", "techniques"),
        lambda how, joined: np.asarray((how == PLUCK) | joined),
    )
