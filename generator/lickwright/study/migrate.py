"""Older study files brought to today's form, a step for each version: the one place that knows of older forms.

A field that was added later with a default needs no version of its own: a file without it reads as it always did.
Version 2 keeps the hard moments; a file of version 1 has none, and nothing is said of them: rule files of another day
cannot tell what was hard for the player it was written for.
``tests/robust/studies`` has a file of each form there has been.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

SCHEMA_VERSION = 2


def _without_hard_moments(data: dict[str, Any]) -> dict[str, Any]:
    return {**data, "hard_moments": None, "schema_version": 2}


#: From a version to the next: each takes a file's data and gives it in the next version's form.
STEPS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _without_hard_moments}


class VersionError(ValueError):
    """A file of a version that is not known here; the message says what would help."""


def migrated(data: dict[str, Any]) -> dict[str, Any]:
    """A study file's data in the form of ``SCHEMA_VERSION``. Raises VersionError."""
    version = data.get("schema_version")
    known = f"this program reads {' '.join(map(str, (*sorted(STEPS), SCHEMA_VERSION)))}"
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise VersionError(f"schema_version {str(version)[:40]!r} is no version; {known}")
    if version > SCHEMA_VERSION:
        raise VersionError(
            f"schema_version {str(version)[:40]} is newer than this program ({known}): install a newer one"
        )
    while version < SCHEMA_VERSION:
        if version not in STEPS:
            raise VersionError(f"schema_version {version} is not read any more; {known}")
        data = STEPS[version](data)
        version = data["schema_version"]
    return data
