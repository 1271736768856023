"""TOML from anywhere into tables: no more text than is allowed, and nothing that takes endless to read."""

from __future__ import annotations

import tomllib
from typing import Any

#: Parts of one dotted key: each is looked up through all before it, so that a long one takes its square in time.
MOST_PARTS = 64


def parsed(raw: bytes, most_bytes: int) -> dict[str, Any]:
    """The tables in a TOML file's bytes. Raises ValueError with what is wrong in one line.

    >>> parsed(b"a.b = 1", 100)
    {'a': {'b': 1}}
    """
    if len(raw) > most_bytes:
        raise ValueError(f"{len(raw)} bytes; it has at most {most_bytes}")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ValueError(f"not UTF-8 text (byte {error.start})") from None
    if _longest_key(text) > MOST_PARTS:
        raise ValueError(f"not TOML: a key of more than {MOST_PARTS} parts")
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ValueError(f"not TOML: {error}") from None


def _longest_key(text: str) -> int:
    """How many parts joined by dots there are in a row, at most; what stands between two dots is no key if empty."""
    longest = run = 0
    for part in text.split(".")[1:-1]:
        run = run + 1 if part.strip() and not any(c in part for c in "=,[]{}\n") else 0
        longest = max(longest, run)
    return longest
