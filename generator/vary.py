"""A study again in another key, or again in its own: not moved along the neck but solved anew.

How much of the model stays is said by a distance (see ``distance``) and its range in the rule files: *near* keeps
rhythms and the course of the lines, *cousin* keeps the figures' rhythms or draws some anew and follows the course
loosely, *far* keeps the scheme alone. Whatever the name, hand places, touches and grips are chosen for the key.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from generator.choose import line_of_lick
from generator.compose import CannotBeMet, Tables, made_from, setting_of, solve
from generator.distance import (
    DEFAULT_WEIGHTS,
    Distance,
    Line,
    line_distance,
    line_distances,
    lines_of,
    study_distance,
)
from generator.rulebook.schema_vary import Range
from generator.solver.chorus import Wish
from generator.solver.kept import plan_of
from generator.solver.licks import Quote, Solved
from generator.solver.plan import HOME_ODDS, LickPlan, Plan, by_weight, role_hands, window_hands
from generator.solver.rhythms import renewed
from generator.study import Study
from generator.writing import Setting

NAMES = ("near", "cousin", "far")
#: Points for a semitone beside the model's course and for a move against it.
_COURSES = {"near": (14, 60), "cousin": (1, 10)}
#: How often a cousin's letter takes a new rhythm.
_NEW_RHYTHM = 0.6


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


def vary(model: Study, key: str, number: int, distance: str, others: Sequence[Study] = ()) -> Variation:
    """Variation ``number`` of a study in a key: its distance to the model lies in the named range.

    It is at least ``vary.apart`` from each of ``others``. The same arguments give the same variation. Raises
    RuleFileError, BriefError, and CannotBeMet when the rules leave no such study.
    """
    given = setting_of(model, key=key)
    table = given.rules.vary
    wanted: Range = {"near": table.near, "cousin": table.cousin, "far": table.far}[distance]
    plan = plan_of(model, given.lead)
    others = [other for other in others if len(lines_of(other)) == len(plan.licks)]
    wish = Wish(miss=_miss(given, lines_of(model), [lines_of(o) for o in others], wanted, table.apart))

    def good(study: Study) -> str:
        far = study_distance(study, model).total
        if not wanted[0] <= far <= wanted[1]:
            return f"the distance to the model would be {far:.2f}, not {wanted[0]:g} to {wanted[1]:g}"
        near = min((study_distance(study, other).total for other in others), default=1.0)
        return "" if near >= table.apart else f"an earlier variation would be only {near:.2f} away"

    tables, origin = Tables(given), f"variation {number}, {distance}: {origin_of(model)}"
    made = solve(
        given,
        lambda rng: _plan(model, plan, given, distance, number, rng),
        wish,
        words=("vary", number, distance, origin_of(model)),
        title=model.title,
        origin=origin,
        good=good,
        tables=tables,
        wish_by=lambda new: replace(wish, courses=_courses(model, given, new, distance)),
    )
    return _measured(made, model, others)


def _measured(made: Study, model: Study, others: Sequence[Study]) -> Variation:
    return Variation(
        made,
        study_distance(made, model),
        tuple(study_distance(made, other) for other in others),
        tuple(line_distance(a, b) for a, b in zip(lines_of(made), lines_of(model), strict=False)),
    )


def _plan(model: Study, plan: Plan, given: Setting, distance: str, number: int, rng: Generator) -> Plan:
    """The model's plan with windows for the key, and with fresh rhythms as the distance asks."""
    homes = window_hands(given.rules, given.key, given.neck)
    if not homes:
        raise CannotBeMet("lead.windows: no place lies between its lowest and highest fret in this key")
    home = homes[by_weight(range(len(homes)), lambda k: HOME_ODDS**k, rng)[0]]
    hands = role_hands(given.rules, given.key, given.neck, home, given.rules.level.windows)
    licks = tuple(replace(lick, hands=hands[lick.role]) for lick in plan.licks)
    moved = replace(plan, home=home, licks=licks)
    if distance == "near":
        return moved
    letters = list(dict.fromkeys(_base(lick) for lick in licks))
    fresh = [x for x in letters if distance == "far" or rng.random() < _NEW_RHYTHM]
    numbers = {lick.number for lick in licks if _base(lick) in fresh}
    return renewed(moved, given.rules, given.tempo_bpm, numbers, rng)


def _base(lick: LickPlan) -> str:
    return lick.letter.rstrip("'")


def _courses(model: Study, given: Setting, plan: Plan, distance: str) -> dict[int, Quote]:
    """For each lick whose rhythm stayed, the model's course moved to the key and into the window."""
    if distance not in _COURSES:
        return {}
    semitone, wrong = _COURSES[distance]
    found = {}
    for lick, pitches in zip(plan.licks, _melodies(model), strict=True):
        up = _into_window(pitches, given, lick.hands[0], given.key.pitch_class - model.home.pitch_class)
        if len(pitches) == len(lick.onsets):
            found[lick.number] = Quote(tuple(p + up for p in pitches), semitone, wrong=wrong)
    return found


def _melodies(study: Study) -> list[tuple[int, ...]]:
    """The melody of each lick, MIDI, a quarter-tone curl counted as its fret."""
    slots = [slot for slot in study.slots if slot.kind.value == "lick"]
    return [tuple(e.melody.sounding2 // 2 for e in study.events_of(slot.number)) for slot in slots]


def _into_window(pitches: Sequence[int], given: Setting, hand: int, up: int) -> int:
    """``up`` with the octave that brings the pitches nearest to the middle of the window's upper strings."""
    middle = given.neck.pitch(min(2, given.neck.strings), hand + 1)
    mean = sum(pitches) / len(pitches)
    return min((up + octave for octave in (-24, -12, 0, 12, 24)), key=lambda x: (abs(mean + x - middle), x))


def _miss(
    given: Setting, model: Sequence[Line], others: Sequence[Sequence[Line]], wanted: Range, apart: float
) -> Callable[[Solved], float]:
    """By how much a lick is outside the range from the model's lick, or too near to another variation's."""
    weights = np.array(DEFAULT_WEIGHTS.row)

    def miss(lick: Solved) -> float:
        n = lick.plan.number
        mine = line_of_lick(lick, given)
        rows = line_distances([(mine, model[n]), *((mine, other[n]) for other in others)]) @ weights
        far, near = float(rows[0]), float(rows[1:].min(initial=1.0))
        return max(0.0, wanted[0] - far, far - wanted[1]) + max(0.0, apart - near)

    return miss
