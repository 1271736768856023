"""The tabs of several studies under one another, bar under bar and tick under tick, with what differs marked."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence

from lickwright.render.tab.layout import System, lay_out
from lickwright.render.tab.signs import inks
from lickwright.render.tab.text import WIDTH, check_range, margin_of, system_lines
from lickwright.render.words.terms import plain
from lickwright.study.model import Study

MARK = "^"


def tab_together(
    studies: Sequence[Study],
    first_bar: int,
    last_bar: int,
    *,
    labels: Sequence[str] = (),
    marked: Sequence[Collection[int]] = (),
    width: int = WIDTH,
    fingers: bool = False,
) -> list[str]:
    """The same bars of several studies one under another, every tick in the same column for all.

    ``labels`` are printed above each study's lines; under them a sign stands at each of its ``marked`` ticks. The
    studies must share grid and number of strings. Raises ValueError otherwise, and TooNarrowError as ``tab_lines``
    does.
    """
    if len({(s.grid, s.neck.strings) for s in studies}) > 1:
        raise ValueError("studies to compare must be on the same grid and have the same number of strings")
    for study in studies:
        check_range(study, first_bar, last_bar, width)
    parts = [inks(study) for study in studies]
    margin = max(margin_of(study.neck) for study in studies)
    lines: list[str] = []
    for system in lay_out(parts, first_bar, last_bar, grid=studies[0].grid, margin=margin, width=width):
        for k, (study, marks) in enumerate(zip(studies, parts, strict=True)):
            lines += [""] if lines else []
            lines += textwrap.wrap(plain(labels[k]), width) if k < len(labels) else []
            lines += system_lines(study, marks, system, fingers=fingers, names=False)
            lines += _marks(marked[k], system) if k < len(marked) else []
    return lines


def _marks(ticks: Collection[int], system: System) -> list[str]:
    columns = {system.column(t) for t in ticks if system.first_tick <= t < system.end_tick}
    row = "".join(MARK if column in columns else " " for column in range(max(columns, default=-1) + 1))
    return [row] if row else []
