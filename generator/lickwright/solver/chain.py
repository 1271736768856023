"""The whole chorus as one exact chain of slots: licks and comping, with the hand's moves between them.

Each slot maps the weight of leaving it to the weight of entering it: from an array over the POSITIONS with the
log weight of the rest of the chorus once the slot is left there, it works out the log weight of the slot and the rest
when it is entered at each position. One backward pass over the slots gives these messages; then slots are drawn forward,
each with p ~ exp(-cost / temperature) over whole choruses, exactly (forward filtering, backward sampling with the time
turned round: C. K. Carter, R. Kohn, Biometrika 81(3):541-553, 1994 [from memory]).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.random import Generator

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.places import free_ticks
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.touches import FloatArray, IntArray
from lickwright.solver.comping import Hit, Stroke, Strokes
from lickwright.solver.lattice import Lattice
from lickwright.solver.shifts import POSITIONS, shift_costs
from lickwright.theory.rhythm import seconds

#: Temperatures between which one is looked for, how near is near enough, and the step for a slope.
_COLDEST, _HOTTEST, _CLOSE, _NEAR = 1.0, 3000.0, 1.05, 1e-3


def _log_sum(values: FloatArray, axis: int) -> FloatArray:
    top = np.max(values, axis=axis, keepdims=True)
    safe = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        total = np.log(np.sum(np.exp(values - safe), axis=axis)) + np.squeeze(safe, axis)
    return np.asarray(total)


def _log_weight(cost: IntArray, temperature: float) -> FloatArray:
    return np.where(cost >= FORBIDDEN, -np.inf, -np.asarray(cost, float) / temperature)


class Link(Protocol):
    """A slot as a link of the chain; ticks from the start of the study.

    ``first_tick`` is its first onset, ``last_tick`` and ``last_duration`` belong to its last.
    """

    @property
    def first_tick(self) -> int: ...  # noqa: D102

    @property
    def last_tick(self) -> int: ...  # noqa: D102

    @property
    def last_duration(self) -> int: ...  # noqa: D102

    def backward_message(self, leave: FloatArray, temperature: float) -> FloatArray:
        """The log weights (POSITIONS) of this slot and all that follows, by the position at which it is entered.

        ``leave`` (POSITIONS) are the log weights of all that follows, by the position where it is left; -inf is impossible.
        """
        ...


@dataclass
class LickSlot:
    """A lick: one lattice for each position it may take."""

    first_tick: int
    last_tick: int
    last_duration: int
    lattices: tuple[Lattice, ...]
    rows: list[tuple[list[FloatArray], FloatArray]] = field(default_factory=list)

    def backward_message(self, leave: FloatArray, temperature: float) -> FloatArray:
        """See ``Link``; keeps the rows of weights for ``draw``."""
        self.rows = []
        total = np.full(POSITIONS, -np.inf)
        for lattice in self.lattices:
            positions = lattice.graph.table.position
            rows, scale = lattice.weights(leave[positions], temperature)
            first = lattice.start_log(rows[0], scale, temperature)
            self.rows.append((rows, first))
            for position in np.unique(positions):
                log_weight = _log_sum(first[positions == position], 0)
                total[position] = np.logaddexp(total[position], log_weight)
        return total

    def draw(
        self, arrive: FloatArray, temperature: float, m: int, rng: Generator
    ) -> list[tuple[Lattice, IntArray, IntArray]]:
        """``m`` exact samples: (lattice, nodes k x n, edges k x (n-1)) for each position that was drawn.

        ``arrive`` (POSITIONS) is the log weight of coming to each position.
        """
        logs = [
            first + arrive[x.graph.table.position]
            for x, (_, first) in zip(self.lattices, self.rows, strict=True)
        ]
        flat = np.concatenate(logs)
        top = flat.max(initial=-np.inf)
        if not np.isfinite(top):
            return []
        weight = np.exp(flat - top)
        picks = np.sort(rng.choice(len(flat), size=m, p=weight / weight.sum()))
        drawn = []
        offset = 0
        for lattice, (rows, _), log in zip(self.lattices, self.rows, logs, strict=True):
            mine = picks[(picks >= offset) & (picks < offset + len(log))] - offset
            offset += len(log)
            if len(mine):
                drawn.append((lattice, *lattice.draw(mine, rows, temperature, rng)))
        return drawn


@dataclass
class CompSlot:
    """Comping: hits in order with their options and the costs between them."""

    hits: tuple[Hit, ...]
    options: tuple[list[Stroke], ...]
    node_cost: tuple[IntArray, ...]
    links: tuple[IntArray, ...]
    rows: list[FloatArray] = field(default_factory=list)
    logs: dict[float, tuple[list[FloatArray], list[FloatArray]]] = field(default_factory=dict)

    @property
    def first_tick(self) -> int:
        """The first hit's tick."""
        return self.hits[0].tick

    @property
    def last_tick(self) -> int:
        """The last hit's tick."""
        return self.hits[-1].tick

    @property
    def last_duration(self) -> int:
        """The last hit's duration."""
        return self.hits[-1].duration

    def backward_message(self, leave: FloatArray, temperature: float) -> FloatArray:
        """See ``Link``; keeps the rows of weights for ``draw``."""
        nodes, links = self._weights(temperature)
        row = nodes[-1] + leave[[s.position for s in self.options[-1]]]
        self.rows = [row]
        for k in range(len(self.hits) - 2, -1, -1):
            row = nodes[k] + _log_sum(links[k] + row[None, :], 1)
            self.rows.insert(0, row)
        total = np.full(POSITIONS, -np.inf)
        positions = np.array([s.position for s in self.options[0]], np.int64)
        for position in np.unique(positions):
            total[position] = _log_sum(row[positions == position], 0)
        return total

    def _weights(self, temperature: float) -> tuple[list[FloatArray], list[FloatArray]]:
        """The log weights of the options and of the ways between them, worked out once for a temperature."""
        if temperature not in self.logs:
            costs = self.node_cost, self.links
            nodes, links = ([_log_weight(cost, temperature) for cost in given] for given in costs)
            self.logs = {temperature: (nodes, links)}
        return self.logs[temperature]

    def draw(self, arrive: FloatArray, temperature: float, rng: Generator) -> list[Stroke] | None:
        """One exact sample of strokes, or None when none can be."""
        log = self.rows[0] + arrive[[s.position for s in self.options[0]]]
        links = self._weights(temperature)[1]
        chosen: list[Stroke] = []
        for k in range(len(self.hits)):
            top = log.max(initial=-np.inf)
            if not np.isfinite(top):
                return None
            weight = np.exp(log - top)
            pick = int(rng.choice(len(weight), p=weight / weight.sum()))
            chosen.append(self.options[k][pick])
            if k + 1 < len(self.hits):
                log = links[k][pick] + self.rows[k + 1]
        return chosen


