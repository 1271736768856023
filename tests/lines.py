"""Studies of one line each, made at once: for the tests of what looks at a lick's melody and nothing else."""

from __future__ import annotations

import random
from dataclasses import replace

from lickwright.study.figures import Avoid
from lickwright.study.model import Brief, Event, Note, SlotKind, Study

from tests.studies import tour


def with_line(pitches: list[int], onsets: list[int], slots: int = 1) -> Study:
    """A study whose one lick (or several alike) is the line; frets are of no account."""
    base = tour()
    lick = next(s for s in base.slots if s.kind is SlotKind.LICK)
    events = [
        Event(f"e{slot}.{k}", slot, onset + 400 * slot, 1, (Note(1, 5, 1, pitch, "1"),), "I7", 5)
        for slot in range(slots)
        for k, (pitch, onset) in enumerate(zip(pitches, onsets, strict=True))
    ]
    lick = replace(lick, figure_notes=min(lick.figure_notes, len(pitches)))
    return replace(base, events=tuple(events), slots=tuple(replace(lick, number=n) for n in range(slots)))


def drawn(brief: Brief, avoid: Avoid | None = None) -> Study:
    """In place of ``compose.write``: a line drawn by the brief's seed, without the figures to be avoided."""
    rng = random.Random(brief.seed)
    while True:
        pitches = [rng.randrange(55, 70) for _ in range(9)]
        onsets = [sum(gaps) for gaps in _beginnings([rng.choice((2, 4, 8)) for _ in range(9)])]
        if avoid is None or avoid.allows(pitches, onsets):
            break
    title = brief.title or "A line"
    return replace(with_line(pitches, onsets), brief=brief, number=brief.number, title=title, key=brief.key)


def _beginnings(gaps: list[int]) -> list[list[int]]:
    return [gaps[:k] for k in range(len(gaps))]
