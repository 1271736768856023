"""Whether the hand can play a pattern of comping at all, before a chorus is built on it: each is worked out once."""

from __future__ import annotations

import numpy as np

from generator.rulebook.lead import Lead
from generator.solver.chain import PLACES, comp_slot
from generator.solver.comping import Strokes, hits_of
from generator.solver.layout import CompPlan
from generator.study import ChordSpan


class Playable:
    """Asks of a comping plan over a form: is there, at this tempo, a way from its first stroke to its last?"""

    def __init__(self, lead: Lead, tempo_bpm: int, strokes: Strokes):
        self.lead = lead
        self.tempo_bpm = tempo_bpm
        self.strokes = strokes
        self._known: dict[tuple[object, ...], bool] = {}

    def __call__(self, comp: CompPlan, form: tuple[ChordSpan, ...]) -> bool:
        """True when it can be played; the licks around it are not looked at."""
        romans = [(span.onset, span.roman) for span in form]
        hits = hits_of(comp.pattern, self.lead.rules.study.grid, comp.start, romans, comp.chords)
        key = tuple(
            (hit.sign, hit.tick - comp.start, hit.duration, hit.roman, hit.next_roman) for hit in hits
        )
        if key not in self._known:
            options = [self.strokes.options(hit) for hit in hits]
            self._known[key] = all(options)
            if hits and all(options):
                extra = [np.zeros(len(here), np.int64) for here in options]
                slot = comp_slot(self.lead, hits, options, self.tempo_bpm, extra)
                self._known[key] = bool(np.isfinite(slot.entry(np.zeros(PLACES), 1.0)).any())
        return self._known[key]
