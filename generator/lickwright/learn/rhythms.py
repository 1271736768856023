"""Rhythms of licks as cells: a figure of two beats and a way home, as ``parts/cells.toml`` writes them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from lickwright.learn.examples import Example
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BEAT

FIGURE_BEATS = 2
#: A landing is written no longer than this many beats.
LONGEST_LANDING = 2


def cells_of(example: Example) -> tuple[str, str] | None:
    """(figure, way home) of a lick; None when its rhythm has no such form or leaves the grid.

    >>> from lickwright.learn.examples import examples_of
    >>> from tests.studies import tour
    >>> [cells_of(e) for e in examples_of(tour())]
    [('.xx-x-', 'xxL---'), None]
    """
    step = GRIDS[example.grid]
    start = example.plan.onsets[0].tick // TICKS_PER_BEAT * TICKS_PER_BEAT
    onsets = [(o.tick - start, o.duration) for o in example.plan.onsets]
    landing, held = onsets[-1]
    figure_steps = FIGURE_BEATS * TICKS_PER_BEAT // step
    if landing % step or landing < FIGURE_BEATS * TICKS_PER_BEAT:
        return None
    held = min(max(held // step, 1), LONGEST_LANDING * TICKS_PER_BEAT // step)
    text = ""
    for n in range(landing // step):
        sign = _sign(n * step, step, onsets)
        if sign is None:
            return None
        text += sign
    text += "L" + "-" * (held - 1)
    figure, tail = text[:figure_steps], text[figure_steps:]
    good = any(sign in "x23" for sign in figure) and not (tail[0] == "-" and figure[-1] == ".")
    return (figure, tail) if good else None


def _sign(tick: int, step: int, onsets: list[tuple[int, int]]) -> str | None:
    """The sign of one step of the grid; None when it has a rhythm that no sign says."""
    inside = [t - tick for t, _ in onsets if tick <= t < tick + step]
    if not inside:
        sounding = any(t < tick and t + d > tick for t, d in onsets)
        return "-" if sounding else "."
    signs = {(0,): "x", (0, step // 2): "2", (0, step // 3, 2 * step // 3): "3"}
    sign = signs.get(tuple(inside))
    return None if sign is None or (sign in "23" and step % int(sign)) else sign


def counted(examples: Iterable[Example]) -> tuple[Counter[str], Counter[str]]:
    """How often each figure and each way home was heard."""
    figures, tails = Counter[str](), Counter[str]()
    for example in examples:
        found = cells_of(example)
        if found is not None:
            figures[found[0]] += 1
            tails[found[1]] += 1
    return figures, tails


def grade_of(cell: str) -> int:
    """How hard a cell is to play in time, 1 to 3: by its quick notes and how many there are.

    >>> grade_of(".xx-x-"), grade_of("xxxx-x"), grade_of("x2xL--")
    (1, 2, 3)
    """
    if "2" in cell or "3" in cell:
        return 3
    return 2 if sum(sign in "xL" for sign in cell) >= 5 else 1
