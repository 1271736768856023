"""Which comping answers in which gap between the licks: a constraint problem over patterns, groove and endings.

A study has a groove of its own. Answers echo the rhythm of the lick before them and keep to that of the first one (the
riff) while their voices move; a gap that ends at a change may lead into it. The last gap, and the last of a chorus that
goes on, takes an ending or a turnaround.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import constraint
from numpy.random import Generator

from lickwright.rulebook.degrees import root_numeral
from lickwright.rulebook.schema.rule_file import AnswerFamily, PhraseKind, RuleFile
from lickwright.rulebook.sense import root_sign
from lickwright.rulebook.whole import most_alike
from lickwright.solver.comping import POWER_SIGNS
from lickwright.solver.plan.layout import CompPlan, LickPlan, by_weight
from lickwright.solver.plan.playable import Playable
from lickwright.study.model import ChordSpan
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR, TICKS_PER_BEAT, shared_gaps

UNDER_A_LICK = "under a lick"
#: The longest pattern; a longer gap is answered bar by bar.
LONGEST_BEATS = 5
#: Signs that only strike the grip or the power chord: with the root's, all that do not move something.
STILL_SIGNS = frozenset("CPx.-")

#: A pattern with its family's name and the chords of its hits, if it brings its own.
_Option = tuple[str, str, tuple[str, ...]]


@dataclass(frozen=True)
class Gap:
    """What the licks leave free, in whole beats. ``closes`` is the root an ending there goes to, or empty."""

    phrase: int
    start: int
    end: int
    closes: str
    before: LickPlan | None

    @property
    def beats(self) -> int:
        """How long it is."""
        return (self.end - self.start) // TICKS_PER_BEAT


def choose_comping(
    rules: RuleFile,
    licks: tuple[LickPlan, ...],
    phrases: Sequence[tuple[int, PhraseKind]],
    form: tuple[ChordSpan, ...],
    rng: Generator,
    playable: Playable | None = None,
) -> tuple[CompPlan, ...] | None:
    """A pattern for each gap between licks and an ending for the last, by constraints; None when none fit.

    ``phrases`` are (bars, kind). A pattern that is not ``playable`` in its gap is not put there.
    """
    step = GRIDS[rules.study.grid]
    gaps = list(_gaps(licks, phrases, form))
    groove = groove_of(rules, rng)
    domains: list[list[_Option]] = []
    riff: _Struck | None = None
    for gap in gaps:
        options = list(_endings(rules, gap) if gap.closes else answers_in(rules, gap, form, groove, riff))
        order = [option for option, _ in by_weight(options, lambda o: o[1], rng)]
        if not order:
            return None
        if riff is None and gap.beats >= rules.comping.riff_beats:
            riff = _struck(gap, order[0][1], step)
        domains.append(order)
    while all(domains):
        problem = constraint.Problem(constraint.BacktrackingSolver())
        for k, order in enumerate(domains):
            problem.addVariable(k, list(reversed(order)))
        _constrain(problem, rules, domains, form)
        solution = problem.getSolution()
        if solution is None:
            return None
        comps = []
        for k, gap in enumerate(gaps):
            name, pattern, chords = solution[k]
            comps.append(CompPlan(gap.phrase, gap.end - len(pattern) * step, pattern, name, chords))
        stuck = [
            k
            for k, comp in enumerate(comps)
            if playable is not None and not playable(comp, form, *_between(gaps[k], licks))
        ]
        if not stuck:
            return (*comps, *under_licks(rules, licks, rng, comps))
        for k in stuck:
            domains[k] = [option for option in domains[k] if option != solution[k]]
    return None


def _between(gap: Gap, licks: Sequence[LickPlan]) -> tuple[LickPlan | None, LickPlan | None]:
    """The licks right before and after a gap; None where another answer, or nothing, lies between."""
    end = -(-gap.before.end // TICKS_PER_BEAT) * TICKS_PER_BEAT if gap.before else None
    after = next((x for x in licks if x.anchor == gap.end), None)
    return (gap.before if end == gap.start else None), after


def groove_of(rules: RuleFile, rng: Generator) -> str:
    """The groove of a study: one that the level and the feel have answers in."""
    known = {f.groove for f in rules.answers.values() if _may(rules, f)}
    names = [name for name in rules.comping.grooves if name in known]
    return next(iter(by_weight(names, lambda n: float(rules.comping.grooves[n]), rng)), "")


def _may(rules: RuleFile, family: AnswerFamily) -> bool:
    study = rules.study
    return (
        family.grid == study.grid
        and family.grade <= rules.level.comping_grade
        and (not family.feels or study.feel in family.feels)
    )


def _endings(rules: RuleFile, gap: Gap) -> Iterator[tuple[_Option, float]]:
    study = rules.study
    for name, e in rules.endings.items():
        fits = e.beats == min(gap.beats, 4) and e.grid == study.grid and e.minor == study.minor
        fits = fits and e.grade <= rules.level.comping_grade and e.to == gap.closes
        if fits and (not e.feels or study.feel in e.feels):
            yield (name, e.pattern, tuple(e.chords)), float(e.weight)


def answers_in(
    rules: RuleFile, gap: Gap, form: tuple[ChordSpan, ...], groove: str, riff: _Struck | None = None
) -> Iterator[tuple[_Option, float]]:
    """The patterns that may answer in a gap, each with its weight; with a ``riff`` those that strike with it more often.

    Nothing leads on before the first lick: a chorus begins with its own chord.
    """
    comping = rules.comping
    changes = {a.onset for b, a in pairwise(form) if b.roman != a.roman}
    heard = gap.before is not None
    leading = heard and gap.end % TICKS_PER_BAR == 0 and gap.end in changes
    leads = {sign for sign, bass in comping.bass.items() if bass.off_next} | {"L"}
    step = GRIDS[rules.study.grid]
    for name, family in rules.answers.items():
        if family.beats != gap.beats or not _may(rules, family):
            continue
        if family.place != "anywhere" and (family.place == "before a change") != leading:
            continue
        weight = float(family.weight) * (comping.leading if family.place == "before a change" else 1.0)
        if family.groove:
            weight *= comping.on_groove if family.groove == groove else comping.off_groove
        for pattern in family.patterns:
            if leading or not set(pattern) & leads:
                own = weight * _opening(rules, gap, pattern) * _echo(rules, gap, pattern)
                own *= 1.0 + rules.comping.riff * _likeness(riff, _struck(gap, pattern, step))
                if own > 0:
                    yield (name, pattern, ()), own


class _Struck(NamedTuple):
    """Where a pattern strikes: ticks in the bar, and which ticks of the bar (from, to) it fills."""

    ticks: frozenset[int]
    span: tuple[int, int]


def _struck(gap: Gap, pattern: str, step: int) -> _Struck:
    first = (gap.end - len(pattern) * step) % TICKS_PER_BAR
    ticks = frozenset(first + i * step for i, sign in enumerate(pattern) if sign not in "-.")
    return _Struck(ticks, (first, first + len(pattern) * step))


def _likeness(riff: _Struck | None, other: _Struck) -> float:
    """How far two patterns strike together where both are, squared: 0 to 1; without a riff, or apart from it, 0."""
    if riff is None:
        return 0.0
    start, end = max(riff.span[0], other.span[0]), min(riff.span[1], other.span[1])
    mine, theirs = ({t for t in p.ticks if start <= t < end} for p in (riff, other))
    return (len(mine & theirs) / len(mine | theirs)) ** 2 if mine | theirs else 0.0


def _opening(rules: RuleFile, gap: Gap, pattern: str) -> float:
    """An answer that begins on a bar's first beat begins with the root or a grip more often than late."""
    comping = rules.comping
    if pattern[0] in root_sign(rules) + "PQ" and gap.start % TICKS_PER_BAR == 0:
        return comping.root_first
    return 1.0 if pattern[0] in ".-" else comping.grip_first


