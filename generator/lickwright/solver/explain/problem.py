"""A lick's search problem whose rules can be left out one by one: whether a lick is then possible, and how many.

Unlike the lattices that licks are drawn from, the graph here knows for each move which rules forbid it. Rules that
judge a finished shape do not take part: they are no part of any lattice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import At, Automaton, LickRule, Named, Source
from lickwright.solver.automaton import any_order, compile_rules, language
from lickwright.solver.bounds import look_at_the_clock
from lickwright.solver.lattice import Lattice
from lickwright.solver.licks import context, lattice_over
from lickwright.solver.moves import JudgedMoves, RuleGraph, touches_in
from lickwright.solver.plan.layout import LickPlan
from lickwright.study.model import ChordSpan


@dataclass
class LickProblem:
    """A planned lick and the positions it may lie in.

    ``moves`` (by position and touch rules) and ``languages`` are what has been worked out so far.
    """

    lead: Lead
    plan: LickPlan
    form: tuple[ChordSpan, ...]
    tempo_bpm: int
    seen: tuple[At, ...] = field(init=False)
    moves: dict[tuple[int, frozenset[str]], JudgedMoves] = field(default_factory=dict)
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
        """True when some lick keeps the rules in some position."""
        return any(lattice.possible() for lattice in self.lattices(rules))

    def count(self, rules: Collection[Named]) -> int:
        """How many licks keep the rules, exactly, all positions together."""
        return sum(lattice.count() for lattice in self.lattices(rules))

    def lattices(self, rules: Collection[Named]) -> Iterator[Lattice]:
        """The lick's lattice in each position under some of the rules, without costs."""
        for position in self.plan.positions:
            yield self._lattice(position, rules)

    def _lattice(self, position: int, rules: Collection[Named]) -> Lattice:
        look_at_the_clock()
        names = {rule.name for rule in rules}
        moves = self._judged_moves(position, names)
        graph = RuleGraph(self.lead, (position,), moves.table, moves.edges(names))
        order = tuple(rule for rule in self.lead.slot_rules(self.seen) if rule.name in names) or (ANY_ORDER,)
        compiled = compile_rules(order, graph, self._language(order))
        onset_rules = [rule for rule in self.lead.onset_rules if rule.name in names]
        lattice = lattice_over(graph, compiled, self.seen, onset_rules)
        if self.lead.join_rule.name in names:
            return lattice
        return replace(lattice, joined=np.ones_like(lattice.joined))

    def _language(self, order: tuple[LickRule, ...]) -> Automaton:
        names = tuple(rule.name for rule in order)
        if names not in self.languages:
            charged = language(order)
            self.languages[names] = replace(charged, cost=np.zeros_like(charged.cost))
        return self.languages[names]

    def _judged_moves(self, position: int, names: Collection[str]) -> JudgedMoves:
        """The moves among the touches that the touch rules of these names allow."""
        touch_rules = [rule for rule in self.lead.touch_rules if rule.name in names]
        key = position, frozenset(rule.name for rule in touch_rules)
        if key not in self.moves:
            table = touches_in(self.lead, (position,), touch_rules, every=True)
            self.moves[key] = JudgedMoves.of(self.lead, table)
        return self.moves[key]


#: Stands in where no rule reads the order of a lick.
ANY_ORDER = any_order("anything", "any order of events is right", Source("", ""))
