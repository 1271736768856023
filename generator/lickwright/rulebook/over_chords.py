"""The rules of a note over its chord: palette, strong beats, landings, held and passing notes.

Degrees are of the key unless "of the chord" is said.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

import numpy as np

from lickwright.rulebook.context import Context
from lickwright.rulebook.rule import At, OnsetRule
from lickwright.rulebook.touches import BoolArray, TouchTable
from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import TICKS_PER_BEAT


def onset_rules(context: Context) -> tuple[OnsetRule, ...]:
    """What may be played at an onset."""
    lead = context.rules.lead
    strong = " and ".join(map(str, lead.downbeats.strong))
    held = int(lead.shape.held_beats * TICKS_PER_BEAT)
    return (
        OnsetRule(
            "lead.scale",
            "only the degrees that the palette lists over the chord are played",
            context.source("lead", "palette"),
            partial(_in_palette, context),
        ),
        OnsetRule(
            "lead.downbeats",
            f"beats {strong} carry {' '.join(lead.downbeats.degrees)} of the chord",
            context.source("lead", "downbeats", "degrees"),
            partial(_on_downbeats, context),
        ),
        OnsetRule(
            "lead.landing",
            "a lick comes home on a degree listed for its role and chord",
            context.source("lead", "landing"),
            partial(_lands, context),
        ),
        OnsetRule(
            "lead.held",
            f"a note held {lead.shape.held_beats:g} beats or more belongs to its chord",
            context.source("lead", "shape", "held_beats"),
            lambda t, at: at.in_chord(t.leave) | (at.duration < held) | _curled_third(t, at),
        ),
        OnsetRule(
            "lead.passing",
            f"{' '.join(lead.shape.passing) or 'no degree'} only passes by",
            context.source("lead", "shape", "passing"),
            partial(_passes, context),
        ),
    )


def _in_palette(context: Context, t: TouchTable, at: At) -> BoolArray:
    allowed = _listed(context.palette(at))
    return np.asarray(allowed[at.key_degrees(t.enter)] & allowed[at.key_degrees(t.leave)])


def _on_downbeats(context: Context, t: TouchTable, at: At) -> BoolArray:
    down = context.rules.lead.downbeats
    if at.beat not in down.strong:
        return np.ones(len(t), bool)
    minor_third = any(d == "b3" for d in at.chord.degrees)
    degrees = down.minor_degrees if minor_third and down.minor_degrees else down.degrees
    return np.asarray(_listed(degrees)[at.chord_degrees(t.enter)])


def _lands(context: Context, t: TouchTable, at: At) -> BoolArray:
    if not at.last:
        return np.ones(len(t), bool)
    return np.asarray(_listed(context.landing(at))[at.key_degrees(t.leave)])


def _listed(degrees: Iterable[str]) -> BoolArray:
    """Which of the twelve degrees are listed."""
    good = np.zeros(12, bool)
    good[[semitones(d) for d in degrees]] = True
    return good


def _curled_third(t: TouchTable, at: At) -> BoolArray:
    """A quarter-tone curl on the flat third of a major chord: the blue note itself may be held."""
    return np.asarray(
        (t.bend == 1)
        & (at.chord_degrees(t.pitch) == 3)
        & (4 in at.chord_degrees(np.array(list(at.chord.tones))))
    )


def _passes(context: Context, t: TouchTable, at: At) -> BoolArray:
    shape = context.rules.lead.shape
    if at.duration < shape.passing_beats * TICKS_PER_BEAT or not shape.passing:
        return np.ones(len(t), bool)
    return ~np.isin(at.key_degrees(t.enter), [semitones(d) for d in shape.passing]) | at.in_chord(t.enter)
