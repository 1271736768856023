"""Licks as paths: the rule graph swept over a lick's onsets, times the automaton's states, without storing it.

A lattice knows, onset by onset, which nodes may stand there and at what cost, and which edges may be taken
between two onsets (those that have time enough). Value rows ``V[i]`` of shape N x Q hold, for each node and
automaton state at onset i, the best cost (or the total weight) of everything that may still follow; from
them come the optimum, the k best, exact counts and exact samples.

Costs are integers; ``exit`` is what it costs to leave the lick from each node (the rest of the chorus).
Cost of a sweep: O(sum over onsets of live edges x Q).

References: L. R. Rabiner, Proc IEEE 77(2):257-286, 1989, on the forward-backward rows [from memory];
F. Pachet, P. Roy, G. Barbieri, IJCAI 2011, 635-642, and A. Papadopoulos, F. Pachet, P. Roy, J. Sakellariou,
CP 2015, on exact sampling of constrained sequences.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.random import Generator

from generator.rulebook.rule import FORBIDDEN
from generator.solver.automaton import Compiled
from generator.solver.moves import RuleGraph
from generator.touches import BoolArray, FloatArray, IntArray

Path = tuple[int, ...]
_FAR = FORBIDDEN // 2


@dataclass(frozen=True)
class Step:
    """The edges that live between two onsets, sorted by source, with what each costs here.

    ``start`` are the places at which a new source begins and ``sources`` those sources.
    """

    edge: IntArray
    source: IntArray
    target: IntArray
    label: IntArray
    cost: IntArray
    start: IntArray
    sources: IntArray


@dataclass(frozen=True)
class Lattice:
    """One lick's search space.

    ``node_cost`` is n x N (FORBIDDEN or more where a touch may not stand); ``gap_s`` the n-1 times between
    onsets in seconds; ``joined`` n-1 flags, true where no rest lies between (legato needs that);
    ``edge_cost`` n-1 arrays over all edges, or None, for costs that depend on the place in the lick.
    """

    graph: RuleGraph
    compiled: Compiled
    node_cost: IntArray
    gap_s: FloatArray
    joined: BoolArray
    edge_cost: tuple[IntArray | None, ...]

    @property
    def onsets(self) -> int:
        """How many onsets the lick has."""
        return len(self.node_cost)

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The live edges of each move."""
        source, target, way, cost, needs = self.graph.arrays
        alive = self.node_cost < _FAR
        label = self.compiled.move
        made = []
        for i in range(self.onsets - 1):
            good = alive[i][source] & alive[i + 1][target] & (needs <= self.gap_s[i] + 1e-9)
            if not self.joined[i]:
                good &= way == 0
            here = self.edge_cost[i]
            if here is not None:
                good &= here < _FAR
            edge = np.flatnonzero(good)
            points = cost[edge] + self.node_cost[i + 1][target[edge]]
            if here is not None:
                points = points + here[edge]
            sources, start = np.unique(source[edge], return_index=True)
            made.append(Step(edge, source[edge], target[edge], label[edge], points, start, sources))
        return tuple(made)

    # ------------------------------------------------------------------ best first

    def values(self, leave: IntArray) -> list[IntArray]:
        """V[i], N x (Q + 1): the least cost from each node and state on; the last column is the dead state.

        ``leave`` (N) is the cost of leaving the lick from each node.
        """
        n, q = len(self.graph.table), self.compiled.states
        row = np.full((n, q + 1), FORBIDDEN, np.int64)
        row[:, :q] = np.where(self.compiled.accept[None, :] > 0, leave[:, None], FORBIDDEN)
        rows = [row]
        for step in reversed(self.steps):
            before = np.full((n, q + 1), FORBIDDEN, np.int64)
            if len(step.edge):
                onward = rows[0][step.target[:, None], self.compiled.delta[step.label]]
                onward = onward + self.compiled.cost[step.label] + step.cost[:, None]
                before[step.sources, :q] = np.minimum(
                    np.minimum.reduceat(onward, step.start, axis=0), FORBIDDEN
                )
            rows.insert(0, before)
        return rows

    def entries(self, row: IntArray) -> IntArray:
        """From the first row of values, N: the cost of the whole lick when it begins at each node."""
        state = self.compiled.delta[self.compiled.first, 0]
        total = row[np.arange(len(row)), state] + self.node_cost[0]
        total = total + self.compiled.cost[self.compiled.first, 0]
        return np.asarray(np.minimum(total, FORBIDDEN))

    def best(self, leave: IntArray | None = None) -> tuple[int, Path] | None:
        """The cheapest lick as (cost, nodes), or None when the rules allow none."""
        return next(self.k_best(leave), None)

    def k_best(self, leave: IntArray | None = None) -> Iterator[tuple[int, Path]]:
        """All licks, cheapest first (ties in the order of the nodes), found as they are asked for.

        A* over the lattice with the exact cost to go, after S. Russell, P. Norvig, Artificial Intelligence
        [from memory]; memory grows with the number of licks taken.
        """
        rows = self.values(np.zeros(len(self.graph.table), np.int64) if leave is None else leave)
        first = self.entries(rows[0])
        state = self.compiled.delta[self.compiled.first, 0]
        heap: list[tuple[int, Path, int]] = [
            (int(first[a]), (int(a),), int(state[a])) for a in np.flatnonzero(first < _FAR)
        ]
        heapq.heapify(heap)
        while heap:
            total, path, q = heapq.heappop(heap)
            i = len(path) - 1
            if i == self.onsets - 1:
                yield total, path
                continue
            step = self.steps[i]
            low, high = np.searchsorted(step.source, [path[-1], path[-1] + 1])
            label, target = step.label[low:high], step.target[low:high]
            reached = self.compiled.delta[label, q]
            spent = total - rows[i][path[-1], q]
            onward = step.cost[low:high] + self.compiled.cost[label, q] + rows[i + 1][target, reached] + spent
            for k in np.flatnonzero(onward < _FAR):
                heapq.heappush(heap, (int(onward[k]), (*path, int(target[k])), int(reached[k])))

    # ------------------------------------------------------------------ counts

    def count(self) -> int:
        """How many licks the rules allow, exactly: edges of different ways count as different licks."""
        n, q = len(self.graph.table), self.compiled.states
        row = np.zeros((n, q + 1), object)
        row[:, :q] = self.compiled.accept[None, :].astype(object)
        for step in reversed(self.steps):
            before = np.zeros((n, q + 1), object)
            if len(step.edge):
                onward = row[step.target[:, None], self.compiled.delta[step.label]]
                before[step.sources, :q] = np.add.reduceat(onward, step.start, axis=0)
            row = before
        state = self.compiled.delta[self.compiled.first, 0]
        alive = self.node_cost[0] < _FAR
        return int(sum(row[np.flatnonzero(alive), state[alive]], 0))

    # ------------------------------------------------------------------ exact samples

    def weights(self, leave_log: FloatArray, temperature: float) -> tuple[list[FloatArray], float]:
        """Rows of weights for p ~ exp(-cost / temperature), each scaled to a largest entry of 1.

        ``leave_log`` (N) is the log weight of leaving from each node (-inf where that is impossible). Returns
        the rows, N x (Q + 1), and the log of the scale that the first one lost.
        """
        n, q = len(self.graph.table), self.compiled.states
        top = float(np.max(leave_log, initial=-np.inf))
        scale = top if np.isfinite(top) else 0.0
        row = np.zeros((n, q + 1))
        row[:, :q] = self.compiled.accept[None, :] * np.exp(leave_log - scale)[:, None]
        state_weight = np.exp(-self.compiled.cost / temperature)
        rows = [row]
        for step in reversed(self.steps):
            before = np.zeros((n, q + 1))
            if len(step.edge):
                onward = rows[0][step.target[:, None], self.compiled.delta[step.label]]
                onward = onward * state_weight[step.label] * np.exp(-step.cost / temperature)[:, None]
                before[step.sources, :q] = np.add.reduceat(onward, step.start, axis=0)
            largest = float(before.max(initial=0.0))
            if largest > 0:
                before /= largest
                scale += float(np.log(largest))
            rows.insert(0, before)
        return rows, scale

    def entry_log(self, row: FloatArray, scale: float, temperature: float) -> FloatArray:
        """The log weight of all licks that begin at each node (N), -inf where there is none."""
        first = self.compiled.first
        state = self.compiled.delta[first, 0]
        weight = row[np.arange(len(row)), state]
        cost = self.node_cost[0] + self.compiled.cost[first, 0]
        with np.errstate(divide="ignore"):
            log = np.log(weight) + scale - cost / temperature
        return np.asarray(np.where(self.node_cost[0] < _FAR, log, -np.inf))

    def draw(
        self, first: IntArray, rows: list[FloatArray], temperature: float, rng: Generator
    ) -> tuple[IntArray, IntArray]:
        """Exact samples onward from given first nodes (m): nodes m x n and edges m x (n - 1).

        ``first`` must be nodes with a weight; ``rows`` come from ``weights``.
        """
        m = len(first)
        nodes = np.empty((m, self.onsets), np.int64)
        edges = np.empty((m, max(self.onsets - 1, 0)), np.int64)
        nodes[:, 0] = first
        q = self.compiled.delta[self.compiled.first[first], 0]
        for i, step in enumerate(self.steps):
            low = np.searchsorted(step.source, nodes[:, i], side="left")
            high = np.searchsorted(step.source, nodes[:, i], side="right")
            length = high - low
            begin = np.concatenate([[0], np.cumsum(length)])
            place = np.arange(begin[-1]) + np.repeat(low - begin[:-1], length)
            who = np.repeat(np.arange(m), length)
            label = step.label[place]
            reached = self.compiled.delta[label, q[who]]
            weight = rows[i + 1][step.target[place], reached]
            weight = weight * np.exp(-(step.cost[place] + self.compiled.cost[label, q[who]]) / temperature)
            total = np.concatenate([[0.0], np.cumsum(weight)])
            aim = total[begin[:-1]] + rng.random(m) * (total[begin[1:]] - total[begin[:-1]])
            taken = np.clip(np.searchsorted(total, aim, side="right") - 1, begin[:-1], begin[1:] - 1)
            nodes[:, i + 1] = step.target[place[taken]]
            edges[:, i] = step.edge[place[taken]]
            q = reached[taken]
        return nodes, edges

    def cost_of(self, nodes: IntArray, edges: IntArray) -> IntArray:
        """The cost (m) of drawn licks, given as nodes m x n and edges m x (n - 1), without leaving."""
        first = self.compiled.first[nodes[:, 0]]
        state = self.compiled.delta[first, 0]
        total = self.node_cost[0][nodes[:, 0]] + self.compiled.cost[first, 0]
        cost = self.graph.arrays[3]
        for i in range(self.onsets - 1):
            edge = edges[:, i]
            label = self.compiled.move[edge]
            total = (
                total + cost[edge] + self.node_cost[i + 1][nodes[:, i + 1]] + self.compiled.cost[label, state]
            )
            here = self.edge_cost[i]
            if here is not None:
                total = total + here[edge]
            state = self.compiled.delta[label, state]
        return np.asarray(total)
