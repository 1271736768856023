"""Licks to learn from: the leads of studies as the solver sees licks - onsets, touches, ways, one position."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from lickwright.rulebook.places import places
from lickwright.rulebook.rule import At
from lickwright.rulebook.touches import Touch, touch_of, way_of
from lickwright.solver.fixed import plan_of
from lickwright.solver.plan.layout import LickPlan
from lickwright.study.model import ChordSpan, Event, SlotKind, Study
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import Onset, bar_of


@dataclass(frozen=True)
class Example:
    """One lick in a position. ``ways`` are those between its touches (one fewer), ``name`` is for messages."""

    name: str
    plan: LickPlan
    touches: tuple[Touch, ...]
    ways: tuple[int, ...]
    position: int
    form: tuple[ChordSpan, ...]
    key: Key
    grid: str
    tempo_bpm: int

    @property
    def seen(self) -> tuple[At, ...]:
        """Its onsets as the rules see them."""
        plan = self.plan
        return places(
            plan.onsets, self.form, self.key, self.grid, self.tempo_bpm, plan.role, plan.figure_notes
        )


def examples_of(study: Study, name: str = "") -> tuple[Example, ...]:
    """The licks of a study, in order; those of a single note are left out."""
    found = []
    for slot in study.slots:
        events = study.events_of(slot.number)
        if slot.kind is not SlotKind.LICK or len(events) < 2:
            continue
        where = f"{name or study.title}, bar {bar_of(events[0].onset) + 1}"
        found.append(_example(where, study, events, slot.role or "answer"))
    return tuple(found)


def _example(name: str, study: Study, events: Sequence[Event], role: str) -> Example:
    position = Counter(e.hand for e in events).most_common(1)[0][0]
    onsets = tuple(Onset(e.onset, e.duration) for e in events)
    return Example(
        name,
        plan_of(onsets, role),
        tuple(touch_of(e)._replace(position=position) for e in events),
        tuple(way_of(e) for e in events[1:]),
        position,
        study.form,
        study.home,
        study.grid,
        study.tempo_bpm,
    )


def moves_text(example: Example) -> str:
    """A lick's line as ``lead.copying`` writes it: semitones/ticks for each move.

    >>> from tests.studies import tour
    >>> moves_text(examples_of(tour())[0])
    '3/4 -3/8 -4/8 -5/4 2/4'
    """
    heard = [t.pitch + t.bend // 2 for t in example.touches]
    ticks = [o.tick for o in example.plan.onsets]
    return " ".join(
        f"{b - a}/{t - s}" for a, b, s, t in zip(heard, heard[1:], ticks, ticks[1:], strict=False)
    )
