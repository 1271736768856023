"""Practice sheets: fresh licks that train what was asked for, from easy to hard, with tempo steps and rests.

Many exercises are drawn for each that is asked (``solver.exercises``), each is judged by the rules of its style
and by the goals as they count in a finished study; then a sheet is chosen whose licks are far from each other,
share no figure with one another or with what was given of late, and do not get easier. What the student has
mastered of the same goals is the floor: the next sheet lies above it, first by effort, then by tempo.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace
from datetime import date

from lickwright.compose.setting import BriefError, Setting, setting_for
from lickwright.compose.write import CannotBeMet
from lickwright.practice.exercises import BARS, NoExercise, exercise_bars
from lickwright.practice.goals import Goal, GoalError, goal_of, times_of
from lickwright.practice.minutes import Schedule, schedule
from lickwright.practice.pool import Candidate, Pool, chosen_from
from lickwright.practice.record import Given, Record, licks_of
from lickwright.problems import ProblemsError
from lickwright.rulebook.load import RuleFileError, level_names
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.schema.practice import PracticeTable
from lickwright.series.file import through_all_keys
from lickwright.study.figures import Avoid, Figure
from lickwright.study.model import Before, Brief, Drill, SlotKind, Study
from lickwright.study.sheet import joined
from lickwright.theory.rhythm import TICKS_PER_BAR

#: Draws for each exercise that is to be had before the rules are taken to leave no more.
TRIES = 30
#: How often is drawn before a sheet is given up.
ROUNDS = 3
TITLE = "Practice: {things}"


@dataclass(frozen=True)
class Request:
    """What was asked for.

    ``goals`` as texts (see ``goals``), ``times`` how often each is to be in a lick, ``minutes`` for all of it (None: as
    the rule files say); ``keys`` in the order of the sheet; ``over`` the roots that the licks go over; ``options`` as
    in a brief.
    """

    style: str
    goals: tuple[str, ...]
    keys: tuple[str, ...] = ("A",)
    level: str | None = None
    count: int = 5
    minutes: int | None = None
    seed: int = 1
    tempo_bpm: int | None = None
    times: int | None = None
    over: tuple[str, ...] = ("I",)
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Practice:
    """A sheet: a study for each key, in order; the schedule; what goes into the record."""

    studies: tuple[Study, ...]
    goals: tuple[Goal, ...]
    schedule: Schedule
    given: tuple[Given, ...]
    table: PracticeTable


class RequestError(ProblemsError):
    """A request that cannot be meant: ``problems`` has a line each."""


def practice(request: Request, record: Record, day: date) -> Practice:
    """The sheet for a day, given what the record holds; the same arguments always give the same sheet.

    Raises RuleFileError, BriefError and RequestError for what cannot be used, TooLittleTime for minutes that do
    not fit, and CannotBeMet, saying what would help, when the rules leave no such licks.
    """
    goals = _goals(request)
    keys = _blocks(request)
    first = _setting(request, keys[0])
    table, order = first.rules.practice, first.rules.series.longest_shared
    avoid = Avoid(order, record.figures(day, table.record_days, order))
    known = {lick.moves for lick in record.licks(day, table.record_days)}
    floor, tempos = _floor(request, first, record, goals)
    _schedule(request, tempos[0], table)
    where = ""
    for tempo_bpm in tempos:
        try:
            chosen = _sheet(replace(request, tempo_bpm=tempo_bpm), keys, goals, avoid, known, floor, record)
            break
        except CannotBeMet as error:
            where = error.where
            if floor <= 0:
                raise
    else:
        higher = _higher(request, first)
        raise CannotBeMet(
            f"{where}; what was mastered leaves nothing harder at this level up to {tempos[-1]} beats a minute"
            + (f": go on with --level {higher}" if higher else "")
        )
    return _practice(request, record, day, goals, keys, chosen, table)


# ------------------------------------------------------------------ what was asked


def _goals(request: Request) -> tuple[Goal, ...]:
    if not request.goals:
        raise RequestError(["name at least one goal"])
    found, problems = [], []
    for text in dict.fromkeys(request.goals):
        try:
            found.append(goal_of(text))
        except GoalError as error:
            problems.append(str(error))
    if request.count < 1 or (request.minutes is not None and request.minutes < 1):
        problems.append("ask for one lick and one minute at least")
    if problems:
        raise RequestError(problems)
    return tuple(found)


def _blocks(request: Request) -> list[str]:
    """The key of each exercise: the keys in order, each for as many exercises as the others, or one more."""
    keys = request.keys[: request.count]
    return [keys[k * len(keys) // request.count] for k in range(request.count)]


def _setting(request: Request, key: str) -> Setting:
    """The setting of one key; raises RequestError for a root that the style's forms lack."""
    brief = Brief(request.style, key, request.seed, request.tempo_bpm, request.level, options=request.options)
    given = setting_for(brief)
    try:
        exercise_bars(given.rules, request.over)
    except NoExercise as error:
        raise RequestError([f"--over: {error.where}"]) from None
    return given


