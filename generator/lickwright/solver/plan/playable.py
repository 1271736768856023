"""Whether the hand can play a pattern of comping where it stands, before a chorus is built on it: each is asked once."""

from __future__ import annotations

import numpy as np

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.places import free_ticks
from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.touches import BoolArray
from lickwright.solver.chain import comp_slot
from lickwright.solver.comping import Strokes, hits_of
from lickwright.solver.plan.layout import CompPlan, LickPlan
from lickwright.solver.shifts import POSITIONS, shift_costs
from lickwright.study.model import ChordSpan
from lickwright.theory.rhythm import TICKS_PER_BEAT, seconds


class Playable:
    """Asks of a comping plan over a form: is there, at this tempo, a way from its first stroke to its last?"""

    def __init__(self, lead: Lead, tempo_bpm: int, strokes: Strokes):
        self.lead = lead
        self.tempo_bpm = tempo_bpm
        self.strokes = strokes
        self._known: dict[tuple[object, ...], bool] = {}

    def __call__(
        self,
        comp: CompPlan,
        form: tuple[ChordSpan, ...],
        before: LickPlan | None = None,
        after: LickPlan | None = None,
    ) -> bool:
        """True when it can be played, coming from a position of the lick ``before`` and going on to one of ``after``."""
        romans = [(span.onset, span.roman) for span in form]
        hits = hits_of(comp.pattern, self.lead.rules.study.grid, comp.start, romans, comp.chords)
        if not hits:
            return True
        came = went = 0
        if before is not None:
            last = before.onsets[-1]
            longest = int(self.lead.rules.layout.longest_landing_beats * TICKS_PER_BEAT)
            held = min(max(last.duration, longest), hits[0].tick - last.tick)
            came = free_ticks(last.tick, held, hits[0].tick)
        if after is not None:
            went = free_ticks(hits[-1].tick, hits[-1].duration, after.onsets[0].tick)
        positions = before.positions if before else (), after.positions if after else ()
        key = (
            *((hit.sign, hit.tick - comp.start, hit.duration, hit.roman, hit.next_roman) for hit in hits),
            (came, went, positions),
        )
        if key not in self._known:
            self._known[key] = False
            if all(self.strokes.options(hit) for hit in hits):
                slot = comp_slot(self.strokes, hits, self.tempo_bpm)
                leave = np.where(self._near(positions[1], went, leaving=True), 0.0, -np.inf)
                enter = np.isfinite(slot.backward_message(leave, 1.0))
                self._known[key] = bool((enter & self._near(positions[0], came, leaving=False)).any())
        return self._known[key]

    def _near(self, positions: tuple[int, ...], free: int, *, leaving: bool) -> BoolArray:
        """POSITIONS: where the hand can come from one of a lick's positions, or go on to one, in so many ticks."""
        if not positions:
            return np.ones(POSITIONS, bool)
        costs = shift_costs(self.lead, seconds(free, self.tempo_bpm))
        rows = costs[:, list(positions)] if leaving else costs[list(positions)].T
        return np.asarray((rows < FORBIDDEN).any(axis=1))
