"""Where licks chose: for each of their notes, everything that could have stood there between its neighbours.

A *site* is one note of one lick with all its alternatives under the rules - touches and the ways to and from
them - and for each alternative its features (see ``weights``). The probability of what was played given its
neighbours, p ~ exp(-cost / temperature), is the pseudo-likelihood of J. Besag (The Statistician 24(3):179-195,
1975 [from memory]); for licks drawn from p ~ exp(-cost / temperature) its maximum goes to the true weights as
the licks grow many, and no sum over all licks is needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from lickwright.learn.examples import Example
from lickwright.learn.weights import Weights
from lickwright.rulebook.rule import At, LickRule
from lickwright.rulebook.touches import BoolArray, FloatArray, IntArray, Touch
from lickwright.solver.moves import RuleGraph, rule_graph
from lickwright.theory.rhythm import seconds


@dataclass(frozen=True)
class Site:
    """``features`` M x K and ``fixed`` M points of the alternatives; ``chosen`` is the number of the one played."""

    features: FloatArray
    fixed: FloatArray
    chosen: int


@dataclass(frozen=True)
class Unusable:
    """A note that the rules do not allow where it stands."""

    example: Example
    index: int


class Surveyor:
    """Finds the sites of licks of one key; graphs and features are worked out once for each position."""

    def __init__(self, weights: Weights):
        self.weights = weights
        self.lead = weights.own
        self._positions: dict[int, _PositionGraph] = {}

    def position(self, position: int) -> _PositionGraph:
        """What belongs to a position."""
        if position not in self._positions:
            self._positions[position] = _PositionGraph(self.weights, rule_graph(self.lead, (position,)))
        return self._positions[position]

    def sites(self, example: Example) -> Iterator[Site | Unusable]:
        """A site for each note of a lick, or that there is none."""
        position, seen = self.position(example.position), example.seen
        nodes = [position.node_of.get(t, -1) for t in example.touches]
        edges = [
            position.edge_of.get((a, b, way), -1)
            for a, b, way in zip(nodes, nodes[1:], example.ways, strict=False)
        ]
        reader = _Reader(position, self.lead.slot_rules(seen))
        for i in range(len(nodes)):
            made = self._site(example, seen, position, reader, nodes, edges, i)
            yield made if made is not None else Unusable(example, i)

    def counts(self, example: Example) -> FloatArray:
        """K: how many notes, moves or turns of a lick each weight is charged for; what the rules forbid is left out."""
        position, seen, weights = self.position(example.position), example.seen, self.weights
        found = np.zeros(len(weights.paths))
        nodes = [position.node_of.get(t, -1) for t in example.touches]
        edges = [
            position.edge_of.get((a, b, way), -1)
            for a, b, way in zip(nodes, nodes[1:], example.ways, strict=False)
        ]
        for node, at in zip(nodes, seen, strict=True):
            if node >= 0:
                found += position.onset(at)[0][node] != 0
        for edge in edges:
            if edge >= 0:
                found[weights.moving] += position.move_features[edge] != 0
        if min(nodes) >= 0 and min(edges) >= 0:
            for (starts, moves), charge, rule in zip(
                position.tables, weights.of_line, weights.own.lick_rules, strict=True
            ):
                state = 0
                for symbol in (starts[nodes[0]], *(moves[e] for e in edges)):
                    if charge is not None and state >= 0:
                        found[weights.lined] += charge[0][state, symbol] != 0
                    state = int(rule.automaton.delta[state, symbol]) if state >= 0 else -1
        return found

    def _site(
        self,
        example: Example,
        seen: Sequence[At],
        position: _PositionGraph,
        reader: _Reader,
        nodes: list[int],
        edges: list[int],
        i: int,
    ) -> Site | None:
        around = nodes[max(0, i - 1) : i + 2]
        beside = edges[max(0, i - 1) : i + 1]
        if min(around) < 0 or min(beside, default=0) < 0 or min(edges, default=0) < 0:
            return None
        before, after = self._moves(example, seen, position, nodes, i)
        features, fixed, allowed = position.onset(seen[i])
        node, first, second = _joined(position, before, after, allowed)
        if not len(node):
            return None
        lined, charged, alive = reader.read(nodes, edges, i, node, first, second)
        node, first, second = node[alive], first[alive], second[alive]
        mine = node == nodes[i]
        mine &= (first == edges[i - 1]) if i else True
        mine &= (second == edges[i]) if i < len(edges) else True
        chosen = np.flatnonzero(mine)
        if not len(chosen):
            return None
        x = features[node].copy()
        points = fixed[node] + charged[alive]
        x[:, self.weights.lined] += lined[alive]
        for edge, there in ((first, i > 0), (second, i < len(edges))):
            if there:
                x[:, self.weights.moving] += position.move_features[edge]
                points = points + position.move_fixed[edge]
        return Site(x, points, int(chosen[0]))

    def _moves(
        self, example: Example, seen: Sequence[At], position: _PositionGraph, nodes: list[int], i: int
    ) -> tuple[IntArray | None, IntArray | None]:
        """The edges from the note before and to the note after that have the time; None at the lick's ends."""
        ticks = [o.tick for o in example.plan.onsets]
        _, _, way, _, needs = position.graph.edges

        def in_time(edges: IntArray, k: int) -> IntArray:
            gap = seconds(ticks[k + 1] - ticks[k], example.tempo_bpm)
            good = (needs[edges] <= gap + 1e-9) & self.lead.join_rule.allows(way[edges], seen[k].joined)
            return np.asarray(edges[good])

        before = in_time(position.leaving(nodes[i - 1]), i - 1) if i else None
        after = in_time(position.arriving(nodes[i + 1]), i) if i + 1 < len(nodes) else None
        return before, after


