"""What the licks of a study say: written licks dealt to the places of a layout, as a constraint problem.

An idea is one written lick in the form that each chord wants; a question and its answer are a pair; the last lick comes
home. Of several values the problem takes the first that goes together: ideas differ, the highest note is the climax's,
bends and grace notes stay within what a study may have. The values are tried in an order that the seed draws.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations, islice
from string import ascii_uppercase
from typing import NamedTuple

import constraint
from numpy.random import Generator

from lickwright.rulebook.degrees import BEND_SIZES, root_numeral
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.touches import NO_GRACE
from lickwright.rulebook.written import Saying, saying
from lickwright.solver.plan.layout import LayoutPlace, LickPlan
from lickwright.study.model import ChordSpan
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BAR, TICKS_PER_BEAT, Onset

#: Written licks tried for one idea, and choices of all ideas looked through for one that can be fingered.
MOST_NAMES, MOST_STORIES = 12, 60
#: Choices of all ideas that are weighed before a layout is given up.
MOST_LOOKED_AT = 1500
#: Frets between the lowest and the highest position of a study's licks at most.
WIDEST_POSITIONS = 5
#: From this many beats on a place asks for a lick of two bars.
TWO_BARS = BEATS_PER_BAR + 1
#: Ticks by which a lick may hang over the bar line into an answer.
OVER_THE_LINE = 8
#: Beats at the end of a study that belong to its ending.
ENDING_BEATS = 2


class _Idea(NamedTuple):
    """A written lick and the MIDI pitch of its 1."""

    name: str
    tonic: int


@dataclass(frozen=True)
class _Spot:
    """A place of the layout: its bar's first tick, the tick by which the lick is over, the form wanted there."""

    number: int
    place: LayoutPlace
    bar: int
    limit: int
    form: str
    idea: str


@dataclass(frozen=True)
class Ground:
    """What a story is told on: rules with key and neck, the places of a layout, the form's chords.

    ``home`` is the fret near which the hand lies; a beat holds ``notes_a_beat`` at most.
    """

    lead: Lead
    places: Sequence[LayoutPlace]
    form: tuple[ChordSpan, ...]
    home: int
    notes_a_beat: int
    tempo_bpm: int


#: For each idea of a layout the written lick that says it.
_Story = Mapping[str, _Idea]


def told(
    ground: Ground, rng: Generator, possible: Callable[[LickPlan, int], bool]
) -> tuple[LickPlan, ...] | None:
    """Written licks for all places of a layout, or None when none of the rule files' go together there.

    The hand lies in as few positions as the level allows, near home; ``possible`` says whether a planned lick can be
    fingered in one.
    """
    spots = list(_spots(ground.places, ground.form))
    sayings = _Sayings(ground.lead.rules, spots, ground.notes_a_beat, ground.tempo_bpm)
    positions = _Positions(ground.lead, ground.home)
    ideas: dict[str, list[_Idea]] = {}
    for name in dict.fromkeys(spot.idea for spot in spots):
        mine = [spot for spot in spots if spot.idea == name]
        ideas[name] = list(_ideas(ground.lead.rules, ground.lead.key, mine, sayings, positions, rng))
        if not ideas[name]:
            return None
    fingered: dict[tuple[int, _Idea, int], bool] = {}

    def fits(plan: LickPlan, position: int) -> bool:
        key = plan.number, _Idea(plan.figure, plan.tonic), position
        if key not in fingered:
            fingered[key] = possible(plan, position)
        return fingered[key]

    stuck: set[tuple[str, _Idea]] = set()
    for story in _stories(ideas, spots, sayings, positions):
        if any(choice in stuck for choice in story.items()):
            continue
        plans = list(_plans(spots, story, sayings))
        fitting = _fingered(plans, _reached(spots, story, sayings, positions), positions, fits)
        if all(fitting) and positions.cover(fitting):
            return tuple(replace(plan, positions=where) for plan, where in zip(plans, fitting, strict=True))
        stuck |= {(s.idea, story[s.idea]) for s, where in zip(spots, fitting, strict=True) if not where}
    return None


