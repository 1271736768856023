"""A lick's onsets as the rules see them: over which chord, with what silence around, in figure or way home."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lickwright.rulebook.rule import At
from lickwright.rulebook.schema.rule_file import TechniquesTable
from lickwright.rulebook.touches import BEND, NO_BEND, BoolArray, TouchTable
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import Chord, Key, chord_in_key
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, Onset


def chord_of(form: Sequence[ChordSpan], tick: int, key: Key) -> Chord:
    """The form's chord at a tick."""
    roman = next((s.roman for s in reversed(form) if s.onset <= tick), form[0].roman)
    return chord_in_key(roman, key)


def free_ticks(tick: int, duration: int, next_tick: int) -> int:
    """The ticks a hand has to move between two events: the silence, and half of the first one's length."""
    return next_tick - tick - duration + duration // 2


def places(
    onsets: Sequence[Onset],
    form: Sequence[ChordSpan],
    key: Key,
    grid: str,
    tempo_bpm: int,
    role: str,
    figure_notes: int,
) -> tuple[At, ...]:
    """The onsets of a lick (ticks from the study's start) in their context.

    A note that begins in the last grid step of a bar and rings over the bar line belongs to the next chord.
    """
    step = GRIDS[grid]
    found = []
    for i, onset in enumerate(onsets):
        end = onset.tick + onset.duration
        next_bar = (onset.tick // TICKS_PER_BAR + 1) * TICKS_PER_BAR
        ahead = next_bar - onset.tick <= step and end > next_bar
        found.append(
            At(
                tick=onset.tick,
                duration=onset.duration,
                chord=chord_of(form, next_bar if ahead else onset.tick, key),
                key=key,
                tempo_bpm=tempo_bpm,
                index=i,
                count=len(onsets),
                rest_after=onsets[i + 1].tick - end if i + 1 < len(onsets) else 0,
                role=role,
                in_figure=i < figure_notes,
            )
        )
    return tuple(found)


def sways(t: TouchTable, at: At, tech: TechniquesTable) -> BoolArray:
    """True for touches that have vibrato at an onset: single fretted notes, plain or bent up, that are held."""
    beats = tech.vibrato_beats if at.last else max(tech.vibrato_beats, tech.vibrato_inside_beats)
    held = at.duration >= beats * TICKS_PER_BEAT
    still = (t.kind == NO_BEND) | (t.kind == BEND)
    return np.asarray(still & held & (t.fret > 0) & (t.bend != 1) & ~t.double)
