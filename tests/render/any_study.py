"""Hypothesis strategies: studies that need not be music, only well formed, with every sign in every place."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.study.model import Event, Grace, Note, Study, Technique

from tests.studies import bend, tour

KEYS = ("A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab")
BENDS = ("bend", "bend-release", "pre-bend", "pre-bend-release")
WRITTEN = (("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight"))


@st.composite
def notes(draw: st.DrawFn, neck: Neck, string: int, ticks: int) -> Note:
    """One note with any technique that its kind of sound allows."""
    fret = draw(st.integers(0, neck.top_fret - 4))
    finger = draw(st.integers(1, 4)) if fret else 0
    note = Note(string, fret, finger, neck.pitch(string, fret), "1")
    kinds = ("plain", "link", "dead", "tied", "vibrato") + (("grace", "bend", "trill") if ticks >= 4 else ())
    kind = draw(st.sampled_from(kinds))
    if kind == "link":
        return replace(note, technique=draw(st.sampled_from(list(Technique))), vibrato=draw(st.booleans()))
    if kind == "grace":
        technique = draw(st.sampled_from([t for t in Technique if t is not Technique.PLUCK]))
        return replace(note, grace=Grace(draw(st.integers(0, neck.top_fret)), 1, technique))
    if kind == "bend" and fret:
        made = bend(draw(st.sampled_from(BENDS)), draw(st.integers(1, 6)), ticks)
        return replace(note, bend=made, vibrato=draw(st.booleans()))
    if kind == "trill":
        return replace(note, trill=fret + draw(st.integers(1, 3)))
    return replace(note, muted=kind == "dead", tied=kind == "tied", vibrato=kind == "vibrato")


@st.composite
def studies(draw: st.DrawFn) -> Study:
    """A study of four bars on any neck, with slots and form of the tour and events of its own."""
    meter, grid = draw(st.sampled_from(WRITTEN))
    base = tour(draw(st.sampled_from(KEYS)), meter, grid)
    neck = Neck(draw(st.sampled_from(list(TUNINGS.values()))), frets=24, capo=draw(st.integers(0, 3)))
    lengths = (2, 4, 6, 8, 12, 20, 36) if grid == "triplet" else (3, 6, 9, 12, 24, 36)
    at = draw(st.sampled_from((0, *lengths[:4])))
    events: list[Event] = []
    while at < base.ticks and len(events) < 40:
        ticks = min(draw(st.sampled_from(lengths)), base.ticks - at)
        if draw(st.integers(0, 4)):
            strings = draw(st.sets(st.integers(1, neck.strings), min_size=1, max_size=4))
            made = tuple(draw(notes(neck, s, ticks)) for s in sorted(strings, reverse=True))
            slot = next(s.number for s in reversed(base.slots) if s.start <= at or s.number == 0)
            chord = base.chord_at(at)
            made = tuple(
                replace(n, degree=chord.degree(n.pitch + (n.bend.size // 2 if n.bend else 0))) for n in made
            )
            events.append(
                Event(
                    f"e{len(events)}",
                    slot,
                    at,
                    ticks,
                    made,
                    chord.roman,
                    made[0].fret or 1,
                    staccato=draw(st.booleans()),
                )
            )
        at += ticks
    return replace(base, neck=neck, events=tuple(events))