def _stories(
    ideas: Mapping[str, Sequence[_Idea]], spots: Sequence[_Spot], sayings: _Sayings, positions: _Positions
) -> Iterator[_Story]:
    """Choices of all ideas that go together, as a constraint problem finds them; MOST_STORIES at the most.

    The search is given up when so many were weighed in vain (MOST_LOOKED_AT).
    """
    names = list(ideas)
    weighed = 0

    def together(*chosen: _Idea) -> bool:
        nonlocal weighed
        weighed += 1
        story = dict(zip(names, chosen, strict=True))
        return weighed > MOST_LOOKED_AT or (
            sayings.balanced(story)
            and positions.cover(_reached(spots, story, sayings, positions)) is not None
        )

    problem = constraint.Problem(constraint.BacktrackingSolver())
    for name, values in ideas.items():
        problem.addVariable(name, list(reversed(values)))
    for one, other in combinations(names, 2):
        problem.addConstraint(partial(sayings.side_by_side, one, other), (one, other))
    problem.addConstraint(together, names)
    for story in islice(problem.getSolutionIter(), MOST_STORIES):
        if weighed > MOST_LOOKED_AT:
            return
        yield story


def _reached(
    spots: Sequence[_Spot], story: _Story, sayings: _Sayings, positions: _Positions
) -> list[tuple[int, ...]]:
    """For each spot the positions from which its lick lies under the hand."""
    return [positions.reaching(sayings.of(story, spot), story[spot.idea].tonic) for spot in spots]


def _fingered(
    plans: Sequence[LickPlan],
    reached: Sequence[tuple[int, ...]],
    positions: _Positions,
    possible: Callable[[LickPlan, int], bool],
) -> list[tuple[int, ...]]:
    """The positions for each lick out of as few as will do; none for the licks that no position allows."""
    left = list(reached)
    while (where := positions.cover(left)) is not None:
        asked = [tuple(h for h in where if h in mine) for mine in left]
        fitting = [
            tuple(h for h in mine if possible(plan, h)) for plan, mine in zip(plans, asked, strict=True)
        ]
        if fitting == asked or all(fitting):
            return fitting
        left = [
            tuple(h for h in mine if h in fits or h not in where)
            for mine, fits in zip(left, fitting, strict=True)
        ]
    return left


class _Positions:
    """Where the hand may lie in a study: frets under the index finger, those nearest to home first."""

    def __init__(self, lead: Lead, home: int):
        self._lead = lead
        windows = lead.rules.lead.windows
        frets = range(max(1, windows.lowest), windows.highest + 1)
        self.frets = sorted(frets, key=lambda fret: (abs(fret - home), fret))
        self.most = lead.rules.level.windows
        self._known: dict[tuple[Saying, int], tuple[int, ...]] = {}
        self._pitches = {position: self._under(position) for position in self.frets}
        self._bendable = {
            (position, BEND_SIZES[size]): self._bent(position, size)
            for position in self.frets
            for size in lead.rules.lead.bends.sizes
        }

    def _under(self, position: int) -> frozenset[int]:
        """The pitches under the hand."""
        neck = self._lead.neck
        frets = [*range(max(1, position - 1), min(neck.top_fret, position + 4) + 1)]
        frets += [0] if position <= self._lead.rules.lead.windows.open_strings_up_to else []
        return frozenset(neck.pitch(s, f) for s in range(1, neck.strings + 1) for f in frets)

    def _bent(self, position: int, size: str) -> frozenset[int]:
        """The pitches under the hand on strings, frets and fingers that may bend so far."""
        neck, bends = self._lead.neck, self._lead.rules.lead.bends
        low, fingers = bends.lowest_fret[size], set(bends.fingers[size])  # type: ignore[index]
        frets = range(max(position - 1, low), min(neck.top_fret, position + 4, bends.highest_fret) + 1)
        return frozenset(
            neck.pitch(string, fret)
            for string in bends.strings
            if string <= neck.strings
            for fret in frets
            if fingers.intersection(self._lead.shape.fingers(fret - position))
        )

    def reaching(self, words: Saying, tonic: int) -> tuple[int, ...]:
        """The positions from which every note of a written lick lies under the hand."""
        key = words, tonic
        if key not in self._known:
            plain = {note.pitch + tonic for note in words.notes}
            plain |= {note.mate_pitch + tonic for note in words.notes if note.mate_pitch is not None}
            bent = [(note.pitch + tonic, note.bend) for note in words.notes if note.bend]
            self._known[key] = tuple(
                position
                for position in self.frets
                if plain <= self._pitches[position]
                and all(pitch in self._bendable.get((position, size), ()) for pitch, size in bent)
            )
        return self._known[key]

    def cover(self, reached: Sequence[tuple[int, ...]]) -> tuple[int, ...] | None:
        """As few positions as will do, near each other, with one for each lick; None when the level has too few."""
        useful = [fret for fret in self.frets if any(fret in where for where in reached)]
        for count in range(1, self.most + 1):
            for chosen in combinations(useful, count):
                near = max(chosen) - min(chosen) <= WIDEST_POSITIONS
                if near and all(any(fret in where for fret in chosen) for where in reached):
                    return chosen
        return None


