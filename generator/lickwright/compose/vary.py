"""A study again in another key, or again in its own: not moved along the neck but solved anew.

How much of the model stays is said by a distance (see ``distance``) and its range in the rule files: *near* keeps
rhythms and the course of the lines, *cousin* keeps the figures' rhythms or draws some anew and follows the course
loosely, *far* keeps the scheme alone. Whatever the name, positions, touches and grips are chosen for the key.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.random import Generator

from lickwright.compose.choose import compared_line
from lickwright.compose.setting import Setting, setting_of
from lickwright.compose.write import CannotBeMet, Tables, made_from, solve
from lickwright.rulebook.schema.vary import Range
from lickwright.rulebook.touches import BEND_RELEASE, PRE_BEND_RELEASE, Touch, touch_of
from lickwright.solver.chorus import Wish
from lickwright.solver.kept import plan_of
from lickwright.solver.licks import LickMaker, PitchTargets, Solved
from lickwright.solver.plan.layout import LickPlan, Plan, by_weight, home_positions, role_positions
from lickwright.solver.plan.rhythms import answered, renewed
from lickwright.study.distance import (
    DEFAULT_WEIGHTS,
    Distance,
    Line,
    chorus_distance,
    lick_slots,
    line_distance,
    line_distances,
    lines_of,
    study_distance,
)
from lickwright.study.model import Slot, Study
from lickwright.study.pins import read_pins

NAMES = ("near", "cousin", "far")
#: Plans tried before a variation is given up.
ATTEMPTS = 24


@dataclass(frozen=True)
class Variation:
    """A variation, and how far it is from its model and from each variation it was to differ from."""

    study: Study
    distance: Distance
    others: tuple[Distance, ...] = ()
    licks: tuple[Distance, ...] = ()


def origin_of(model: Study) -> str:
    """What the ``origin`` of every variation of a study ends in."""
    return made_from(model, "variation").partition(": ")[2]


def vary(
    model: Study,
    key: str,
    number: int,
    distance: str,
    others: Sequence[Study] = (),
    pins: Sequence[str] = (),
) -> Variation:
    """Variation ``number`` of a study in a key: its distance to the model lies in the named range.

    It is at least ``vary.apart`` from each of ``others``. Licks that are pinned (see ``pins``) keep their notes,
    moved to the key and fingered anew; only the others are measured. The same arguments give the same variation.
    Raises RuleFileError, BriefError, PinError, and CannotBeMet when the rules leave no such study.
    """
    setting = setting_of(model, key=key)
    stay = _pinned(model, pins)
    table = setting.rules.vary
    asked: Range = {"near": table.near, "cousin": table.cousin, "far": table.far}[distance]
    plan = plan_of(model, setting.lead)
    others = [other for other in others if len(lines_of(other)) == len(plan.licks)]
    lines = lines_of(model)
    missed = _miss(setting, lines, [lines_of(o) for o in others], asked, table.apart)
    sounds = [_sounds(model, slot) for slot in lick_slots(model)]

    def miss(lick: Solved) -> float:
        if lick.plan.number not in stay:
            return missed(lick)
        up = lick.pitches[0] - _melodies(model)[lick.plan.number][0]
        return float(sum(a != b for a, b in zip(sounds[lick.plan.number], _sounds_of(lick, up), strict=True)))

    wish = Wish(miss=miss)

    def free(study: Study) -> list[Line]:
        return [line for n, line in enumerate(lines_of(study)) if n not in stay]

    def good(study: Study) -> str:
        far = chorus_distance(free(study), free(model)).total
        if not asked[0] <= far <= asked[1]:
            return f"the distance to the model would be {far:.2f}, not {asked[0]:g} to {asked[1]:g}"
        near = min((chorus_distance(free(study), free(other)).total for other in others), default=1.0)
        return "" if near >= table.apart else f"an earlier variation would be only {near:.2f} away"

    tables, origin = Tables(setting), f"variation {number}, {distance}: {origin_of(model)}"
    homes = _homes(model, plan, setting, stay, tables)
    study = solve(
        setting,
        lambda rng: _plan(plan, setting, distance, stay, homes, tables, rng),
        wish,
        words=("vary", number, distance, origin_of(model), *sorted(stay)),
        title=model.title,
        origin=origin,
        good=good,
        tables=tables,
        attempts=ATTEMPTS,
        wish_by=lambda new: replace(wish, targets=_targets(model, setting, new, distance, stay)),
    )
    return _measured(study, model, others)


def _measured(study: Study, model: Study, others: Sequence[Study]) -> Variation:
    return Variation(
        study,
        study_distance(study, model),
        tuple(study_distance(study, other) for other in others),
        tuple(line_distance(a, b) for a, b in zip(lines_of(study), lines_of(model), strict=False)),
    )


def _pinned(model: Study, pins: Sequence[str]) -> frozenset[int]:
    """The licks, numbered among the licks, that pins keep whole."""
    whole = read_pins(model, pins).slots
    return frozenset(n for n, slot in enumerate(lick_slots(model)) if slot.number in whole)


def same_notes(model: Study, key: str) -> Study:
    """A study's licks note for note in another key, in the octave and position where they are cheapest to play.

    The comping is solved anew. Raises CannotBeMet when no position has all the notes.
    """
    setting = setting_of(model, key=key)
    plan, tables = plan_of(model, setting.lead), Tables(setting)
    up = setting.key.pitch_class - model.home.pitch_class
    sounds = [_sounds(model, slot) for slot in lick_slots(model)]
    studies: list[Study] = []
    failed: CannotBeMet | None = None
    for home, octave in product(home_positions(setting.rules, setting.key, setting.neck), (-12, 0, 12)):
        moved = _homed(plan, setting, home)
        targets = {
            lick.number: PitchTargets(tuple(p + up + octave for p in pitches), 0, band=0)
            for lick, pitches in zip(moved.licks, _melodies(model), strict=True)
        }

        def differs(lick: Solved, higher: int = up + octave) -> float:
            pairs = zip(sounds[lick.plan.number], _sounds_of(lick, higher), strict=True)
            return float(sum(a != b for a, b in pairs))

        try:
            study = solve(
                setting,
                _always(moved),
                Wish(targets=targets, miss=differs, shifts=(up + octave,)),
                words=("same notes", home, octave),
                title=model.title,
                origin=f"same notes: {origin_of(model)}",
                tables=tables,
                attempts=2,
            )
        except CannotBeMet as error:
            failed = error
            continue
        studies.append(study)
    if not studies:
        raise failed or CannotBeMet(
            "lead.windows: no place lies between its lowest and highest fret in this key"
        )
    return min(studies, key=lambda study: study.cost)


def _homes(
    model: Study, plan: Plan, setting: Setting, stay: frozenset[int], tables: Tables
) -> tuple[int, ...]:
    """The home positions of the key in which every pinned lick has a position with all its notes."""
    every = home_positions(setting.rules, setting.key, setting.neck)
    if not every:
        raise CannotBeMet("lead.windows: no place lies between its lowest and highest fret in this key")
    maker = tables.maker.for_form(plan.form)
    homes = []
    missing = ""
    for home in every:
        moved = _homed(plan, setting, home)
        targets = _targets(model, setting, moved, "far", stay)
        lost = [x for x in moved.licks if x.number in stay and not has_position(x, targets[x.number], maker)]
        if not lost:
            homes.append(home)
        else:
            missing = (
                f"pinned lick {lost[0].number + 1} ({lost[0].letter}) has its notes in no window of this key"
            )
    if not homes:
        raise CannotBeMet(missing)
    return tuple(homes)


def has_position(lick: LickPlan, course: PitchTargets, maker: LickMaker) -> bool:
    """True when one of a lick's positions has all the notes of a course under the rules."""
    return any(
        maker.drawn_to(maker.lattice(lick, position), course).possible() for position in lick.positions
    )


