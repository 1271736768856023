"""A lick's touches and times as the line that the shape rules judge; solver and judge both make it here."""

from __future__ import annotations

from collections.abc import Sequence

from lickwright.rulebook.rule import Line
from lickwright.rulebook.touches import NO_GRACE, Touch


def line_of_touches(
    touches: Sequence[Touch], ticks: Sequence[int], durations: Sequence[int], figure_notes: int, leads: bool
) -> Line:
    """The line of a lick: ``ticks`` and ``durations`` have an item for each touch; the rest is as in ``Line``."""
    return Line(
        tuple(t.pitch + t.bend // 2 for t in touches),
        tuple(ticks),
        tuple(durations),
        tuple(t.bend > 0 or t.mate_string > 0 or t.grace != NO_GRACE for t in touches),
        figure_notes,
        leads,
        sum(t.mate_string > 0 for t in touches),
        tuple((t.string, t.fret, t.finger) for t in touches),
    )