def _spots(places: Sequence[LayoutPlace], form: tuple[ChordSpan, ...]) -> Iterator[_Spot]:
    first, end = places[0].base, form[-1].onset + form[-1].duration
    letters = {place.base for place in places}
    roots = [root_numeral(_chord_at(form, _bar(place))) for place in places]
    asked = [
        n
        for n, place in enumerate(places)
        if place.base != first and roots[n] == "I" and place.template.role in ("question", "answer")
    ]
    pairs = {n: (asked[k - k % 2], k % 2) for k, n in enumerate(asked) if k - k % 2 + 1 < len(asked)}
    for n, place in enumerate(places):
        paired = n in pairs
        idea, said = place.base, f"over {roots[n]}"
        if paired:
            opens, answers = pairs[n]
            idea = f"{places[opens].base} asked in place {opens}"
            said = "answer" if answers else "question"
        if place.template.role == "close" and roots[n] == "I" and not paired:
            idea = next(letter for letter in ascii_uppercase if letter not in letters)
        bars = 2 if place.template.least_beats >= TWO_BARS else 1
        following = _bar(places[n + 1]) if n + 1 < len(places) else end - ENDING_BEATS * TICKS_PER_BEAT
        limit = min(_bar(place) + bars * TICKS_PER_BAR + OVER_THE_LINE, following)
        yield _Spot(n, place, _bar(place), limit, said, idea)


def _letter(spot: _Spot) -> str:
    """The name of a lick for a reader: an answer has its question's letter with a mark."""
    if spot.idea == spot.place.base:
        return spot.place.letter
    asked = spot.idea.partition(" ")[0]
    return asked + ("'" if spot.form == "answer" else "")


def _bar(place: LayoutPlace) -> int:
    tick = (place.phrase_beat + place.template.beat) * TICKS_PER_BEAT
    return tick - tick % TICKS_PER_BAR


def _chord_at(form: tuple[ChordSpan, ...], tick: int) -> str:
    return next(span.roman for span in reversed(form) if span.onset <= tick)