def _echo(rules: RuleFile, gap: Gap, pattern: str) -> float:
    """An answer that has gaps of the lick's rhythm is taken more often."""
    if gap.before is None:
        return 1.0
    step = GRIDS[rules.study.grid]
    mine = [i * step for i, sign in enumerate(pattern) if sign not in "-."]
    theirs = [o.tick for o in gap.before.onsets]
    return 1.0 + rules.comping.echo * shared_gaps(theirs, mine)[2]


def _constrain(
    problem: constraint.Problem, rules: RuleFile, domains: list[list[_Option]], form: tuple[ChordSpan, ...]
) -> None:
    """Variety over the whole study: no riff too often or twice running, enough bass and movement."""
    step, comping = GRIDS[rules.study.grid], rules.comping
    everyone = list(range(len(domains)))
    most = most_alike(rules, (form[-1].onset + form[-1].duration) // TICKS_PER_BAR)

    def varied(*values: _Option) -> bool:
        patterns = [p for _, p, _ in _known(values) if len(p) * step > TICKS_PER_BEAT]
        return all(patterns.count(p) <= most for p in patterns)

    basses, still = set(POWER_SIGNS) | set(comping.bass), STILL_SIGNS | {root_sign(rules)}

    def low(pattern: str) -> bool:
        return not basses.isdisjoint(pattern)

    def moves(pattern: str) -> bool:
        return not still.issuperset(pattern)

    least_low = min(comping.least_bass, sum(any(low(p) for _, p, _ in d) for d in domains) // 2)
    least_moving = min(comping.least_moving, sum(any(moves(p) for _, p, _ in d) for d in domains) // 2)

    def bass(*values: _Option) -> bool:
        return sum(v is constraint.Unassigned or low(v[1]) for v in values) >= least_low

    def moving(*values: _Option) -> bool:
        return sum(v is constraint.Unassigned or moves(v[1]) for v in values) >= least_moving

    walking = {sign for sign, bass_line in comping.bass.items() if bass_line.off_next}

    def walks(*values: _Option) -> bool:
        return sum(not walking.isdisjoint(p) for _, p, _ in _known(values)) <= most

    for rule in (varied, bass, moving, walks):
        problem.addConstraint(constraint.FunctionConstraint(rule, assigned=False), everyone)
    for k in everyone[:-1]:
        problem.addConstraint(lambda a, b: a[1] != b[1] or len(a[1]) * step <= TICKS_PER_BEAT, [k, k + 1])


def _known(values: Sequence[_Option]) -> list[_Option]:
    """The gaps that have their answer already: a rule over the whole study is asked as it is filled in."""
    return [value for value in values if value is not constraint.Unassigned]


def under_licks(
    rules: RuleFile, licks: tuple[LickPlan, ...], rng: Generator, comps: Sequence[CompPlan] = ()
) -> Iterator[CompPlan]:
    """The root under the beat in which a lick starts late, for as long as the lick is silent.

    A walk towards that beat always arrives.
    """
    step = GRIDS[rules.study.grid]
    walking = {sign for sign, bass_line in rules.comping.bass.items() if bass_line.off_next}
    walks = {c.start + len(c.pattern) * step for c in comps if not walking.isdisjoint(c.pattern[-3:])}
    root = root_sign(rules)
    for lick in licks if root else ():
        first = lick.anchor
        silent = (lick.start - first) // step
        if silent and lick.mask is not None:
            yield CompPlan(
                lick.phrase, first, root + "-" * (min(silent, TICKS_PER_BEAT // step) - 1), UNDER_A_LICK
            )
        elif silent and first % (2 * TICKS_PER_BEAT) == 0:
            drawn = rng.random() < rules.comping.bass_under_lick
            if drawn or first in walks:
                yield CompPlan(lick.phrase, first, root + "-" * (silent - 1), UNDER_A_LICK)


def _gaps(
    licks: tuple[LickPlan, ...], phrases: Sequence[tuple[int, PhraseKind]], form: tuple[ChordSpan, ...]
) -> Iterator[Gap]:
    ends, tick = [], 0
    for length, _ in phrases:
        tick += length * TICKS_PER_BAR
        ends.append(tick)
    at = 0
    before: LickPlan | None = None
    for lick in (*licks, None):
        begin = ends[-1] if lick is None else lick.anchor
        if begin > at:
            phrase = next(k for k, end in enumerate(ends) if at < end)
            turning = phrases[phrase][1] == "turning" and begin == ends[phrase]
            last = root_numeral(next(s.roman for s in reversed(form) if s.onset < begin))
            closes = ("V" if last == "V" else "I") if lick is None else "V" if turning and last == "V" else ""
            yield from _split(Gap(phrase, at, begin, closes, before), ends)
        if lick is not None:
            at = -(-lick.end // TICKS_PER_BEAT) * TICKS_PER_BEAT
        before = lick


def _split(gap: Gap, ends: list[int]) -> Iterator[Gap]:
    """A gap that is longer than any pattern is answered in parts that end at bar lines."""
    start = gap.start
    while gap.end - start > LONGEST_BEATS * TICKS_PER_BEAT:
        line = (start // TICKS_PER_BAR + 1) * TICKS_PER_BAR
        if line - start < 2 * TICKS_PER_BEAT and gap.end - line > LONGEST_BEATS * TICKS_PER_BEAT:
            line += TICKS_PER_BAR
        phrase = next(k for k, end in enumerate(ends) if start < end)
        yield Gap(phrase, start, line, "", gap.before)
        start = line
    phrase = next(k for k, end in enumerate(ends) if start < end)
    yield Gap(phrase, start, gap.end, gap.closes, gap.before)
