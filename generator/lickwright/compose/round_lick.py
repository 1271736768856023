"""A study written round a lick of one's own: the lick moved to the key and to a place, its notes kept, the rest solved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from lickwright.compose.setting import BriefError, Setting, setting_for
from lickwright.compose.vary import Sound, has_position, into_position, sound_of
from lickwright.compose.write import Tables, made_from, solve
from lickwright.rulebook.touches import NO_GRACE, BoolArray, TouchTable, touch_of
from lickwright.solver.chorus import Wish
from lickwright.solver.licks import Mark, PitchTargets, Solved
from lickwright.solver.plan.cells import make_plan
from lickwright.solver.plan.layout import NoPlan, Plan
from lickwright.solver.plan.rhythms import with_rhythm
from lickwright.study.distance import lick_slots
from lickwright.study.model import Brief, Study
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, cell_text, parse_cell

#: Beats of a lick that count as its figure, if it is longer.
FIGURE_BEATS = 2


@dataclass(frozen=True)
class OwnLick:
    """A lick as it is put into a plan: its rhythm from a beat of the bar on, its melody, where its key has its tonic.

    ``sounds`` are its notes whole, with the voice below and whether a bend is let down; ``graced`` are those with a
    grace note.
    """

    beat: int
    figure: str
    tail: str
    pitches: tuple[int, ...]
    tonic: int
    sounds: tuple[Sound, ...]
    graced: tuple[bool, ...]

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Which touches may stand at its onsets: none with a voice or a grace note that it has not."""
        return tuple(
            _no_more(mate > 0, grace) for (_, mate, _), grace in zip(self.sounds, self.graced, strict=True)
        )


def own_lick(study: Study, slot: int, grid: str) -> OwnLick:
    """The lick of a slot (by number) for plans on a grid; raises ValueError for a rhythm that the grid has not."""
    events = [e for e in study.events_of(slot) if not all(n.tied for n in e.notes)]
    if len(events) < 2:
        raise ValueError("it has one note: a figure and a way home are two at least")
    bar = events[0].onset - events[0].onset % TICKS_PER_BAR
    beat = (events[0].onset - bar) // TICKS_PER_BEAT
    start = bar + beat * TICKS_PER_BEAT
    text = cell_text([(e.onset - start, e.duration) for e in events], grid)
    if "L" not in text:
        raise ValueError(f"its last note begins inside a step of the {grid} grid")
    split = min(FIGURE_BEATS * TICKS_PER_BEAT // GRIDS[grid], text.index("L"))
    if len(parse_cell(text, grid).onsets) != len(events):
        raise ValueError("its rhythm cannot be told by a cell")
    pitches = tuple(e.melody.sounding2 // 2 for e in events)
    sounds = tuple(sound_of(touch_of(e), 0) for e in events)
    graced = tuple(any(n.grace is not None for n in e.notes) for e in events)
    return OwnLick(beat, text[:split], text[split:], pitches, study.home.pitch_class, sounds, graced)


def _no_more(voice: bool, grace: bool) -> Mark:
    def allows(t: TouchTable) -> BoolArray:
        return np.asarray((voice | ~t.double) & (grace | (t.grace == NO_GRACE)))

    return allows


def write_round(brief: Brief, source: Study, slot: int, place: int) -> Study:
    """The study that a brief asks for with the lick of ``source``'s slot as its ``place``-th lick (from 0).

    Raises RuleFileError and BriefError for what cannot be used, CannotBeMet when no study takes it.
    """
    setting = setting_for(brief)
    try:
        lick = own_lick(source, slot, setting.rules.study.grid)
    except ValueError as error:
        raise BriefError([f"the lick cannot stand in this style: {error}"]) from None
    tables = Tables(setting)

    def plan_by(rng: Generator) -> Plan:
        return _plan(setting, tables, lick, place, rng)

    def miss(drawn: Solved) -> float:
        return _miss(drawn, lick) if drawn.plan.number == place else 0.0

    def wish_by(plan: Plan) -> Wish:
        ticks = (onset.tick for onset in plan.licks[place].onsets)
        marks = dict(zip(ticks, lick.marks, strict=True))
        return Wish(targets={place: _course(setting, tables, plan, lick, place)}, marks=marks, miss=miss)

    return solve(
        setting,
        plan_by,
        Wish(),
        words=("round", place, lick),
        origin=made_from(source, f"round the lick of slot {slot + 1}"),
        tables=tables,
        wish_by=wish_by,
    )


def _plan(setting: Setting, tables: Tables, lick: OwnLick, place: int, rng: Generator) -> Plan:
    plan = make_plan(setting.rules, setting.key, setting.neck, setting.tempo_bpm, rng, tables.playable)
    if place >= len(plan.licks):
        raise NoPlan(f"the study has {len(plan.licks)} licks: choose a place from 1 to {len(plan.licks)}")
    plan = with_rhythm(
        plan,
        setting.rules,
        setting.tempo_bpm,
        place,
        (lick.figure, lick.tail),
        lick.beat,
        rng,
        tables.playable,
    )
    if not has_position(
        plan.licks[place], _course(setting, tables, plan, lick, place), tables.maker.for_form(plan.form)
    ):
        raise NoPlan(
            f"the lick's notes keep the rules in no window of its place over {plan.form[0].roman}: "
            "check it with --instead to see what would"
        )
    return plan


def _course(setting: Setting, tables: Tables, plan: Plan, lick: OwnLick, place: int) -> PitchTargets:
    """The lick's notes in the key: as high as they were if a position has them, else where one has."""
    up = setting.key.pitch_class - lick.tonic
    maker = tables.maker.for_form(plan.form)
    for octave in sorted((-12, 0, 12), key=lambda octave: abs(up + octave)):
        near = PitchTargets(tuple(p + up + octave for p in lick.pitches), 0, band=0)
        if has_position(plan.licks[place], near, maker):
            return near
    up = into_position(lick.pitches, setting, plan.licks[place].positions, up)
    return PitchTargets(tuple(p + up for p in lick.pitches), 0, band=0)


def _miss(drawn: Solved, lick: OwnLick) -> float:
    """How many notes sound otherwise than the lick's: with another voice below, bent by another size or way."""
    up = drawn.pitches[0] - lick.pitches[0]
    pairs = zip(lick.sounds, drawn.touches, strict=True)
    return float(sum(sound != sound_of(touch, up) for sound, touch in pairs))


def place_of(text: str, source: Study) -> int:
    """The slot number (from 0) of the n-th lick of a study, n as text counted from 1; raises ValueError."""
    licks = lick_slots(source)
    if not text.isdecimal() or not 1 <= int(text) <= len(licks):
        raise ValueError(f"{text!r}: it has licks 1 to {len(licks)}")
    return licks[int(text) - 1].number
