"""The nearest known word to one that is not known, for messages."""

from __future__ import annotations

import difflib


def nearest(word: str, known: list[str]) -> str:
    """``did you mean ...`` with the nearest known words, or all of them when none is near."""
    close = difflib.get_close_matches(word, known, n=3, cutoff=0.5)
    return f"did you mean {' or '.join(close)}?" if close else f"there are {', '.join(known)}"
