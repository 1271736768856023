"""Studies as the program writes them, each brief solved once in a process. A Study cannot be changed, so all may share it.

For tests of what is done with a study. A test of the writing itself calls ``write``, and so does one whose brief names
a rule file of its own: the file's text is no part of the brief.
"""

from __future__ import annotations

from functools import cache

from lickwright.compose import write as compose
from lickwright.study.model import Brief, Study


@cache
def written(brief: Brief) -> Study:
    """The study of a brief."""
    return compose.write(brief)


def a_study(
    style: str = "slow-shuffle", key: str = "A", seed: int = 7, level: str | None = None, **options: str
) -> Study:
    """The study of a style, key and seed, at a level, with options of the instrument and the player."""
    return written(Brief(style, key, seed, level=level, options=tuple(options.items())))
