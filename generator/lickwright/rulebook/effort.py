"""What a stretch of a study asks of the hands, measured, and summed to a difficulty from 1 to 10.

difficulty = 1 + sum of points * max(0, measure - free), at most 10, over the measures of ``Effort`` that
``[effort]`` names, each with its ``points`` for a unit and the amount that is ``free``. The sum grows with
each measure, and none of them grows with the length of the study.

Conventions: mm, N mm, seconds; frets and fingers as in ``study``. A stretch includes the move into it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby, pairwise

from lickwright.guitar.fingering import grip_cost
from lickwright.guitar.hand import reach_beyond_rest_mm, shift_speed_mm_s, string_crossings
from lickwright.guitar.strings import LARGEST_BEND, bend_tables
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.places import free_ticks
from lickwright.study.model import Event, SlotKind, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BEAT, seconds

EASIEST, HARDEST = 1.0, 10.0
RUN = 3


@dataclass(frozen=True)
class Effort:
    """The measures of a stretch.

    ``notes_per_s`` over the fastest four lick notes running, ``strokes_per_s`` the same of comping;
    ``bend_work_nmm`` of all its bends, and for each second of the stretch ``bend_work_nmm_s``; ``reach_mm``
    beyond the hand at rest, mean over its moves; ``shift_mm_s`` the fastest shift;
    ``crossings`` strings from one lick note to the next, mean; ``grip_points`` the mean cost of its grips.
    """

    notes_per_s: float = 0.0
    strokes_per_s: float = 0.0
    bend_work_nmm: float = 0.0
    bend_work_nmm_s: float = 0.0
    reach_mm: float = 0.0
    shift_mm_s: float = 0.0
    crossings: float = 0.0
    grip_points: float = 0.0


def same_lick(study: Study, a: Event, b: Event) -> bool:
    """True when two neighbouring events belong to one lick."""
    return a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK


def seconds_to_move(study: Study, a: Event, b: Event) -> float:
    """The time the hand has for its way from one event to the next; a slide sounds on its way."""
    if same_lick(study, a, b) or all(n.technique is Technique.SLIDE for n in b.notes):
        return seconds(b.onset - a.onset, study.tempo_bpm)
    return seconds(free_ticks(a.onset, a.duration, b.onset), study.tempo_bpm)


def way(study: Study, a: Event, b: Event) -> tuple[int, int]:
    """The frets between which the hand, or in a lick one finger by itself, goes from one event to the next."""
    x, y = a.melody, b.melody
    hops = same_lick(study, a, b) and x.finger == y.finger and x.finger > 0 and a.hand == b.hand
    return (x.fret, y.fret) if hops and y.technique is not Technique.SLIDE else (a.hand, b.hand)


def bend_work_nmm(lead: Lead, event: Event) -> float:
    """The work of an event's bends on their strings."""
    table = bend_tables(lead.neck, lead.strings).work_nmm
    return float(sum(table[n.string, n.fret, n.bend.size] for n in event.notes if n.bend and not n.tied))


def reaches_mm(study: Study, lead: Lead, before: Event | None, event: Event) -> Iterator[float]:
    """How far fingers spread beyond rest within an event, and in a lick from the note before it."""
    pairs = list(combinations(event.notes, 2))
    if before is not None and same_lick(study, before, event) and before.hand == event.hand:
        pairs.append((before.melody, event.melody))
    for a, b in pairs:
        yield float(reach_beyond_rest_mm(lead.hand, lead.neck, a.finger, a.fret, b.finger, b.fret))


def measurable(study: Study) -> bool:
    """True when every note and position lies on the neck, so that there is something to measure."""
    top, strings = study.neck.top_fret, study.neck.strings
    return all(
        e.notes and 0 <= e.hand <= top and 0 <= e.slot < len(study.slots) for e in study.events
    ) and all(
        1 <= n.string <= strings
        and 0 <= n.fret <= top
        and 0 <= n.finger <= 4
        and (n.bend is None or 0 < n.bend.size <= LARGEST_BEND)
        for _, n in study.notes()
    )


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0


def effort(study: Study, lead: Lead, slot: int | None = None) -> Effort:
    """The measures of one slot, or of the whole study."""
    events = [e for e in study.events if slot is None or e.slot == slot]
    if not events:
        return Effort()
    start = study.events.index(events[0])
    moves = list(pairwise(study.events[max(0, start - 1) : start + len(events)]))
    into = {b.id: a for a, b in moves}
    span_s = seconds(max(events[-1].end - events[0].onset, TICKS_PER_BEAT), study.tempo_bpm)
    work = sum(bend_work_nmm(lead, e) for e in events)
    reach = [max(reaches_mm(study, lead, into.get(e.id), e), default=0.0) for e in events]
    crossed = [
        float(string_crossings(a.melody.string, b.melody.string)) for a, b in moves if same_lick(study, a, b)
    ]
    grips = [
        float(grip_cost(lead.hand, lead.neck, [(n.string, n.fret, n.finger) for n in e.notes]))
        for e in events
        if len(e.notes) > 1
    ]
    return Effort(
        notes_per_s=max((_rate(study, s) for s in _runs(study, events, SlotKind.LICK)), default=0.0),
        strokes_per_s=max((_rate(study, s) for s in _runs(study, events, SlotKind.COMP)), default=0.0),
        bend_work_nmm=work,
        bend_work_nmm_s=work / span_s,
        reach_mm=_mean(reach),
        shift_mm_s=max((_speed(study, lead, a, b) for a, b in moves), default=0.0),
        crossings=_mean(crossed),
        grip_points=_mean(grips),
    )


def _runs(study: Study, events: Sequence[Event], kind: SlotKind) -> Iterator[list[Event]]:
    """The events of each slot of a kind."""
    for slot, run in groupby(events, key=lambda e: e.slot):
        if study.slots[slot].kind is kind:
            yield list(run)


def _rate(study: Study, run: Sequence[Event]) -> float:
    """Onsets a second over the fastest ``RUN`` intervals in a row; 0 for a single onset."""
    steps = min(RUN, len(run) - 1)
    if steps < 1:
        return 0.0
    ticks = min(b.onset - a.onset for a, b in zip(run, run[steps:], strict=False))
    return steps / seconds(ticks, study.tempo_bpm)


def _speed(study: Study, lead: Lead, a: Event, b: Event) -> float:
    return float(shift_speed_mm_s(lead.hand, lead.neck, *way(study, a, b), seconds_to_move(study, a, b)))


def difficulty(measured: Effort, lead: Lead) -> float:
    """The difficulty from 1 to 10; see the module for the formula."""
    total = EASIEST
    for name, weight in lead.rules.effort:
        total += weight.points * max(0.0, getattr(measured, name) - weight.free)
    return float(min(total, HARDEST))
