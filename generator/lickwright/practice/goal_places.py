"""Where the goals of an exercise can stand in a lick, and one way, drawn by the seed, of laying them there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TypeAlias

import numpy as np
from numpy.random import Generator

from lickwright.practice.goals import Goal, arrives_strongly, is_strong
from lickwright.rulebook.rule import At
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import BoolArray, TouchTable
from lickwright.solver.licks import LickMaker, Mark
from lickwright.solver.moves import RuleGraph
from lickwright.theory.rhythm import seconds

Allowed: TypeAlias = dict[tuple[object, ...], BoolArray]


@dataclass
class Places:
    """Where goals can stand in one lick and position: masks over the position's touches, an onset each.

    ``known`` keeps what the rules allow at an onset; it is to be shared by all places of one maker.
    """

    rules: RuleFile
    maker: LickMaker
    tempo_bpm: int
    seen: tuple[At, ...]
    position: int
    known: Allowed

    def __post_init__(self) -> None:
        self.graph: RuleGraph = self.maker.graph(self.position)
        self.ticks = [(at.tick, at.duration) for at in self.seen]

    @cached_property
    def free(self) -> list[BoolArray]:
        """The touches that may still stand at each onset: what the rules allow, less what goals have taken."""
        return [self._allowed(at).copy() for at in self.seen]

    def _key(self, at: At) -> tuple[object, ...]:
        """What the rules of touches at onsets look at."""
        return at.beat, at.duration, at.last, at.chord, at.role, self.position

    def _allowed(self, at: At) -> BoolArray:
        """The touches of the position that the rules allow at an onset."""
        key = self._key(at)
        if key not in self.known:
            good = np.ones(len(self.graph.table), bool)
            for rule in self.maker.lead.onset_rules:
                good &= rule.allows(self.graph.table, at)
            self.known[key] = good
        return self.known[key]

    def enough(self, goal: Goal, times: int) -> bool:
        """True when a goal by itself, before any is laid, can stand on so many onsets."""
        if goal.ask.touches is None:
            return len(self.of(goal)) >= times
        return sum(self._strong(i) and self._stands(goal, i) for i in range(len(self.seen))) >= times

    def _stands(self, goal: Goal, i: int) -> bool:
        key = goal.text, *self._key(self.seen[i])
        if key not in self.known:
            self.known[key] = np.asarray((self._mask(goal, i) & self._allowed(self.seen[i])).any())
        return bool(self.known[key])

    def of(self, goal: Goal) -> list[int]:
        """The onsets at which a goal can still stand; every onset for one that is no matter of touches."""
        count = range(len(self.seen))
        if goal.ask.touches is not None:
            return [i for i in count if self._strong(i) and (self._mask(goal, i) & self.free[i]).any()]
        if goal.ask.way is not None:
            way = goal.ask.way
            return [i for i in count[1:] if arrives_strongly(self.ticks, i) and self._edges(way, i).any()]
        return list(count)

    def _strong(self, i: int) -> bool:
        return is_strong(*self.ticks[i], self.seen[i].last)

    def _mask(self, goal: Goal, i: int) -> BoolArray:
        assert goal.ask.touches is not None
        return goal.ask.touches(self.graph.table, self.seen[i], self.rules)

    def _edges(self, way: int, i: int) -> BoolArray:
        """The moves into an onset that go that way and have time and free ends."""
        source, target, how, _, needs = self.graph.edges
        before = self.seen[i - 1]
        gap_s = seconds(self.seen[i].tick - before.tick, self.tempo_bpm)
        in_time = (needs <= gap_s + 1e-9) & self.maker.lead.join_rule.allows(how, before.joined)
        return np.asarray((how == way) & in_time & self.free[i - 1][source] & self.free[i][target])

    def lay(
        self,
        goals: Sequence[tuple[Goal, int]],
        rng: Generator,
        marks: dict[int, Mark],
        ways: dict[int, int],
    ) -> bool:
        """Lays each goal on as many onsets as asked, drawn by the seed; False when one finds too few."""
        mine: dict[int, list[Goal]] = {}
        taken: dict[int, int] = {}
        for goal, times in goals:
            if goal.ask.touches is None and goal.ask.way is None:
                continue
            left = times
            for i in rng.permutation(self.of(goal)).tolist():
                if left and self._take(goal, i, taken):
                    if goal.ask.touches is not None:
                        mine.setdefault(i, []).append(goal)
                    left -= 1
            if left:
                return False
        for i, asked in mine.items():
            marks[self.seen[i].tick] = partial(_all, tuple(asked), self.seen[i], self.rules)
        ways.update({self.seen[i].tick: way for i, way in taken.items()})
        return True

    def _take(self, goal: Goal, i: int, taken: dict[int, int]) -> bool:
        """Narrows what may stand at an onset (and before it) to a goal; False when nothing would be left."""
        if goal.ask.touches is not None:
            left = self.free[i] & self._mask(goal, i)
            if not left.any():
                return False
            self.free[i] = left
            return True
        assert goal.ask.way is not None
        edges = self._edges(goal.ask.way, i)
        if i in taken or not edges.any():
            return False
        source, target = self.graph.edges[:2]
        for onset, ends in ((i - 1, source[edges]), (i, target[edges])):
            good = np.zeros_like(self.free[onset])
            good[ends] = True
            self.free[onset] &= good
        taken[i] = goal.ask.way
        return True


def _all(goals: tuple[Goal, ...], at: At, rules: RuleFile, table: TouchTable) -> BoolArray:
    good = np.ones(len(table), bool)
    for goal in goals:
        assert goal.ask.touches is not None
        good &= goal.ask.touches(table, at, rules)
    return good