def _always(plan: Plan) -> Callable[[Generator], Plan]:
    return lambda rng: plan


#: A note as it sounds: its pitch in half-units, that of the voice below it (0 for none), whether it is let down.
Sound = tuple[int, int, bool]


def _sounds(model: Study, slot: Slot) -> list[Sound]:
    return [sound_of(touch_of(event), 0) for event in model.events_of(slot.number)]


def _sounds_of(lick: Solved, higher: int) -> list[Sound]:
    return [sound_of(touch, higher) for touch in lick.touches]


def sound_of(touch: Touch, higher: int) -> Sound:
    """A touch as it sounds, ``higher`` semitones taken off."""
    mate = 2 * (touch.mate_pitch - higher) if touch.mate_string else 0
    return 2 * (touch.pitch - higher) + touch.bend, mate, touch.kind in (BEND_RELEASE, PRE_BEND_RELEASE)


def _homed(plan: Plan, setting: Setting, home: int) -> Plan:
    """The plan with positions for the key round a home position."""
    positions = role_positions(setting.rules, setting.key, setting.neck, home, setting.rules.level.windows)
    licks = tuple(replace(lick, positions=positions[lick.role]) for lick in plan.licks)
    return replace(plan, home=home, licks=licks)


def _plan(
    plan: Plan,
    setting: Setting,
    distance: str,
    stay: frozenset[int],
    homes: Sequence[int],
    tables: Tables,
    rng: Generator,
) -> Plan:
    """The model's plan with positions for the key, and with fresh rhythms as the distance asks."""
    home = homes[by_weight(range(len(homes)), lambda k: setting.rules.layout.home_odds**k, rng)[0]]
    moved = _homed(plan, setting, home)
    if distance == "near":
        return moved
    letters = list(dict.fromkeys(lick.base for lick in moved.licks))
    fresh = [x for x in letters if distance == "far" or rng.random() < setting.rules.vary.new_rhythm]
    numbers = {lick.number for lick in moved.licks if lick.base in fresh} - stay
    fresh_plan = renewed(moved, setting.rules, setting.tempo_bpm, numbers, rng, tables.maker)
    if distance == "far" and not stay:
        return answered(fresh_plan, setting.rules, rng, tables.playable) or fresh_plan
    return fresh_plan