def _floor(
    request: Request, given: Setting, record: Record, goals: Sequence[Goal]
) -> tuple[float, tuple[int, ...]]:
    """How hard the easiest exercise is at least, and the tempos to try for it, by what was mastered."""
    mastered = record.mastered(request.style, given.rules.level.name, tuple(g.text for g in goals))
    if not mastered:
        return 0.0, (given.tempo_bpm,)
    choice, most = given.rules.practice.choice, given.rules.study.tempo.most
    start = given.tempo_bpm if request.tempo_bpm else max(given.tempo_bpm, *(g.tempo_bpm for g in mastered))
    start = min(start, most)
    faster = [
        min(most, round(start * (1 + choice.faster_percent / 100) ** k))
        for k in range(choice.faster_times + 1)
    ]
    tempos = (start,) if request.tempo_bpm else tuple(dict.fromkeys(faster))
    return max(g.difficulty for g in mastered) + choice.harder, tempos


def _higher(request: Request, given: Setting) -> str:
    """The level with the next grade, or nothing."""
    grades = {name: read_rules(request.style, name, request.options)[1].level.grade for name in level_names()}
    above = [name for name, grade in grades.items() if grade == given.rules.level.grade + 1]
    return above[0] if above else ""


# ------------------------------------------------------------------ drawing


def _sheet(
    request: Request,
    keys: Sequence[str],
    goals: Sequence[Goal],
    avoid: Avoid,
    known: Set[frozenset[Figure]],
    floor: float,
    record: Record,
) -> list[Candidate]:
    """The exercises of a sheet, from easy to hard; raises CannotBeMet."""
    pools = {
        key: _pool(_setting(request, key), request, goals, avoid, known, floor, record.next_number)
        for key in dict.fromkeys(keys)
    }
    for pool in pools.values():
        try:
            pool.exercises.possible()
        except NoExercise as error:
            raise CannotBeMet(f"{_what(error)}{_help(request, pool.given, error)}") from None
    choice = next(iter(pools.values())).given.rules.practice.choice
    for _ in range(ROUNDS):
        for key, pool in pools.items():
            pool.draw(choice.drawn * keys.count(key), TRIES * keys.count(key))
        chosen = chosen_from(keys, pools, floor, choice.apart)
        if chosen is not None:
            return chosen
    pool = min(pools.values(), key=lambda p: len(p.found))
    least = [p for p in pools.values() if not p.found]
    why = (
        pool.where
        if least
        else "too few of the licks that were drawn are new, far enough apart and hard enough"
    )
    raise CannotBeMet(f"{why}; {_try(goals)}")


def _pool(
    given: Setting,
    request: Request,
    goals: Sequence[Goal],
    avoid: Avoid,
    known: Set[frozenset[Figure]] = frozenset(),
    floor: float = 0.0,
    number: int = 1,
) -> Pool:
    asked = [(goal, times_of(goal, given.rules, request.times)) for goal in goals]
    return Pool(given, asked, request.over, avoid, known, (number,), floor)


# ------------------------------------------------------------------ what would help


def _what(error: NoExercise) -> str:
    names = " and ".join(goal.text for goal in error.goals)
    return f"{names}: {error.where}" if names else error.where


