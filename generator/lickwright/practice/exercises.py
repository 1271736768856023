"""Plans of exercises: for each chord a lick in two bars and its answer, with the places where goals must stand.

Rhythms are drawn from those of the rule files in which the goals can stand; then each goal is laid on strong
onsets at which some touch of the position is the thing, so that the chain only has to be filled. What goes into
the search is exact: touches and ways that are asked for at an onset are the only ones left there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from numpy.random import Generator

from lickwright.practice.goal_places import Allowed, Places
from lickwright.practice.goals import Goal, is_strong, most_of
from lickwright.rulebook.degrees import root_numeral
from lickwright.rulebook.rule import At
from lickwright.rulebook.schema.rule_file import Role, RuleFile
from lickwright.solver.chorus import Wish
from lickwright.solver.licks import LickMaker, Mark, context
from lickwright.solver.plan.answers import LONGEST_BEATS, Gap, answers_in, groove_of, under_licks
from lickwright.solver.plan.cells import note_limits, rhythm_size, usable_cells
from lickwright.solver.plan.layout import (
    CompPlan,
    LickPlan,
    Plan,
    by_weight,
    form_spans,
    home_positions,
    role_positions,
)
from lickwright.theory.harmony import QUALITIES, chord_in_key
from lickwright.theory.rhythm import (
    BEATS_PER_BAR,
    GRIDS,
    TICKS_PER_BAR,
    TICKS_PER_BEAT,
    Onset,
    parse_cell,
)

#: The name of an exercise's form, and of its only template.
EXERCISE = "exercise"
BARS = 2
#: An answer of at least three beats follows a lick that starts on the first beat; a pickup starts on the fourth.
MOST_BEATS = 5
PICKUP_BEAT = 3
ROLES: tuple[Role, ...] = ("answer", "question")
#: Ways of laying the goals on a rhythm that are tried before another is drawn.
LAYINGS = 4
#: How often the number of notes counts when a rhythm is drawn, and what a note more then weighs: a thing is learned
#: in few notes first; what was mastered is met in more. Judgement, no source.
SLANTED, FEW_NOTES, MANY_NOTES = 0.5, 0.5, 1.8


class NoExercise(ValueError):
    """Nothing in the rules has a goal: ``goals`` are those that stand in no rhythm and position, or all together."""

    def __init__(self, where: str, goals: tuple[Goal, ...] = ()):
        super().__init__(where)
        self.where = where
        self.goals = goals


@dataclass(frozen=True)
class Rhythm:
    """A lick's rhythm: its cells, onsets from tick 0, weight."""

    figure: str
    tail: str
    onsets: tuple[Onset, ...]
    weight: float


def exercise_bars(rules: RuleFile, over: Sequence[str]) -> tuple[str, ...]:
    """The chords of two bars for each root numeral, as the style's forms have them. Raises NoExercise."""
    forms = [rules.forms[name] for name in rules.study.form]
    chords = [roman for form in forms for bar in form.bars for roman in bar.split()]
    by_root = {root_numeral(roman): roman for roman in reversed(chords)}
    missing = [root for root in over if root not in by_root]
    if missing:
        raise NoExercise(f"the form has no chord {missing[0]!r}: use some of {', '.join(sorted(by_root))}")
    return tuple(by_root[root] for root in over for _ in range(BARS))


def positions_of(rules: RuleFile, maker: LickMaker) -> tuple[int, ...]:
    """Every position that the style uses in this key, homes and those of the roles."""
    lead = maker.lead
    found = set(home_positions(rules, lead.key, lead.neck))
    for home in tuple(found):
        for positions in role_positions(rules, lead.key, lead.neck, home, 6).values():
            found |= set(positions)
    return tuple(sorted(found))


