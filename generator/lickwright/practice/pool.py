"""The exercises from which a practice sheet is chosen, drawn key by key, and the choice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace

from lickwright.compose.setting import Setting, random_state
from lickwright.compose.to_study import written
from lickwright.compose.write import Tables
from lickwright.judge.check import check_exercise
from lickwright.practice.exercises import FEW_NOTES, MANY_NOTES, Exercises, NoExercise
from lickwright.practice.goals import Goal, falls_short
from lickwright.practice.record import licks_of
from lickwright.rulebook.effort import HARDEST, difficulty, effort
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.places import free_ticks
from lickwright.solver.chorus import DeadEnd, solve_chorus
from lickwright.study.distance import Line, line_distance, lines_of
from lickwright.study.figures import Avoid, Figure, figures
from lickwright.study.model import SlotKind, Study
from lickwright.theory.rhythm import seconds

#: A distance weighs as much as this part of itself in difficulty beside what a place of the sheet should have.
SPREAD = 4.0
#: Exercises tried for a place of the sheet, and for all places together, before more are drawn.
BRANCHES, TURNS = 4, 400


@dataclass(frozen=True)
class Candidate:
    """One exercise that keeps the rules and trains its goals."""

    study: Study
    difficulty: float
    figures: frozenset[Figure]
    lines: tuple[Line, ...]


class Pool:
    """The exercises of one key, drawn as they are needed."""

    def __init__(
        self,
        given: Setting,
        goals: Sequence[tuple[Goal, int]],
        over: tuple[str, ...],
        avoid: Avoid,
        known: Set[frozenset[Figure]],
        words: tuple[object, ...] = (),
        floor: float = 0.0,
    ):
        """``goals`` each with how often; ``over`` root numerals; ``words`` go into the random state.

        ``known`` are whole licks that must not come back, which figures do not tell of short ones; above a ``floor``
        of difficulty licks with more notes are drawn.
        """
        self.given = given
        self.goals = tuple(goals)
        self.avoid, self.known = avoid, known
        self.words = ("practice", *words, *(goal.text for goal, _ in goals), *over)
        self.tables = Tables(given)
        self.exercises = Exercises(given.rules, self.tables.maker, given.tempo_bpm, self.goals, over)
        self.exercises.each_note = MANY_NOTES if floor else FEW_NOTES
        self.found: list[Candidate] = []
        self.failures: dict[str, int] = {}
        self.attempts = 0

    def draw(self, count: int, tries: int) -> None:
        """Draws until there are ``count`` exercises more, or ``tries`` draws are over."""
        wanted = len(self.found) + count
        for _ in range(tries):
            if len(self.found) >= wanted:
                return
            made = self._one()
            self.attempts += 1
            if isinstance(made, str):
                self.failures[made] = self.failures.get(made, 0) + 1
            else:
                self.found.append(made)

    def _one(self) -> Candidate | str:
        """One exercise, or why this draw gave none."""
        given = self.given
        rng = random_state(given, *self.words, self.attempts)
        try:
            plan, wish = self.exercises.plan(rng)
            wish = replace(wish, avoid=self.avoid)
            solved = solve_chorus(
                given.lead, plan, given.tempo_bpm, rng, self.tables.maker, self.tables.strokes, wish
            )
        except (NoExercise, DeadEnd) as dead:
            return dead.where
        study = written(given, plan, solved, "Exercise")
        broken = check_exercise(study, given.lead)
        if broken:
            return f"{broken[0].rule}: {broken[0].sentence} [{broken[0].source}]"
        if not _comes_round(study, given.lead):
            return "the hand has no time to begin again"
        if any(lick.moves in self.known for lick in licks_of(study)):
            return "the lick was given before"
        short = [g for s in study.slots if s.kind is SlotKind.LICK for g in falls_short(study, s, self.goals)]
        if short:
            return f"{short[0].text} came out too seldom"
        hard = difficulty(effort(study, given.lead), given.lead)
        return Candidate(study, hard, figures(study, self.avoid.order), lines_of(study))

    @property
    def where(self) -> str:
        """What failed most often."""
        return max(self.failures, key=lambda k: self.failures[k], default="nothing was drawn")


def _comes_round(study: Study, lead: Lead) -> bool:
    """True when the hand has the time to go from the last event back to the first, as in a loop."""
    first, last = study.events[0], study.events[-1]
    free = seconds(free_ticks(last.onset, last.duration, study.ticks + first.onset), study.tempo_bpm)
    return bool(float(lead.shift_s(last.hand, first.hand)) <= free + 1e-9)


def chosen_from(
    keys: Sequence[str], pools: Mapping[str, Pool], floor: float, apart: float
) -> list[Candidate] | None:
    """One exercise for each place of the sheet, none easier than the one before; None when there are too few.

    The difficulties that there are are spread over the places; of exercises as hard as a place should have, those far
    from all others are rather taken.
    """
    found = {
        key: sorted((c for c in pool.found if c.difficulty >= floor), key=lambda c: c.difficulty)
        for key, pool in pools.items()
    }
    ceilings = _ceilings(keys, found)
    if not ceilings:
        return None
    every = sorted(c.difficulty for key in keys for c in found[key])
    wished = [every[(2 * k + 1) * len(every) // (2 * len(keys))] for k in range(len(keys))]
    turns = iter(range(TURNS))

    def on_from(chosen: list[Candidate]) -> list[Candidate] | None:
        k = len(chosen)
        if k == len(keys):
            return chosen
        least = chosen[-1].difficulty if chosen else floor
        fits = [
            (c, far)
            for c in found[keys[k]]
            if least <= c.difficulty <= ceilings[k] and (far := _far(c, chosen)) >= apart
        ]
        fits.sort(key=lambda x: abs(x[0].difficulty - wished[k]) - x[1] / SPREAD)
        for candidate, _ in fits[:BRANCHES]:
            if next(turns, None) is None:
                return None
            made = on_from([*chosen, candidate])
            if made is not None:
                return made
        return None

    return on_from([])


def _ceilings(keys: Sequence[str], found: Mapping[str, Sequence[Candidate]]) -> list[float]:
    """How hard the exercise of each place may be so that the places after it can be no easier; [] when none can."""
    ceilings: list[float] = []
    ceiling = HARDEST
    for key in reversed(keys):
        below = [c.difficulty for c in found[key] if c.difficulty <= ceiling]
        if not below:
            return []
        ceiling = below[-1]
        ceilings.insert(0, ceiling)
    return ceilings


def _far(one: Candidate, others: Sequence[Candidate]) -> float:
    """How far an exercise is from the nearest of others: -1 when it shares a figure with one of them."""
    if any(not one.figures.isdisjoint(other.figures) for other in others):
        return -1.0
    return min(
        (line_distance(a, b).total for other in others for a in one.lines for b in other.lines), default=1.0
    )
