"""One move of a lattice: the edges that live between two onsets, laid out for a sweep by arrays."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.touches import IntArray
from lickwright.solver.automaton import Compiled

#: Costs from here on mean that there is no way.
FAR = FORBIDDEN // 2
#: Entries of a block of rows that are worked on at once: about what a processor keeps close.
_BLOCK = 1 << 17


@dataclass(frozen=True)
class Step:
    """The live edges between two onsets, sorted by source (then as in the graph), with what each costs here.

    The sweep's view of them: ``sources`` (those with the most edges first) by at most D edges; ``row`` S x D
    is an edge's place among the step's ``pairs`` of target and label (len(pairs) where there is none), ``at``
    S x D its place in ``edge`` (0 where there is none), ``degree`` how many edges each source has. ``states``
    are the automaton states in which one can stand before the step.
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


def step_of(
    edge: IntArray, source: IntArray, target: IntArray, cost: IntArray, compiled: Compiled, states: IntArray
) -> Step:
    """A step from its live edges (sorted by source) and the states in which one can stand before it."""
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
    return Step(edge, source, target, label, cost, sources[order], degree[order], row, at, pairs, states)
