"""The record of a student's practice: which licks were given when, and which of them were mastered.

A JSON file beside the sheets. Licks are kept as pitches and onsets, so that figures of any length can be told.

A sheet and its record cannot take their names in one step. So the new record is laid beside the old one first, with
the file that shows that the sheet is there; when the sheet has its name the new record takes the old one's place. A
crash in between is settled by whoever keeps the record next: with the sheet there the new record counts, without it
the old one.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from lickwright.problems import ProblemsError
from lickwright.storage.files import sync_folder, turn, write_whole
from lickwright.study.figures import Figure, figures_of_line
from lickwright.study.model import SlotKind, Study

RECORD_VERSION = 1
_MOST_BYTES = 16 * 1024 * 1024


class RecordError(ProblemsError):
    """A record that cannot be used: ``problems`` has a line each."""


@dataclass(frozen=True)
class Lick:
    """A lick's melody: MIDI pitches and onsets in ticks, as many of the one as of the other."""

    pitches: tuple[int, ...]
    onsets: tuple[int, ...]

    @property
    def moves(self) -> frozenset[Figure]:
        """The whole lick as one figure: the same in another key, or on another beat."""
        return figures_of_line(self.pitches, self.onsets, max(1, len(self.pitches) - 1))


@dataclass(frozen=True)
class Given:
    """One exercise that was given: its number, the day, what it was asked by, how hard it is, its licks.

    ``got`` is the day on which it was mastered.
    """

    number: int
    day: date
    style: str
    level: str
    key: str
    tempo_bpm: int
    goals: tuple[str, ...]
    difficulty: float
    licks: tuple[Lick, ...]
    got: date | None = None


@dataclass(frozen=True)
class Record:
    """Everything that was given, in order; exercises are numbered from 1."""

    given: tuple[Given, ...] = ()

    @property
    def next_number(self) -> int:
        """The number of the next exercise."""
        return max((g.number for g in self.given), default=0) + 1

    def figures(self, day: date, days: int, order: int) -> frozenset[Figure]:
        """The figures of order ``order`` in what was given in the last ``days`` days up to a day."""
        licks = self.licks(day, days)
        return frozenset[Figure]().union(*(figures_of_line(x.pitches, x.onsets, order) for x in licks))

    def licks(self, day: date, days: int) -> tuple[Lick, ...]:
        """The licks that were given in the last ``days`` days up to a day."""
        since = day - timedelta(days=days)
        return tuple(lick for g in self.given if since <= g.day <= day for lick in g.licks)

    def mastered(self, style: str, level: str, goals: tuple[str, ...]) -> tuple[Given, ...]:
        """What was mastered of just these goals in a style at a level."""
        same = set(goals)
        return tuple(
            g
            for g in self.given
            if g.got is not None and (g.style, g.level) == (style, level) and set(g.goals) == same
        )

    def with_got(self, number: int, day: date) -> Record:
        """The record with one exercise marked as mastered. Raises RecordError when it has none of this number."""
        if number not in {g.number for g in self.given}:
            raise RecordError(
                [f"no exercise {number} was given; the last is {self.next_number - 1}, see its sheet"]
            )
        return Record(tuple(replace(g, got=day) if g.number == number else g for g in self.given))


def read_record(path: Path) -> Record:
    """Reads a record; one that is not there yet is empty. Raises RecordError with every mistake, and OSError."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return Record()
    if len(raw) > _MOST_BYTES:
        raise RecordError([f"{path}: {len(raw)} bytes; a record has at most {_MOST_BYTES}"])
    try:
        data = json.loads(raw)
    except (ValueError, RecursionError) as error:
        raise RecordError([f"{path}: not JSON: {error}"]) from None
    if not isinstance(data, dict) or data.get("record_version") != RECORD_VERSION:
        raise RecordError([f"{path}: no practice record of version {RECORD_VERSION}: name another --record"])
    return Record(_checked(path, data))


def _checked(path: Path, data: dict[str, Any]) -> tuple[Given, ...]:
    from pydantic import ConfigDict, TypeAdapter, ValidationError

    Given.__pydantic_config__ = ConfigDict(extra="forbid")  # type: ignore[attr-defined]
    try:
        given = TypeAdapter(tuple[Given, ...]).validate_python(data.get("given", ()))
    except ValidationError as error:
        raise RecordError(
            [f"{path}: given.{'.'.join(str(p) for p in e['loc'])}: {e['msg']}" for e in error.errors()[:20]]
        ) from None
    uneven = [g.number for g in given if any(len(x.pitches) != len(x.onsets) for x in g.licks)]
    if uneven:
        raise RecordError([f"{path}: exercise {uneven[0]}: a lick has as many onsets as pitches"])
    numbers = [g.number for g in given]
    if len(set(numbers)) < len(numbers):
        raise RecordError([f"{path}: two exercises have one number"])
    return given


@contextmanager
def keeping(path: Path) -> Iterator[Record]:
    """The record, to be written by nobody else meanwhile; what a crash left between it and a sheet is settled.

    Raises what ``read_record`` does.
    """
    folder = path.resolve().parent
    with turn(folder) if folder.is_dir() else nullcontext():
        settle(path)
        yield read_record(path)


def write_record(path: Path, record: Record) -> None:
    """Writes the record whole or not at all. Raises OSError."""
    write_whole(path, _text(record))


def intend(path: Path, record: Record, study: Path, data: bytes) -> None:
    """Lays a record beside the one at ``path``, to count once ``study`` is a file that holds ``data``: see ``settle``.

    Raises OSError, and then changes nothing.
    """
    shown = {"study": str(study.resolve()), "sha256": hashlib.sha256(data).hexdigest()}
    write_whole(_intended(path), json.dumps(shown).encode() + b"\n" + _text(record))


def settle(path: Path) -> None:
    """Lets an intended record take the place of the one at ``path`` if its sheet is there, and forgets it if not.

    Raises OSError.
    """
    intended = _intended(path)
    try:
        first, _, text = intended.read_bytes().partition(b"\n")
    except FileNotFoundError:
        return
    if _is_there(first):
        write_whole(path, text)
    intended.unlink()
    sync_folder(path.resolve().parent)


def _intended(path: Path) -> Path:
    return path.with_name(f".{path.name}.intended")


def _is_there(line: bytes) -> bool:
    try:
        shown = json.loads(line)
        there = hashlib.sha256(Path(shown["study"]).read_bytes()).hexdigest()
        return bool(there == shown["sha256"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return False


def _text(record: Record) -> bytes:
    rows = [
        json.dumps(asdict(g), ensure_ascii=False, default=lambda value: value.isoformat())
        for g in record.given
    ]
    inside = ",\n".join(rows)
    return f'{{"record_version": {RECORD_VERSION}, "given": [\n{inside}\n]}}\n'.encode()


def licks_of(study: Study) -> tuple[Lick, ...]:
    """The licks of a study as a record keeps them."""
    found = []
    for slot in study.slots:
        if slot.kind is SlotKind.LICK:
            events = [e for e in study.events_of(slot.number) if not e.melody.tied and not e.melody.muted]
            pitches = tuple(e.melody.sounding2 // 2 for e in events)
            found.append(Lick(pitches, tuple(e.onset for e in events)))
    return tuple(found)
