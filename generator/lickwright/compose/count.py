"""How many licks and choruses the rules allow in a plan: exact whole numbers, and what each rule alone takes away."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from lickwright.compose.setting import random_state, setting_for
from lickwright.compose.write import CannotBeMet, Tables
from lickwright.rulebook.places import chord_of
from lickwright.rulebook.rule import Named
from lickwright.solver.chain import LickSlot
from lickwright.solver.chorus import Chorus
from lickwright.solver.choruses import count
from lickwright.solver.explain.problem import LickProblem
from lickwright.solver.licks import line_of_lick
from lickwright.solver.plan.cells import make_plan
from lickwright.solver.plan.layout import LickPlan, NoPlan
from lickwright.solver.shifts import POSITIONS
from lickwright.study.model import Brief
from lickwright.theory.rhythm import bar_of

#: Licks drawn evenly to say how many have the shape asked for.
DRAWN = 1000
#: So hot that every lick is drawn as often as every other.
_EVENLY = 1e9


@dataclass(frozen=True)
class AllowedLicks:
    """A lick's place: where it is, how many licks its rules allow in all its positions, and what each rule takes away.

    ``taken`` has the rules that take something away, the most first: without the rule there would be so many more.
    ``shapely`` is the share of licks drawn evenly that have the shape asked for as well, which no count can tell.
    """

    where: str
    notes: int
    licks: int
    taken: tuple[tuple[Named, int], ...]
    shapely: float


@dataclass(frozen=True)
class Allowed:
    """A plan's scheme, its places, and how many choruses it allows when no lick need quote another."""

    scheme: str
    places: tuple[AllowedLicks, ...]
    choruses: int


def allowed(brief: Brief, *, rules: bool = True) -> Allowed:
    """Counts what the rules allow in the plan that a brief draws first; without ``rules`` only the totals.

    Raises RuleFileError and BriefError for what cannot be used, CannotBeMet when there is no plan.
    """
    setting = setting_for(brief)
    tables = Tables(setting)
    rng = random_state(setting, 0)
    try:
        plan = make_plan(setting.rules, setting.key, setting.neck, setting.tempo_bpm, rng, tables.playable)
    except NoPlan as error:
        raise CannotBeMet(error.where) from None
    chorus = Chorus(setting.lead, plan, setting.tempo_bpm, rng, tables.maker, tables.strokes)
    chain = chorus.plain_chain()
    slots = {slot.first_tick: slot for slot in chain.slots if isinstance(slot, LickSlot)}
    places = []
    for lick in plan.licks:
        place = LickProblem(setting.lead, lick, plan.form, setting.tempo_bpm)
        chord = chord_of(plan.form, lick.start, setting.key).symbol
        where = f"lick {lick.letter} in bar {bar_of(lick.start) + 1}, over {chord}"
        licks = sum(lattice.count() for lattice in slots[lick.start].lattices)
        taken = tuple(sorted(_taken(place, licks), key=lambda x: -x[1])) if rules else ()
        shapely = _shapely(chorus, lick, slots[lick.start], rng)
        places.append(AllowedLicks(where, len(lick.onsets), licks, taken, shapely))
    return Allowed(plan.scheme, tuple(places), count(chain))


def _taken(place: LickProblem, licks: int) -> Iterator[tuple[Named, int]]:
    for rule in place.rules:
        more = place.count([other for other in place.rules if other.name != rule.name]) - licks
        if more:
            yield rule, more


def _shapely(chorus: Chorus, lick: LickPlan, slot: LickSlot, rng: Generator) -> float:
    slot.backward_message(np.zeros(POSITIONS), _EVENLY)
    samples = slot.draw(np.zeros(POSITIONS), _EVENLY, DRAWN, rng)
    total, good = 0, 0
    for lattice, nodes, _ in samples:
        for path in nodes:
            line = line_of_lick(lick, tuple(lattice.graph.touches[n] for n in path))
            total += 1
            good += all(rule.allows(line) for rule in chorus.lead.shape_rules)
    return good / total if total else 0.0
