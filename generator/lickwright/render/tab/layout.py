"""Where things stand in text tab: columns for ticks, and bars gathered into systems.

It knows texts and their lengths (``tab_signs.Ink``); it knows nothing of what they mean. Time runs evenly
across a beat: a tick lies at its share of the beat's columns. Every beat starts from one common width; one
that holds more than fits is widened, and nothing else moves, so that no text ever meets the next. The
systems of one tab are set as widely as they can be, and narrower only where a phrase would need more of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise

from lickwright.render.tab.signs import LINKS, Ink
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BEAT

#: Columns of a beat and of the room after a bar line, from easy to read to tight, by grid.
DENSITIES: dict[str, tuple[tuple[int, int], ...]] = {
    "triplet": ((9, 2), (9, 1), (6, 2), (6, 1)),
    "straight": ((8, 2), (8, 1), (6, 2), (6, 1)),
}
MOST_BARS_A_SYSTEM = 4
_WIDEST_BEAT = 120


class TooNarrowError(ValueError):
    """A page too narrow for a single beat; says which bar and how many columns it needs."""


@dataclass(frozen=True)
class Segment:
    """A run of whole beats between two bar lines, or a part of such a run where a bar had to be cut.

    ``first_beat`` counts from the study's start; ``opens`` and ``closes`` tell whether bar lines stand there.
    """

    first_beat: int
    widths: tuple[int, ...]
    lead: int
    opens: bool = True
    closes: bool = True

    @property
    def columns(self) -> int:
        """Its columns, the closing bar line included."""
        return self.lead + sum(self.widths) + 1

    @property
    def last_beat(self) -> int:
        """The beat after its last."""
        return self.first_beat + len(self.widths)

    def column(self, tick: int) -> int:
        """The column of a tick from the segment's first column."""
        beat, part = divmod(tick, TICKS_PER_BEAT)
        beat -= self.first_beat
        if beat == len(self.widths) and part == 0:
            return self.lead + sum(self.widths)
        return self.lead + sum(self.widths[:beat]) + (2 * self.widths[beat] * part + TICKS_PER_BEAT) // 24

    def holds(self, tick: int) -> bool:
        """Whether the tick lies in it."""
        return self.first_beat * TICKS_PER_BEAT <= tick < self.last_beat * TICKS_PER_BEAT


@dataclass(frozen=True)
class System:
    """One line of music: segments side by side after a margin of string names and one line."""

    segments: tuple[Segment, ...]
    margin: int

    @cached_property
    def starts(self) -> tuple[int, ...]:
        """The first column of each segment."""
        at, found = self.margin, []
        for segment in self.segments:
            found.append(at)
            at += segment.columns
        return tuple(found)

    @property
    def columns(self) -> int:
        """The whole width."""
        return self.margin + sum(s.columns for s in self.segments)

    @property
    def first_tick(self) -> int:
        """The tick it starts at."""
        return self.segments[0].first_beat * TICKS_PER_BEAT

    @property
    def end_tick(self) -> int:
        """The tick it ends before."""
        return self.segments[-1].last_beat * TICKS_PER_BEAT

    def column(self, tick: int) -> int:
        """The column of a tick that the system holds."""
        for start, segment in zip(self.starts, self.segments, strict=True):
            if segment.holds(tick):
                return start + segment.column(tick)
        raise ValueError(f"tick {tick} is not in this system")

    def room(self, tick: int) -> int:
        """The column of the line that closes the segment which holds the tick."""
        for start, segment in zip(self.starts, self.segments, strict=True):
            if segment.holds(tick):
                return start + segment.columns - 1
        raise ValueError(f"tick {tick} is not in this system")


def _pairs(parts: Sequence[Sequence[Ink]]) -> Iterator[tuple[Ink, Ink, int]]:
    """Every two texts of which the second needs a distance from the first: (first, second, columns)."""
    for part in parts:
        by_string: dict[int, list[Ink]] = defaultdict(list)
        for mark in part:
            by_string[mark.string].append(mark)
        for row in by_string.values():
            for a, b in pairwise(row):
                gap = 0 if b.before and b.before[0] in LINKS else 1
                yield a, b, len(a.body) + gap + len(b.before)
        onsets = {mark.tick: mark for mark in part}
        for a, b in pairwise(onsets[t] for t in sorted(onsets)):
            yield a, b, max(2, len(a.fret))