def _joined(
    position: _PositionGraph, before: IntArray | None, after: IntArray | None, allowed: BoolArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Every node with an edge to it and an edge from it (-1 where the lick begins or ends there)."""
    source, target = position.graph.edges.source, position.graph.edges.target
    if before is None and after is None:
        node = np.flatnonzero(allowed)
        return node, np.full(len(node), -1), np.full(len(node), -1)
    if before is None:
        assert after is not None
        node = source[after]
        good = allowed[node]
        return node[good], np.full(int(good.sum()), -1), after[good]
    node = target[before]
    good = allowed[node]
    before, node = before[good], node[good]
    if after is None:
        return node, before, np.full(len(node), -1)
    after = after[np.argsort(source[after], kind="stable")]
    low = np.searchsorted(source[after], node, side="left")
    count = np.searchsorted(source[after], node, side="right") - low
    place = np.arange(count.sum()) + np.repeat(low - np.concatenate([[0], np.cumsum(count)[:-1]]), count)
    return np.repeat(node, count), np.repeat(before, count), after[place]


class _PositionGraph:
    """A position's rule graph with features."""

    def __init__(self, weights: Weights, graph: RuleGraph):
        self.weights, self.graph = weights, graph
        source, target, way, _, _ = graph.edges
        self.node_of: dict[Touch, int] = {t: n for n, t in enumerate(graph.touches)}
        self.edge_of = {
            key: n for n, key in enumerate(zip(source.tolist(), target.tolist(), way.tolist(), strict=True))
        }
        table = graph.table
        self.move_features, self.move_fixed = weights.of_moves(table.take(source), table.take(target), way)
        self.by_target = np.argsort(target, kind="stable")
        self._onsets: dict[At, tuple[FloatArray, FloatArray, BoolArray]] = {}

    def leaving(self, node: int) -> IntArray:
        """The edges from a node."""
        low, high = np.searchsorted(self.graph.edges.source, [node, node + 1])
        return np.arange(low, high)

    def arriving(self, node: int) -> IntArray:
        """The edges to a node."""
        target = self.graph.edges.target[self.by_target]
        low, high = np.searchsorted(target, [node, node + 1])
        return self.by_target[low:high]

    def onset(self, at: At) -> tuple[FloatArray, FloatArray, BoolArray]:
        """(features, fixed points, allowed) of all nodes at an onset."""
        if at not in self._onsets:
            lead, table = self.weights.own, self.graph.table
            allowed = np.ones(len(table), bool)
            for rule in lead.onset_rules:
                allowed &= rule.allows(table, at)
            self._onsets[at] = (*self.weights.of_onset(table, at), allowed)
        return self._onsets[at]

    @cached_property
    def tables(self) -> tuple[tuple[IntArray, IntArray], ...]:
        """For each rule of any lick the symbols of nodes that begin and of edges."""
        return tuple(self.symbols(rule) for rule in self.weights.own.lick_rules)

    def symbols(self, rule: LickRule) -> tuple[IntArray, IntArray]:
        """A rule's symbols of nodes that begin a lick, and of edges."""
        source, target, way, _, _ = self.graph.edges
        table = self.graph.table
        return rule.first(table), rule.move(table.take(source), table.take(target), way)


class _Reader:
    """Reads a lick with one note exchanged by the lick rules' automata."""

    def __init__(self, position: _PositionGraph, rules: Sequence[LickRule]):
        own = len(position.tables)
        self.rules = rules
        self.symbols = [*position.tables, *(position.symbols(rule) for rule in rules[own:])]
        self.charges = (*position.weights.of_line, *([None] * (len(rules) - own)))
        self.width = len(position.weights.lined)

    def read(
        self, nodes: list[int], edges: list[int], i: int, node: IntArray, first: IntArray, second: IntArray
    ) -> tuple[FloatArray, FloatArray, BoolArray]:
        """(M x lined features, M fixed points, M alive) of the lick with each alternative at i."""
        features, fixed = np.zeros((len(node), self.width)), np.zeros(len(node))
        alive = np.ones(len(node), bool)
        for rule, (starts, moves), charge in zip(self.rules, self.symbols, self.charges, strict=True):
            symbols = [starts[nodes[0]], *(moves[e] for e in edges)]
            state = np.zeros(len(node), np.int64)
            for k, symbol in enumerate(symbols):
                word: Any = symbol
                if k == i:
                    word = starts[node] if i == 0 else moves[first]
                elif k == i + 1:
                    word = moves[second]
                # Up to here the lick is as it was played: one state for all alternatives.
                at = state if k >= i else state[:1]
                if charge is not None and k >= i:
                    features += charge[0][at, word]
                    fixed += charge[1][at, word]
                following = rule.automaton.delta[at, word]
                alive &= following >= 0
                state = np.maximum(following, 0) if k >= i else np.full(len(node), max(int(following[0]), 0))
            alive &= rule.automaton.accept[state]
        return features, fixed, alive
