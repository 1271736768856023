"""How the minutes of a practice sheet are shared out: warm-up, tempo steps, repetitions, rests.

Everything is in whole or part seconds and adds up to the minutes asked for: what repetitions cannot fill is
added to the warm-up. Nobody plays longer than ``most_playing_s`` without a long rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from lickwright.problems import AnswerIsNoError
from lickwright.rulebook.schema.practice import PracticeTable
from lickwright.study.model import Step
from lickwright.theory.rhythm import TICKS_PER_BEAT, seconds


class TooLittleTime(AnswerIsNoError):
    """Minutes in which the exercises do not fit, or more than they fill; the message says what would be right."""


@dataclass(frozen=True)
class Shared:
    """The time of one exercise: its steps, what they last, and the rest after it in seconds, a long one or not."""

    steps: tuple[Step, ...]
    playing_s: float
    rest_s: int
    long_rest: bool = False


@dataclass(frozen=True)
class Schedule:
    """A whole sheet: ``warm_up_s`` and all exercises with their rests last ``minutes`` together."""

    minutes: int
    warm_up_s: float
    exercises: tuple[Shared, ...]


def once_s(ticks: int, step: Step, table: PracticeTable) -> float:
    """How long a step lasts: the beats counted in, and its repetitions."""
    counted = seconds(table.count_in_beats * TICKS_PER_BEAT, step.tempo_bpm)
    return counted + step.times * seconds(ticks, step.tempo_bpm)


def schedule(ticks: Sequence[int], tempo_bpm: Sequence[int], minutes: int, table: PracticeTable) -> Schedule:
    """Shares the minutes among exercises of so many ticks at their tempos. Raises TooLittleTime.

    As few long rests as keep every stretch of playing within ``most_playing_s``.
    """
    for many in range(len(ticks)):
        made = _with_breaks(many, ticks, tempo_bpm, minutes, table)
        if longest_stretch_s(made) <= table.most_playing_s:
            break
    return made


def longest_stretch_s(made: Schedule) -> float:
    """The longest time between two long rests, the short ones and the warm-up counted in."""
    longest = stretch = made.warm_up_s
    for exercise in made.exercises:
        stretch += exercise.playing_s
        longest = max(longest, stretch)
        stretch = 0.0 if exercise.long_rest else stretch + exercise.rest_s
    return longest


def _with_breaks(
    many: int, ticks: Sequence[int], tempo_bpm: Sequence[int], minutes: int, table: PracticeTable
) -> Schedule:
    """The schedule with so many long rests, spread evenly."""
    count, all_s = len(ticks), minutes * 60
    long_after = {ceil(count * (k + 1) / (many + 1)) - 1 for k in range(many)}
    rests = [table.break_s if k in long_after else table.rest_s for k in range(count - 1)] + [0]
    share_s = (all_s - table.warm_up_s - sum(rests)) / count
    if share_s > table.most_minutes_a_lick * 60:
        more = ceil((all_s - table.warm_up_s) / (table.most_minutes_a_lick * 60 + table.rest_s))
        raise TooLittleTime(
            f"{minutes} minutes are more than {table.most_minutes_a_lick:g} for each of {count} licks: "
            f"ask for {max(more, count + 1)} licks, or for fewer minutes"
        )
    made = []
    for k, (length, tempo) in enumerate(zip(ticks, tempo_bpm, strict=True)):
        steps = _steps(length, tempo, share_s, table)
        playing_s = sum(once_s(length, step, table) for step in steps)
        made.append(Shared(steps, playing_s, rests[k], k in long_after))
    warm_up_s = all_s - sum(e.playing_s + e.rest_s for e in made)
    if warm_up_s < table.warm_up_s - 1e-9:
        least = ceil((all_s + table.warm_up_s - warm_up_s) / 60)
        raise TooLittleTime(
            f"{minutes} minutes are too few for {count} licks once at every tempo: ask for {least} minutes, or "
            "for fewer licks"
        )
    return Schedule(minutes, warm_up_s, tuple(made))


def _steps(ticks: int, tempo_bpm: int, share_s: float, table: PracticeTable) -> tuple[Step, ...]:
    """The tempo steps with as many repetitions as fit, each at least once; what is left goes to the fewest."""
    shares = sum(step.share for step in table.steps)
    steps = []
    for row in table.steps:
        once = Step(row.percent, round(tempo_bpm * row.percent / 100), 1)
        counted = seconds(table.count_in_beats * TICKS_PER_BEAT, once.tempo_bpm)
        times = int((share_s * row.share / shares - counted) / seconds(ticks, once.tempo_bpm))
        steps.append(Step(once.percent, once.tempo_bpm, max(1, times)))
    left = share_s - sum(once_s(ticks, step, table) for step in steps)
    while fits := [k for k, step in enumerate(steps) if seconds(ticks, step.tempo_bpm) <= left]:
        k = min(fits, key=lambda k: (steps[k].times, k))
        left -= seconds(ticks, steps[k].tempo_bpm)
        steps[k] = replace(steps[k], times=steps[k].times + 1)
    return tuple(steps)
