"""How much a search may take: a deadline that slots and attempts look at, and memory estimated before it is used."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from lickwright.problems import AnswerIsNoError

#: Bytes that the rows of one lattice may take. A position takes a few megabytes, the whole neck some two hundred.
MOST_BYTES = 1 << 30

_deadline: ContextVar[float | None] = ContextVar("deadline", default=None)


class SearchTooLong(AnswerIsNoError):
    """The time allowed is over."""


class SearchTooLarge(AnswerIsNoError):
    """A lattice would need more memory than is allowed; the message says what to narrow."""


@contextmanager
def time_limit(seconds: float | None) -> Iterator[None]:
    """Searches begun inside end with SearchTooLong once so many seconds have gone by; None is no limit."""
    token = _deadline.set(None if seconds is None else time.monotonic() + seconds)
    try:
        yield
    finally:
        _deadline.reset(token)


def look_at_the_clock() -> None:
    """Raises SearchTooLong when the time allowed is over."""
    deadline = _deadline.get()
    if deadline is not None and time.monotonic() > deadline:
        raise SearchTooLong(
            "the time allowed is over: allow more with --time-limit, or ask for less (fewer candidates, a wider range)"
        )


def check_size(nodes: int, edges: int, states: int, onsets: int) -> None:
    """Raises SearchTooLarge when the rows of a lattice would need more than MOST_BYTES.

    Each onset has a row of nodes x states, kept in 8 bytes; a layer looks at its edges in each state, in 4.
    """
    needs = 8 * onsets * nodes * (states + 1) + 12 * edges * states
    if needs > MOST_BYTES:
        raise SearchTooLarge(
            f"a lick of {onsets} notes over {nodes} touches would need {needs / 1e9:.1f} GB: allow fewer windows "
            "(level.windows), no shifts inside a lick (lead.windows.shift_inside), or shorter rhythms"
        )