def _targets(
    model: Study, setting: Setting, plan: Plan, distance: str, stay: frozenset[int]
) -> dict[int, PitchTargets]:
    """For each lick whose rhythm stayed, the model's course moved to the key and into the position."""
    targets = {}
    course = setting.rules.vary.course.get(distance)  # type: ignore[call-overload]
    for lick, pitches in zip(plan.licks, _melodies(model), strict=True):
        up = into_position(pitches, setting, lick.positions, setting.key.pitch_class - model.home.pitch_class)
        moved = tuple(p + up for p in pitches)
        if lick.number in stay:
            targets[lick.number] = PitchTargets(moved, 0, band=0)
        elif course is not None and len(pitches) == len(lick.onsets):
            targets[lick.number] = PitchTargets(moved, course.semitone, wrong=course.wrong_direction)
    return targets


def _melodies(study: Study) -> list[tuple[int, ...]]:
    """The melody of each lick, MIDI, a quarter-tone curl counted as its fret."""
    return [
        tuple(e.melody.sounding2 // 2 for e in study.events_of(slot.number)) for slot in lick_slots(study)
    ]


def into_position(pitches: Sequence[int], setting: Setting, positions: Sequence[int], up: int) -> int:
    """``up`` with the octave that puts most pitches into one of the positions, and their mean near its upper middle."""
    mean = sum(pitches) / len(pitches)

    def worth(higher: int) -> tuple[int, float, int]:
        outside = []
        for position in positions:
            low, high = (
                setting.neck.pitch(setting.neck.strings, position),
                setting.neck.pitch(1, position + 4),
            )
            outside.append(sum(not low <= p + higher <= high for p in pitches))
        middle = setting.neck.pitch(min(2, setting.neck.strings), positions[0] + 1)
        return min(outside), abs(mean + higher - middle), higher

    return min((up + octave for octave in (-24, -12, 0, 12, 24)), key=worth)


def _miss(
    setting: Setting, model: Sequence[Line], others: Sequence[Sequence[Line]], asked: Range, apart: float
) -> Callable[[Solved], float]:
    """By how much a lick is outside the range from the model's lick, or too near to another variation's."""
    weights = np.array(DEFAULT_WEIGHTS.row)

    def miss(lick: Solved) -> float:
        n = lick.plan.number
        mine = compared_line(lick, setting)
        rows = line_distances([(mine, model[n]), *((mine, other[n]) for other in others)]) @ weights
        far, near = float(rows[0]), float(rows[1:].min(initial=1.0))
        return max(0.0, asked[0] - far, far - asked[1]) + max(0.0, apart - near)

    return miss
