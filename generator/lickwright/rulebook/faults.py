"""Where a study breaks the rules that look at it from its first event to its last: a finder for each rule."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from lickwright.guitar.strings import bend_tables, stops
from lickwright.rulebook.effort import difficulty, effort, measurable, seconds_to_move
from lickwright.rulebook.lead import Lead
from lickwright.study.model import Event, Note, SlotKind, Study
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BEAT, seconds


@dataclass(frozen=True)
class Fault:
    """Where a study breaks a rule: tick, string and fret when it is a note's, and by how much."""

    tick: int | None = None
    amount: str = ""
    string: int | None = None
    fret: int | None = None


def out_of_order(study: Study) -> Iterator[Fault]:
    """Events that begin before the last one has ended, or run on after the last bar."""
    end = 0
    for event in study.events:
        if event.onset < end or event.duration <= 0:
            yield Fault(event.onset, "begins before the last one has ended")
        end = event.end
    if end > study.ticks:
        yield Fault(study.ticks, "runs on after the last bar")


def wrong_pitches(study: Study) -> Iterator[Fault]:
    """Notes off the neck, or of another pitch than their place gives."""
    for event, note in study.notes():
        if not (1 <= note.string <= study.neck.strings and 0 <= note.fret <= study.neck.top_fret):
            yield Fault(event.onset, "off the neck", note.string, note.fret)
        elif note.pitch != study.neck.pitch(note.string, note.fret):
            expected = study.neck.pitch(note.string, note.fret)
            yield Fault(
                event.onset, f"pitch {note.pitch}, the place gives {expected}", note.string, note.fret
            )


def outside(value: int, least: int, most: int) -> Iterator[Fault]:
    """A value that is less than ``least`` or more than ``most``."""
    if not least <= value <= most:
        yield Fault(None, f"{value}")


def too_many_positions(study: Study, most: int) -> Iterator[Fault]:
    """More positions in the licks than ``most``."""
    used = {e.hand for e in study.events if study.slots[e.slot].kind is SlotKind.LICK}
    if len(used) > most:
        yield Fault(None, f"{len(used)}: frets {', '.join(map(str, sorted(used)))}")


def too_many_bends(study: Study, most: int) -> Iterator[Fault]:
    """More bends of a half step or more than ``most``."""
    bent = [e for e, n in study.notes() if n.bend and n.bend.size >= 2]
    if len(bent) > most:
        yield Fault(bent[most].onset, f"{len(bent)} bends, limit {most}")


def too_few_bends(study: Study, lead: Lead) -> Iterator[Fault]:
    """Fewer bends than asked for, where a lick lies in a position that allows one."""
    bends = lead.rules.lead.bends
    least = min(bends.least_per_study, bends.most_per_study)
    bent = sum(n.bend is not None for _, n in study.notes())
    positions = {e.hand for e in study.events if study.slots[e.slot].kind is SlotKind.LICK}
    if bent < least and positions & lead.bending_positions:
        yield Fault(None, f"{bent}")


def too_many_graces(study: Study, most: int) -> Iterator[Fault]:
    """More grace notes in the licks than ``most``."""
    graced = [e for e, n in study.notes() if n.grace and study.slots[e.slot].kind is SlotKind.LICK]
    if len(graced) > most:
        yield Fault(graced[most].onset, f"{len(graced)} grace notes, limit {most}")


def too_fast(study: Study, per_second: float) -> Iterator[Fault]:
    """Beats of a lick with more notes than two, or than so many a second allow."""
    most = max(2, round(per_second * seconds(TICKS_PER_BEAT, study.tempo_bpm)))
    counts: dict[tuple[int, int], int] = {}
    for event in study.events:
        if study.slots[event.slot].kind is SlotKind.LICK:
            at = (event.slot, event.onset // TICKS_PER_BEAT)
            counts[at] = counts.get(at, 0) + 1
    for (_, beat), count in counts.items():
        if count > most:
            yield Fault(beat * TICKS_PER_BEAT, f"{count} notes in a beat, limit {most}")


def wrong_difficulty(study: Study, lead: Lead) -> Iterator[Fault]:
    """A difficulty outside what the level asks."""
    if not measurable(study):
        return
    value = difficulty(effort(study, lead), lead)
    least, most = lead.rules.level.difficulty
    if not least <= value <= most:
        yield Fault(None, f"{value:.1f}")


def no_time_between(study: Study, lead: Lead) -> Iterator[Fault]:
    """Events, other than in a lick, that the hand cannot get to in time."""
    for a, b in zip(study.events, study.events[1:], strict=False):
        if a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK:
            continue
        needs = float(lead.shift_s(a.hand, b.hand))
        free = seconds_to_move(study, a, b)
        if needs > free + 1e-9:
            yield Fault(b.onset, f"fret {a.hand} to {b.hand} takes {needs:.2f} s, there are {free:.2f} s")


def strummed_too_fast(study: Study, per_second: float) -> Iterator[Fault]:
    """Strokes of comping that follow each other faster than so many a second."""
    for a, b in pairwise(study.events):
        if a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK:
            continue
        rate = 1 / seconds(max(b.onset - a.onset, 1), study.tempo_bpm)
        if rate > per_second + 1e-9:
            yield Fault(b.onset, f"{rate:.1f} a second, limit {per_second:g}")


def run_into(study: Study, lead: Lead) -> Iterator[Fault]:
    """A string that stops sounding because a bent one is pushed against it, in one event or from one that rings."""
    if not measurable(study):
        return
    tables = bend_tables(lead.neck, lead.strings)

    def held(note: Note) -> tuple[int, int, float]:
        size = note.bend.size if note.bend else 0
        return note.string, note.fret, float(tables.distance_mm[note.string, note.fret, size])

    before: Event | None = None
    for event in study.events:
        ringing = before.notes if before is not None and before.end + before.ring > event.onset else ()
        for bent in (n for n in event.notes if n.bend):
            for other in (*event.notes, *ringing):
                if other.string != bent.string and stops(lead.neck, held(bent), held(other)):
                    yield Fault(event.onset, f"string {other.string} is run into", bent.string, bent.fret)
        before = event


def _melody(events: Sequence[Event]) -> list[int]:
    upper = (e.melody for e in events)
    return [n.pitch + (n.bend.size // 2 if n.bend else 0) for n in upper]


def strayed_quotes(study: Study, band: int, written: Container[str] = ()) -> Iterator[Fault]:
    """Figures that stray further than ``band`` semitones from the one they take up; not those that are ``written``."""
    for slot in study.slots:
        if slot.quotes is None or (slot.cells and slot.cells[0] in written):
            continue
        mine = _melody(study.events_of(slot.number)[: slot.figure_notes])
        model = _melody(study.events_of(slot.quotes)[: slot.figure_notes])
        off = min(
            max((abs(a - b - shift) for a, b in zip(mine, model, strict=False)), default=0)
            for shift in range(-12, 13)
        )
        if off > band or len(mine) != len(model):
            yield Fault(slot.start, f"up to {off} semitones away")


def too_often(study: Study, most: int) -> Iterator[Fault]:
    """Answers that come more often than ``most`` times."""
    seen: dict[str, int] = {}
    for slot in study.slots:
        if (
            slot.kind is SlotKind.COMP
            and slot.cells
            and len(slot.cells[0]) * GRIDS[study.grid] > TICKS_PER_BEAT
        ):
            seen[slot.cells[0]] = seen.get(slot.cells[0], 0) + 1
            if seen[slot.cells[0]] > most:
                yield Fault(slot.start, f"{slot.cells[0]!r} for the {seen[slot.cells[0]]}. time")
