"""The rules of a lick's line: its leaps, the order of its events, what its chords ask for, its finished shape."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np

from lickwright.rulebook import automata
from lickwright.rulebook.context import Context
from lickwright.rulebook.degrees import root_numeral
from lickwright.rulebook.rule import At, LickRule, Line, MoveRule, ShapeRule
from lickwright.rulebook.schema.rule_file import Degree, moves_of
from lickwright.rulebook.touches import IntArray, TouchTable
from lickwright.study.figures import Avoid
from lickwright.theory.harmony import semitones


def move_rules(context: Context) -> tuple[MoveRule, ...]:
    """How far the melody goes from one note to the next."""
    shape = context.rules.lead.shape
    return (
        MoveRule(
            "lead.unison",
            "no pitch is struck again on another string, unless one of the two is bent",
            context.source("lead", "shape"),
            lambda a, b, how: (a.leave != b.enter) | (a.string == b.string) | (a.bend + b.bend > 0),
        ),
        MoveRule(
            "lead.leap",
            f"no leap is wider than {shape.most_leap} semitones",
            context.source("lead", "shape", "most_leap"),
            lambda a, b, how: np.abs(b.enter - a.leave) <= shape.most_leap,
        ),
    )


def lick_rules(context: Context) -> tuple[LickRule, ...]:
    """Rules for the order of events in a lick, as automata."""
    shape, bends = context.rules.lead.shape, context.rules.lead.bends

    def interval(a: TouchTable, b: TouchTable, how: IntArray) -> IntArray:
        return np.asarray(np.clip(b.enter - a.leave, -automata.LEAP, automata.LEAP) + automata.LEAP)

    return (
        LickRule(
            "lead.line",
            f"no more than {shape.most_run} steps in one direction, a pitch at most {shape.most_repeats} "
            f"times running, a leap is answered{'' if shape.trills else ', no trill'}",
            context.source("lead", "shape"),
            automata.line(shape, context.rules.lead.melody),
            lambda t: np.full(len(t), automata.FIRST),
            interval,
        ),
        LickRule(
            "lead.bends.count",
            f"at most {bends.most_per_lick} bends of a half step or more in a lick",
            context.source("lead", "bends", "most_per_lick"),
            automata.at_most(bends.most_per_lick, 2, {1}),
            lambda t: t.bent.astype(np.int64),
            lambda a, b, how: b.bent.astype(np.int64),
        ),
    )


def sounded_rules(context: Context) -> dict[str, LickRule]:
    """What a lick over a chord is asked to sound, by the chord's root."""
    return {root: _sounds(context, root, degrees) for root, degrees in context.rules.lead.sounded.items()}


def roots_under(context: Context, seen: Sequence[At]) -> set[str]:
    """The roots of the chords that a lick is over."""
    over = Counter(root_numeral(at.chord.roman) for at in seen)
    return {root for root, count in over.items() if count >= context.rules.lead.sounded_notes}


def _sounds(context: Context, root: str, named: Sequence[Degree]) -> LickRule:
    degrees = tuple(semitones(d) for d in named)

    def heard(t: TouchTable) -> IntArray:
        mine = np.isin((t.enter - context.key.pitch_class) % 12, degrees)
        mates = t.double & np.isin((t.mate_pitch - context.key.pitch_class) % 12, degrees)
        return (mine | mates).astype(np.int64)

    return LickRule(
        f"lead.sounded.{root}",
        f"a lick with {context.rules.lead.sounded_notes} notes or more over {root} sounds {' or '.join(named)} of the key",
        context.source("lead", "sounded", root),
        automata.at_least(1, 2, {1}),
        heard,
        lambda a, b, how: heard(b),
    )


