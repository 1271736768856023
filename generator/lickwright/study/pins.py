"""Pins: what a user has fixed in a study that is otherwise written anew. Knows studies, no rules.

Written as ``bars=1-4``, ``phrases=1,3``, ``slots=2``, ``notes=e12,e14``, ``grips=e20``, ``cells=3``: bars and
phrases are counted from 1 as a reader counts them, slots from 1 in order of time, notes and grips are events by
their id. ``cells`` keeps a slot's rhythm and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lickwright.problems import ProblemsError
from lickwright.study.model import Event, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

KINDS = ("bars", "phrases", "slots", "notes", "grips", "cells")


class PinError(ProblemsError):
    """Pins that cannot be meant: ``problems`` has a line each."""


@dataclass(frozen=True)
class Pins:
    """What stays of ``study``: whole slots by number, single events of other slots, rhythms of other slots."""

    study: Study
    slots: frozenset[int] = frozenset()
    events: tuple[Event, ...] = ()
    cells: frozenset[int] = frozenset()


def read_pins(study: Study, words: Sequence[str]) -> Pins:
    """Pins from their words; raises PinError with a line for each that cannot be used."""
    problems: list[str] = []
    stay: set[str] = set()
    cells: set[int] = set()
    for word in words:
        kind, sign, value = word.partition("=")
        if kind not in KINDS or not sign:
            problems.append(
                f"pin {word!r}: write one of {', '.join(KINDS)}, then = and what stays, as in bars=1-4"
            )
            continue
        try:
            if kind == "cells":
                cells |= {n - 1 for n in _numbers(value, len(study.slots), "slot")}
            else:
                stay |= set(_events(study, kind, value))
        except ValueError as error:
            problems.append(f"pin {word!r}: {error}")
    if problems:
        raise PinError(problems)
    whole = frozenset(
        slot.number for slot in study.slots if {e.id for e in study.events_of(slot.number)} <= stay
    )
    single = tuple(e for e in study.events if e.id in stay and e.slot not in whole)
    return Pins(study, whole, single, frozenset(cells) | {e.slot for e in single})


def _events(study: Study, kind: str, value: str) -> Iterator[str]:
    """The ids of the events that one pin names."""
    if kind in ("notes", "grips"):
        wanted = SlotKind.LICK if kind == "notes" else SlotKind.COMP
        ids = {e.id for e in study.events if study.slots[e.slot].kind is wanted}
        for name in filter(None, (word.strip() for word in value.split(","))):
            if name not in ids:
                raise ValueError(f"no {kind[:-1]} {name!r} in the study; ids look like {study.events[0].id}")
            yield name
        return
    count = {"bars": study.bars, "phrases": len(study.phrases), "slots": len(study.slots)}[kind]
    for n in _numbers(value, count, kind[:-1]):
        for event in study.events:
            slot = study.slots[event.slot]
            mine = {"bars": event.onset // TICKS_PER_BAR, "phrases": slot.phrase, "slots": event.slot}[kind]
            if mine == n - 1:
                yield event.id


def _numbers(text: str, most: int, what: str) -> Iterator[int]:
    """The numbers of "1-4,7"; raises ValueError saying what would be right."""
    for part in text.split(","):
        first, _, last = part.strip().partition("-")
        if not first.isdecimal() or (last and not last.isdecimal()):
            raise ValueError(f"{part.strip()!r} is no {what}; write numbers and ranges, as in 1-4,7")
        low, high = int(first), int(last or first)
        if not 1 <= low <= high <= most:
            raise ValueError(f"{part.strip()}: the study has {what}s 1 to {most}")
        yield from range(low, high + 1)
