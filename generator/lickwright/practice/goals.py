"""What a lick can train: one table of goals, each with what counts in a finished study and how the solver is asked.

A thing counts only on a *strong place*: a note that begins on a beat, or is held a beat or more, or is the
landing (the lick's last note). What that means for each kind of goal stands in ``KINDS``, a sentence each.
A goal is written as its kind, with a value after a colon where it has one: ``bend-release``, ``degree:b3``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from lickwright.rulebook.degrees import BEND_SIZES
from lickwright.rulebook.nearest import nearest
from lickwright.rulebook.places import sways
from lickwright.rulebook.rule import At
from lickwright.rulebook.schema.practice import Counted
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import KIND_CODES, NO_GRACE, WAY_CODES, BoolArray, TouchTable
from lickwright.study.model import BendKind, Event, Note, Slot, SlotKind, Study, Technique
from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, Onset, parse_cell

#: True for the touches that are the thing, at an onset, by the rule files.
Has: TypeAlias = Callable[[TouchTable, At, RuleFile], BoolArray]
#: The ticks at which a thing counts in a lick of a finished study.
Where: TypeAlias = Callable[[Study, Slot], tuple[int, ...]]
#: The ticks at which a rhythm stands in onsets (ticks from the study's start) on a grid of so many ticks.
Rhythm: TypeAlias = Callable[[Sequence[Onset], int], tuple[int, ...]]


class GoalError(ValueError):
    """A goal that is none: the message says what would be one."""


@dataclass(frozen=True)
class Ask:
    """How the solver is asked: touches at strong onsets, a way of coming to one, a rhythm, a position, a grip.

    ``cell`` is a rhythm cell that is to be tried besides those of the rule files.
    """

    touches: Has | None = None
    way: int | None = None
    rhythm: Rhythm | None = None
    position: int | None = None
    grip: str | None = None
    cell: str | None = None


@dataclass(frozen=True)
class Goal:
    """One thing to train: as it was asked, in words, its kind, and the ticks at which it counts in a lick."""

    text: str
    words: str
    kind: str
    where: Where
    ask: Ask


@dataclass(frozen=True)
class Kind:
    """A kind of goal: what it is and what counts, its name in ``[practice.times]`` if it is counted.

    ``make`` makes one of the text after the colon (``values`` is an example of that, empty for kinds without);
    ``most`` is how many the rules allow in a lick at most, where they say so.
    """

    sentence: str
    times: Counted | None
    make: Callable[[str], tuple[str, Where, Ask]]
    values: str = ""
    most: Callable[[RuleFile], int] | None = None


# ------------------------------------------------------------------ strong places

STRONG = "A note has a strong place when it begins on a beat, is held a beat or more, or is the landing, the lick's last."


def is_strong(tick: int, duration: int, last: bool) -> bool:
    """True for a note on a beat, one that is held a beat or more, and the landing.

    >>> is_strong(16, 4, False), is_strong(24, 4, False), is_strong(16, 12, False)
    (False, True, True)
    """
    return tick % TICKS_PER_BEAT == 0 or duration >= TICKS_PER_BEAT or last


def _strong(events: Sequence[Event], index: int) -> bool:
    event = events[index]
    return is_strong(event.onset, event.duration, index == len(events) - 1)


def arrives_strongly(ticks: Sequence[tuple[int, int]], index: int) -> bool:
    """True for a move whose first note stands on a beat, or whose second note has a strong place.

    ``ticks`` are (onset, duration) of a lick's notes, ``index`` is that of the second note.
    """
    last = index == len(ticks) - 1
    return ticks[index - 1][0] % TICKS_PER_BEAT == 0 or is_strong(*ticks[index], last)


# ------------------------------------------------------------------ what counts in a finished study


def _notes(has: Callable[[Study, Event, Note], bool]) -> Where:
    """The strong onsets of a lick at which one note is the thing."""

    def where(study: Study, slot: Slot) -> tuple[int, ...]:
        events = study.events_of(slot.number)
        return tuple(
            e.onset
            for i, e in enumerate(events)
            if _strong(events, i) and any(has(study, e, n) for n in e.notes if not n.tied and not n.muted)
        )

    return where


def _moves(technique: Technique) -> Where:
    """The second notes of moves."""

    def where(study: Study, slot: Slot) -> tuple[int, ...]:
        events = study.events_of(slot.number)
        ticks = [(e.onset, e.duration) for e in events]
        return tuple(
            events[i].onset
            for i in range(1, len(events))
            if events[i].melody.technique is technique and arrives_strongly(ticks, i)
        )

    return where


def _rhythms(rhythm: Rhythm) -> Where:
    def where(study: Study, slot: Slot) -> tuple[int, ...]:
        onsets = [Onset(e.onset, e.duration) for e in study.events_of(slot.number)]
        return rhythm(onsets, GRIDS[study.grid])

    return where


def _arrival(note: Note) -> int:
    return note.sounding2 // 2


# ------------------------------------------------------------------ the kinds


def _bend(size: int | None, kind: BendKind | None, words: str) -> Kind:
    def has(study: Study, event: Event, note: Note) -> bool:
        bend = note.bend
        if bend is None:
            return False
        return (bend.size == size if size else bend.size >= 2) and (kind is None or bend.kind is kind)

    def touches(t: TouchTable, at: At, rules: RuleFile) -> BoolArray:
        good = t.bend == size if size else t.bent
        return np.asarray(good & (t.kind == KIND_CODES[kind] if kind else True))

    sentence = f"{words}; counts where the bent note has a strong place"
    most = None if size == BEND_SIZES["quarter"] else _most_bends
    return Kind(sentence, "bend", lambda _: (words, _notes(has), Ask(touches=touches)), most=most)


def _most_bends(rules: RuleFile) -> int:
    return min(rules.lead.bends.most_per_lick, rules.lead.bends.most_per_study)


def _note(
    words: str,
    times: Counted,
    has: Callable[[Study, Event, Note], bool],
    touches: Has,
    most: Callable[[RuleFile], int] | None = None,
) -> Kind:
    return Kind(f"{words}; {_HELD}", times, lambda _: (words, _notes(has), Ask(touches=touches)), most=most)


def _move(technique: Technique, times: Counted, words: str) -> Kind:
    counts = "counts where its first note is on a beat or its second has a strong place"
    ask = Ask(way=WAY_CODES[technique])
    return Kind(f"{words}; {counts}", times, lambda _: (words, _moves(technique), ask))


def _degree_of(text: str) -> int:
    try:
        return semitones(text)
    except ValueError as error:
        raise GoalError(str(error)) from None


def _chord_degree(text: str) -> tuple[str, Where, Ask]:
    above = _degree_of(text)

    def has(study: Study, event: Event, note: Note) -> bool:
        return note is event.melody and (_arrival(note) - study.chord(event.chord).root_pc) % 12 == above

    ask = Ask(touches=lambda t, at, rules: at.chord_degrees(t.enter) == above)
    return f"the {text} of the chord", _notes(has), ask


def _key_degree(text: str) -> tuple[str, Where, Ask]:
    above = _degree_of(text)

    def has(study: Study, event: Event, note: Note) -> bool:
        return note is event.melody and (_arrival(note) - study.home.pitch_class) % 12 == above

    ask = Ask(touches=lambda t, at, rules: at.key_degrees(t.enter) == above)
    return f"the {text} of the key", _notes(has), ask


def _number(text: str, what: str, least: int, most: int) -> int:
    if not text.isdecimal() or not least <= int(text) <= most:
        raise GoalError(f"{what}:{text}: write a whole number from {least} to {most}")
    return int(text)


def _string(text: str) -> tuple[str, Where, Ask]:
    string = _number(text, "string", 1, 7)

    def touches(t: TouchTable, at: At, rules: RuleFile) -> BoolArray:
        return np.asarray((t.string == string) | (t.mate_string == string))

    where = _notes(lambda study, event, note: note.string == string)
    return f"string {string}", where, Ask(touches=touches)


def _position(text: str) -> tuple[str, Where, Ask]:
    fret = _number(text, "window", 1, 24)

    def where(study: Study, slot: Slot) -> tuple[int, ...]:
        inside = all(event.hand == fret for event in study.events_of(slot.number))
        return (slot.start,) if inside else ()

    return f"the hand at fret {fret}", where, Ask(position=fret)


def _grip(text: str) -> tuple[str, Where, Ask]:
    def where(study: Study, slot: Slot) -> tuple[int, ...]:
        following = next(
            (s.start for s in study.slots if s.kind is SlotKind.LICK and s.start > slot.start), study.ticks
        )
        first = 0 if slot.start % TICKS_PER_BAR else slot.start
        return tuple(
            e.onset
            for e in study.events
            if study.slots[e.slot].kind is SlotKind.COMP
            and study.slots[e.slot].phrase == slot.phrase
            and first <= e.onset < following
            and e.grip == text
            and is_strong(e.onset, e.duration, False)
        )

    return f"the grip {text}", where, Ask(grip=text)


# ------------------------------------------------------------------ rhythms


def _triplets(onsets: Sequence[Onset], step: int) -> tuple[int, ...]:
    ticks = [o.tick for o in onsets]
    third = TICKS_PER_BEAT // 3
    return tuple(t for t in ticks if t % TICKS_PER_BEAT == 0 and {t + third, t + 2 * third} <= set(ticks))


def _sixteenths(onsets: Sequence[Onset], step: int) -> tuple[int, ...]:
    ticks = [o.tick for o in onsets]
    pairs = [t for t in ticks if t % step == 0 and t + step // 2 in ticks]
    return tuple(t for t in pairs if 0 in (t % TICKS_PER_BEAT, (t + step) % TICKS_PER_BEAT))


def _syncopation(onsets: Sequence[Onset], step: int) -> tuple[int, ...]:
    following = [(-(-o.tick // TICKS_PER_BEAT) * TICKS_PER_BEAT, o) for o in onsets]
    return tuple(o.tick for beat, o in following if o.tick != beat and o.tick + o.duration > beat)


def _pickup(onsets: Sequence[Onset], step: int) -> tuple[int, ...]:
    first = onsets[0].tick
    bar = -(-first // TICKS_PER_BAR) * TICKS_PER_BAR
    leads = 0 < bar - first <= TICKS_PER_BEAT and any(o.tick == bar for o in onsets)
    return (first,) if leads else ()


#: Kinds of rhythm: in words, what counts, and the function.
RHYTHMS: dict[str, tuple[str, str, Rhythm]] = {
    "triplets": ("even triplets", "three even notes in a beat, the first on it", _triplets),
    "sixteenths": (
        "a pair of sixteenths",
        "two notes in the time of an eighth, from a beat or into one",
        _sixteenths,
    ),
    "syncopation": (
        "a note that rings over the beat",
        "a note struck off the beat that rings over the next one",
        _syncopation,
    ),
    "pickup": (
        "a pickup into the bar",
        "a start within the beat before the bar line, and a note on the bar's first beat",
        _pickup,
    ),
}


def _cell_rhythm(pattern: str) -> Rhythm:
    """The beats at which a cell stands: its onsets and no others, its lengths but for the last, which may ring."""

    def where(onsets: Sequence[Onset], step: int) -> tuple[int, ...]:
        cell = parse_cell(pattern, next(name for name, ticks in GRIDS.items() if ticks == step))
        wanted = [(o.tick, o.duration) for o in cell.onsets]
        first = onsets[0].tick // TICKS_PER_BEAT * TICKS_PER_BEAT
        found = []
        for beat in range(first, onsets[-1].tick + 1, TICKS_PER_BEAT):
            here = [(o.tick - beat, o.duration) for o in onsets if beat <= o.tick < beat + cell.ticks]
            same = [t for t, _ in here] == [t for t, _ in wanted] and here[:-1] == wanted[:-1]
            if same and here[-1][1] >= wanted[-1][1]:
                found.append(beat)
        return tuple(found)

    return where


def _cell(text: str) -> tuple[str, Where, Ask]:
    if text in RHYTHMS:
        words, _, rhythm = RHYTHMS[text]
        return words, _rhythms(rhythm), Ask(rhythm=rhythm)
    text = text.replace(" ", "").replace("|", "")
    try:
        cell = parse_cell(text)
    except ValueError as error:
        raise GoalError(f"cell:{text}: {error}; or one of {', '.join(RHYTHMS)}") from None
    if not cell.onsets or cell.tied:
        raise GoalError(f"cell:{text}: a cell to train begins with a note or a silence, and has a note")
    rhythm = _cell_rhythm(text)
    return f"the rhythm {text}", _rhythms(rhythm), Ask(rhythm=rhythm, cell=text)


_HELD = "counts where the note has a strong place"

#: Every kind of goal by name: the one place where one is added.
KINDS: dict[str, Kind] = {
    "bend": _bend(None, None, "a bend of a half step or more"),
    "quarter-bend": _bend(BEND_SIZES["quarter"], None, "a quarter-tone curl"),
    "half-bend": _bend(BEND_SIZES["half"], None, "a bend of a half step"),
    "whole-bend": _bend(BEND_SIZES["whole"], None, "a bend of a whole step"),
    "bend-release": _bend(None, BendKind.BEND_RELEASE, "a bend and its release"),
    "pre-bend-release": _bend(
        None, BendKind.PRE_BEND_RELEASE, "a bend made before the stroke, and its release"
    ),
    "hammer-on": _move(Technique.HAMMER_ON, "hammer-on", "a hammer-on"),
    "pull-off": _move(Technique.PULL_OFF, "pull-off", "a pull-off"),
    "slide": _move(Technique.SLIDE, "slide", "a slide"),
    "grace": _note(
        "a grace note",
        "grace",
        lambda study, event, note: note.grace is not None,
        lambda t, at, rules: t.grace != NO_GRACE,
        lambda rules: rules.lead.techniques.graces_per_study,
    ),
    "vibrato": _note(
        "vibrato on a long note",
        "vibrato",
        lambda study, event, note: note.vibrato,
        lambda t, at, rules: sways(t, at, rules.lead.techniques),
    ),
    "double-stop": _note(
        "a double stop",
        "double-stop",
        lambda study, event, note: len(event.notes) == 2,
        lambda t, at, rules: t.double,
        lambda rules: rules.lead.techniques.double_stops_per_lick,
    ),
    "degree": Kind(
        f"the melody on this degree of the sounding chord; {_HELD}", "degree", _chord_degree, "b3"
    ),
    "key-degree": Kind(f"the melody on this degree of the key; {_HELD}", "degree", _key_degree, "b7"),
    "string": Kind(f"notes on this string; {_HELD}", "string", _string, "4"),
    "window": Kind("the whole lick with the index finger at this fret", None, _position, "7"),
    "cell": Kind(
        "this rhythm, its onsets from a beat on and no others; or a kind: "
        + "; ".join(f"{name} ({sentence})" for name, (_, sentence, _) in RHYTHMS.items()),
        "cell",
        _cell,
        ".xxx-x",
    ),
    "grip": Kind(
        "the lick is answered by this grip; counts where it is struck on a beat or held a beat",
        "grip",
        _grip,
        "ninth",
    ),
}


def goal_of(text: str) -> Goal:
    """The goal that a text names; raises GoalError saying what would be one.

    >>> goal_of("degree:b3").words
    'the b3 of the chord'
    """
    name, colon, value = text.strip().partition(":")
    if name not in KINDS:
        raise GoalError(f"no goal {name!r}; {nearest(name, list(KINDS))}")
    kind = KINDS[name]
    if bool(kind.values) != bool(value):
        right = f"{name}:{kind.values}" if kind.values else name
        raise GoalError(f"{text!r}: write it as {right}")
    words, where, ask = kind.make(value)
    return Goal(f"{name}{colon}{value}", words, name, where, ask)


def times_of(goal: Goal, rules: RuleFile, asked: int | None = None) -> int:
    """How often a goal is to be in a lick: as asked, else as the rule files say and allow; a position is had or not."""
    counted = KINDS[goal.kind].times
    if counted is None:
        return 1
    usual = rules.practice.times.get(counted, 1)
    most = most_of(goal, rules)
    return asked or (usual if most is None else max(1, min(usual, most)))


def most_of(goal: Goal, rules: RuleFile) -> int | None:
    """How many the rules allow in a lick at most; None where they do not count."""
    most = KINDS[goal.kind].most
    return None if most is None else most(rules)


def falls_short(study: Study, slot: Slot, goals: Sequence[tuple[Goal, int]]) -> tuple[Goal, ...]:
    """The goals (each with how often it is asked for) that a lick of a study has less often."""
    return tuple(goal for goal, times in goals if len(goal.where(study, slot)) < times)
