"""What a stretch of a study asks of the hands, measured, and summed to a difficulty from 1 to 10.

difficulty = 1 + note_per_s * rate + n_mm_per_s * bend work + mm_beyond_rest * reach + shift_m_per_s * shift
+ string_crossed * crossings + grip_point * grips, at most 10, with the weights of ``[effort]``. The sum
grows with each measure, and none of them with the length of the study.

Conventions: mm, N mm, seconds; frets and fingers as in ``study``. A stretch includes the move into it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from generator.fingering import grip_cost
from generator.hand import (
    reach_beyond_rest_mm,
    shift_mm,
    shift_speed_mm_s,
    string_crossings,
)
from generator.rhythm import TICKS_PER_BEAT, seconds
from generator.rulebook.lead import Lead
from generator.rulebook.places import free_ticks
from generator.strings import bend_tables
from generator.study import Event, Note, SlotKind, Study, Technique

EASIEST, HARDEST = 1.0, 10.0


@dataclass(frozen=True)
class Effort:
    """The measures of a stretch.

    ``rate_per_s`` notes a second in its busiest beat; ``bend_work_nmm`` of all its bends, and for each second
    of the stretch ``bend_work_nmm_s``; ``reach_mm`` beyond the hand at rest, mean over its moves, and
    ``most_reach_mm``; ``shift_mm_s`` the fastest shift, whose way is ``shift_mm``; ``crossings`` strings from
    one lick note to the next, mean; ``grip_points`` the mean cost of its grips.
    """

    rate_per_s: float
    bend_work_nmm: float
    bend_work_nmm_s: float
    reach_mm: float
    most_reach_mm: float
    shift_mm: float
    shift_mm_s: float
    crossings: float
    grip_points: float


def melody(event: Event) -> Note:
    """An event's highest string."""
    return min(event.notes, key=lambda n: n.string)


def same_lick(study: Study, a: Event, b: Event) -> bool:
    """True when two neighbouring events belong to one lick."""
    return a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK


def seconds_to_move(study: Study, a: Event, b: Event) -> float:
    """The time the hand has for its way from one event to the next."""
    if same_lick(study, a, b):
        return seconds(b.onset - a.onset, study.tempo_bpm)
    return seconds(free_ticks(a.onset, a.duration, b.onset), study.tempo_bpm)


def way(study: Study, a: Event, b: Event) -> tuple[int, int]:
    """The frets between which the hand, or in a lick one finger by itself, goes from one event to the next."""
    x, y = melody(a), melody(b)
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
        pairs.append((melody(before), melody(event)))
    for a, b in pairs:
        yield float(reach_beyond_rest_mm(lead.hand, lead.neck, a.finger, a.fret, b.finger, b.fret))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values) if values else 0.0


def effort(study: Study, lead: Lead, slot: int | None = None) -> Effort:
    """The measures of one slot, or of the whole study."""
    events = [e for e in study.events if slot is None or e.slot == slot]
    if not events:
        return Effort(*(0.0,) * 9)
    start = study.events.index(events[0])
    moves = list(pairwise(study.events[max(0, start - 1) : start + len(events)]))
    into = {b.id: a for a, b in moves}
    span_s = seconds(max(events[-1].end - events[0].onset, TICKS_PER_BEAT), study.tempo_bpm)
    work = sum(bend_work_nmm(lead, e) for e in events)
    reach = [max(reaches_mm(study, lead, into.get(e.id), e), default=0.0) for e in events]
    crossed = [
        float(string_crossings(melody(a).string, melody(b).string))
        for a, b in moves
        if same_lick(study, a, b)
    ]
    grips = [
        float(grip_cost(lead.hand, lead.neck, [(n.string, n.fret, n.finger) for n in e.notes]))
        for e in events
        if len(e.notes) > 1
    ]
    return Effort(
        rate_per_s=max(Counter(e.onset // TICKS_PER_BEAT for e in events).values())
        / seconds(TICKS_PER_BEAT, study.tempo_bpm),
        bend_work_nmm=work,
        bend_work_nmm_s=work / span_s,
        reach_mm=_mean(reach),
        most_reach_mm=max(reach),
        shift_mm=max((float(shift_mm(lead.neck, *way(study, a, b))) for a, b in moves), default=0.0),
        shift_mm_s=max((_speed(study, lead, a, b) for a, b in moves), default=0.0),
        crossings=_mean(crossed),
        grip_points=_mean(grips),
    )


def _speed(study: Study, lead: Lead, a: Event, b: Event) -> float:
    return float(shift_speed_mm_s(lead.hand, lead.neck, *way(study, a, b), seconds_to_move(study, a, b)))


def difficulty(measured: Effort, lead: Lead) -> float:
    """The difficulty from 1 to 10; see the module for the formula."""
    weights = lead.rules.effort
    total = EASIEST + (
        weights.note_per_s * measured.rate_per_s
        + weights.n_mm_per_s * measured.bend_work_nmm_s
        + weights.mm_beyond_rest * measured.reach_mm
        + weights.shift_m_per_s * measured.shift_mm_s / 1000
        + weights.string_crossed * measured.crossings
        + weights.grip_point * measured.grip_points
    )
    return min(total, HARDEST)
