"""The lick rules of a slot compiled into one minimised deterministic automaton over the rule graph's edges.

Each rule reads its own symbols; the product reads labels, one for each tuple of symbols. The graph's nodes
(for the first touch) and edges (for the moves) have a label each.

References: J. E. Hopcroft, R. Motwani, J. D. Ullman, Introduction to Automata Theory, on products and on
minimisation by partition refinement (Moore) [from memory].
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lickwright.rulebook.rule import FORBIDDEN, Automaton, LickRule, Source
from lickwright.rulebook.touches import BoolArray, IntArray, TouchTable
from lickwright.solver.moves import RuleGraph


def any_order(name: str, sentence: str, source: Source) -> LickRule:
    """A rule that accepts every lick: it stands in where no rule reads the order of events."""
    one_state = np.zeros((1, 1), np.int64)

    def unread(table: TouchTable) -> IntArray:
        return np.zeros(len(table), np.int64)

    automaton = Automaton(one_state, one_state, np.ones(1, bool))
    return LickRule(name, sentence, source, automaton, unread, lambda a, b, way: unread(b))


@dataclass(frozen=True)
class Compiled:
    """``delta`` and ``cost`` are L x Q (label, state); ``accept`` Q; -1 in ``delta`` is dead.

    ``first`` gives the label of each node as a lick's first touch, ``move`` that of each edge. Edges with one
    target and one label read the same values: ``pair`` numbers those pairs, edge by edge, and ``pair_target``
    and ``pair_label`` say what each number stands for.
    """

    delta: IntArray
    cost: IntArray
    accept: IntArray
    first: IntArray
    move: IntArray
    pair: IntArray
    pair_target: IntArray
    pair_label: IntArray

    @property
    def states(self) -> int:
        """Number of states; 0 is the start."""
        return int(self.delta.shape[1])

    @cached_property
    def column(self) -> IntArray:
        """``delta`` with the dead state as number Q, the last column of a row of values."""
        return np.where(self.delta < 0, self.states, self.delta)

    @cached_property
    def place(self) -> IntArray:
        """P x Q: where in a flattened row of values, N x (Q + 1), each pair leads from each state."""
        return self.column[self.pair_label] + (self.pair_target * (self.states + 1))[:, None]

    @cached_property
    def charge(self) -> NDArray[np.int32]:
        """``cost`` in 32 bits, cut off at FORBIDDEN."""
        return np.minimum(self.cost, FORBIDDEN).astype(np.int32)


def product(automata: tuple[Automaton, ...], labels: IntArray) -> Automaton:
    """The automaton that runs all of them at once; ``labels`` is L x R, a symbol for each automaton.

    Only states that can be reached are made. Cost: O(states x labels x automata), a level at a time.
    """
    count = len(labels)
    delta: list[IntArray] = []
    cost: list[IntArray] = []
    known = np.zeros((1, len(automata)), np.int64)
    index = {known[0].tobytes(): 0}
    frontier = known
    while len(frontier):
        following = np.zeros((len(frontier), count, len(automata)), np.int64)
        points = np.zeros((len(frontier), count), np.int64)
        for r, automaton in enumerate(automata):
            following[:, :, r] = automaton.delta[frontier[:, r]][:, labels[:, r]]
            points += automaton.cost[frontier[:, r]][:, labels[:, r]]
        alive = (following >= 0).all(2)
        reached, where = np.unique(following[alive], axis=0, return_inverse=True)
        before = len(index)
        number = np.array([index.setdefault(row.tobytes(), len(index)) for row in reached], np.int64)
        row = np.full((len(frontier), count), -1, np.int64)
        row[alive] = number[where.ravel()]
        delta.append(row)
        cost.append(np.where(alive, points, 0))
        frontier = reached[number >= before]
        known = np.concatenate([known, frontier])
    accept = np.ones(len(known), bool)
    for r, automaton in enumerate(automata):
        accept &= automaton.accept[known[:, r]]
    return Automaton(np.concatenate(delta), np.concatenate(cost), accept)


def _useful(automaton: Automaton) -> BoolArray:
    """True for the states from which something can still be accepted."""
    alive = automaton.accept.copy()
    while True:
        reaches = alive | (np.append(alive, False)[automaton.delta]).any(1)
        if (reaches == alive).all():
            return np.asarray(alive)
        alive = reaches


def minimise(automaton: Automaton) -> Automaton:
    """The smallest automaton with the same language and the same cost of each move; state 0 stays the start.

    States from which nothing is accepted become -1. States are merged only when every move costs the same from both: equal
    sums over different moves are not found. Cost: O(states x labels x rounds of refinement).
    """
    alive = np.append(_useful(automaton), False)
    accept = automaton.accept
    delta = np.where(alive[automaton.delta], automaton.delta, -1)
    cost = np.where(delta >= 0, automaton.cost, 0)
    classes = np.unique(accept, return_inverse=True)[1].ravel()
    while True:
        extended = np.append(classes, -1)
        signature = np.column_stack([classes, extended[delta], cost])
        _, refined = np.unique(signature, axis=0, return_inverse=True)
        grown = refined.max() > classes.max()
        classes = refined.ravel()
        if not grown:
            break
    reachable = _reachable(delta)
    labels, first_member = np.unique(classes[reachable], return_index=True)
    first_member = reachable[first_member]
    order = np.argsort(np.where(labels == classes[0], -1, first_member))
    number = np.full(int(classes.max()) + 2, -1, np.int64)
    number[labels[order]] = np.arange(len(labels))
    members = first_member[order]
    renumber = np.append(number[classes], -1)
    return Automaton(renumber[delta[members]], cost[members], accept[members])


def _reachable(delta: IntArray) -> IntArray:
    """The states that some word reaches, in order of their numbers."""
    seen = np.zeros(len(delta) + 1, bool)
    seen[0] = True
    frontier = np.zeros(1, np.int64)
    while len(frontier):
        following = np.unique(delta[frontier])
        frontier = following[(following >= 0) & ~seen[following]]
        seen[frontier] = True
    return np.flatnonzero(seen[:-1])


def language(rules: tuple[LickRule, ...]) -> Automaton:
    """The minimised product of the rules' automata over all tuples of their symbols, whatever the graph.

    A label is a tuple's number in the order of ``np.ravel_multi_index``.
    """
    sizes = tuple(rule.automaton.delta.shape[1] for rule in rules)
    labels = np.stack(np.unravel_index(np.arange(np.prod(sizes)), sizes), axis=1)
    return minimise(product(tuple(rule.automaton for rule in rules), labels))


def compile_rules(rules: tuple[LickRule, ...], graph: RuleGraph, read: Automaton | None = None) -> Compiled:
    """The rules' automaton with the labels of the graph's nodes and edges.

    ``read`` is ``language(rules)``, if it has been worked out before.
    """
    read = read or language(rules)
    edges = graph.edges
    before, after = graph.table.take(edges.source), graph.table.take(edges.target)
    sizes = tuple(rule.automaton.delta.shape[1] for rule in rules)
    first = np.ravel_multi_index(tuple(rule.first(graph.table) for rule in rules), sizes)
    move = np.ravel_multi_index(tuple(rule.move(before, after, edges.way) for rule in rules), sizes)
    labels = len(read.delta[0])
    pairs, pair = np.unique(edges.target * labels + move, return_inverse=True)
    return Compiled(
        np.ascontiguousarray(read.delta.T),
        np.ascontiguousarray(read.cost.T),
        read.accept.astype(np.int64),
        np.asarray(first),
        np.asarray(move),
        pair.ravel(),
        pairs // labels,
        pairs % labels,
    )
