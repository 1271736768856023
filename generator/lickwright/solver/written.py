"""Written licks in the search: a saying is a mask over the lattice.

At each onset only the touches remain that sound what is written there; string, fret and finger stay free. The result is
an ordinary lattice, so that best, k best, counts and samples are what they are for every lick.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from lickwright.rulebook.rule import FORBIDDEN
from lickwright.rulebook.touches import Touch, TouchTable
from lickwright.rulebook.written import Said, WrittenLead
from lickwright.solver.lattice import Lattice
from lickwright.solver.moves import RuleGraph, graph_of
from lickwright.solver.plan.layout import LickPlan

#: Strings that a double stop may have between its two.
WIDEST_STOP = 2


def mask_graph(lead: WrittenLead, plan: LickPlan, position: int) -> RuleGraph:
    """The rule graph of a written lick's touches in one position; some dozens of nodes."""
    assert plan.mask is not None
    touches = dict.fromkeys(t for note in plan.mask for t in touches_of(lead, note, plan.tonic, position))
    return graph_of(lead, (position,), TouchTable.of(touches))


def masked(lattice: Lattice, plan: LickPlan) -> Lattice:
    """The lattice with only those touches at each onset, and ways between them, that say what is written."""
    assert plan.mask is not None
    every, ways = lattice.graph.touches, lattice.graph.edges.way
    rows = lattice.node_cost.copy()
    for row, note in zip(rows, plan.mask, strict=True):
        row[[not note.sounds_as(t, plan.tonic) for t in every]] = FORBIDDEN
    as_written = tuple(np.where(ways == note.way, 0, FORBIDDEN) for note in plan.mask[1:])
    return replace(lattice, node_cost=rows, edge_cost=as_written)


def touches_of(lead: WrittenLead, note: Said, tonic: int, position: int) -> Iterator[Touch]:
    """Every way to sound one onset of a written lick with the index finger at a fret, before rules have looked at it."""
    graced = 1 if note.grace else 0
    for string in range(1, lead.neck.strings + 1):
        for fret, finger in _frets(lead, string, note.pitch + tonic, position):
            touch = Touch(string, fret, finger, position, note.pitch + tonic, note.bend, note.kind)
            if note.mate_pitch is None:
                yield touch._replace(grace=note.grace, grace_frets=graced)
                continue
            for mated in _mated(lead, touch, note.mate_pitch + tonic):
                if not graced or mated.mate_fret > 1:
                    yield mated._replace(grace=note.grace, grace_frets=graced)


def _frets(lead: WrittenLead, string: int, pitch: int, position: int) -> Iterator[tuple[int, int]]:
    """The fret of a pitch on a string, if it lies under the hand, with each finger that may take it."""
    fret = pitch - lead.neck.pitch(string, 0)
    if fret == 0 and position <= lead.rules.lead.windows.open_strings_up_to:
        yield 0, 0
    elif max(1, position - 1) <= fret <= min(lead.neck.top_fret, position + 4):
        for finger in lead.shape.fingers(fret - position):
            yield fret, finger


def _mated(lead: WrittenLead, touch: Touch, pitch: int) -> Iterator[Touch]:
    """The touch with a lower voice of a pitch on one of the strings below."""
    lowest = min(lead.neck.strings, touch.string + WIDEST_STOP)
    for string in range(touch.string + 1, lowest + 1):
        for fret, finger in _frets(lead, string, pitch, touch.position):
            if finger != touch.finger or fret == touch.fret:
                yield touch._replace(mate_string=string, mate_fret=fret, mate_finger=finger, mate_pitch=pitch)
