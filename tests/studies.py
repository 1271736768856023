"""Hand-made studies for the tests of everything that reads a Study. Not music to publish: a tour of signs."""

from __future__ import annotations

from lickwright.guitar.neck import Neck
from lickwright.judge.effort import with_hard_moments
from lickwright.rulebook.read import lead_of
from lickwright.study.model import (
    Bend,
    BendKind,
    Brief,
    ChordSpan,
    Event,
    Grace,
    Note,
    Phrase,
    RuleDigest,
    Slot,
    SlotKind,
    Study,
    Technique,
)
from lickwright.theory.harmony import Key, chord_in_key

BAR = 48
H, P, S = Technique.HAMMER_ON, Technique.PULL_OFF, Technique.SLIDE


def bend(kind: str, size: int, ticks: int) -> Bend:
    """A bend with the curve that the program writes for it over a note of ``ticks``."""
    curves = {
        "bend": ((0, 0), (ticks / 3, size), (ticks, size)),
        "bend-release": ((0, 0), (ticks / 4, size), (ticks / 2, size), (3 * ticks / 4, 0), (ticks, 0)),
        "pre-bend": ((0, size), (ticks, size)),
        "pre-bend-release": ((0, size), (ticks / 3, size), (2 * ticks / 3, 0), (ticks, 0)),
    }
    return Bend(BendKind(kind), size, curves[kind])


