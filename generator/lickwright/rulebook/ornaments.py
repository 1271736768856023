"""The rules of double stops and grace notes."""

from __future__ import annotations

from functools import partial

import numpy as np

from lickwright.rulebook.context import Context
from lickwright.rulebook.degrees import root_numeral, ticks
from lickwright.rulebook.rule import At, OnsetRule, TouchRule
from lickwright.rulebook.touches import NO_GRACE, BoolArray, TouchTable
from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import TICKS_PER_BEAT


def touch_rules(context: Context) -> tuple[TouchRule, ...]:
    """Where a double stop may lie."""
    tech = context.rules.lead.techniques
    strings, intervals = (
        " or ".join(map(str, numbers)) for numbers in (tech.double_stop_strings, tech.double_stop_intervals)
    )
    return (
        TouchRule(
            "lead.double-stops",
            f"a double stop lies on neighbouring strings, the upper one {strings}, {intervals} semitones apart",
            context.source("lead", "techniques", "double_stop_intervals"),
            partial(_double_stops, context),
        ),
    )


def _double_stops(context: Context, t: TouchTable) -> BoolArray:
    intervals = np.zeros(128, bool)
    tech = context.rules.lead.techniques
    intervals[tech.double_stop_intervals] = True
    good = (
        (t.mate_string == t.string + 1)
        & np.isin(t.string, tech.double_stop_strings)
        & intervals[np.clip(t.pitch - t.mate_pitch, 0, 127)]
        & (t.bend == 0)
    )
    return np.asarray(~t.double | good)


def onset_rules(context: Context) -> tuple[OnsetRule, ...]:
    """When a double stop or a grace may sound, over which chord."""
    tech = context.rules.lead.techniques
    shortest = ticks(tech.double_stop_beats)
    return (
        OnsetRule(
            "lead.double-stops.chord",
            "both notes of a double stop belong to the chord, and it is no grace of a moment",
            context.source("lead", "techniques"),
            lambda t, at: (
                ~t.double | (at.in_chord(t.enter) & at.in_chord(t.mate_pitch) & (at.duration >= shortest))
            ),
        ),
        OnsetRule(
            "lead.graces",
            f"grace notes lead to {', '.join(tech.graces)}",
            context.source("lead", "techniques", "graces"),
            partial(_graces, context),
        ),
    )


def _graces(context: Context, t: TouchTable, at: At) -> BoolArray:
    tech = context.rules.lead.techniques
    good = t.grace == NO_GRACE
    if at.duration >= tech.grace_beats * TICKS_PER_BEAT:
        graced = np.where(t.double, t.mate_pitch, t.enter)
        over = root_numeral(at.chord.roman)
        degrees = [semitones(text.split()[0]) for text in tech.graces if text.split()[-1] == over]
        good = good | (np.isin(at.key_degrees(graced), degrees) & (t.bend == 0))
    return np.asarray(good)
