"""One lick's place with every rule at hand, so that some can be left out: what is then possible, and how much.

Unlike the lattices that licks are drawn from, the graph here knows for each move which rules forbid it. Rules that
judge a finished shape do not take part: they are no part of any lattice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import FORBIDDEN, At, Automaton, LickRule, Named, Source, TouchRule
from lickwright.rulebook.touches import (
    HAMMER,
    PLUCK,
    PULL,
    SLIDE,
    BoolArray,
    FloatArray,
    IntArray,
    TouchTable,
)
from lickwright.solver.automaton import compile_rules, language
from lickwright.solver.bounds import look_at_the_clock
from lickwright.solver.lattice import Lattice
from lickwright.solver.licks import context
from lickwright.solver.moves import RuleGraph, candidates, worth_asking
from lickwright.solver.plan.layout import LickPlan
from lickwright.study.model import ChordSpan
from lickwright.theory.rhythm import seconds


@dataclass
class _Moves:
    """Moves among the touches that some touch rules allow, and what each rule says of each."""

    table: TouchTable
    source: IntArray
    target: IntArray
    way: IntArray
    allows: dict[str, BoolArray]
    needs: dict[str, FloatArray]


@dataclass
class Place:
    """A planned lick and the windows it may lie in.

    ``moves`` (by window and touch rules) and ``languages`` are what has been worked out so far.
    """

    lead: Lead
    plan: LickPlan
    form: tuple[ChordSpan, ...]
    tempo_bpm: int
    seen: tuple[At, ...] = field(init=False)
    moves: dict[tuple[int, frozenset[str]], _Moves] = field(default_factory=dict)
    languages: dict[tuple[str, ...], Automaton] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.seen = context(self.plan, self.form, self.lead, self.tempo_bpm)

    @property
    def rules(self) -> tuple[Named, ...]:
        """The rules that take part here, from a lick's order to a single touch."""
        lead = self.lead
        return (
            *lead.onset_rules,
            *lead.slot_rules(self.seen),
            *lead.move_rules,
            *lead.time_rules,
            lead.join_rule,
            *lead.touch_rules,
        )

    def holds(self, rules: Collection[Named]) -> bool:
        """True when some lick keeps the rules in some window."""
        return any(lattice.possible() for lattice in self.lattices(rules))

    def count(self, rules: Collection[Named]) -> int:
        """How many licks keep the rules, exactly, all windows together."""
        return sum(lattice.count() for lattice in self.lattices(rules))

    def lattices(self, rules: Collection[Named]) -> Iterator[Lattice]:
        """The lick's lattice in each window under some of the rules, without costs."""
        for hand in self.plan.hands:
            yield self._lattice(hand, rules)

    def _lattice(self, hand: int, rules: Collection[Named]) -> Lattice:
        names = {rule.name for rule in rules}
        moves = self._among(
            hand, frozenset(n for n in names if any(n == r.name for r in self.lead.touch_rules))
        )
        good = np.ones(len(moves.source), bool)
        needs = np.zeros(len(moves.source))
        for name in names & moves.allows.keys():
            good &= moves.allows[name]
        for name in names & moves.needs.keys():
            needs = np.maximum(needs, moves.needs[name])
        zero = np.zeros(int(good.sum()), np.int64)
        arrays = moves.source[good], moves.target[good], moves.way[good], zero, needs[good]
        graph = RuleGraph(self.lead, (hand,), moves.table, arrays)
        rows = np.zeros((len(self.seen), len(moves.table)), np.int64)
        for i, at in enumerate(self.seen):
            for rule in self.lead.onset_rules:
                if rule.name in names:
                    rows[i][~rule.allows(moves.table, at)] = FORBIDDEN
        order = tuple(rule for rule in self.lead.slot_rules(self.seen) if rule.name in names) or (ANYTHING,)
        ticks = [o.tick for o in self.plan.onsets]
        gaps = np.array([seconds(b - a, self.tempo_bpm) for a, b in pairwise(ticks)])
        asked = self.lead.join_rule.name in names
        joined = np.array([at.joined or not asked for at in self.seen[:-1]], bool)
        look_at_the_clock()
        compiled = compile_rules(order, graph, self._language(order))
        return Lattice(graph, compiled, rows, gaps, joined, (None,) * (len(rows) - 1))

    def _language(self, order: tuple[LickRule, ...]) -> Automaton:
        names = tuple(rule.name for rule in order)
        if names not in self.languages:
            self.languages[names] = _uncharged(language(order))
        return self.languages[names]

    def _among(self, hand: int, touch_rules: frozenset[str]) -> _Moves:
        key = hand, touch_rules
        if key not in self.moves:
            kept = [rule for rule in self.lead.touch_rules if rule.name in touch_rules]
            self.moves[key] = _moves(self.lead, hand, kept)
        return self.moves[key]


def _nothing(table: TouchTable) -> IntArray:
    return np.zeros(len(table), np.int64)


#: Stands in where no rule reads the order of a lick.
ANYTHING = LickRule(
    "anything",
    "any order of events is right",
    Source("", ""),
    Automaton(np.zeros((1, 1), np.int64), np.zeros((1, 1), np.int64), np.ones(1, bool)),
    _nothing,
    lambda a, b, how: _nothing(b),
)


def _uncharged(automaton: Automaton) -> Automaton:
    return Automaton(automaton.delta, np.zeros_like(automaton.cost), automaton.accept)


def _moves(lead: Lead, hand: int, touch_rules: Sequence[TouchRule]) -> _Moves:
    found = TouchTable.of(dict.fromkeys(candidates(lead, hand, every=True)))
    good = np.ones(len(found), bool)
    for rule in touch_rules:
        good &= rule.allows(found)
    table = found.take(good)
    pairs = [(*worth_asking(lead, table, way), way) for way in (PLUCK, HAMMER, PULL, SLIDE)]
    source = np.concatenate([p[0] for p in pairs])
    target = np.concatenate([p[1] for p in pairs])
    way = np.concatenate([np.full(len(p[0]), p[2], np.int64) for p in pairs])
    order = np.lexsort((way, target, source))
    source, target, way = source[order], target[order], way[order]
    a, b = table.take(source), table.take(target)
    return _Moves(
        table,
        source,
        target,
        way,
        {rule.name: rule.allows(a, b, way) for rule in lead.move_rules},
        {rule.name: rule.needs(a, b, way) for rule in lead.time_rules},
    )
