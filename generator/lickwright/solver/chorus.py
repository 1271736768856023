"""A whole chorus: the plan's slots chained, leaders drawn before the licks that take them up.

Slots are drawn in order of time, each weighted by the rest of the chorus. When a lick is drawn whose figure others
quote, the lattices of those licks are rebuilt and the backward pass is run again. What a request wants beyond the
rules (slots that stay, figures to avoid, pitches to be drawn to) comes as a ``Wish``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.random import Generator

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import FORBIDDEN, Line, ShapeRule
from lickwright.rulebook.touches import NO_GRACE, FloatArray, IntArray
from lickwright.solver.bounds import look_at_the_clock
from lickwright.solver.chain import Chain, CompSlot, LickSlot, Link, comp_slot
from lickwright.solver.comping import Hit, Stroke, Strokes, hits_of
from lickwright.solver.development import bound, restatements
from lickwright.solver.grips import Held
from lickwright.solver.kept import Kept
from lickwright.solver.lattice import Lattice
from lickwright.solver.licks import LickMaker, Mark, PitchTargets, Solved, line_of_lick
from lickwright.solver.plan.layout import CompPlan, LickPlan, Plan
from lickwright.solver.shifts import POSITIONS
from lickwright.study.figures import Avoid
from lickwright.theory.rhythm import bar_of

PEAK_TRIES = 14
#: Roles of the licks by which a study has its bends, whatever was drawn before.
LATE = ("climax", "close")
#: A drawn lick, its lattice and its nodes.
_Drawn = tuple[Solved, Lattice, list[int]]


class DeadEnd(ValueError):
    """A plan that cannot be filled: ``where`` names the slot.

    ``lick`` is the lick for which its own rules leave nothing, whatever stands around it; else None.
    """

    def __init__(self, where: str, lick: LickPlan | None = None):
        super().__init__(where)
        self.where = where
        self.lick = lick


@dataclass(frozen=True)
class SolvedComp:
    """A comping slot that was found: its hits and the stroke for each."""

    plan: CompPlan
    hits: tuple[Hit, ...]
    strokes: tuple[Stroke, ...]


#: A slot of a finished chorus.
Part: TypeAlias = Solved | SolvedComp | Kept


@dataclass(frozen=True)
class Wish:
    """What a request wants beyond the rules.

    ``kept`` are slots that stay, by the tick at which their plan starts; ``avoid`` figures that no lick may say
    again; ``targets`` the pitches that a lick (by number) is drawn to; ``marks`` say which touches may stand at a
    lick's onset (by tick), ``ways`` by which way (PLUCK ...) it is come to, ``grips`` which notes (string, fret) a
    stroke (by tick) must have; ``shifts`` the semitones by which a quoted figure may be moved, in an order that is
    drawn. ``miss`` says of a lick by how much it fails what is wanted, 0 for not at all: of what is drawn only what
    fails least is taken.
    """

    kept: Mapping[int, Kept] = field(default_factory=dict)
    avoid: Avoid | None = None
    targets: Mapping[int, PitchTargets] = field(default_factory=dict)
    grips: Mapping[int, frozenset[tuple[int, int]]] = field(default_factory=dict)
    marks: Mapping[int, Mark] = field(default_factory=dict)
    ways: Mapping[int, int] = field(default_factory=dict)
    miss: Callable[[Solved], float] | None = None
    shifts: tuple[int, ...] | None = None


NOTHING = Wish()


@dataclass
class Chorus:
    """The search for one chorus under one plan; ``solve`` gives its slots in order of time."""

    lead: Lead
    plan: Plan
    tempo_bpm: int
    rng: Generator
    maker: LickMaker
    strokes: Strokes
    wish: Wish = NOTHING
    done: dict[int, Solved] = field(default_factory=dict)
    bends_left: int = 0
    graces_left: int = 0
    whims: dict[tuple[int, tuple[Held, ...]], int] = field(default_factory=dict)
    tops: dict[int, int] = field(default_factory=dict)
    temperature: float = field(init=False)

    def __post_init__(self) -> None:
        self.temperature = self.lead.rules.lead.adventure
        self.maker = self.maker.for_form(self.plan.form)

    def _chain(self, order: list[LickPlan | CompPlan]) -> Chain:
        """The chain of all slots after its backward pass; raises DeadEnd when no chorus is possible."""
        self.bends_left = self.lead.rules.lead.bends.most_per_study
        self.graces_left = self.lead.rules.lead.techniques.graces_per_study
        for kept in self.wish.kept.values():
            if kept.lick is not None:
                self.done[kept.lick.plan.number] = kept.lick
                self._spend(kept.lick)
        chain = Chain(self.lead, self.tempo_bpm, self.temperature, [self._link(x) for x in order])
        if not chain.backward_pass():
            raise DeadEnd(self._first_dead(chain, order))
        accepted = self.lead.rules.lead.adventurous
        if accepted is not None:
            self.temperature = chain.temperature = chain.temperature_for(accepted)
            chain.backward_pass()
        return chain

    def solve(self) -> tuple[Part, ...]:
        """Draws every slot; raises DeadEnd when one has no lick or grip left."""
        order = self._order()
        chain = self._chain(order)
        parts: list[Part] = []
        position: int | None = None
        for k, item in enumerate(order):
            look_at_the_clock()
            arrive = chain.arrival(k, position)
            slot = chain.slots[k]
            if isinstance(slot, Kept):
                parts.append(slot)
                position = slot.position
            elif isinstance(item, LickPlan):
                assert isinstance(slot, LickSlot)
                lick = self._draw_lick(item, slot, arrive, chain.leave_log[k])
                self.done[item.number] = lick
                parts.append(lick)
                position = lick.touches[-1].position
                spent = self._spend(lick)
                later = [j for j in range(k + 1, len(order)) if spent or self._quotes(order[j], item)]
                later = [j for j in later if isinstance(chain.slots[j], LickSlot)]
                for j in later:
                    follower = order[j]
                    assert isinstance(follower, LickPlan)
                    chain.slots[j] = self._lick_link(follower)
                if later and not chain.backward_pass(k + 1):
                    raise DeadEnd(self.name(order[later[0]]))
            else:
                assert isinstance(slot, CompSlot)
                strokes = slot.draw(arrive, chain.temperature, self.rng)
                if strokes is None:
                    raise DeadEnd(self.name(item))
                parts.append(SolvedComp(item, slot.hits, tuple(strokes)))
                position = strokes[-1].position
        return tuple(parts)

    def plain_chain(self) -> Chain:
        """The chain under the rule files alone: no planned peaks, no quotes, no whims of phrases."""
        slots: list[Link] = []
        for item in self._order():
            if isinstance(item, LickPlan):
                positions = [position for position in item.positions if self.maker.possible(item, position)]
                slots.append(self.maker.slot(item, tuple(self.maker.lattice(item, h) for h in positions)))
            else:
                slots.append(self._comp_link(item, whims=False))
        return Chain(self.lead, self.tempo_bpm, self.temperature, slots)

    def choices(self, start: int, draws: int) -> list[Solved]:
        """Licks for the one slot whose plan starts at a tick, the others being kept: those drawn that keep the shape rules.

        Cheapest first, each melody once. Raises DeadEnd when there is none.
        """
        order = self._order()
        chain = self._chain(order)
        k = next(n for n, item in enumerate(order) if item.start == start)
        item, slot = order[k], chain.slots[k]
        assert isinstance(item, LickPlan)
        assert isinstance(slot, LickSlot)
        before = chain.slots[k - 1] if k else None
        arrive = chain.arrival(k, before.position if isinstance(before, Kept) else None)
        samples = slot.draw(arrive, self.temperature, draws, self.rng)
        licks = [x for lattice, nodes, edges in samples for x in self._kept(item, lattice, nodes, edges)]
        licks.sort(key=lambda x: (x[0].cost, x[0].touches, x[0].ways))
        melodies = {(s.pitches, s.touches[0].position): s for s, _, _ in reversed(licks)}
        if not melodies:
            raise DeadEnd(f"{self.name(item)}: no drawn lick has the shape asked for")
        return sorted(melodies.values(), key=lambda s: (s.cost, s.touches, s.ways))

    def _owes_bends(self) -> bool:
        return sum(map(_bent, self.done.values())) < self.lead.rules.lead.bends.least_per_study

    def _spend(self, lick: Solved) -> bool:
        """Takes a lick's bends and graces from what the study may have; True when one of them is used up by it."""
        before = self.bends_left > 0, self.graces_left > 0
        self.bends_left -= sum(t.bend >= 2 for t in lick.touches)
        self.graces_left -= sum(t.grace != NO_GRACE for t in lick.touches)
        return before != (self.bends_left > 0, self.graces_left > 0)

    # ------------------------------------------------------------------ slots

    def _order(self) -> list[LickPlan | CompPlan]:
        items: list[LickPlan | CompPlan] = [*self.plan.licks, *self.plan.comps]
        return sorted(items, key=lambda x: x.start)

    def name(self, item: LickPlan | CompPlan) -> str:
        """A slot as a reader finds it."""
        bar = bar_of(item.start) + 1
        what = (
            f"lick {item.number + 1} ({item.letter})"
            if isinstance(item, LickPlan)
            else f"comping {item.pattern!r}"
        )
        return f"{what} in bar {bar}"

    def _first_dead(self, chain: Chain, order: list[LickPlan | CompPlan]) -> str:
        for k in range(len(order) - 1, -1, -1):
            if not np.isfinite(
                chain.slots[k].backward_message(np.zeros(POSITIONS), chain.temperature).max(initial=-np.inf)
            ):
                return self.name(order[k])
        return "the hand's moves between the slots"

    def _quotes(self, item: LickPlan | CompPlan, leader: LickPlan) -> bool:
        return isinstance(item, LickPlan) and item.quotes == leader.number

    def _link(self, item: LickPlan | CompPlan) -> LickSlot | CompSlot | Kept:
        look_at_the_clock()
        if item.start in self.wish.kept:
            return self.wish.kept[item.start]
        return self._lick_link(item) if isinstance(item, LickPlan) else self._comp_link(item)

    def _comp_link(self, item: CompPlan, *, whims: bool = True) -> CompSlot:
        romans = [(s.onset, s.roman) for s in self.plan.form]
        hits = hits_of(item.pattern, self.lead.rules.study.grid, item.start, romans, item.chords)
        if not hits:
            raise DeadEnd(f"{self.name(item)}: there is no stroke in it")
        extra = []
        for hit in hits:
            options = self.strokes.options(hit)
            if not options:
                raise DeadEnd(f"{self.name(item)}: no grip of the level gives {hit.roman}")
            if hit.tick in self.wish.grips:
                notes = self.wish.grips[hit.tick]
                stays = [{(s, f) for s, f, _ in x.notes} == notes for x in options]
                if not any(stays):
                    raise DeadEnd(f"{self.name(item)}: the pinned grip is none that the rules give")
            else:
                stays = [True] * len(options)
            own = [
                (self._whim(item.phrase, x) if whims else 0) if stay else FORBIDDEN
                for x, stay in zip(options, stays, strict=True)
            ]
            extra.append(np.array(own, np.int64))
        return comp_slot(self.strokes, hits, self.tempo_bpm, extra)

    def _whim(self, phrase: int, stroke: Stroke) -> int:
        """Points by which a phrase likes or dislikes a grip, so that phrases differ and each keeps to its own."""
        if stroke.base is None:
            return 0
        key = phrase, stroke.base.notes
        if key not in self.whims:
            self.whims[key] = int(self.lead.rules.comping.noise * self.rng.gumbel())
        return self.whims[key]

    def _lick_link(self, item: LickPlan) -> LickSlot:
        """The lick's lattices, one for each position in which a peak and the quote can be had."""
        if not any(self.maker.possible(item, position) for position in item.positions):
            raise DeadEnd(self.name(item), item)
        if item.mask is not None:
            return self._written_link(item)
        lattices = []
        follows = None
        if (
            item.quotes is not None
            and item.quotes in self.done
            and self.done[item.quotes].plan.tail == item.tail
        ):
            follows = self.done[item.quotes].landing
        quotes = self._quoted(item)
        for position in (position for position in item.positions if self.maker.possible(item, position)):
            lattice = self._peaked(item, position, quotes, follows)
            if lattice is not None:
                lattices.append(lattice)
        lattices = self._highest(item, lattices)
        if not lattices:
            raise DeadEnd(self.name(item))
        return self.maker.slot(item, tuple(lattices))

    def _written_link(self, item: LickPlan) -> LickSlot:
        """A written lick's lattices, without those that spend more bends or graces than the study has left."""
        assert item.mask is not None
        lattices = []
        for position in (p for p in item.positions if self.maker.possible(item, p)):
            lattice = self.maker.restricted(
                item, self.maker.lattice(item, position), self.wish.marks, self.wish.ways
            )
            if lattice.possible():
                lattices.append(lattice)
        bends = sum(note.bend >= 2 for note in item.mask)
        graces = sum(note.grace != NO_GRACE for note in item.mask)
        if not lattices or bends > max(0, self.bends_left) or graces > max(0, self.graces_left):
            raise DeadEnd(self.name(item))
        return self.maker.slot(item, tuple(lattices))

    def _quoted(self, item: LickPlan) -> list[PitchTargets | None]:
        """The ways of taking up the quoted figure, the drawn one first; [None] when nothing is quoted yet.

        A leader whose follower stays is drawn to that one's figure.
        """
        if item.quotes is not None and item.quotes in self.done:
            model, back = self.done[item.quotes], 1
        else:
            stays = (k.lick for k in self.wish.kept.values() if k.lick is not None)
            followers = [lick for lick in stays if lick.plan.quotes == item.number]
            if not followers:
                return [None]
            model, back = followers[0], -1
        rules = self.lead.rules.lead.quote
        figure = model.pitches[: item.figure_notes]
        same = self._chord(item) == self._chord(model.plan)
        climbs = back == 1 and item.role == "climax" and model.plan.phrase != item.phrase
        if self.wish.shifts is None and same and not climbs:
            return [PitchTargets(figure, rules.exact_semitone, rules.band)]
        if self.wish.shifts is not None:
            shifts = [int(s) for s in self.rng.permutation(self.wish.shifts)]
            return [
                PitchTargets(tuple(p + back * s for p in figure), rules.semitone, rules.band) for s in shifts
            ]
        shifts = [0, 5] if self.rng.random() >= rules.move_up_a_fourth else [5, 0]
        if model.plan.phrase == item.phrase:
            shifts = rules.within_phrase
        elif climbs:
            shifts = rules.climb
        return [PitchTargets(tuple(p + back * s for p in figure), rules.semitone, rules.band) for s in shifts]

    def _chord(self, item: LickPlan) -> str:
        return next(s.roman for s in reversed(self.plan.form) if s.onset <= item.start)

    def _floor(self, item: LickPlan) -> int:
        """The pitch that a climax must exceed: the highest possible peak of the licks before it; 0 for other roles."""
        if item.role != "climax":
            return 0
        return max((top for n, top in self.tops.items() if n < item.number), default=0)

    def _highest(self, item: LickPlan, lattices: list[Lattice]) -> list[Lattice]:
        """The lattices of a climax in which it can exceed its floor; all of them when none can, or for other roles."""
        tops = [
            int(x.graph.table.enter[(x.node_cost < FORBIDDEN).any(axis=0)].max(initial=0)) for x in lattices
        ]
        floor = self._floor(item)
        high = [x for x, top in zip(lattices, tops, strict=True) if top > floor]
        if item.role != "climax":
            self.tops[item.number] = max(tops, default=0)
        return high or lattices

    def _peaked(
        self, item: LickPlan, position: int, quotes: list[PitchTargets | None], follows: int | None
    ) -> Lattice | None:
        targets = self.wish.targets.get(item.number)
        if targets is not None and targets.band == 0:
            return self._fixed(item, position, targets)
        for quote in quotes:
            peaks = self.maker.peaks(item, position, self.plan.home, self.rng)
            floor = self._floor(item)
            if floor:
                peaks = iter(sorted(peaks, key=lambda peak: peak[1] <= floor))
            if self.wish.marks:
                peaks = self.maker.peaks_over(item, position, self.wish.marks, peaks)
            for tries, peak in enumerate(self._inherited(item, quote, peaks)):
                if tries == PEAK_TRIES:
                    break
                lattice = self.maker.shaped(
                    item, position, peak, quote, follows, self.bends_left > 0, self.graces_left > 0
                )
                lattice = self.maker.drawn_to(lattice, self.wish.targets.get(item.number))
                lattice = self.maker.restricted(item, lattice, self.wish.marks, self.wish.ways)
                rows = lattice.values(np.zeros(len(lattice.graph.table), np.int64))
                if lattice.start_costs(rows[0]).min(initial=FORBIDDEN) < FORBIDDEN // 2:
                    return lattice
        return None

    def _fixed(self, item: LickPlan, position: int, targets: PitchTargets) -> Lattice | None:
        """The lattice of a lick whose notes are given, if they lie in a position."""
        spent = self.bends_left > 0, self.graces_left > 0
        lattice = self.maker.shaped(item, position, None, None, None, *spent)
        lattice = self.maker.restricted(
            item, self.maker.drawn_to(lattice, targets), self.wish.marks, self.wish.ways
        )
        return lattice if lattice.possible() else None

    def _inherited(
        self, item: LickPlan, quote: PitchTargets | None, peaks: Iterator[tuple[int, int]]
    ) -> Iterator[tuple[int, int]]:
        """A quoted figure that held its lick's peak holds it again, or near it; else any peak outside the figure."""
        if quote is None or item.quotes not in self.done:
            yield from peaks
            return
        leader = self.done[item.quotes]
        top = max(leader.pitches)
        where = leader.pitches.index(top)
        if where < item.figure_notes:
            for off in (0, -1, 1, -2, 2):
                yield where, quote.pitches[where] + off
        else:
            highest = max(quote.pitches)
            yield from ((i, p) for i, p in peaks if i >= item.figure_notes and p > highest - 2)

    # ------------------------------------------------------------------ drawing

    def _draw_lick(self, item: LickPlan, slot: LickSlot, arrive: FloatArray, leave: FloatArray) -> Solved:
        """Draws many licks, keeps those whose shape is right, and takes one of the cheapest.

        Now and then the way home is then drawn again so that it develops the figure; from the climax on a study
        that still owes bends has one.
        """
        lead = self.lead.rules.lead
        for _ in range(3):
            samples = slot.draw(arrive, self.temperature, lead.draws, self.rng)
            licks = [
                lick for lattice, nodes, edges in samples for lick in self._kept(item, lattice, nodes, edges)
            ]
            if licks:
                break
        else:
            raise DeadEnd(f"{self.name(item)}: no drawn lick has the shape asked for")
        chosen, lattice, path = self._one_of(licks)
        if item.mask is not None:
            return chosen
        if self.rng.random() < lead.develop:
            for restatement in restatements(item, lead, self.rng):
                anew = bound(lattice, path[: item.figure_notes], restatement, lead.quote.semitone)
                again = self._redrawn(item, anew, path[0], leave)
                if again is not None:
                    chosen = again
                    break
        if item.role in LATE and not _bent(chosen) and self._owes_bends():
            return self._with_bend(item, lattice, path[0], leave) or chosen
        return chosen

    def _with_bend(self, item: LickPlan, lattice: Lattice, first: int, leave: FloatArray) -> Solved | None:
        """A lick with a bend at one of its onsets, in an order drawn by the seed, or None."""
        for i in self.rng.permutation(len(lattice.node_cost)):
            rows = lattice.node_cost.copy()
            rows[i][lattice.graph.table.bend == 0] = FORBIDDEN
            lick = self._redrawn(item, replace(lattice, node_cost=rows), first, leave)
            if lick is not None:
                return lick
        return None

    def _redrawn(self, item: LickPlan, lattice: Lattice, first: int, leave: FloatArray) -> Solved | None:
        """A lick from a lattice of its own that begins at a node, or None when none has the right shape."""
        lead = self.lead.rules.lead
        rows, scale = lattice.weights(leave[lattice.graph.table.position], self.temperature)
        if not np.isfinite(lattice.start_log(rows[0], scale, self.temperature)[first]):
            return None
        nodes, edges = lattice.draw(np.full(lead.draws, first, np.int64), rows, self.temperature, self.rng)
        licks = list(self._kept(item, lattice, nodes, edges))
        return self._one_of(licks)[0] if licks else None

    def _kept(self, item: LickPlan, lattice: Lattice, nodes: IntArray, edges: IntArray) -> Iterator[_Drawn]:
        ways, every = lattice.graph.edges.way, lattice.graph.touches
        nodes, first = np.unique(nodes, axis=0, return_index=True)
        edges = edges[first]
        for path, moves, cost in zip(nodes, edges, lattice.cost_of(nodes, edges), strict=True):
            touches = tuple(every[n] for n in path)
            line = line_of_lick(item, touches)
            if all(rule.allows(line) for rule in self._shape_rules(item)) and self._new(line):
                solved = Solved(item, touches, tuple(int(w) for w in ways[moves]), int(cost))
                yield solved, lattice, [int(n) for n in path]

    def _shape_rules(self, item: LickPlan) -> tuple[ShapeRule, ...]:
        return (self.lead if item.mask is None else self.maker.written).shape_rules

    def _new(self, line: Line) -> bool:
        """True unless the lick says a figure that is not to be said again."""
        avoid = self.wish.avoid
        return avoid is None or avoid.allows(line.pitches, line.ticks)

    def _one_of(self, licks: list[_Drawn]) -> _Drawn:
        """One of the cheapest, drawn by the seed; among those that miss what is wanted the least."""
        if self.wish.miss is not None:
            misses = [round(self.wish.miss(x[0]), 6) for x in licks]
            licks = [x for x, m in zip(licks, misses, strict=True) if m == min(misses)]
        licks.sort(key=lambda x: (x[0].cost, x[0].touches, x[0].ways))
        lead = self.lead.rules.lead
        share = len(licks) if lead.adventurous is not None else max(1, int(len(licks) * lead.best_share))
        return licks[int(self.rng.integers(share))]


def _bent(lick: Solved) -> int:
    return sum(t.bend > 0 for t in lick.touches)


def solve_chorus(
    lead: Lead,
    plan: Plan,
    tempo_bpm: int,
    rng: Generator,
    maker: LickMaker,
    strokes: Strokes,
    wish: Wish = NOTHING,
) -> tuple[Part, ...]:
    """One chorus under a plan; raises DeadEnd."""
    return Chorus(lead, plan, tempo_bpm, rng, maker, strokes, wish).solve()
