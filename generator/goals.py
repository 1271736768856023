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

from generator.harmony import semitones
from generator.rhythm import GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, Onset, parse_cell
from generator.rulebook.degrees import BEND_SIZES
from generator.rulebook.load import nearest
from generator.rulebook.places import sways
from generator.rulebook.rule import At
from generator.rulebook.schema import RuleFile
from generator.study import BendKind, Event, Note, Slot, SlotKind, Study, Technique
from generator.touches import KIND_CODES, NO_GRACE, WAY_CODES, BoolArray, TouchTable

#: True for the touches that are the thing, at an onset, by the rule files.
Has: TypeAlias = Callable[[TouchTable, At, RuleFile], BoolArray]
#: How often a rhythm is in onsets (ticks from the study's start) on a grid of so many ticks.
Rhythm: TypeAlias = Callable[[Sequence[Onset], int], int]


class GoalError(ValueError):
    """A goal that is none: the message says what would be one."""


@dataclass(frozen=True)
class Ask:
    """How the solver is asked: touches at strong onsets, a way of coming to one, a rhythm, a window, a grip.

    ``cell`` is a rhythm cell that is to be tried besides those of the rule files.
    """

    touches: Has | None = None
    way: int | None = None
    rhythm: Rhythm | None = None
    window: int | None = None
    grip: str | None = None
    cell: str | None = None


@dataclass(frozen=True)
class Goal:
    """One thing to train: as it was asked, in words, its kind, and how often it counts in a lick (by slot)."""

    text: str
    words: str
    kind: str
    count: Callable[[Study, Slot], int]
    ask: Ask


@dataclass(frozen=True)
class Kind:
    """A kind of goal: what it is and what counts, how often it is asked for by name of ``[practice.times]``, and
    how one is made of the text after the colon (empty for kinds without a value).
    """

    sentence: str
    times: str
    make: Callable[[str], tuple[str, Callable[[Study, Slot], int], Ask]]
    values: str = ""


# ------------------------------------------------------------------ strong places


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


def _notes(has: Callable[[Study, Event, Note], bool]) -> Callable[[Study, Slot], int]:
    """Counts the strong onsets of a lick at which one note is the thing."""

    def count(study: Study, slot: Slot) -> int:
        events = study.events_of(slot.number)
        return sum(
            _strong(events, i) and any(has(study, e, n) for n in e.notes if not n.tied and not n.muted)
            for i, e in enumerate(events)
        )

    return count


def _moves(technique: Technique) -> Callable[[Study, Slot], int]:
    def count(study: Study, slot: Slot) -> int:
        events = study.events_of(slot.number)
        ticks = [(e.onset, e.duration) for e in events]
        return sum(
            events[i].melody.technique is technique and arrives_strongly(ticks, i)
            for i in range(1, len(events))
        )

    return count


def _rhythms(rhythm: Rhythm) -> Callable[[Study, Slot], int]:
    def count(study: Study, slot: Slot) -> int:
        onsets = [Onset(e.onset, e.duration) for e in study.events_of(slot.number)]
        return rhythm(onsets, GRIDS[study.grid])

    return count


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
    return Kind(sentence, "bend", lambda _: (words, _notes(has), Ask(touches=touches)))


def _note(
    words: str, times: str, has: Callable[[Study, Event, Note], bool], touches: Has, counts: str
) -> Kind:
    return Kind(f"{words}; {counts}", times, lambda _: (words, _notes(has), Ask(touches=touches)))


def _move(technique: Technique, words: str) -> Kind:
    counts = "counts where its first note is on a beat or its second has a strong place"
    ask = Ask(way=WAY_CODES[technique])
    return Kind(f"{words}; {counts}", technique.value, lambda _: (words, _moves(technique), ask))


def _degree_of(text: str) -> int:
    try:
        return semitones(text)
    except ValueError as error:
        raise GoalError(str(error)) from None


def _chord_degree(text: str) -> tuple[str, Callable[[Study, Slot], int], Ask]:
    above = _degree_of(text)

    def has(study: Study, event: Event, note: Note) -> bool:
        return note is event.melody and (_arrival(note) - study.chord(event.chord).root_pc) % 12 == above

    ask = Ask(touches=lambda t, at, rules: at.chord_degrees(t.enter) == above)
    return f"the {text} of the chord", _notes(has), ask


def _key_degree(text: str) -> tuple[str, Callable[[Study, Slot], int], Ask]:
    above = _degree_of(text)

    def has(study: Study, event: Event, note: Note) -> bool:
        return note is event.melody and (_arrival(note) - study.home.pitch_class) % 12 == above

    ask = Ask(touches=lambda t, at, rules: at.key_degrees(t.enter) == above)
    return f"the {text} of the key", _notes(has), ask


def _number(text: str, what: str, least: int, most: int) -> int:
    if not text.isdecimal() or not least <= int(text) <= most:
        raise GoalError(f"{what}:{text}: write a whole number from {least} to {most}")
    return int(text)


def _string(text: str) -> tuple[str, Callable[[Study, Slot], int], Ask]:
    string = _number(text, "string", 1, 7)

    def touches(t: TouchTable, at: At, rules: RuleFile) -> BoolArray:
        return np.asarray((t.string == string) | (t.mate_string == string))

    count = _notes(lambda study, event, note: note.string == string)
    return f"string {string}", count, Ask(touches=touches)


def _window(text: str) -> tuple[str, Callable[[Study, Slot], int], Ask]:
    fret = _number(text, "window", 1, 24)

    def count(study: Study, slot: Slot) -> int:
        return int(all(event.hand == fret for event in study.events_of(slot.number)))

    return f"the hand at fret {fret}", count, Ask(window=fret)