class Writer:
    """Collects events in order; frets are given for the key of A and moved to the key asked for."""

    def __init__(self, key: str = "A", shift: int | None = None):
        self.key = Key.parse(key)
        self.shift = (self.key.pitch_class - 9) % 12 if shift is None else shift
        if shift is None and self.shift > 7:
            self.shift -= 12 if self.shift > 9 else 0
        self.neck = Neck(frets=24)
        self.events: list[Event] = []

    def add(self, slot: int, onset: int, ticks: int, roman: str, *notes: tuple, **more: object) -> None:
        """``notes`` are (string, fret, finger[, options]) with options as fields of Note."""
        chord = chord_in_key(roman, self.key)
        made = []
        for string, fret, finger, *rest in notes:
            options = dict(rest[0]) if rest else {}
            fret += self.shift
            if "trill" in options:
                options["trill"] += self.shift
            if "grace" in options:
                g = options["grace"]
                options["grace"] = Grace(g[0] + self.shift, g[1], g[2])
            if "bend" in options:
                options["bend"] = bend(*options["bend"], ticks)
            pitch = self.neck.pitch(string, fret)
            size = options["bend"].size if "bend" in options else 0
            made.append(Note(string, fret, finger, pitch, chord.degree(pitch + size // 2), **options))
        first = made[0]
        hand = max(1, first.fret - max(0, first.finger - 1))
        self.events.append(
            Event(f"e{len(self.events) + 1}", slot, onset, ticks, tuple(made), roman, hand, **more)  # type: ignore[arg-type]
        )


def tour(key: str = "A", meter: str = "12/8", grid: str = "triplet", repeats: int = 1) -> Study:
    """Four bars (times ``repeats``) that hold every technique once: two licks, two answers a time."""
    w = Writer(key)
    slots: list[Slot] = []
    phrases: list[Phrase] = []
    straight = grid == "straight"
    for r in range(repeats):
        b = r * 4 * BAR
        n = len(slots)
        slots += [
            Slot(n, SlotKind.LICK, r, b + 4, b + BAR, "A", "question", ("late",), (5,), None, 3),
            Slot(n + 1, SlotKind.COMP, r, b + BAR, b + 2 * BAR, cells=("stabs",)),
            Slot(n + 2, SlotKind.LICK, r, b + 2 * BAR, b + 3 * BAR, "B", "answer", ("run",), (5,), None, 4),
            Slot(n + 3, SlotKind.COMP, r, b + 3 * BAR, b + 4 * BAR, cells=("push",)),
        ]
        phrases.append(Phrase(r, 4 * r, 4 * r + 3, "lick and answer"))
        e = 6 if straight else 4  # an eighth
        # lick: hammer, bend and release with pull-off, slide, vibrato on the landing
        w.add(n, b + e, e, "I7", (2, 5, 1))
        w.add(n, b + 2 * e, 12 - 2 * e + 12 - e if straight else 2 * e, "I7", (2, 8, 4, {"technique": H}))
        w.add(
            n,
            b + 18 if straight else b + 16,
            6 if straight else 8,
            "I7",
            (3, 7, 3, {"bend": ("bend-release", 4)}),
        )
        w.add(n, b + 24, e, "I7", (3, 5, 1, {"technique": P}))
        w.add(n, b + 24 + e, e, "I7", (4, 5, 1))
        w.add(n, b + 24 + 2 * e, 48 - 24 - 2 * e, "I7", (4, 7, 1, {"technique": S, "vibrato": True}))
        # comping: bass, grip slid in from below, muted hit, hammered third inside the grip
        c = b + BAR
        w.add(n + 1, c, 12, "I7", (6, 5, 1))
        w.add(
            n + 1,
            c + 12,
            e,
            "I7",
            *[(s, f, g, {"grace": (f - 1, g, S)}) for s, f, g in ((4, 5, 1), (3, 6, 3), (2, 5, 2))],
            grip="b7-3-5",
        )
        w.add(n + 1, c + 24, e, "I7", *[(s, 5, 1, {"muted": True}) for s in (4, 3, 2)], grip="b7-3-5")
        w.add(
            n + 1,
            c + 24 + e,
            12 - e,
            "I7",
            (4, 5, 1),
            (3, 6, 3, {"grace": (5, 1, H)}),
            (2, 5, 1),
            grip="b7-3-5",
            staccato=True,
        )
        w.add(n + 1, c + 36, 12, "IV7", (4, 4, 2), (3, 5, 3), (2, 3, 1), (1, 5, 4), grip="3-b7-9-5", ring=12)
        # lick: quarter-tone curl, double stop with one voice hammered, pre-bend and release, unison bend, trill
        d = b + 2 * BAR
        w.add(n + 2, d, e, "IV7", (1, 8, 3, {"bend": ("bend", 1)}))
        w.add(n + 2, d + e, 12 - e, "IV7", (1, 5, 1), (2, 7, 3, {"grace": (5, 1, H)}))
        w.add(n + 2, d + 12, 12, "IV7", (1, 5, 1), (2, 8, 4, {"bend": ("bend", 4)}))
        w.add(n + 2, d + 24, 6, "IV7", (3, 7, 3, {"bend": ("pre-bend-release", 4)}))
        w.add(n + 2, d + 30, 6, "IV7", (3, 5, 1, {"technique": P}))
        w.add(n + 2, d + 36, 3 if straight else 2, "I7", (4, 7, 3))
        w.add(n + 2, d + 39 if straight else d + 38, 3 if straight else 2, "I7", (4, 5, 1))
        w.add(n + 2, d + 42 if straight else d + 40, 6 if straight else 8, "I7", (3, 5, 1, {"trill": 6}))
        # comping: a held voice under a moving one, a pre-bend held, a rest, the close
        f = b + 3 * BAR
        w.add(n + 3, f, 12, "V7", (5, 7, 2), (4, 6, 1), (3, 7, 3), grip="1-3-b7")
        w.add(n + 3, f + 12, 12, "V7", (4, 6, 1, {"tied": True}), (3, 9, 4), grip="3-1", staccato=False)
        w.add(
            n + 3,
            f + 36,
            12,
            "I9",
            (5, 12, 2),
            (4, 11, 1),
            (3, 12, 3),
            (2, 12, 3, {"vibrato": False}),
            grip="1-3-b7-9",
            ring=24,
        )
    romans = [("I7", BAR), ("I7", 36), ("IV7", 12), ("IV7", 36), ("I7", 12), ("V7", 36), ("I9", 12)]
    form, at = [], 0
    for _ in range(repeats):
        for roman, ticks in romans:
            form.append(ChordSpan(at, ticks, roman))
            at += ticks
    return Study(
        title="A tour of signs",
        number=3,
        brief=Brief("tour", key, 1),
        key=w.key.tonic,
        minor=False,
        meter=meter,
        grid=grid,
        feel="slow 12/8" if meter == "12/8" else ("straight" if straight else "shuffle"),
        tempo_bpm=60 if meter == "12/8" else 112,
        level="fluent",
        neck=w.neck,
        bars=4 * repeats,
        form=tuple(form),
        phrases=tuple(phrases),
        slots=tuple(slots),
        events=tuple(w.events),
        rules=(RuleDigest("tour", "0" * 64),),
        tool_version="0.1.0",
        scheme="A B",
    )


def measured(study: Study) -> Study:
    """The study with its hard moments, for the usual player of a shipped style."""
    return with_hard_moments(study, lead_of(study, "slow-shuffle"))
