"""The rules of comping and of the study as a whole, each with its name, sentence and source."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from lickwright.guitar.fingering import grip_faults
from lickwright.rulebook import faults
from lickwright.rulebook.faults import Fault
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.rule import Named
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.study.model import Study
from lickwright.theory.harmony import chord_in_key, semitones

#: (string, fret, finger)
Held = tuple[int, int, int]


@dataclass(frozen=True)
class GripRule(Named):
    """Judges what the hand holds in comping: the fault in words, or an empty string.

    ``fault`` takes the notes, the chord's Roman numeral, and the grip's name when it is a named one.
    """

    fault: Callable[[Sequence[Held], str, str | None], str]


@dataclass(frozen=True)
class StudyRule(Named):
    """Judges a study from its first event to its last: yields its faults.

    ``whole`` rules are asked of a whole study, not of licks alone: what it has in all, its tempo, its plan.
    """

    faults: Callable[[Study], Iterator[Fault]]
    whole: bool = True


_Row: TypeAlias = tuple[str, str, Callable[[Study], Iterator[Fault]], tuple[str, ...]]


def grip_rules(lead: Lead) -> tuple[GripRule, ...]:
    """The rules of comping for one event."""
    highest, book = lead.rules.comping.highest_fret, lead.book
    limit = highest + lead.rules.comping.moved_higher

    def held(notes: Sequence[Held], roman: str, grip: str | None) -> str:
        return next(iter(grip_faults(lead.hand, lead.neck, notes)), "")

    def tones(notes: Sequence[Held], roman: str, grip: str | None) -> str:
        if grip is None:
            return ""
        recipe = lead.rules.grips.get(grip)
        if recipe is None:
            return f"no grip {grip!r} in the rule files"
        root = chord_in_key(roman, lead.key).root_pc
        wanted = sorted((root + semitones(d)) % 12 for d in recipe.degrees)
        found = sorted(lead.neck.pitch(s, f) % 12 for s, f, _ in notes)
        return "" if found == wanted else f"{grip} of {roman} has other notes"

    def low_enough(notes: Sequence[Held], roman: str, grip: str | None) -> str:
        top = max(f for _, f, _ in notes)
        return "" if top <= limit else f"fret {top}, limit {limit}"

    return (
        GripRule(
            "hand.grip",
            "one hand can hold every grip and mute what must not sound",
            book.source("hand", "span_frets"),
            held,
        ),
        GripRule("comping.tones", "a grip has just the degrees of its recipe", book.source("grips"), tones),
        GripRule(
            "comping.highest-fret",
            f"comping lies up to fret {highest}, voices that move up to fret {limit}",
            book.source("comping", "highest_fret"),
            low_enough,
        ),
    )


def study_rules(lead: Lead) -> tuple[StudyRule, ...]:
    """The rules that look at a study from its first event to its last."""
    rules, book = lead.rules, lead.book
    bends, tempo, level = rules.lead.bends, rules.study.tempo, rules.level
    counted: list[_Row] = [
        (
            "study.tempo",
            f"the tempo lies between {tempo.least} and {tempo.most}",
            lambda s: faults.outside(s.tempo_bpm, tempo.least, tempo.most),
            ("study", "tempo"),
        ),
        (
            "study.windows",
            f"the licks use at most {level.windows} hand positions",
            lambda s: faults.too_many_positions(s, level.windows),
            ("level", "windows"),
        ),
        (
            "lead.bends.study",
            f"a study has at most {bends.most_per_study} bends of a half step or more",
            lambda s: faults.too_many_bends(s, bends.most_per_study),
            ("lead", "bends", "most_per_study"),
        ),
        (
            "lead.bends.some",
            f"a study whose hand positions allow bends has {bends.least_per_study} or more",
            lambda s: faults.too_few_bends(s, lead),
            ("lead", "bends", "least_per_study"),
        ),
        (
            "lead.graces.study",
            f"the licks of a study have at most {rules.lead.techniques.graces_per_study} grace notes",
            lambda s: faults.too_many_graces(s, rules.lead.techniques.graces_per_study),
            ("lead", "techniques", "graces_per_study"),
        ),
        (
            "level.difficulty",
            "the study is as difficult as its level asks, "
            f"{level.difficulty[0]:g} to {level.difficulty[1]:g} on a scale from 1 to 10",
            lambda s: faults.wrong_difficulty(s, lead),
            ("level", "difficulty"),
        ),
        (
            "lead.quote",
            f"a figure taken up stays within {rules.lead.quote.band} semitones of its model",
            lambda s: faults.strayed_quotes(s, rules.lead.quote.band, {*rules.lick, *rules.pair}),
            ("lead", "quote", "band"),
        ),
        (
            "comping.same-pattern",
            f"no answer is used more than {rules.comping.same_pattern} times, "
            "and so often more for each further twelve bars",
            lambda s: faults.too_often(s, most_alike(rules, s.bars)),
            ("comping", "same_pattern"),
        ),
    ]
    return tuple(
        StudyRule(n, text, book.source(*path), find, whole)
        for rows, whole in ((_of_any_stretch(lead), False), (counted, True))
        for n, text, find, path in rows
    )


def _of_any_stretch(lead: Lead) -> list[_Row]:
    """What is asked of any events in a row, be they a study or not."""
    level = lead.rules.level
    return [
        (
            "study.order",
            "events follow each other without overlap, inside the study's bars",
            faults.out_of_order,
            ("forms",),
        ),
        (
            "study.pitches",
            "every note is the pitch of its string and fret",
            faults.wrong_pitches,
            ("neck", "tuning"),
        ),
        (
            "level.rate",
            f"a beat of a lick holds two notes, or as many as {level.notes_per_second:g} a second allow",
            lambda s: faults.too_fast(s, level.notes_per_second),
            ("level", "notes_per_second"),
        ),
        (
            "hand.between",
            "the hand has time to move from one event to the next",
            lambda s: faults.no_time_between(s, lead),
            ("hand", "shift_start_s"),
        ),
        (
            "hand.strums",
            f"at most {lead.hand.strums_per_s:g} strokes of comping a second",
            lambda s: faults.strummed_too_fast(s, lead.hand.strums_per_s),
            ("hand", "strums_per_s"),
        ),
        (
            "hand.bends.run-into",
            "no bend runs into another string while that one sounds",
            lambda s: faults.run_into(s, lead),
            ("hand", "bend_runs_into"),
        ),
    ]


def most_alike(rules: RuleFile, bars: int) -> int:
    """How often one and the same answer may come in a study of so many bars."""
    return rules.comping.same_pattern * max(1, bars // 12)