def _help(request: Request, given: Setting, error: NoExercise) -> str:
    """What could be asked instead, each tried out: another level, another chord, once in a lick, fewer goals."""
    tries = [
        (f"--level {name}", replace(request, level=name))
        for name in level_names()
        if name != given.rules.level.name
    ]
    tries += [
        (f"--over {root}", replace(request, over=(root,)))
        for root in ("I", "IV", "V")
        if request.over != (root,)
    ]
    tempo = given.rules.study.tempo.least
    if given.tempo_bpm > tempo:
        tries.append((f"--tempo {tempo}", replace(request, tempo_bpm=tempo)))
    if request.times != 1:
        tries.append(("--times 1", replace(request, times=1)))
    if len(error.goals) > 1:
        tries += [(f"--train {g.text} alone", replace(request, goals=(g.text,))) for g in error.goals]
    can = [words for words, other in tries if _can(other)]
    level = f" at level {given.rules.level.name} over {' '.join(request.over)} in {given.key.name}"
    return level + (
        f"; it can be had with {' or '.join(can)}"
        if can
        else "; no level of the style has it: its rule file would have to allow it"
    )


def _can(request: Request) -> bool:
    try:
        given, nothing = _setting(request, request.keys[0]), Avoid(1, frozenset())
        _pool(given, request, [goal_of(text) for text in request.goals], nothing).exercises.possible()
    except (NoExercise, RequestError, BriefError, RuleFileError):
        return False
    return True


def _try(goals: Sequence[Goal]) -> str:
    fewer = "fewer goals, " if len(goals) > 1 else ""
    return f"try {fewer}a lower --times, fewer licks, another --key, --over or --level"


# ------------------------------------------------------------------ the finished sheet


def _schedule(request: Request, tempo_bpm: int, table: PracticeTable) -> Schedule:
    """All exercises are of one length and tempo, so the time is known before they are."""
    ticks = len(request.over) * BARS * TICKS_PER_BAR
    minutes = request.minutes or max(1, round(table.minutes_a_lick * request.count))
    return schedule([ticks] * request.count, [tempo_bpm] * request.count, minutes, table)


def _practice(
    request: Request,
    record: Record,
    day: date,
    goals: tuple[Goal, ...],
    keys: Sequence[str],
    chosen: Sequence[Candidate],
    table: PracticeTable,
) -> Practice:
    time = _schedule(request, chosen[0].study.tempo_bpm, table)
    words = tuple(goal.words for goal in goals)
    number = record.next_number
    before_s = [time.warm_up_s, *(float(shared.rest_s) for shared in time.exercises)]
    before = [Before.WARM_UP, *(Before.BREAK if e.long_rest else Before.REST for e in time.exercises)]
    drills = [
        Drill(
            0,
            number + k,
            words,
            tuple(_places(c.study, goal) for goal in goals),
            round(c.difficulty, 2),
            shared.steps,
            before[k],
            round(before_s[k], 1),
            round(shared.playing_s, 1),
        )
        for k, (c, shared) in enumerate(zip(chosen, time.exercises, strict=True))
    ]
    title = TITLE.format(things=" and ".join(words))
    studies = []
    for key in dict.fromkeys(keys):
        mine = [k for k, other in enumerate(keys) if other == key]
        studies.append(joined([chosen[k].study for k in mine], [drills[k] for k in mine], title))
    texts = tuple(goal.text for goal in goals)
    given = tuple(
        Given(
            drill.number,
            day,
            request.style,
            c.study.level,
            c.study.key,
            c.study.tempo_bpm,
            texts,
            drill.difficulty,
            licks_of(c.study),
        )
        for c, drill in zip(chosen, drills, strict=True)
    )
    return Practice(tuple(studies), goals, time, given, table)


def _places(study: Study, goal: Goal) -> tuple[int, ...]:
    """The ticks of an exercise at which a goal counts."""
    licks = [slot for slot in study.slots if slot.kind is SlotKind.LICK]
    return tuple(sorted({tick for slot in licks for tick in goal.where(study, slot)}))


def keys_in_fourths(first: str, count: int) -> tuple[str, ...]:
    """So many keys in fourths upwards from the first, twelve at most. Raises ValueError for a key that is none.

    >>> keys_in_fourths("E", 4)
    ('E', 'A', 'D', 'G')
    """
    return through_all_keys(first)[:count]
