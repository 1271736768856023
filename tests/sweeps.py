"""How far the long sweeps go: a share of each case list, or all of it with ``LICKWRIGHT_SWEEPS=whole``."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TypeVar

T = TypeVar("T")

WHOLE = os.environ.get("LICKWRIGHT_SWEEPS", "") == "whole"


def reach(whole: int, share: int) -> int:
    """How many of a series of seeds or numbers are tried."""
    return whole if WHOLE else share


def some(cases: Iterable[T], every: int) -> list[T]:
    """All cases, or one in ``every``, the first one with them."""
    found = list(cases)
    return found if WHOLE else found[::every]
