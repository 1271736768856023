"""What stays: the plan that a study was written by, and its slots as links of the chain that are not solved again.

A kept slot has one position to come to and one to leave from; the solver fills what lies between kept slots.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.sense import signs_of
from lickwright.rulebook.touches import FloatArray, touch_of, way_of
from lickwright.rulebook.written import saying
from lickwright.solver.licks import Solved
from lickwright.solver.plan.layout import CompPlan, LickPlan, Plan, role_positions
from lickwright.solver.shifts import POSITIONS
from lickwright.study.model import Event, Slot, SlotKind, Study, StudyFileError
from lickwright.theory.rhythm import GRIDS, Onset


@dataclass(frozen=True)
class Kept:
    """A slot that stays as it is: its plan and its events; ``lick`` for a lick, as if it had just been found."""

    plan: LickPlan | CompPlan
    events: tuple[Event, ...]
    lick: Solved | None = None

    @property
    def first_tick(self) -> int:
        """The first event's tick."""
        return self.events[0].onset

    @property
    def last_tick(self) -> int:
        """The last event's tick."""
        return self.events[-1].onset

    @property
    def last_duration(self) -> int:
        """The last event's duration."""
        return self.events[-1].duration

    @property
    def position(self) -> int:
        """Where it leaves the hand: the last event's position."""
        return self.events[-1].hand

    def backward_message(self, leave: FloatArray, temperature: float) -> FloatArray:
        """See ``chain.Link``: it can be entered at its first position only."""
        total = np.full(POSITIONS, -np.inf)
        total[self.events[0].hand] = leave[self.position]
        return total


def plan_of(study: Study, lead: Lead) -> Plan:
    """The plan that a finished study stands for: its cells, places, quotes and positions, none of its notes.

    Raises StudyFileError for comping with signs that the rules do not know.
    """
    licks = [s for s in study.slots if s.kind is SlotKind.LICK]
    number = {slot.number: n for n, slot in enumerate(licks)}
    used = [study.events_of(slot.number)[0].hand for slot in licks]
    home = max(dict.fromkeys(used), key=used.count, default=1)
    positions = _positions(lead, home, tuple(dict.fromkeys(used)))
    letters = [slot.name for slot in licks]
    plans = tuple(
        LickPlan(
            number[slot.number],
            slot.phrase,
            slot.name,
            slot.role,
            *_cells(slot),
            _onsets(study, slot),
            slot.figure_notes,
            positions.get(slot.role, tuple(dict.fromkeys(used))),
            None if slot.quotes is None else number[slot.quotes],
            letters.index(slot.name) == number[slot.number]
            and any(other.quotes == slot.number for other in licks),
            tonic=_tonic(study, slot, lead),
        )
        for slot in licks
    )
    phrases = tuple((p.first_bar, p.last_bar, p.template) for p in study.phrases)
    return Plan(study.form, phrases, study.scheme, home, plans, tuple(_comps(study, lead)))


def _tonic(study: Study, slot: Slot, lead: Lead) -> int:
    """The MIDI pitch of a written lick's 1 where the slot names one, else 0."""
    words = saying(lead.rules, *_cells(slot), study.tempo_bpm)
    return 0 if words is None else touch_of(study.events_of(slot.number)[0]).pitch - words.notes[0].pitch


def _cells(slot: Slot) -> tuple[str, str]:
    figure, tail = (*slot.cells, "", "")[:2]
    return figure, tail


def _onsets(study: Study, slot: Slot) -> tuple[Onset, ...]:
    events = study.events_of(slot.number)
    return tuple(Onset(e.onset, e.duration, e is events[-1]) for e in events)


def _positions(lead: Lead, home: int, used: Sequence[int]) -> dict[str, tuple[int, ...]]:
    """The positions that a lick of each role may take, the study's own and no more than the level allows."""
    count = lead.rules.level.windows
    own = role_positions(lead.rules, lead.key, lead.neck, home, count)
    return {
        role: tuple(used if len(used) >= count else dict.fromkeys((*used, *positions[: count - len(used)])))
        for role, positions in own.items()
    }


def _comps(study: Study, lead: Lead) -> Iterator[CompPlan]:
    step = GRIDS[study.grid]
    known = signs_of(lead.rules.comping)
    endings = {ending.pattern for ending in lead.rules.endings.values()}
    comps = [s for s in study.slots if s.kind is SlotKind.COMP]
    for slot in comps:
        pattern = slot.cells[0] if slot.cells else ""
        strange = sorted(set(pattern) - set(known + ".-"))
        if strange:
            raise StudyFileError(
                [
                    f"slots.{slot.number}.cells: unknown sign {strange[0]!r} in {pattern!r}: use {' '.join(known)} - ."
                ]
            )
        silent = next((i for i, sign in enumerate(pattern) if sign not in ".-"), 0)
        closes = slot is comps[-1] and pattern in endings
        chords = tuple(e.chord for e in study.events_of(slot.number)) if closes else ()
        yield CompPlan(slot.phrase, slot.start - silent * step, pattern, slot.name, chords)


def kept_slots(study: Study, plan: Plan, stay: Collection[int]) -> dict[int, Kept]:
    """The slots (by number) that stay, by the tick at which their plan starts; ``plan`` is ``plan_of`` the study.

    Raises StudyFileError for one that holds nothing: what comes before and after it would have nothing to go by.
    """
    empty = sorted(n for n in stay if not study.events_of(n))
    if empty:
        raise StudyFileError(
            [f"slots.{n}: it holds no events, so it cannot stay: let it be solved anew too" for n in empty]
        )
    licks = iter(plan.licks)
    comps = iter(plan.comps)
    kept: dict[int, Kept] = {}
    for slot in study.slots:
        events = study.events_of(slot.number)
        if slot.kind is SlotKind.COMP:
            comp = next(comps)
            if slot.number in stay:
                kept[comp.start] = Kept(comp, events)
        else:
            lick = next(licks)
            if slot.number in stay:
                ways = tuple(way_of(e) for e in events[1:])
                kept[lick.start] = Kept(lick, events, Solved(lick, tuple(map(touch_of, events)), ways, 0))
    return kept