def shape_rules(context: Context) -> tuple[ShapeRule, ...]:
    """Rules for a finished lick's shape."""
    shape = context.rules.lead.shape

    def share(line: Line) -> float:
        return len(set(line.pitches)) / len(line.pitches)

    def most(line: Line) -> int:
        return max(line.pitches.count(p) for p in line.pitches)

    def span(line: Line) -> int:
        return max(line.pitches) - min(line.pitches)

    rows: list[tuple[str, str, Callable[[Line], bool], Callable[[Line], str], tuple[str, ...]]] = [
        (
            "lead.shape.distinct",
            f"at least {shape.least_distinct:.0%} of a lick's pitches differ",
            lambda x: share(x) >= shape.least_distinct,
            lambda x: f"{share(x):.0%}",
            ("lead", "shape", "least_distinct"),
        ),
        (
            "lead.shape.one-pitch",
            f"no pitch makes up more than {shape.most_of_one:.0%} of a lick, unless it sounds but twice",
            lambda x: most(x) <= max(2, round(shape.most_of_one * len(x.pitches))),
            lambda x: f"{most(x)} of {len(x.pitches)}",
            ("lead", "shape", "most_of_one"),
        ),
        (
            "lead.shape.range",
            f"a lick of {shape.range_notes} notes or more spans {shape.least_range} semitones or more",
            lambda x: len(x.pitches) < shape.range_notes or span(x) >= shape.least_range,
            lambda x: f"{span(x)}",
            ("lead", "shape", "least_range"),
        ),
        (
            "lead.shape.peak",
            "a lick has one highest note (it may be struck twice running)",
            _one_peak,
            lambda x: "",
            ("lead", "shape"),
        ),
        (
            "lead.shape.rambling",
            "the same three pitches are not played twice in a row (A B C A B C)",
            lambda x: not _rambles(x),
            lambda x: "",
            ("lead", "shape"),
        ),
        (
            "hand.same-finger",
            "a place is fretted by the same finger all through a lick",
            lambda x: len({p[:2] for p in x.places}) == len(set(x.places)),
            lambda x: "",
            ("hand",),
        ),
        (
            "lead.double-stops.count",
            f"at most {context.rules.lead.techniques.double_stops_per_lick} double stops in a lick",
            lambda x: x.doubles <= context.rules.lead.techniques.double_stops_per_lick,
            lambda x: f"{x.doubles}",
            ("lead", "techniques", "double_stops_per_lick"),
        ),
    ]
    if context.rules.lead.figure.hook:
        rows.append(
            (
                "lead.figure.hook",
                "a figure that others take up has a bend, a grace, a double stop, a leap or a repeated note",
                lambda x: not x.leads or _hook(x, context.rules.lead.figure.hook_leap),
                lambda x: "",
                ("lead", "figure", "hook"),
            )
        )
    made = tuple(
        ShapeRule(n, s, context.source(*path), allows, amount) for n, s, allows, amount, path in rows
    )
    return (*made, *_copying(context))


def _copying(context: Context) -> tuple[ShapeRule, ...]:
    """What was learned from is not played back: only short figures of it may be heard."""
    table = context.rules.lead.copying
    if not table.lines:
        return ()
    order = table.longest + 1
    known = (moves_of(text) for text in table.lines)
    avoid = Avoid(order, frozenset(m[k : k + order] for m in known for k in range(len(m) - order + 1)))
    rule = ShapeRule(
        "lead.copying",
        f"no more than {order} notes in a row are those of a lick that was learned from",
        context.source("lead", "copying", "longest"),
        lambda line: avoid.allows(line.pitches, line.ticks),
    )
    return (rule,)


def _one_peak(line: Line) -> bool:
    top = max(line.pitches)
    where = [i for i, p in enumerate(line.pitches) if p == top]
    return where[-1] - where[0] == len(where) - 1 <= 1


def _rambles(line: Line) -> bool:
    """A B C A B C, which says nothing new, however the notes are timed."""
    p = line.pitches
    return any(p[i : i + 3] == p[i + 3 : i + 6] for i in range(len(p) - 5))


def _hook(line: Line, leap: int) -> bool:
    n = line.figure
    intervals = [abs(b - a) for a, b in zip(line.pitches[:n], line.pitches[1:n], strict=False)]
    return any(line.marked[:n]) or any(i >= leap or i == 0 for i in intervals)
