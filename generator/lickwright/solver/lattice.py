"""Licks as paths through layers: the rule graph unrolled over a lick's onsets, times the automaton's states.

A lattice knows, onset by onset, which nodes may stand there and at what cost, and which edges may be taken
between two onsets (those that have time enough and lead somewhere). Value rows ``V[i]`` of shape N x (Q + 1)
hold, for each node and automaton state at onset i, the least cost (or the total weight) of the rest of the lick, with
the dead state in the last column; from them come the optimum, the k best (see
``enumeration``), exact counts and exact samples.

Costs are integers; ``leave`` is what it costs to leave the lick from each node (the rest of the chorus).
Cost of a sweep: O(sum over onsets of live edges x states that can be there).

References: L. R. Rabiner, Proc IEEE 77(2):257-286, 1989, on the forward-backward rows [from memory];
F. Pachet, P. Roy, G. Barbieri, IJCAI 2011, 635-642, and A. Papadopoulos, F. Pachet, P. Roy, J. Sakellariou,
CP 2015, on exact sampling of constrained sequences.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.touches import BoolArray, FloatArray, IntArray
from lickwright.solver.automaton import Compiled
from lickwright.solver.moves import RuleGraph

Row = TypeVar("Row", NDArray[np.int32], NDArray[np.int64], NDArray[np.float64])

#: Costs from here on mean that there is no way.
FAR = FORBIDDEN // 2
#: Entries of a block of rows that are worked on at once: about what a processor keeps close.
_BLOCK = 1 << 17
#: When more than this share of the states can be there, sorting out the others costs more than it saves.
_MOST_STATES = 0.7
#: Nodes and states looked at one by one before a lick's existence is settled by a sweep.
_MOST_TRIED = 400
#: Counts are kept as digits of this many bits; a sum of 2**22 of them still fits 64 bits.
_DIGIT_BITS = 40


@dataclass(frozen=True)
class Layer:
    """The live edges between two onsets, sorted by source (then as in the graph), with what each costs here.

    The sweep's view of them: ``sources`` (those with the most edges first) by at most D edges; ``row`` S x D
    is an edge's place among the layer's ``pairs`` of target and label (len(pairs) where there is none), ``at``
    S x D its place in ``edge`` (0 where there is none), ``degree`` how many edges each source has. ``states``
    are the automaton states in which one can stand before the layer.
    """

    edge: IntArray
    source: IntArray
    target: IntArray
    label: IntArray
    cost: IntArray
    sources: IntArray
    degree: IntArray
    row: IntArray
    at: IntArray
    pairs: IntArray
    states: IntArray

    @cached_property
    def points(self) -> IntArray:
        """S x D: the costs in the sweep's view, in 32 bits."""
        cost = np.minimum(self.cost, FORBIDDEN).astype(np.int32)
        return np.where(self.row < len(self.pairs), cost[self.at], 0).astype(np.int32)

    def blocks(self) -> Iterator[tuple[slice, int]]:
        """The sources in blocks of a handy size, with the most edges that one of the block has."""
        start = 0
        while start < len(self.sources):
            widest = int(self.degree[start])
            size = max(1, _BLOCK // max(1, widest * len(self.states)))
            yield slice(start, start + size), widest
            start += size


def ranges(bounds: IntArray, chosen: IntArray) -> IntArray:
    """The numbers from ``bounds[k]`` to ``bounds[k + 1]`` for each chosen k, one range after the other."""
    start, length = bounds[chosen], bounds[chosen + 1] - bounds[chosen]
    ends = np.cumsum(length)
    return np.arange(ends[-1] if len(ends) else 0) + (start - ends + length).repeat(length)


def layer_of(
    edge: IntArray, source: IntArray, target: IntArray, cost: IntArray, compiled: Compiled, states: IntArray
) -> Layer:
    """A layer from its live edges (sorted by source) and the states in which one can stand before it."""
    new = np.ones(len(source) + 1, bool)
    new[1:-1] = source[1:] != source[:-1]
    bounds = np.flatnonzero(new)
    start, degree = bounds[:-1], np.diff(bounds)
    sources = source[start]
    order = np.argsort(-degree, kind="stable")
    number = np.empty(len(sources), np.int64)
    number[order] = np.arange(len(sources))
    by_source = number.repeat(degree)
    place = np.arange(len(edge)) - start.repeat(degree)
    used = np.zeros(len(compiled.pair_target), bool)
    used[compiled.pair[edge]] = True
    pairs = np.flatnonzero(used)
    renumber = np.cumsum(used) - 1
    shape = (len(sources), int(degree.max(initial=0)))
    row = np.full(shape, len(pairs))
    row[by_source, place] = renumber[compiled.pair[edge]]
    at = np.zeros(shape, np.int64)
    at[by_source, place] = np.arange(len(edge))
    label = compiled.move[edge]
    return Layer(edge, source, target, label, cost, sources[order], degree[order], row, at, pairs, states)


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

    @property
    def _shape(self) -> tuple[int, int]:
        return len(self.graph.table), self.compiled.states + 1

    def in_time(self, i: int) -> BoolArray:
        """The edges that fit between onsets i and i + 1: by the time they need, and by the silence there."""
        edges = self.graph.edges
        follows = self.graph.lead.join_rule.allows(edges.way, bool(self.joined[i]))
        return np.asarray(follows & (edges.needs_s <= self.gap_s[i] + 1e-9))

    def _live(self) -> list[IntArray]:
        """For each move the edges that may be taken there and lie on a way from the first onset to the last."""
        source, target = self.graph.edges.source, self.graph.edges.target
        allowed = self.node_cost < FAR
        bounds = np.searchsorted(source, np.arange(len(self.graph.table) + 1))
        reached = allowed[0] if self.onsets else np.zeros(0, bool)
        live = []
        in_time: dict[tuple[float, bool], BoolArray] = {}
        for i in range(self.onsets - 1):
            gap = float(self.gap_s[i]), bool(self.joined[i])
            if gap not in in_time:
                in_time[gap] = self.in_time(i)
            edge = ranges(bounds, np.flatnonzero(reached))
            good = in_time[gap][edge] & allowed[i + 1][target[edge]]
            extra = self.edge_cost[i]
            if extra is not None:
                good &= extra[edge] < FAR
            edge = edge[good]
            live.append(edge)
            reached = np.zeros_like(reached)
            reached[target[edge]] = True
        leads_on = reached
        for i in range(self.onsets - 2, -1, -1):
            live[i] = live[i][leads_on[target[live[i]]]]
            leads_on = np.zeros_like(leads_on)
            leads_on[source[live[i]]] = True
        return live

    @cached_property
    def layers(self) -> tuple[Layer, ...]:
        """The live edges of each move."""
        edges = self.graph.edges
        compiled = self.compiled
        can_be = np.zeros(compiled.states + 1, bool)
        can_be[compiled.column[compiled.first[self.node_cost[0] < FAR], 0]] = True
        layers = []
        for i, edge in enumerate(self._live()):
            points = edges.cost[edge] + self.node_cost[i + 1][edges.target[edge]]
            more = self.edge_cost[i]
            if more is not None:
                points = points + more[edge]
            states = np.flatnonzero(can_be[:-1])
            if len(states) > _MOST_STATES * compiled.states:
                states = np.arange(compiled.states)
            layer = layer_of(edge, edges.source[edge], edges.target[edge], points, compiled, states)
            layers.append(layer)
            read = np.zeros(len(compiled.delta), bool)
            read[layer.label] = True
            can_be = np.zeros(compiled.states + 1, bool)
            can_be[compiled.column[read][:, states]] = True
        return tuple(layers)

    def _onward(self, layer: Layer, row: Row, nothing: int) -> Row:
        """P + 1 x states: what a row holds for each pair of target and label from each state before the move.

        The last line, for edges that are not there, holds ``nothing``.
        """
        place = self.compiled.place.take(layer.pairs, axis=0)
        if len(layer.states) < self.compiled.states:
            place = place.take(layer.states, axis=1)
        onward = np.empty((len(layer.pairs) + 1, len(layer.states)), row.dtype)
        onward[-1] = nothing
        row.ravel().take(place, out=onward[:-1], mode="clip")
        return onward

    def _of_pairs(self, layer: Layer, by_label: Row) -> Row:
        """P x states: an L x Q table's lines for the layer's pairs."""
        lines = by_label.take(self.compiled.pair_label[layer.pairs], axis=0)
        return lines if len(layer.states) == self.compiled.states else lines.take(layer.states, axis=1)

    def _fill(self, before: Row, layer: Layer, block: slice, values: Row) -> None:
        """Writes what a block of sources holds in the layer's states into a row."""
        sources = layer.sources[block]
        if len(layer.states) == self.compiled.states:
            before[sources, :-1] = values
        else:
            before[sources[:, None], layer.states] = values

    # ------------------------------------------------------------------ best first

    def values(self, leave: IntArray) -> list[IntArray]:
        """V[i], N x (Q + 1): the least cost from each node and state on; FORBIDDEN where there is no way.

        ``leave`` (N) is the cost of leaving the lick from each node. Only states that can be reached are
        filled in.
        """
        compiled = self.compiled
        row = np.full(self._shape, FORBIDDEN, np.int32)
        ends = np.minimum(leave, FORBIDDEN)[:, None]
        row[:, :-1] = np.where(compiled.accept[None, :] > 0, ends, FORBIDDEN)
        rows = [row]
        for layer in reversed(self.layers):
            before = np.full(self._shape, FORBIDDEN, np.int32)
            onward = self._onward(layer, rows[-1], FORBIDDEN)
            onward[:-1] += self._of_pairs(layer, compiled.charge)
            for block, widest in layer.blocks():
                reached = onward[layer.row[block, :widest]]
                reached += layer.points[block, :widest, None]
                least = np.minimum(reached.min(axis=1), FORBIDDEN)
                self._fill(before, layer, block, least)
            rows.append(before)
        return [row.astype(np.int64) for row in reversed(rows)]

    def start_costs(self, row: IntArray) -> IntArray:
        """From the first row of values, N: the cost of the whole lick when it begins at each node."""
        first = self.compiled.first
        state = self.compiled.delta[first, 0]
        total = row[np.arange(len(row)), state] + self.node_cost[0] + self.compiled.cost[first, 0]
        return np.asarray(np.minimum(total, FORBIDDEN))

    def possible(self) -> bool:
        """True when the rules allow a lick. Looks for one before it sweeps: much cheaper than ``best``."""
        live = self._live()
        begins = np.flatnonzero(self.node_cost[0] < FAR)
        if not len(begins) or any(not len(edge) for edge in live):
            return False
        met = self._met(live, begins)
        if met is not None:
            return met
        rows = self.values(np.zeros(len(self.graph.table), np.int64))
        return bool(self.start_costs(rows[0]).min(initial=FORBIDDEN) < FAR)

    def _met(self, live: list[IntArray], begins: IntArray) -> bool | None:
        """Whether a depth-first search meets a lick; None when it has looked at _MOST_TRIED nodes and states."""
        source, target = self.graph.edges.source, self.graph.edges.target
        delta, label = self.compiled.delta, self.compiled.move
        accept = self.compiled.accept
        ends = [np.searchsorted(source[edge], np.arange(len(self.graph.table) + 1)) for edge in live]
        stack = [(0, int(n), int(delta[self.compiled.first[n], 0])) for n in begins[::-1]]
        seen: set[tuple[int, int, int]] = set()
        while stack:
            i, node, state = here = stack.pop()
            if state < 0 or here in seen:
                continue
            if i == len(live):
                if accept[state]:
                    return True
                continue
            if len(seen) == _MOST_TRIED:
                return None
            seen.add(here)
            edge = live[i][ends[i][node] : ends[i][node + 1]]
            reached = zip(target[edge].tolist(), delta[label[edge], state].tolist(), strict=True)
            stack += [(i + 1, t, q) for t, q in reached]
        return False

    # ------------------------------------------------------------------ counts

    def count(self) -> int:
        """How many licks the rules allow, exactly: edges of different ways count as different licks."""
        digits = [np.zeros(self._shape, np.int64)]
        digits[0][:, :-1] = self.compiled.accept[None, :]
        for layer in reversed(self.layers):
            digits = _carried([self._sums(layer, digit) for digit in digits])
        state = self.compiled.delta[self.compiled.first, 0]
        begins = np.flatnonzero(self.node_cost[0] < FAR)
        return sum(
            int(n) << (_DIGIT_BITS * k)
            for k, digit in enumerate(digits)
            for n in digit[begins, state[begins]]
        )

    def _sums(self, layer: Layer, row: IntArray) -> IntArray:
        """N x (Q + 1): before the layer, the sum of what a row holds after it."""
        before = np.zeros(self._shape, np.int64)
        onward = self._onward(layer, row, 0)
        for block, widest in layer.blocks():
            sums = onward[layer.row[block, :widest]].sum(axis=1)
            self._fill(before, layer, block, sums)
        return before

    # ------------------------------------------------------------------ exact samples

    def weights(self, leave_log: FloatArray, temperature: float) -> tuple[list[FloatArray], float]:
        """Rows of weights for p ~ exp(-cost / temperature), each scaled to a largest entry of 1.

        ``leave_log`` (N) is the log weight of leaving from each node (-inf where that is impossible). Returns
        the rows, N x (Q + 1), and the log of the scale that the first one lost.
        """
        compiled = self.compiled
        top = float(np.max(leave_log, initial=-np.inf))
        scale = top if np.isfinite(top) else 0.0
        row = np.zeros(self._shape)
        row[:, :-1] = compiled.accept[None, :] * np.exp(leave_log - scale)[:, None]
        state_weight = np.exp(-compiled.cost / temperature)
        rows = [row]
        for layer in reversed(self.layers):
            before = np.zeros(self._shape)
            onward = self._onward(layer, rows[-1], 0)
            onward[:-1] *= self._of_pairs(layer, state_weight)
            factor = np.exp(-layer.points / temperature)
            for block, widest in layer.blocks():
                reached = onward[layer.row[block, :widest]]
                summed = np.matmul(factor[block, None, :widest], reached)[:, 0]
                self._fill(before, layer, block, summed)
            largest = float(before.max(initial=0.0))
            if largest > 0:
                before /= largest
                scale += float(np.log(largest))
            rows.append(before)
        return rows[::-1], scale

    def start_log(self, row: FloatArray, scale: float, temperature: float) -> FloatArray:
        """The log weight of all licks that begin at each node (N), -inf where there is none."""
        first = self.compiled.first
        state = self.compiled.delta[first, 0]
        weight = row[np.arange(len(row)), state]
        cost = self.node_cost[0] + self.compiled.cost[first, 0]
        with np.errstate(divide="ignore"):
            log = np.log(weight) + scale - cost / temperature
        return np.asarray(np.where(self.node_cost[0] < FAR, log, -np.inf))

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
        for i, layer in enumerate(self.layers):
            low = np.searchsorted(layer.source, nodes[:, i], side="left")
            high = np.searchsorted(layer.source, nodes[:, i], side="right")
            length = high - low
            begin = np.concatenate([[0], np.cumsum(length)])
            place = np.arange(begin[-1]) + np.repeat(low - begin[:-1], length)
            who = np.repeat(np.arange(m), length)
            label = layer.label[place]
            reached = self.compiled.delta[label, q[who]]
            weight = rows[i + 1][layer.target[place], reached]
            weight = weight * np.exp(-(layer.cost[place] + self.compiled.cost[label, q[who]]) / temperature)
            total = np.concatenate([[0.0], np.cumsum(weight)])
            aim = total[begin[:-1]] + rng.random(m) * (total[begin[1:]] - total[begin[:-1]])
            taken = np.clip(np.searchsorted(total, aim, side="right") - 1, begin[:-1], begin[1:] - 1)
            nodes[:, i + 1] = layer.target[place[taken]]
            edges[:, i] = layer.edge[place[taken]]
            q = reached[taken]
        return nodes, edges

    def cost_of(self, nodes: IntArray, edges: IntArray) -> IntArray:
        """The cost (m) of drawn licks, given as nodes m x n and edges m x (n - 1), without leaving."""
        first = self.compiled.first[nodes[:, 0]]
        state = self.compiled.delta[first, 0]
        total = self.node_cost[0][nodes[:, 0]] + self.compiled.cost[first, 0]
        cost = self.graph.edges.cost
        for i in range(self.onsets - 1):
            edge = edges[:, i]
            label = self.compiled.move[edge]
            total = (
                total + cost[edge] + self.node_cost[i + 1][nodes[:, i + 1]] + self.compiled.cost[label, state]
            )
            extra = self.edge_cost[i]
            if extra is not None:
                total = total + extra[edge]
            state = self.compiled.delta[label, state]
        return np.asarray(total)


def _carried(digits: list[IntArray]) -> list[IntArray]:
    """Digits of counts, the lowest first, made smaller than 2**40 again by carrying."""
    carried = []
    carry = np.zeros_like(digits[0])
    for digit in digits:
        total = digit + carry
        carry = total >> _DIGIT_BITS
        carried.append(total - (carry << _DIGIT_BITS))
    return [*carried, carry] if carry.any() else carried
