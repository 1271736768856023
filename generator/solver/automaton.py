"""The lick rules of a slot compiled into one minimised deterministic automaton over the rule graph's edges.

Each rule reads its own symbols; the product reads labels, one for each tuple of symbols. The graph's nodes
(for the first touch) and edges (for the moves) have a label each.

References: J. E. Hopcroft, R. Motwani, J. D. Ullman, Introduction to Automata Theory, on products and on
minimisation by partition refinement (Moore) [from memory].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from generator.rulebook.rule import Automaton, LickRule
from generator.solver.moves import RuleGraph
from generator.touches import IntArray


@dataclass(frozen=True)
class Compiled:
    """``delta`` and ``cost`` are L x Q (label, state); ``accept`` Q; -1 in ``delta`` is dead.

    ``first`` gives the label of each node as a lick's first touch, ``move`` that of each edge.
    """

    delta: IntArray
    cost: IntArray
    accept: IntArray
    first: IntArray
    move: IntArray

    @property
    def states(self) -> int:
        """Number of states; 0 is the start."""
        return int(self.delta.shape[1])


def product(automata: tuple[Automaton, ...], labels: IntArray) -> Automaton:
    """The automaton that runs all of them at once; ``labels`` is L x R, a symbol for each automaton."""
    start = (0,) * len(automata)
    index = {start: 0}
    order = [start]
    delta: list[list[int]] = []
    cost: list[list[int]] = []
    for state in order:
        row, costs = [], []
        for symbols in labels.tolist():
            following, points = [], 0
            for automaton, q, symbol in zip(automata, state, symbols, strict=True):
                following.append(int(automaton.delta[q, symbol]))
                points += int(automaton.cost[q, symbol])
            if min(following, default=0) < 0:
                row.append(-1)
                costs.append(0)
                continue
            reached = tuple(following)
            if reached not in index:
                index[reached] = len(order)
                order.append(reached)
            row.append(index[reached])
            costs.append(points)
        delta.append(row)
        cost.append(costs)
    accept = [all(bool(a.accept[q]) for a, q in zip(automata, state, strict=True)) for state in order]
    shape = (len(order), len(labels))
    return Automaton(
        np.array(delta, np.int64).reshape(shape),
        np.array(cost, np.int64).reshape(shape),
        np.array(accept, bool),
    )


def minimise(automaton: Automaton) -> Automaton:
    """The smallest automaton with the same language and costs; dead ends become -1, state 0 stays the start."""
    delta, cost, accept = automaton.delta, automaton.cost, automaton.accept
    alive = accept.copy()
    while True:
        reaches = alive | (np.append(alive, False)[delta]).any(1)
        if (reaches == alive).all():
            break
        alive = reaches
    delta = np.where(np.append(alive, False)[delta], delta, -1)
    cost = np.where(delta >= 0, cost, 0)
    classes = accept.astype(np.int64)
    while True:
        extended = np.append(classes, -1)
        signature = np.column_stack([classes, extended[delta], cost])
        _, refined = np.unique(signature, axis=0, return_inverse=True)
        refined = refined.ravel()
        if refined.max() == classes.max():
            break
        classes = refined
    found, first_member = np.unique(classes, return_index=True)
    order = np.argsort(np.where(found == classes[0], -1, first_member))
    number = np.empty(len(found), np.int64)
    number[order] = np.arange(len(found))
    members = first_member[order]
    renumber = np.append(number[classes], -1)
    return Automaton(renumber[delta[members]], cost[members], accept[members])


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
    source, target, way, _, _ = graph.arrays
    before, after = graph.table.take(source), graph.table.take(target)
    sizes = tuple(rule.automaton.delta.shape[1] for rule in rules)
    return Compiled(
        np.ascontiguousarray(read.delta.T),
        np.ascontiguousarray(read.cost.T),
        read.accept.astype(np.int64),
        np.ravel_multi_index(tuple(rule.first(graph.table) for rule in rules), sizes),
        np.ravel_multi_index(tuple(rule.move(before, after, way) for rule in rules), sizes),
    )
