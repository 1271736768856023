"""What can be measured in the answers of a passage. A value is None where there is nothing to measure."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from lickwright.judge.measure_lead import mean
from lickwright.judge.passage import Answer, Lick, Passage
from lickwright.study.model import Event
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT


def hits(passage: Passage) -> float | None:
    """How often an answer strikes."""
    return mean(len(answer.hits) for answer in passage.answers)


def hits_off_the_beat(passage: Passage) -> float | None:
    """The share of strokes that fall between the beats."""
    return mean(h.onset % TICKS_PER_BEAT > 0 for answer in passage.answers for h in answer.hits)


def comping_room(passage: Passage) -> float | None:
    """The share of an answer's time in which nothing is held down."""
    found = []
    for answer in passage.answers:
        start, end = answer.slot.start, answer.slot.end
        held = sum(max(0, min(h.end, end) - max(h.onset, start)) for h in answer.hits)
        found.append(max(0.0, 1 - held / max(1, end - start)))
    return mean(found)


def strings_a_grip(passage: Passage) -> float | None:
    """How many strings a grip sounds."""
    return mean(len(_held(grip)) for grip in _grips(passage))


def different_grips(passage: Passage) -> float | None:
    """How many different grips there are, a shape at a place counting once."""
    return len({tuple(sorted(_held(grip).items())) for grip in _grips(passage)}) or None


def moved_strings(passage: Passage) -> float | None:
    """How many strings change between one grip and the next that differs."""
    found = []
    for a, b in pairwise(map(_held, _grips(passage))):
        if a != b:
            found.append(sum(a.get(s) != b.get(s) for s in a.keys() | b.keys()))
    return mean(found)


def hand_moves(passage: Passage) -> float | None:
    """How many frets the hand goes from a lick to the answer's first grip."""
    return mean(
        abs(answer.grips[0].hand - lick.landing.event.hand)
        for lick, answer in _exchanges(passage)
        if answer.grips
    )


def shared_places(passage: Passage) -> float | None:
    """The share of an answer's strokes that stand where the lick before has a note, counted in the bar."""
    found = []
    for lick, answer in _exchanges(passage):
        places = {n.onset % TICKS_PER_BAR for n in lick.notes}
        found.append(mean(h.onset % TICKS_PER_BAR in places for h in answer.hits))
    return mean(found)


def riff(passage: Passage) -> float | None:
    """How far two answers strike together where both have time in their bars: the mean over all pairs."""
    struck = [_struck(answer) for answer in passage.answers]
    found = []
    for a, b in combinations(struck, 2):
        common = a.keys() & b.keys()
        hits = [(a[t], b[t]) for t in common if a[t] or b[t]]
        if hits:
            found.append(mean(x and y for x, y in hits))
    return mean(found)


def _struck(answer: Answer) -> dict[int, bool]:
    """Each tick of the bar that the answer has, once, and whether it is struck there."""
    hits = {hit.onset for hit in answer.hits}
    ticks = range(answer.slot.start, min(answer.slot.end, answer.slot.start + TICKS_PER_BAR))
    return {tick % TICKS_PER_BAR: tick in hits for tick in ticks}


def breath(passage: Passage) -> float | None:
    """How many beats lie between the end of a lick's last note and the answer's first stroke."""
    return mean(
        max(0, answer.hits[0].onset - lick.landing.end) / TICKS_PER_BEAT
        for lick, answer in _exchanges(passage)
    )


def silence(passage: Passage) -> float | None:
    """The share of the study in which nothing sounds."""
    study = passage.study
    sounding = sum(min(e.end + e.ring, study.ticks) - e.onset for e in study.events)
    for a, b in pairwise(study.events):
        sounding -= max(0, a.end + a.ring - b.onset)
    return 1 - sounding / study.ticks


def _grips(passage: Passage) -> list[Event]:
    return [grip for answer in passage.answers for grip in answer.grips]


def _held(event: Event) -> dict[int, int]:
    return {note.string: note.fret for note in event.notes if not note.muted}


def _exchanges(passage: Passage) -> Iterator[tuple[Lick, Answer]]:
    """Each lick with the answer that follows it, where one does before the next lick."""
    for n, lick in enumerate(passage.licks):
        until = passage.licks[n + 1].slot.start if n + 1 < len(passage.licks) else passage.study.ticks
        after = [a for a in passage.answers if lick.slot.start < a.slot.start < until and len(a.hits) > 1]
        if after:
            yield lick, after[0]
