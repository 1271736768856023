"""Ways in which a way home could take up its figure, and a lattice that is bound to one of them.

The stretch of the figure that has the way home's own rhythm comes first, so that it is heard again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from lickwright.rulebook.development import LEAST_HOME, LONG_WINDOW, LOOSE
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.schema.rule_file import LeadTable
from lickwright.solver.lattice import Lattice
from lickwright.solver.plan.layout import LickPlan
from lickwright.theory.rhythm import shared_gaps


@dataclass(frozen=True)
class Restatement:
    """``length`` notes from onset ``figure_at`` are taken up at onset ``home_at``, ``shift`` semitones away.

    ``way`` is 1 for the figure as it goes, -1 for its intervals upside down.
    """

    figure_at: int
    home_at: int
    length: int
    way: int
    shift: int


def restatements(plan: LickPlan, lead: LeadTable, rng: Generator) -> Iterator[Restatement]:
    """The ways in which a lick's way home could take up its figure, in an order that the seed draws."""
    n = plan.figure_notes
    ticks = [o.tick for o in plan.onsets]
    i, j, gaps = shared_gaps(ticks[:n], ticks[n:])
    if gaps + 1 < LEAST_HOME:
        i, j, gaps = 0, 0, min(n, len(ticks) - n) - 1
        if gaps + 1 < LONG_WINDOW:
            return
    low, high = lead.develop_down
    downs = list(range(low, high + 1))
    rng.shuffle(downs)
    turned = rng.random() < lead.develop_turned
    ways = [(1, -d) for d in downs[:2]] + [(1, int(rng.integers(low, high + 1)))]
    upside_down = [(-1, 0), (-1, -downs[0])]
    for way, shift in [*upside_down, *ways] if turned else [*ways, *upside_down]:
        yield Restatement(i, n + j, gaps + 1, way, shift)


def bound(lattice: Lattice, head: Sequence[int], restatement: Restatement, semitone: int) -> Lattice:
    """The lattice with the figure's nodes ``head`` kept and its way home held to a restatement of the figure.

    ``semitone`` is what each semitone beside the wished pitch costs.
    """
    table = lattice.graph.table
    rows = lattice.node_cost.copy()
    for i, node in enumerate(head):
        cost = rows[i][node]
        rows[i] = FORBIDDEN
        rows[i][node] = cost
    pitches = table.enter[list(head)][restatement.figure_at : restatement.figure_at + restatement.length]
    edges = lattice.graph.edges
    interval = table.enter[edges.target] - table.enter[edges.source]
    edge_costs = list(lattice.edge_cost)
    for k in range(restatement.length):
        wished = pitches[0] + restatement.way * (pitches[k] - pitches[0]) + restatement.shift
        rows[restatement.home_at + k] += semitone * np.abs(table.enter - wished)
        if k:
            step = restatement.way * int(pitches[k] - pitches[k - 1])
            wrong = (np.sign(interval) != np.sign(step)) | (np.abs(interval - step) > LOOSE)
            edge = restatement.home_at + k - 1
            edge_cost = edge_costs[edge]
            edge_costs[edge] = np.where(wrong, FORBIDDEN, 0 if edge_cost is None else edge_cost)
    return replace(lattice, node_cost=np.minimum(rows, FORBIDDEN), edge_cost=tuple(edge_costs))
