"""One-note voices and one-phrase studies for the sound tests."""

from __future__ import annotations

import dataclasses

from lickwright.guitar.neck import TUNINGS
from lickwright.render.sound.voice import Strike, StrikeKind, Voice
from lickwright.study.model import Event, Note, Study

from tests.studies import tour


def voice(string: int, fret: int, length_s: float = 0.6, **more: object) -> Voice:
    """A picked note; ``strikes`` and the rest may be given as fields of Voice."""
    fields: dict[str, object] = {"strikes": (Strike(0.0, StrikeKind.PICK, 0.8),), **more}
    pitch = TUNINGS["standard"][string - 1] + fret
    return Voice(string, fret, pitch, 0.0, length_s, **fields)  # type: ignore[arg-type]


def with_events(*events: Event, tempo_bpm: int = 60) -> Study:
    """The tour's frame with other events: one tick is 1/12 s at 60."""
    return dataclasses.replace(tour(), events=events, tempo_bpm=tempo_bpm)


def event(number: int, onset: int, ticks: int, *notes: Note, slot: int = 0, **more: object) -> Event:
    return Event(f"x{number}", slot, onset, ticks, notes, "I7", 5, **more)  # type: ignore[arg-type]


def note(string: int, fret: int, **more: object) -> Note:
    pitch = TUNINGS["standard"][string - 1] + fret
    return Note(string, fret, 1, pitch, "1", **more)  # type: ignore[arg-type]