@dataclass
class Exercises:
    """Draws plans of exercises with these goals (each with how often) over these roots, and the wish for each."""

    rules: RuleFile
    maker: LickMaker
    tempo_bpm: int
    goals: tuple[tuple[Goal, int], ...]
    over: tuple[str, ...]
    each_note: float = FEW_NOTES
    bars: tuple[str, ...] = ()
    _rhythms: list[Rhythm] = field(default_factory=list)
    _usable: dict[tuple[int, int, Role, int], bool] = field(default_factory=dict)
    _seen: dict[tuple[int, int, Role], tuple[At, ...]] = field(default_factory=dict)
    _allowed: Allowed = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.bars = exercise_bars(self.rules, self.over)
        self.maker = self.maker.for_form(form_spans(self.bars))

    # ------------------------------------------------------------------ what there is

    @property
    def start_beat(self) -> int:
        """The beat on which a lick's figure starts: the first, or the last of the bar for a pickup."""
        return PICKUP_BEAT if any(goal.text == "cell:pickup" for goal, _ in self.goals) else 0

    @property
    def positions(self) -> tuple[int, ...]:
        """The home positions that may be taken, the style's favourites first."""
        lead = self.maker.lead
        asked = {goal.ask.position for goal, _ in self.goals if goal.ask.position is not None}
        if not asked:
            return home_positions(self.rules, lead.key, lead.neck)
        return tuple(position for position in positions_of(self.rules, self.maker) if {position} == asked)

    @property
    def grips(self) -> tuple[str, ...]:
        """The grips that are asked for."""
        return tuple(goal.ask.grip for goal, _ in self.goals if goal.ask.grip is not None)

    def rhythms(self) -> list[Rhythm]:
        """Every rhythm of the level in which the goals of rhythm stand, with room for an answer."""
        if not self._rhythms:
            self._rhythms = list(self._fitting())
        return self._rhythms

    def _fitting(self) -> Iterator[Rhythm]:
        rules, grid, step = self.rules, self.rules.study.grid, GRIDS[self.rules.study.grid]
        limits = note_limits(rules, self.tempo_bpm)
        asked = [goal.ask.cell for goal, _ in self.goals if goal.ask.cell is not None]
        wanted = [(goal.ask.rhythm, times) for goal, times in self.goals if goal.ask.rhythm is not None]
        figures, tails = usable_cells(rules, "figures"), usable_cells(rules, "tails")
        figures += [(c, 1, 10) for c in asked if "L" not in c and c not in {f for f, _, _ in figures}]
        tails += [(c, 1, 10) for c in asked if c.endswith("L") and c not in {t for t, _, _ in tails}]
        begin = self.start_beat * TICKS_PER_BEAT
        shape = rules.lead.shape
        for figure, _, weight in figures:
            if len(figure) * step % TICKS_PER_BEAT:
                continue
            for tail, _, more in tails:
                size = rhythm_size(figure, tail, grid, limits)
                if size is None or size.beats > MOST_BEATS:
                    continue
                if size.sounding_ticks > rules.layout.most_sounding * size.beats * TICKS_PER_BEAT:
                    continue
                low = shape.short_notes if size.beats <= 3 else shape.notes[0]
                onsets = parse_cell(figure + tail, grid).onsets
                if onsets[0].tick >= TICKS_PER_BEAT or not low <= len(onsets) <= shape.notes[1]:
                    continue
                moved = [replace(o, tick=o.tick + begin) for o in onsets]
                if all(len(rhythm(moved, step)) >= times for rhythm, times in wanted):
                    yield Rhythm(figure, tail, onsets, float(weight * more))

    def possible(self) -> None:
        """Raises NoExercise when a goal, or all of them together, can stand in no rhythm and position."""
        if not self.positions:
            positions = ", ".join(map(str, positions_of(self.rules, self.maker)))
            raise NoExercise(f"the style's windows in this key are at the frets {positions}")
        self._grip_chords()
        for goal, times in self.goals:
            most = most_of(goal, self.rules)
            if most is not None and times > most:
                raise NoExercise(f"{counted(times)} in a lick; the level allows {most}", (goal,))
            if len(self.goals) == 1:
                break
            alone = replace_goals(self, ((goal, times),))
            if not alone.rhythms() or not alone._somewhere():
                raise NoExercise(_never(goal, times), (goal,))
        if not self.rhythms() or not self._somewhere():
            every = tuple(goal for goal, _ in self.goals)
            why = "no rhythm and window has all of these" if len(every) > 1 else _never(*self.goals[0])
            raise NoExercise(why, every)

    def _somewhere(self) -> bool:
        return all(
            any(
                self.usable(n, rhythm, role, position)
                for rhythm in range(len(self.rhythms()))
                for position in self.positions
                for role in ROLES
            )
            for n in range(len(self.over))
        )

    def usable(self, number: int, rhythm: int, role: Role, position: int) -> bool:
        """True when every goal, taken by itself, has enough strong onsets in a rhythm (by number) and position."""
        key = number, rhythm, role, position
        if key not in self._usable:
            if key[:3] not in self._seen:
                lick = self._lick(number, self.rhythms()[rhythm], role, position)
                self._seen[key[:3]] = context(lick, self.maker.form, self.maker.lead, self.tempo_bpm)
            places = Places(
                self.rules, self.maker, self.tempo_bpm, self._seen[key[:3]], position, self._allowed
            )
            self._usable[key] = all(places.enough(goal, times) for goal, times in self.goals)
        return self._usable[key]

    def _places(self, lick: LickPlan, position: int) -> Places:
        seen = context(lick, self.maker.form, self.maker.lead, self.tempo_bpm)
        return Places(self.rules, self.maker, self.tempo_bpm, seen, position, self._allowed)

    # ------------------------------------------------------------------ drawing

    def plan(self, rng: Generator) -> tuple[Plan, Wish]:
        """A plan and the wish that lays the goals on it; raises NoExercise when this draw leads nowhere."""
        positions, rhythms = self.positions, self.rhythms()
        homes = by_weight(range(len(positions)), lambda k: self.rules.layout.home_odds**k, rng)
        role = ROLES[int(rng.integers(len(ROLES)))]
        each_note = self.each_note if rng.random() < SLANTED else 1.0
        order = by_weight(
            range(len(rhythms)),
            lambda k: rhythms[k].weight * each_note ** len(rhythms[k].onsets),
            rng,
        )
        every = range(len(self.over))
        for home in (positions[k] for k in homes):
            for k in order:
                if all(self.usable(n, k, role, home) for n in every):
                    licks = tuple(self._lick(n, rhythms[k], role, home) for n in every)
                    wish = self._laid(licks, home, rng)
                    if wish is not None:
                        return self._planned(licks, home, rng), wish
        raise NoExercise(f"no rhythm and window has these goals in a lick that is {role}")

    def _lick(self, number: int, rhythm: Rhythm, role: Role, position: int) -> LickPlan:
        start = (number * BARS * BEATS_PER_BAR + self.start_beat) * TICKS_PER_BEAT
        onsets = tuple(replace(o, tick=o.tick + start) for o in rhythm.onsets)
        notes = len(parse_cell(rhythm.figure, self.rules.study.grid).onsets)
        return LickPlan(number, 0, "A", role, rhythm.figure, rhythm.tail, onsets, notes, (position,))

    def _laid(self, licks: Sequence[LickPlan], position: int, rng: Generator) -> Wish | None:
        marks: dict[int, Mark] = {}
        ways: dict[int, int] = {}
        for lick in licks:
            for _ in range(LAYINGS):
                if self._places(lick, position).lay(self.goals, rng, marks, ways):
                    break
            else:
                return None
        return Wish(marks=marks, ways=ways)

    def _planned(self, licks: tuple[LickPlan, ...], home: int, rng: Generator) -> Plan:
        comps = [self._answer(lick, rng) for lick in licks]
        under = under_licks(self.rules, licks, rng) if not self.start_beat else ()
        return Plan(
            self.maker.form,
            ((0, len(self.bars) - 1, EXERCISE),),
            "",
            home,
            licks,
            (*(c for c in comps if c is not None), *under),
        )

    # ------------------------------------------------------------------ answers

    def _answer(self, lick: LickPlan, rng: Generator) -> CompPlan:
        """Comping for the beats that the lick leaves free in its two bars (before it, for a pickup)."""
        rules, step = self.rules, GRIDS[self.rules.study.grid]
        first = lick.number * BARS * TICKS_PER_BAR
        start = -(-lick.end // TICKS_PER_BEAT) * TICKS_PER_BEAT
        end = first + BARS * TICKS_PER_BAR
        if self.start_beat:
            start, end = first, first + self.start_beat * TICKS_PER_BEAT
        beats = min((end - start) // TICKS_PER_BEAT, LONGEST_BEATS)
        groove = groove_of(rules, rng)
        for shorter in range(beats, 0, -1):
            gap = Gap(0, end - shorter * TICKS_PER_BEAT, end, "", None if self.start_beat else lick)
            found = list(answers_in(rules, gap, self.maker.form, groove))
            options = [(name, p, w) for (name, p, _), w in found if self._answers(p, gap.start)]
            if options:
                break
        else:
            raise NoExercise(f"answers: none of {beats} beats or less fits behind the lick")
        name, pattern, _ = by_weight(options, lambda o: o[2], rng)[0]
        chords = self._chords(pattern, lick.number)
        return CompPlan(0, end - len(pattern) * step, pattern, name, chords)

    def _answers(self, pattern: str, start: int) -> bool:
        """True for a pattern with plain strokes of the grip asked for, often enough and on strong places."""
        wanted = [times for goal, times in self.goals if goal.ask.grip is not None]
        if not wanted:
            return True
        if set(pattern) - set("CB-."):
            return False
        step = GRIDS[self.rules.study.grid]
        held = [len(part) - len(part.lstrip("-")) + 1 for part in pattern.split("C")[1:]]
        ticks = [i * step for i, sign in enumerate(pattern) if sign == "C"]
        strong = sum(is_strong(t, n * step, False) for t, n in zip(ticks, held, strict=True))
        return strong >= max(wanted)

    def _chords(self, pattern: str, number: int) -> tuple[str, ...]:
        """For the hits of an answer by a grip, the chord in the quality that the grip gives it."""
        if not self.grips:
            return ()
        hits = sum(sign not in "-." for sign in pattern)
        return (self._grip_chords()[number],) * hits

    def _grip_chords(self) -> list[str]:
        """The chord that the grip asked for makes of each root; raises NoExercise."""
        if not self.grips:
            return []
        if len(set(self.grips)) > 1:
            raise NoExercise("a lick is answered by one grip: ask for one")
        name = self.grips[0]
        recipe, level = self.rules.grips.get(name), self.rules.level
        if recipe is None:
            raise NoExercise(f"no grip {name!r}: there are {', '.join(self.rules.grips)}")
        if recipe.grade > level.comping_grade:
            raise NoExercise(
                f"the grip {name} is of grade {recipe.grade}, the level {level.name} has grips up to grade "
                f"{level.comping_grade}"
            )
        found = []
        for bar in self.bars[::BARS]:
            chord = chord_in_key(bar, self.maker.lead.key)
            third = {"3", "b3"} & set(QUALITIES[chord.quality][0])
            fits = [q for q in recipe.qualities if {"3", "b3"} & set(QUALITIES[q][0]) == third]
            if not fits:
                raise NoExercise(f"the grip {name} gives no chord that can stand for {chord.symbol}")
            quality = chord.quality if chord.quality in fits else fits[0]
            found.append(bar.removesuffix(chord.quality) + quality)
        return found


def counted(times: int) -> str:
    """``once``, ``twice``, ``3 times``."""
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


def _never(goal: Goal, times: int) -> str:
    place = "" if goal.ask.rhythm is not None else " on a strong place"
    return f"no lick has {goal.words} {counted(times)}{place}"


def replace_goals(given: Exercises, goals: tuple[tuple[Goal, int], ...]) -> Exercises:
    """The same with other goals."""
    return Exercises(given.rules, given.maker, given.tempo_bpm, goals, given.over)