class _Sayings:
    """The written licks of some spots, worked out once each."""

    def __init__(self, rules: RuleFile, spots: Sequence[_Spot], notes_a_beat: int, tempo_bpm: int):
        self.rules = rules
        self.spots = spots
        self.notes_a_beat = notes_a_beat
        self.tempo_bpm = tempo_bpm
        self._known: dict[tuple[str, str], Saying | None] = {}

    def at(self, name: str, spot: _Spot) -> Saying | None:
        """What a written lick says at a spot, or None when it has nothing for its chord or no room there."""
        if (name, spot.form) not in self._known:
            self._known[name, spot.form] = saying(self.rules, name, spot.form, self.tempo_bpm)
        words = self._known[name, spot.form]
        if words is None or words.onsets[0].tick < 0:
            return None
        last = words.onsets[-1]
        beats = [onset.tick // TICKS_PER_BEAT for onset in words.onsets]
        crowded = max(map(beats.count, beats)) > self.notes_a_beat
        return None if crowded or spot.bar + last.tick + last.duration > spot.limit else words

    def of(self, ideas: Mapping[str, _Idea], spot: _Spot) -> Saying:
        """What is said at a spot by the idea that was chosen for it."""
        words = self.at(ideas[spot.idea].name, spot)
        assert words is not None
        return words

    def side_by_side(self, one: str, other: str, a: _Idea, b: _Idea) -> bool:
        """True when two ideas are different licks, and neither rises over the other's climax."""
        if a.name == b.name:
            return False
        ideas = {one: a, other: b}
        tops, climaxes = self._tops(ideas)
        return not climaxes or max(climaxes) >= max(tops, default=0)

    def _tops(self, ideas: Mapping[str, _Idea]) -> tuple[list[int], list[int]]:
        """The highest pitches of what the ideas say: those of climaxes apart."""
        tops: list[int] = []
        climaxes: list[int] = []
        for spot in (spot for spot in self.spots if spot.idea in ideas):
            top = ideas[spot.idea].tonic + self.of(ideas, spot).peak
            (climaxes if spot.place.template.role == "climax" else tops).append(top)
        return tops, climaxes

    def balanced(self, ideas: Mapping[str, _Idea]) -> bool:
        """True when bends and graces are no more than a study may have."""
        lead = self.rules.lead
        bends = graces = 0
        for spot in self.spots:
            words = self.of(ideas, spot)
            bends += sum(note.bend >= 2 for note in words.notes)
            graces += sum(note.grace != NO_GRACE for note in words.notes)
        return bends <= lead.bends.most_per_study and graces <= lead.techniques.graces_per_study


def _ideas(
    rules: RuleFile,
    key: Key,
    spots: Sequence[_Spot],
    sayings: _Sayings,
    positions: _Positions,
    rng: Generator,
) -> Iterator[_Idea]:
    """The written licks that may be an idea, in an order drawn by the seed, each with its best octave first."""
    long = any(spot.place.template.least_beats >= TWO_BARS for spot in spots)
    names = _names(rules, spots[0], 2 if long else 1)
    dealt = [names[k] for k in rng.permutation(len(names))]
    usable = 0
    for name in dealt:
        words = [sayings.at(name, spot) for spot in spots]
        said = [w for w in words if w is not None]
        if len(said) < len(spots):
            continue
        octaves = list(_octaves(key, said, positions))
        yield from (_Idea(name, tonic) for tonic in octaves)
        usable += bool(octaves)
        if usable == MOST_NAMES:
            return


def _names(rules: RuleFile, spot: _Spot, bars: int) -> list[str]:
    """The written licks of the level that do what a spot wants; the level's own where there are some."""
    if spot.form in ("question", "answer"):
        grades = {name: pair.grade for name, pair in rules.pair.items()}
    else:
        does = "close" if spot.place.template.role == "close" and spot.idea != spot.place.base else "call"
        grades = {n: w.grade for n, w in rules.lick.items() if w.does == does and w.bars <= bars}
    grade = rules.level.grade
    own = [name for name, g in grades.items() if g == grade]
    near = [name for name, g in grades.items() if g == grade - 1]
    return own + near if grade == 3 else own or near


def _octaves(key: Key, said: Sequence[Saying], positions: _Positions) -> Iterator[int]:
    """The MIDI pitches of the tonic with which each form lies under the hand somewhere, nearest to home first."""
    nearest = []
    for tonic in range(key.pitch_class, 128, 12):
        reached = [positions.reaching(words, tonic) for words in said]
        if all(reached):
            nearest.append((sum(positions.frets.index(where[0]) for where in reached), tonic))
    yield from (tonic for _, tonic in sorted(nearest))


def _plans(spots: Sequence[_Spot], story: Mapping[str, _Idea], sayings: _Sayings) -> Iterator[LickPlan]:
    first_of: dict[str, int] = {}
    for spot in spots:
        idea, place = story[spot.idea], spot.place
        words = sayings.of(story, spot)
        onsets = tuple(Onset(o.tick + spot.bar, o.duration, o.landing) for o in words.onsets)
        quotes = first_of.setdefault(spot.idea, spot.number)
        yield LickPlan(
            spot.number,
            place.phrase,
            _letter(spot),
            place.template.role,
            idea.name,
            spot.form,
            onsets,
            len(onsets),
            (),
            None if quotes == spot.number else quotes,
            False,
            words.notes,
            idea.tonic,
        )


def retold(
    lead: Lead,
    licks: Sequence[LickPlan],
    numbers: Collection[int],
    end: int,
    tempo_bpm: int,
    rng: Generator,
    possible: Callable[[LickPlan, int], bool],
) -> tuple[LickPlan, ...]:
    """The licks with another written one in place of each written one of these numbers, where some other fits its room.

    Licks of one name get one new name when all of them are to change. What was free stays as it is; ``end`` is the
    tick at which the study's last lick must be over.
    """
    rules = lead.rules
    names = {**rules.lick, **rules.pair}
    retold = list(licks)
    for name in dict.fromkeys(
        lick.figure for lick in licks if lick.number in numbers and lick.figure in names
    ):
        family = [lick for lick in licks if lick.figure == name]
        groups = [family]
        if not all(lick.number in numbers for lick in family):
            groups = [[lick] for lick in family if lick.number in numbers]
        for group in groups:
            for lick in _another(lead, group, [*licks], end, tempo_bpm, rng, possible):
                alone = group is not family and len(family) > 1
                retold[lick.number] = replace(lick, quotes=None if alone else lick.quotes)
    return tuple(retold)


def _another(
    lead: Lead,
    group: Sequence[LickPlan],
    licks: Sequence[LickPlan],
    end: int,
    tempo_bpm: int,
    rng: Generator,
    possible: Callable[[LickPlan, int], bool],
) -> tuple[LickPlan, ...]:
    """The licks of one name said by another written lick; none when no other fits."""
    rules = lead.rules
    name = group[0].figure
    if name in rules.pair:
        others = [n for n, pair in rules.pair.items() if pair.grade <= rules.level.grade]
    else:
        does = rules.lick[name].does
        others = [n for n, w in rules.lick.items() if w.does == does and w.grade <= rules.level.grade]
    used = {lick.figure for lick in licks}
    for k in rng.permutation(len(others)):
        if others[k] in used:
            continue
        for tonic in sorted(range(lead.key.pitch_class, 128, 12), key=lambda t: abs(t - group[0].tonic)):
            told_anew = [
                _said_by(
                    lead, replace(lick, tonic=tonic), others[k], _room(lick, licks, end), tempo_bpm, possible
                )
                for lick in group
            ]
            fitting = tuple(lick for lick in told_anew if lick is not None)
            if len(fitting) == len(group):
                return fitting
    return ()


def _room(lick: LickPlan, licks: Sequence[LickPlan], end: int) -> int:
    """The tick by which another lick in a lick's place is over: the beat in which the old one ends, or what follows."""
    following = min((x.anchor for x in licks if x.start > lick.start), default=end)
    return min(following, -(-lick.end // TICKS_PER_BEAT) * TICKS_PER_BEAT)


def _said_by(
    lead: Lead,
    lick: LickPlan,
    name: str,
    room: int,
    tempo_bpm: int,
    possible: Callable[[LickPlan, int], bool],
) -> LickPlan | None:
    """The lick said by another written one in its room, octave and positions, or None."""
    words = saying(lead.rules, name, lick.tail, tempo_bpm)
    if words is None or words.onsets[0].tick < 0:
        return None
    bar = lick.start - lick.start % TICKS_PER_BAR
    onsets = tuple(Onset(o.tick + bar, o.duration, o.landing) for o in words.onsets)
    if (
        onsets[0].tick < lick.start - lick.start % TICKS_PER_BEAT
        or onsets[-1].tick + onsets[-1].duration > room
    ):
        return None
    anew = replace(lick, figure=name, onsets=onsets, figure_notes=len(onsets), mask=words.notes)
    where = tuple(p for p in lick.positions if possible(anew, p))
    return replace(anew, positions=where) if where else None
