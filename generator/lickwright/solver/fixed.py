"""Licks whose notes are given: the best ways to finger them, and the nearest lick that keeps the rules.

The notes fixed are one more touch rule beside those of the rule files, so the rule graph holds only touches that
sound one of them, over all positions that can reach them at once. Under *free* rules only the hand counts (its
fingers, reach and legato) and any notes can be fingered; under the rules themselves a lick is fingered so that it
keeps them, or not at all. A cheapest path is then the fingering, as in the layered graphs of S. Sayegh (Computer
Music Journal 13(3):76-84, 1989 [from memory]) and of D. Radicioni and V. Lombardo (ICMC 2005).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice

import numpy as np

from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import (
    FORBIDDEN,
    At,
    LickRule,
    MoveRule,
    OnsetRule,
    ShapeRule,
    Source,
    TimeRule,
    TouchRule,
)
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import NO_BEND, NO_GRACE, BoolArray, IntArray, Touch, TouchTable
from lickwright.solver.automaton import any_order
from lickwright.solver.enumeration import LickPath, k_best_licks
from lickwright.solver.lattice import Lattice
from lickwright.solver.licks import LickMaker, line_of_lick
from lickwright.solver.moves import RuleGraph, rule_graph
from lickwright.solver.plan.layout import LickPlan
from lickwright.study.model import ChordSpan
from lickwright.theory.rhythm import Onset

#: Points for a note changed by the nearest lick, and for each semitone (an octave at most) that it is moved.
CHANGED, SEMITONE = 400, 25
#: Where the hand may shift, a lick is fingered over as many positions as have this many of its pitches in all.
MOST_REACHED = 130
#: No note of a lick is cheaper than minus this many points.
CHEAPEST = 40
#: How many of the cheapest licks are looked at for one whose shape is right.
MOST_TRIED = 2000


@dataclass(frozen=True)
class GivenNote:
    """One onset as given. ``pitch`` is that of the fretted place, ``bend`` in quarter tones, ``kind`` and
    ``grace`` are codes of ``touches``, ``mate_pitch`` is 0 without a second voice; what is None is free.
    """

    onset: Onset
    pitch: int
    bend: int = 0
    kind: int = NO_BEND
    mate_pitch: int = 0
    grace: int = NO_GRACE
    grace_frets: int = 0
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    position: int | None = None
    mate_string: int | None = None
    mate_finger: int | None = None
    way: int | None = None

    @classmethod
    def of(cls, onset: Onset, touch: Touch, way: int | None = None, placed: bool = False) -> GivenNote:
        """What is heard of a touch; with ``placed`` its string and fret too."""
        note = cls(
            onset,
            touch.pitch,
            touch.bend,
            touch.kind,
            touch.mate_pitch,
            touch.grace,
            touch.grace_frets,
            way=way,
        )
        if placed:
            note = replace(note, string=touch.string, fret=touch.fret, mate_string=touch.mate_string or None)
        return note

    @property
    def plain(self) -> GivenNote:
        """The same note without bend, grace or second voice."""
        return replace(
            self,
            bend=0,
            kind=NO_BEND,
            mate_pitch=0,
            grace=NO_GRACE,
            grace_frets=0,
            mate_string=None,
            mate_finger=None,
        )

    def matches(self, t: TouchTable) -> BoolArray:
        """True for the touches that sound this onset as it is given."""
        good = (t.pitch == self.pitch) & (t.bend == self.bend) & (t.kind == self.kind)
        good &= (t.mate_pitch == self.mate_pitch) & (t.grace == self.grace)
        if self.grace != NO_GRACE:
            good &= t.grace_frets == self.grace_frets
        columns = (
            (self.string, t.string), (self.fret, t.fret), (self.finger, t.finger), (self.position, t.position),
            (self.mate_string, t.mate_string), (self.mate_finger, t.mate_finger),
        )  # fmt: skip
        for value, column in columns:
            if value is not None:
                good &= column == value
        return np.asarray(good)


@dataclass(frozen=True)
class Fingering:
    """Touches for the onsets in order, the ways between them (one fewer), and what it costs."""

    touches: tuple[Touch, ...]
    ways: tuple[int, ...]
    cost: int


@dataclass(frozen=True)
class _Fixed(Lead):
    """The rules, and that every touch sounds one of the given notes."""

    notes: tuple[GivenNote, ...] = ()

    @cached_property
    def touch_rules(self) -> tuple[TouchRule, ...]:
        """Those of the rule files after the notes themselves, which leave the fewest."""
        return (self._notes, *super().touch_rules)

    @property
    def _notes(self) -> TouchRule:
        notes = tuple(dict.fromkeys(replace(w, onset=Onset(0, 1), way=None) for w in self.notes))

        def sounds(t: TouchTable) -> BoolArray:
            good = np.zeros(len(t), bool)
            for note in notes:
                good |= note.matches(t)
            return good

        return TouchRule("fixed.notes", "the notes are those given", Source("the file", "notes"), sounds)


_OF_THE_HAND = frozenset({"lead.neck", "hand.fingers", "hand.double-stops"})
_OF_THE_MOVE = frozenset({"lead.legato", "lead.slides", "lead.bends.left", "hand.span"})


@dataclass(frozen=True)
class _Free(_Fixed):
    """The hand alone: which fingers reach what. ``hurried`` lets moves take more time than there is."""

    hurried: bool = False

    @cached_property
    def touch_rules(self) -> tuple[TouchRule, ...]:
        """The notes, and what the fingers can take."""
        rules = super(_Fixed, self).touch_rules
        return (self._notes, *(r for r in rules if r.name in _OF_THE_HAND))

    @cached_property
    def onset_rules(self) -> tuple[OnsetRule, ...]:
        """None: any note may stand anywhere."""
        return ()

    @cached_property
    def move_rules(self) -> tuple[MoveRule, ...]:
        """How notes are joined, and how far fingers reach."""
        return tuple(r for r in super().move_rules if r.name in _OF_THE_MOVE)

    @cached_property
    def time_rules(self) -> tuple[TimeRule, ...]:
        """The time that moves need."""
        return () if self.hurried else super().time_rules

    def slot_rules(self, seen: Sequence[At]) -> tuple[LickRule, ...]:
        """Any order of events."""
        return (any_order("fixed.free", "any line", Source("the file", "notes")),)

    @cached_property
    def shape_rules(self) -> tuple[ShapeRule, ...]:
        """Any shape."""
        return ()


class _Maker(LickMaker):
    """Lattices over several positions at once."""

    def __init__(self, lead: Lead, form: tuple[ChordSpan, ...], tempo_bpm: int, positions: tuple[int, ...]):
        super().__init__(lead, form, tempo_bpm)
        self.positions = positions

    def graph(self, position: int) -> RuleGraph:
        """The rule graph of all the positions, whichever is asked for."""
        if 0 not in self._graphs:
            self._graphs[0] = rule_graph(self.lead, self.positions)
        return self._graphs[0]


def every_position(lead: Lead) -> tuple[int, ...]:
    """Every position on the neck: 1 to the last fret."""
    return tuple(range(1, lead.neck.top_fret + 1))


def positions_for(lead: Lead, notes: Sequence[GivenNote]) -> tuple[int, ...]:
    """The positions from which the notes can be played: all of them at once where the rules keep the hand still.

    Where it may shift, those that reach the most pitches (``MOST_REACHED``), and one at least for each note.
    """
    windows = lead.rules.lead.windows
    reach = [_reached_from(lead, w, windows.open_strings_up_to) for w in notes]
    if not windows.shift_inside:
        return tuple(sorted(frozenset(every_position(lead)).intersection(*reach)))
    pitches = dict(zip(((w.pitch, w.string, w.fret) for w in notes), reach, strict=True))
    count = {
        position: sum(position in here for here in pitches.values()) for position in every_position(lead)
    }
    ranked = sorted(count, key=lambda position: (-count[position], position))
    totals = np.cumsum([count[position] for position in ranked])
    chosen = [
        position
        for position, total in zip(ranked, totals, strict=True)
        if total <= MOST_REACHED and count[position]
    ]
    for here in reach:
        if not here.intersection(chosen):
            chosen += [position for position in ranked if position in here][:1]
    return tuple(sorted(chosen))


def _reached_from(lead: Lead, note: GivenNote, open_up_to: int) -> frozenset[int]:
    neck = lead.neck
    if note.position is not None:
        return frozenset({note.position})
    known = note.string is not None and note.fret is not None
    places = ((note.string, note.fret),) if known else neck.places(note.pitch)
    positions: set[int] = set()
    for _, fret in places:
        assert fret is not None
        positions |= set(range(1, open_up_to + 1)) if fret == 0 else set(range(max(1, fret - 4), fret + 2))
    return frozenset(position for position in positions if position <= neck.top_fret)


def _only(rules: RuleFile, notes: Sequence[GivenNote]) -> RuleFile:
    """The rules without bends, graces and double stops that none of the notes has: no touch of those is made."""
    lead = rules.lead
    sizes = {w.bend for w in notes}
    graced = any(w.grace != NO_GRACE for w in notes)
    apart = {w.pitch - w.mate_pitch for w in notes if w.mate_pitch}
    bends = lead.bends.model_copy(update={"sizes": [s for s in lead.bends.sizes if BEND_SIZES[s] in sizes]})
    techniques = lead.techniques.model_copy(
        update={
            "double_stop_intervals": [i for i in lead.techniques.double_stop_intervals if i in apart],
            "graces": lead.techniques.graces if graced else [],
        }
    )
    update = {"bends": bends, "techniques": techniques}
    return rules.model_copy(update={"lead": lead.model_copy(update=update)})


def _freed(rules: RuleFile) -> RuleFile:
    """Rules whose touches are any that a hand can make: all degrees, bends, intervals and graces."""
    from lickwright.theory.harmony import DEGREES

    lead = rules.lead
    palette = {name: {**dict.fromkeys(DEGREES, 0), **costs} for name, costs in lead.palette.items()}
    bends = lead.bends.model_copy(
        update={"sizes": ["quarter", "half", "whole"], "kinds": ["bend", "bend-release", "pre-bend-release"]}
    )
    graces = [f"{degree} over {name}" for name in lead.palette for degree in DEGREES]
    techniques = lead.techniques.model_copy(
        update={
            "double_stop_intervals": list(range(3, 10)),
            "graces": graces,
            "legato_frets": 5,
            "slide_frets": 5,
        }
    )
    windows = lead.windows.model_copy(update={"shift_inside": True, "open_strings_up_to": 4})
    update = {"palette": palette, "bends": bends, "techniques": techniques, "windows": windows}
    return rules.model_copy(update={"lead": lead.model_copy(update=update)})


def plan_of(onsets: Sequence[Onset], role: str, figure_notes: int = 0) -> LickPlan:
    """A plan for onsets that are given."""
    return LickPlan(0, 0, "", role, "", "", tuple(onsets), figure_notes, (0,))


def fingerings(
    lead: Lead,
    notes: Sequence[GivenNote],
    form: tuple[ChordSpan, ...],
    tempo_bpm: int,
    role: str = "answer",
    *,
    free: bool = False,
    hurried: bool = False,
) -> Iterator[Fingering]:
    """Fingerings of given notes, the best first, as many as are asked for.

    Without ``free`` only those that keep all rules of a lick but those for its line's shape. None when there is
    none. The cost is that of the rule files' preferences for the whole lick. O(touches of the notes squared) for
    the graph.
    """
    if not notes:
        return
    lattice, plan = _lattice(lead, notes, form, tempo_bpm, role, free, hurried)
    for path in islice(k_best_licks(lattice, fingerings=True), None if free else MOST_TRIED):
        fingering = _fingering(lattice, path)
        line = line_of_lick(plan, fingering.touches)
        if free or all(rule.allows(line) for rule in lead.shape_rules if rule.name.startswith("hand.")):
            yield fingering


def _lattice(
    lead: Lead,
    notes: Sequence[GivenNote],
    form: tuple[ChordSpan, ...],
    tempo_bpm: int,
    role: str,
    free: bool,
    hurried: bool,
) -> tuple[Lattice, LickPlan]:
    rules = _only(_freed(lead.rules) if free else lead.rules, notes)
    if free:
        fixed: Lead = _Free(rules, lead.book, lead.key, lead.neck, tuple(notes), hurried)
    else:
        fixed = _Fixed(rules, lead.book, lead.key, lead.neck, tuple(notes))
    plan = plan_of([w.onset for w in notes], role)
    maker = _Maker(fixed, form, tempo_bpm, positions_for(fixed, notes))
    lattice = maker.lattice(plan, 0)
    table, ways = lattice.graph.table, lattice.graph.edges.way
    rows = lattice.node_cost.copy()
    for row, note in zip(rows, notes, strict=True):
        row[~note.matches(table)] = FORBIDDEN
    edges = [None if w.way is None else np.where(ways == w.way, 0, FORBIDDEN) for w in notes[1:]]
    return replace(lattice, node_cost=rows, edge_cost=tuple(edges)), plan


def _fingering(lattice: Lattice, path: LickPath) -> Fingering:
    every, ways = lattice.graph.touches, lattice.graph.edges.way
    return Fingering(
        tuple(every[n] for n in path.nodes), tuple(int(ways[e]) for e in path.edges), int(path.cost)
    )


@dataclass(frozen=True)
class Nearest:
    """The nearest lick that keeps the rules, and which of the onsets (from 0) sound otherwise than given."""

    fingering: Fingering
    changed: tuple[int, ...]


def nearest(
    lead: Lead, notes: Sequence[GivenNote], form: tuple[ChordSpan, ...], tempo_bpm: int, role: str = "answer"
) -> Nearest | None:
    """The lick in this rhythm that keeps every rule and changes the fewest notes, then by the least.

    A note counts as changed when another pitch is heard; ornaments and fingering are free. None when no lick in
    this rhythm keeps the rules in any position. One lattice a position: O(positions x sweep).
    """
    if not notes:
        return None
    plan = plan_of([w.onset for w in notes], role)
    maker = LickMaker(lead, form, tempo_bpm)
    heard = np.array([w.pitch + w.bend // 2 for w in notes])
    best: Nearest | None = None
    for missing, position in sorted(
        (_out_of_reach(lead, position, heard), position) for position in every_position(lead)
    ):
        if best is not None and CHANGED * missing - CHEAPEST * len(notes) >= best.fingering.cost:
            break
        best = _better(best, _nearest_at(lead, maker, plan, position, notes, heard, best))
    return best


def _out_of_reach(lead: Lead, position: int, heard: IntArray) -> int:
    """How many of the pitches no string gives near a position, a whole step of bending counted in."""
    lowest = np.array([lead.neck.pitch(s, 0) for s in range(1, lead.neck.strings + 1)])
    frets = heard[:, None] - lowest[None, :]
    near = (frets >= position - 1) & (frets <= position + 6)
    return int((~(near | (frets == 0)).any(axis=1)).sum())


def _better(a: Nearest | None, b: Nearest | None) -> Nearest | None:
    if a is None or b is None:
        return a or b
    return min(a, b, key=lambda x: x.fingering.cost)


def _nearest_at(
    lead: Lead,
    maker: LickMaker,
    plan: LickPlan,
    position: int,
    notes: Sequence[GivenNote],
    heard: IntArray,
    best: Nearest | None,
) -> Nearest | None:
    graph = maker.graph(position)
    table = graph.table
    if not len(table) or (len(notes) > 1 and not len(graph.edges.source)):
        return None
    lattice = maker.lattice(plan, position)
    off = np.minimum(np.abs(table.enter[None, :] - heard[:, None]), 12)
    rows = np.minimum(lattice.node_cost + CHANGED * (off > 0) + SEMITONE * off, FORBIDDEN)
    lattice = replace(lattice, node_cost=rows)
    for path in islice(k_best_licks(lattice), MOST_TRIED):
        if best is not None and path.cost >= best.fingering.cost:
            return None
        fingering = _fingering(lattice, path)
        if all(rule.allows(line_of_lick(plan, fingering.touches)) for rule in lead.shape_rules):
            sounded = [t.pitch + t.bend // 2 for t in fingering.touches]
            return Nearest(fingering, tuple(i for i, p in enumerate(sounded) if p != heard[i]))
    return None