def _grip(text: str) -> tuple[str, Callable[[Study, Slot], int], Ask]:
    def count(study: Study, slot: Slot) -> int:
        following = next(
            (s.start for s in study.slots if s.kind is SlotKind.LICK and s.start > slot.start), study.ticks
        )
        answers = [
            e
            for e in study.events
            if study.slots[e.slot].kind is SlotKind.COMP
            and study.slots[e.slot].phrase == slot.phrase
            and slot.start <= e.onset < following
        ]
        return sum(e.grip == text and is_strong(e.onset, e.duration, False) for e in answers)

    return f"the grip {text}", count, Ask(grip=text)


# ------------------------------------------------------------------ rhythms


def _triplets(onsets: Sequence[Onset], step: int) -> int:
    ticks = {o.tick for o in onsets}
    third = TICKS_PER_BEAT // 3
    return sum(t % TICKS_PER_BEAT == 0 and {t + third, t + 2 * third} <= ticks for t in ticks)


def _sixteenths(onsets: Sequence[Onset], step: int) -> int:
    half = step // 2
    pairs = [a for a in onsets if any(b.tick == a.tick + half for b in onsets) and a.tick % step == 0]
    return sum(a.tick % TICKS_PER_BEAT == 0 or (a.tick + step) % TICKS_PER_BEAT == 0 for a in pairs)


def _syncopation(onsets: Sequence[Onset], step: int) -> int:
    following = [(-(-o.tick // TICKS_PER_BEAT) * TICKS_PER_BEAT, o) for o in onsets]
    return sum(o.tick % TICKS_PER_BEAT != 0 and o.tick + o.duration > beat for beat, o in following)


def _pickup(onsets: Sequence[Onset], step: int) -> int:
    first = onsets[0].tick
    bar = -(-first // TICKS_PER_BAR) * TICKS_PER_BAR
    return int(0 < bar - first <= TICKS_PER_BEAT and any(o.tick == bar for o in onsets))


RHYTHMS: dict[str, tuple[str, Rhythm]] = {
    "triplets": ("three even notes in a beat, the first on it", _triplets),
    "sixteenths": ("two notes in the time of an eighth, from a beat or into one", _sixteenths),
    "syncopation": ("a note struck off the beat that rings over the next beat", _syncopation),
    "pickup": ("a start within the beat before the bar line, and a note on the bar's first beat", _pickup),
}


def _cell_rhythm(pattern: str) -> Rhythm:
    """How often a cell stands at a beat: its onsets and no others, its lengths but for the last, which may ring."""

    def count(onsets: Sequence[Onset], step: int) -> int:
        cell = parse_cell(pattern, next(name for name, ticks in GRIDS.items() if ticks == step))
        wanted = [(o.tick, o.duration) for o in cell.onsets]
        first = onsets[0].tick // TICKS_PER_BEAT * TICKS_PER_BEAT
        found = 0
        for beat in range(first, onsets[-1].tick + 1, TICKS_PER_BEAT):
            here = [
                (o.tick - beat, o.duration) for o in onsets if beat <= o.tick < beat + len(pattern) * step
            ]
            same = [t for t, _ in here] == [t for t, _ in wanted] and here[:-1] == wanted[:-1]
            found += same and here[-1][1] >= wanted[-1][1]
        return found

    return count


def _cell(text: str) -> tuple[str, Callable[[Study, Slot], int], Ask]:
    if text in RHYTHMS:
        words, rhythm = RHYTHMS[text]
        return words, _rhythms(rhythm), Ask(rhythm=rhythm)
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
    "hammer-on": _move(Technique.HAMMER_ON, "a hammer-on"),
    "pull-off": _move(Technique.PULL_OFF, "a pull-off"),
    "slide": _move(Technique.SLIDE, "a slide"),
    "grace": _note(
        "a grace note",
        "grace",
        lambda study, event, note: note.grace is not None,
        lambda t, at, rules: t.grace != NO_GRACE,
        _HELD,
    ),
    "vibrato": _note(
        "vibrato on a long note",
        "vibrato",
        lambda study, event, note: note.vibrato,
        lambda t, at, rules: sways(t, at, rules.lead.techniques.vibrato_beats),
        _HELD,
    ),
    "double-stop": _note(
        "a double stop",
        "double-stop",
        lambda study, event, note: len(event.notes) == 2,
        lambda t, at, rules: t.double,
        _HELD,
    ),
    "degree": Kind(
        f"the melody on this degree of the sounding chord; {_HELD}", "degree", _chord_degree, "b3"
    ),
    "key-degree": Kind(f"the melody on this degree of the key; {_HELD}", "degree", _key_degree, "b7"),
    "string": Kind(f"notes on this string; {_HELD}", "string", _string, "4"),
    "window": Kind("the whole lick with the index finger at this fret", "window", _window, "7"),
    "cell": Kind(
        "this rhythm, its onsets from a beat on and no others; or a kind: "
        + "; ".join(f"{name} ({words})" for name, (words, _) in RHYTHMS.items()),
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
    words, count, ask = kind.make(value)
    return Goal(f"{name}{colon}{value}", words, name, count, ask)


def times_of(goal: Goal, rules: RuleFile, asked: int | None = None) -> int:
    """How often a goal is to be in a lick: as asked, else as the rule files say; a window is had or not."""
    if goal.ask.window is not None:
        return 1
    return asked or rules.practice.times.get(KINDS[goal.kind].times, 1)


def falls_short(study: Study, slot: Slot, goals: Sequence[tuple[Goal, int]]) -> tuple[Goal, ...]:
    """The goals that a lick of a study has less often than asked, each given with how often."""
    return tuple(goal for goal, times in goals if goal.count(study, slot) < times)
