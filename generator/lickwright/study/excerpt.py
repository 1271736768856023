"""One lick of a study as a short study of its own, so that whatever reads a Study can show and play it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lickwright.study.model import FROM_BEFORE, ChordSpan, Event, Moment, Phrase, Slot, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR


def lick_bars(study: Study, slot: int) -> tuple[int, int]:
    """The first and last bar (from 0) that a slot's notes lie in; raises ValueError when it holds no lick."""
    events = _lick(study, slot)[1]
    return events[0].onset // TICKS_PER_BAR, max(e.end - 1 for e in events) // TICKS_PER_BAR


def excerpt(study: Study, slot: int, bars: int | None = None) -> Study:
    """The lick of a slot alone, from the start of its first bar, as a study of ``bars`` (its own unless given).

    Chords are those under it. Raises ValueError when the slot holds no lick or it is longer than ``bars``.
    """
    found, events = _lick(study, slot)
    first, last = lick_bars(study, slot)
    length = last - first + 1 if bars is None else bars
    if length < last - first + 1:
        raise ValueError(f"slot {slot} lies in {last - first + 1} bars, more than {length}")
    start, end = first * TICKS_PER_BAR, (first + length) * TICKS_PER_BAR
    moved = tuple(replace(e, slot=0, onset=e.onset - start) for e in events)
    alone = replace(
        found,
        number=0,
        phrase=0,
        start=min(max(0, found.start - start), moved[0].onset),
        end=max(min(found.end, end) - start, moved[-1].end),
        quotes=None,
    )
    return replace(
        study,
        bars=length,
        form=_form(study, start, end),
        phrases=(Phrase(0, 0, length - 1, ""),),
        slots=(alone,),
        events=moved,
        hard_moments=moments_alone(study, events, start),
    )


def moments_alone(study: Study, events: Sequence[Event], start: int) -> tuple[Moment, ...] | None:
    """The hard moments of events that follow each other, counted from a tick; None where none were measured.

    Those that lead into the first event from one that is left out are left out too.
    """
    if study.hard_moments is None:
        return None
    first = min((e.onset for e in events), default=0)
    onsets = {e.onset for e in events}
    return tuple(
        replace(m, tick=m.tick - start)
        for m in study.hard_moments
        if m.tick in onsets and not (m.tick == first and m.asks in FROM_BEFORE)
    )


def _lick(study: Study, slot: int) -> tuple[Slot, tuple[Event, ...]]:
    licks = [s.number for s in study.slots if s.kind is SlotKind.LICK and study.events_of(s.number)]
    if slot not in licks:
        there = ", ".join(map(str, licks)) or "none"
        raise ValueError(f"slot {slot} holds no lick; the slots with licks are {there}")
    return study.slots[slot], study.events_of(slot)


def _form(study: Study, start: int, end: int) -> tuple[ChordSpan, ...]:
    spans = []
    for n, span in enumerate(study.form):
        until = study.form[n + 1].onset if n + 1 < len(study.form) else max(end, span.onset + span.duration)
        a, b = max(start, span.onset), min(end, until)
        if a < b:
            spans.append(ChordSpan(a - start, b - a, span.roman))
    return tuple(spans)
