"""Time in ticks and rhythm cells written as text; it knows nothing of pitch.

Conventions: 12 ticks to the beat, four beats to the bar. In 12/8 the beat is a dotted quarter, in 4/4 a
quarter. A cell is a row of characters on a grid (an eighth of 12/8 is 4 ticks, an eighth of 4/4 is 6):

``x`` a note starts, ``-`` it is held, ``.`` silence, ``2`` two notes in the space of one, ``3`` three,
``L`` the landing (a note that starts, on which a lick comes home). Spaces and bars are for the eye.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

TICKS_PER_BEAT = 12
BEATS_PER_BAR = 4
TICKS_PER_BAR = TICKS_PER_BEAT * BEATS_PER_BAR
GRIDS = {"triplet": 4, "straight": 6}

_LICK_CHARACTERS = frozenset("x-.23L")


@dataclass(frozen=True)
class Onset:
    """A note's place: ``tick`` from the start of its cell, ``duration`` in ticks, landing or not."""

    tick: int
    duration: int
    landing: bool = False


@dataclass(frozen=True)
class Cell:
    """A rhythm: its name, onsets in order, total length in ticks, and whether it starts by holding on."""

    pattern: str
    onsets: tuple[Onset, ...]
    ticks: int
    tied: bool

    @property
    def beats(self) -> int:
        """The whole beats the cell takes up."""
        return -(-self.ticks // TICKS_PER_BEAT)


@lru_cache(maxsize=4096)
def parse_cell(pattern: str, grid: str = "triplet") -> Cell:
    """Reads a cell's text; raises ValueError saying which character is wrong.

    >>> [(o.tick, o.duration) for o in parse_cell(".x2 L--").onsets]
    [(4, 4), (8, 2), (10, 2), (12, 12)]
    """
    step = GRIDS[grid]
    text = pattern.replace(" ", "").replace("|", "")
    if not text:
        raise ValueError("an empty cell")
    onsets: list[Onset] = []
    tied = text[0] == "-"
    sounding = False
    for i, character in enumerate(text):
        if character not in _LICK_CHARACTERS:
            raise ValueError(f"{character!r} at place {i + 1} of cell {pattern!r}: use x - . 2 3 L")
        tick = i * step
        if character in "xL":
            onsets.append(Onset(tick, step, character == "L"))
        elif character in "23":
            n = int(character)
            if step % n:
                raise ValueError(f"{character!r} in cell {pattern!r} does not divide the {grid} grid")
            onsets.extend(Onset(tick + k * step // n, step // n) for k in range(n))
        elif character == "-" and (sounding and onsets):
            last = onsets[-1]
            onsets[-1] = Onset(last.tick, last.duration + step, last.landing)
        elif character == "-" and not (tied and not onsets and set(text[:i]) <= {"-"}):
            raise ValueError(f"'-' at place {i + 1} of cell {pattern!r} holds nothing")
        sounding = character != "."
    return Cell(pattern, tuple(onsets), len(text) * step, tied)


def cell_text(onsets: Sequence[tuple[int, int]], grid: str = "triplet") -> str:
    """The cell that (tick, duration) pairs make, counted from the beat on which it begins; the last note lands.

    What is held is told to the next step of the grid. Raises ValueError when an onset lies on no step, nor on an
    even part of one.

    >>> cell_text([(4, 4), (8, 2), (10, 2), (12, 12)])
    '.x2L--'
    """
    step = GRIDS[grid]
    last, length = onsets[-1]
    steps = -(-(last + length) // step)
    text = ""
    for k in range(steps):
        inside = [tick - k * step for tick, _ in onsets if k * step <= tick < (k + 1) * step]
        parts = len(inside)
        if parts and [i * step // parts for i in range(parts)] != inside:
            raise ValueError(f"an onset lies beside the {grid} grid")
        if parts > 3:
            raise ValueError(f"{parts} notes in one step of the {grid} grid, 3 at the most")
        held = any(tick < k * step < tick + duration for tick, duration in onsets)
        text += (
            "L"
            if inside and k * step == last
            else "x"
            if parts == 1
            else str(parts)
            if parts
            else "-"
            if held
            else "."
        )
    return text


def bar_of(tick: int) -> int:
    """The bar's number, counted from 0."""
    return tick // TICKS_PER_BAR


def beat_text(tick: int) -> str:
    """Where a tick lies for a reader: ``bar 2 beat 3`` or ``bar 2 beat 3 + 2/3``.

    >>> beat_text(80)
    'bar 2 beat 3 + 2/3'
    """
    bar, rest = divmod(tick, TICKS_PER_BAR)
    beat, part = divmod(rest, TICKS_PER_BEAT)
    fraction = {0: "", 3: " + 1/4", 4: " + 1/3", 6: " + 1/2", 8: " + 2/3", 9: " + 3/4"}
    return f"bar {bar + 1} beat {beat + 1}" + fraction.get(part, f" + {part}/12" if part else "")


def seconds(ticks: float, tempo_bpm: float) -> float:
    """How long ``ticks`` last at ``tempo_bpm`` beats a minute, in seconds."""
    return ticks * 60.0 / (tempo_bpm * TICKS_PER_BEAT)


def shared_gaps(a: Sequence[int], b: Sequence[int]) -> tuple[int, int, int]:
    """The longest run of gaps between onsets that two rhythms share: where it begins in each, and its length.

    ``a`` and ``b`` are ticks in rising order; of runs equally long the first one counts.

    >>> shared_gaps([4, 8, 12, 20], [28, 32, 40, 52])
    (1, 0, 2)
    """
    first, second = ([y - x for x, y in pairwise(ticks)] for ticks in (a, b))
    best = (0, 0, 0)
    for i in range(len(first)):
        for j in range(len(second)):
            n = 0
            while i + n < len(first) and j + n < len(second) and first[i + n] == second[j + n]:
                n += 1
            if n > best[2]:
                best = (i, j, n)
    return best
