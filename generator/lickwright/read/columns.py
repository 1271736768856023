"""Sounds cut into columns: what is struck together, and what rings on beneath it.

A study's events follow each other without overlap. A column begins where something is struck, and where a note
of a chord is held longer than the others of its voice. A note held while its own voice moves on is *tied* into
the next column; one of another voice rings on (``ring``).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest

from lickwright.read.limits import MAX_SOUNDS, Remarks, UnreadableError
from lickwright.read.sounds import Sound
from lickwright.study.model import Technique
from lickwright.theory.rhythm import bar_of, beat_text

#: Pieces that overlapping sounds may be cut into.
MOST_PIECES = 4 * MAX_SOUNDS


@dataclass(frozen=True)
class Column:
    """Sounds that one event holds, the lowest string (or pitch) first, from ``tick`` to ``end``."""

    tick: int
    end: int
    sounds: tuple[Sound, ...]
    ring: int = 0

    @property
    def where(self) -> str:
        """The column for a message."""
        return beat_text(self.tick)

    @property
    def struck(self) -> tuple[Sound, ...]:
        """The sounds that are not held over from before."""
        return tuple(s for s in self.sounds if not s.tied)


def columns_of(sounds: Sequence[Sound], remarks: Remarks) -> tuple[Column, ...]:
    """The columns in order of time; raises UnreadableError for two notes on one string at once."""
    voices: dict[str, list[Sound]] = {}
    for sound in sounds:
        voices.setdefault(sound.voice, []).append(sound)
    starts: dict[int, list[Sound]] = {}
    for piece in (piece for voice in voices.values() for piece in _cut(voice)):
        starts.setdefault(piece.tick, []).append(piece)
    ticks = sorted(starts)
    found = []
    for tick, following in zip_longest(ticks, ticks[1:]):
        members = _once(starts[tick], tick, remarks)
        last = max(s.end for s in members)
        end = last if following is None else min(last, following)
        if last > end:
            remarks.add(
                f"bar {bar_of(tick) + 1}: longer notes ring on under the shorter ones of another voice"
            )
        found.append(Column(tick, end, _ordered(members), last - end))
    return tuple(found)


def _cut(voice: Sequence[Sound]) -> Iterator[Sound]:
    """The sounds of one voice cut wherever another one of it begins or ends; all but the first pieces are tied."""
    bounds = sorted({t for s in voice for t in (s.tick, s.end)})
    pieces = 0
    for s in voice:
        inside = bounds[bisect_right(bounds, s.tick) : bisect_left(bounds, s.end)]
        pieces += len(inside) + 1
        if pieces > MOST_PIECES:
            raise UnreadableError(f"{beat_text(s.tick)}: too many notes that overlap")
        for begin, end in pairwise((s.tick, *inside, s.end)):
            piece = replace(s, tick=begin, end=end)
            first = begin == s.tick
            yield (
                piece
                if first
                else replace(
                    piece,
                    tied=True,
                    grace=None,
                    bend=None,
                    vibrato=False,
                    trill=None,
                    technique=Technique.PLUCK,
                    slurred=False,
                )
            )


def _once(struck: list[Sound], tick: int, remarks: Remarks) -> list[Sound]:
    """The struck sounds, a pitch that two voices share said once; two on one string are refused."""
    found: list[Sound] = []
    for sound in struck:
        twin = next(
            (
                f
                for f in found
                if f.pitch == sound.pitch and f.string == sound.string and f.bend == sound.bend
            ),
            None,
        )
        if twin is not None:
            longer = max(twin, sound, key=lambda s: s.end)
            found[found.index(twin)] = longer
            remarks.add(f"{beat_text(tick)}: one pitch in two voices is read once")
            continue
        found.append(sound)
    strings = [s.string for s in found if s.string is not None]
    twice = next((s for s in strings if strings.count(s) > 1), None)
    if twice is not None:
        raise UnreadableError(f"{beat_text(tick)}: two notes on string {twice} at once")
    return found


def _ordered(sounds: Iterable[Sound]) -> tuple[Sound, ...]:
    """The lowest string first, or the lowest pitch where a string is missing."""
    known = list(sounds)
    if all(s.string is not None for s in known):
        return tuple(sorted(known, key=lambda s: -(s.string or 0)))
    return tuple(sorted(known, key=lambda s: s.pitch))