def fit(
    parts: Sequence[Sequence[Ink]], first_beat: int, beats: int, density: tuple[int, int], whole: bool = True
) -> Segment:
    """The narrowest segment of that density in which all parts fit one under the other.

    ``parts`` holds the texts of each guitar. Raises TooNarrowError when a beat runs out of all bounds.
    """
    start, end = first_beat * TICKS_PER_BEAT, (first_beat + beats) * TICKS_PER_BEAT
    inside = [[mark for mark in part if start <= mark.tick < end] for part in parts]
    lead = max([density[1], *(len(m.before) for part in inside for m in part if m.tick == start)])
    widths = [density[0]] * beats
    pairs = list(_pairs(inside))
    while True:
        segment = Segment(first_beat, tuple(widths), lead, closes=whole)
        tight = next(
            (a for a, b, need in pairs if segment.column(b.tick) - segment.column(a.tick) < need), None
        )
        if tight is None:
            edge = segment.columns - 1
            over = (m for part in inside for m in part if segment.column(m.tick) + len(m.body) > edge)
            tight = next(over, None)
        if tight is None:
            return segment
        beat = tight.tick // TICKS_PER_BEAT - first_beat
        widths[beat] += 1
        if widths[beat] > _WIDEST_BEAT:
            raise TooNarrowError(f"bar {first_beat // BEATS_PER_BAR + 1} cannot be set as text")


def _divisions(count: int) -> Iterator[tuple[int, ...]]:
    """The ways to divide ``count`` bars into systems, as numbers of bars."""
    if count == 0:
        yield ()
    for first in range(1, min(count, MOST_BARS_A_SYSTEM) + 1):
        for rest in _divisions(count - first):
            yield (first, *rest)


def _cut_bar(parts: Sequence[Sequence[Ink]], bar: int, grid: str, margin: int, width: int) -> list[System]:
    """A bar that is wider than the page, in two halves or in single beats."""
    first = bar * BEATS_PER_BAR
    for step in (2, 1):
        for density in DENSITIES[grid]:
            cut = [fit(parts, first + b, step, density, whole=False) for b in range(0, BEATS_PER_BAR, step)]
            systems = [System((_edges(s, first),), margin) for s in cut]
            if all(s.columns <= width for s in systems):
                return systems
    need = max(s.columns for s in systems)
    raise TooNarrowError(f"bar {bar + 1} needs {need} columns for its fullest beat, and the page has {width}")


def _edges(segment: Segment, first_beat_of_bar: int) -> Segment:
    return Segment(
        segment.first_beat,
        segment.widths,
        segment.lead,
        opens=segment.first_beat == first_beat_of_bar,
        closes=segment.last_beat == first_beat_of_bar + BEATS_PER_BAR,
    )


def lay_out(
    parts: Sequence[Sequence[Ink]], first_bar: int, last_bar: int, *, grid: str, margin: int, width: int
) -> list[System]:
    """The bars ``first_bar`` to ``last_bar`` (inclusive) in as few systems as fit, evenly filled, set widely.

    Raises TooNarrowError when a single beat is wider than the page.
    """
    densities = DENSITIES[grid]

    @cache
    def bar(number: int, level: int) -> Segment:
        return fit(parts, number * BEATS_PER_BAR, BEATS_PER_BAR, densities[level])

    def system(first: int, count: int) -> tuple[int, System] | None:
        for level in range(len(densities)):
            made = System(tuple(bar(first + k, level) for k in range(count)), margin)
            if made.columns <= width:
                return level, made
        return None

    best = _best_division(last_bar - first_bar + 1, first_bar, system)
    if best is not None:
        return best
    systems: list[System] = []
    for number in range(first_bar, last_bar + 1):
        single = system(number, 1)
        systems += [single[1]] if single else _cut_bar(parts, number, grid, margin, width)
    return systems


def _best_division(
    count: int, first_bar: int, system: Callable[[int, int], tuple[int, System] | None]
) -> list[System] | None:
    best: tuple[tuple[int, int, int], list[System]] | None = None
    for division in _divisions(count):
        made, at = [], first_bar
        for bars in division:
            made.append(system(at, bars))
            at += bars
        whole = [m for m in made if m is not None]
        if len(whole) < len(made):
            continue
        rank = (len(division), sum(n * n for n in division), sum(level for level, _ in whole))
        if best is None or rank < best[0]:
            best = (rank, [s for _, s in whole])
    return None if best is None else best[1]