def comp_slot(
    strokes: Strokes, hits: Sequence[Hit], tempo_bpm: int, extra: Sequence[IntArray] | None = None
) -> CompSlot:
    """Builds a comping slot with the costs between its hits; ``extra`` (one array a hit) adds to the options'."""
    options = [strokes.options(hit) for hit in hits]
    links = []
    for a, b in pairwise(hits):
        free = seconds(free_ticks(a.tick, a.duration, b.tick), tempo_bpm)
        links.append(strokes.link(a, b, free))
    own = [np.array([stroke.cost for stroke in here], np.int64) for here in options]
    cost = own if extra is None else [a + b for a, b in zip(own, extra, strict=True)]
    return CompSlot(tuple(hits), tuple(options), tuple(cost), tuple(links))


@dataclass
class Chain:
    """Slots in order of time, joined by the moves of the hand.

    ``leave_log`` has for each slot the message that ``backward_pass`` worked out: log weights (POSITIONS) of the rest of the
    chorus, by the position at which the slot is left.
    """

    lead: Lead
    tempo_bpm: int
    temperature: float
    slots: list[Link]
    leave_log: list[FloatArray] = field(default_factory=list)

    def shifts(self, k: int) -> FloatArray:
        """Log weights (POSITIONS x POSITIONS) of moving from slot k to slot k + 1."""
        a, b = self.slots[k], self.slots[k + 1]
        free = seconds(free_ticks(a.last_tick, a.last_duration, b.first_tick), self.tempo_bpm)
        return _log_weight(shift_costs(self.lead, free), self.temperature)

    def backward_pass(self, down_to: int = 0) -> bool:
        """Sends the messages from the last slot back to slot ``down_to``; False when no chorus is possible.

        Cost: one ``backward_message`` a slot and O(POSITIONS^2) between two.
        """
        n = len(self.slots)
        if not self.leave_log:
            self.leave_log = [np.zeros(POSITIONS) for _ in range(n)]
        for k in range(n - 1, down_to - 1, -1):
            backward_message = self.slots[k].backward_message(self.leave_log[k], self.temperature)
            if not np.isfinite(backward_message.max(initial=-np.inf)):
                return False
            if k > 0:
                self.leave_log[k - 1] = _log_sum(self.shifts(k - 1) + backward_message[None, :], 1)
        return True

    def log_total(self, temperature: float) -> float:
        """The log of the sum of exp(-cost / temperature) over all choruses."""
        other = Chain(self.lead, self.tempo_bpm, temperature, self.slots)
        other.backward_pass()
        return float(_log_sum(self.slots[0].backward_message(other.leave_log[0], temperature), 0))

    def mean_cost(self, temperature: float) -> float:
        """The mean cost in points of choruses drawn at a temperature.

        It is minus the derivative of ``log_total`` by 1 / temperature, here a difference quotient.
        """
        cold, warm = temperature / (1 + _NEAR), temperature / (1 - _NEAR)
        return (self.log_total(warm) - self.log_total(cold)) / (1 / cold - 1 / warm)

    def temperature_for(self, accepted: float) -> float:
        """The temperature at which the mean cost lies the share ``accepted`` (0 to 1) of the way from that of the coldest to
        that of the hottest temperature; by bisection.
        """
        coldest, hottest = _COLDEST, _HOTTEST
        least, most = self.mean_cost(coldest), self.mean_cost(hottest)
        target = least + accepted * (most - least)
        while hottest / coldest > _CLOSE:
            middle = float(np.sqrt(coldest * hottest))
            if self.mean_cost(middle) < target:
                coldest = middle
            else:
                hottest = middle
        return coldest

    def arrival(self, k: int, position: int | None) -> FloatArray:
        """Log weights (POSITIONS) of moving from a position to each one at slot k; all 0 for the first slot or None."""
        return np.zeros(POSITIONS) if k == 0 or position is None else self.shifts(k - 1)[position]
