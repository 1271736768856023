"""What the page's script needs of a Study: the study itself, and every choice that is not about ink.

Spelling, accidentals, written values, joins between notes and labels are settled here; the script decides
only where things stand. All values are JSON.
"""

from __future__ import annotations

from typing import Any

from lickwright.render.chord_names import chord_names
from lickwright.render.handout.strings import FINGERS, SCRIPT, bend_label, event_label, range_labels
from lickwright.render.notation import Written, written_bars
from lickwright.render.words.facts import role_of
from lickwright.study.json_text import as_data
from lickwright.study.model import BendKind, Event, Note, SlotKind, Study, Technique
from lickwright.theory.harmony import Spelled, spell
from lickwright.theory.rhythm import TICKS_PER_BAR

#: Guitars and basses are written an octave above their sound.
WRITTEN_OCTAVES_UP = 1
#: A neck whose first string lies below this is a bass and is written in the bass clef.
BASS_BELOW = 50

_SHARPS = "FCGDAEB"
_ACCIDENTALS = {-1: "b", 0: "n", 1: "#"}


def page_model(study: Study) -> dict[str, Any]:
    """The page's data: ``study`` as in its file, and ``bars``, ``events``, ``ranges`` made from it."""
    written = written_bars(study)
    return {
        "study": as_data(study),
        "clef": "bass" if study.neck.tuning[0] < BASS_BELOW else "treble",
        "signature": signature_name(study.home.fifths),
        "fifths": study.home.fifths,
        "bars": [
            {"start": number * TICKS_PER_BAR, "items": [_item(w) for w in bar]}
            for number, bar in enumerate(written)
        ],
        "chords": _chords(study),
        "events": _events(study, written),
        "slots": [
            {"from": s.start, "to": s.end, "label": label}
            for s, label in ((s, _slot_label(s.name, role_of(study, s))) for s in study.slots)
            if s.kind is SlotKind.LICK and label
        ],
        "ranges": [{"label": label, "from": a, "to": b} for label, a, b in range_labels(study)],
        "strings": SCRIPT,
    }


def signature_name(fifths: int) -> str:
    """The major key with that signature, for the engraver (it draws a signature, it knows no mode).

    >>> signature_name(3), signature_name(-5)
    ('A', 'Db')
    """
    return ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")[fifths + 7]


def _slot_label(name: str, role: str) -> str:
    return f"{name}  {role}".strip().replace("'", "′")


def _item(w: Written) -> dict[str, Any]:
    return {
        "tick": w.tick,
        "ticks": w.ticks,
        "value": w.value,
        "dots": w.dots,
        "event": w.event,
        "tied": w.tied,
        "ties": w.ties,
        "tuplet": w.tuplet,
        "beam": w.beam,
        "barRest": w.bar_rest,
    }


def _chords(study: Study) -> list[dict[str, Any]]:
    """Chord symbols: where the chord changes, over grips of other chords, and again where a phrase begins."""
    names = chord_names(study)
    for phrase in study.phrases:
        tick = phrase.first_bar * TICKS_PER_BAR
        names.setdefault(tick, study.chord_at(tick).symbol)
    return [{"tick": tick, "symbol": name} for tick, name in sorted(names.items())]


def _written(spelled: Spelled) -> dict[str, Any]:
    return {
        "letter": spelled.letter,
        "alter": spelled.alter,
        "octave": spelled.octave + WRITTEN_OCTAVES_UP,
    }


class _Accidentals:
    """Which accidentals a bar needs: those of the signature hold, each one shown holds to the bar's end."""

    def __init__(self, fifths: int):
        signed = _SHARPS[:fifths] if fifths > 0 else _SHARPS[fifths:] if fifths < 0 else ""
        self.signature = dict.fromkeys(signed, 1 if fifths > 0 else -1)
        self.shown: dict[tuple[str, int], int] = {}
        self.bar = -1

    def needed(self, spelled: Spelled, tick: int) -> str:
        """The sign before the note, or nothing."""
        if tick // TICKS_PER_BAR != self.bar:
            self.bar, self.shown = tick // TICKS_PER_BAR, {}
        place = (spelled.letter, spelled.octave)
        if self.shown.get(place, self.signature.get(spelled.letter, 0)) == spelled.alter:
            return ""
        self.shown[place] = spelled.alter
        return _ACCIDENTALS[spelled.alter]


def _events(study: Study, written: tuple[tuple[Written, ...], ...]) -> list[dict[str, Any]]:
    accidentals = _Accidentals(study.home.fifths)
    made = []
    before: dict[int, int] = {}
    last_grip: tuple[object, ...] | None = None
    for index, event in enumerate(study.events):
        fingering = (event.grip, tuple((n.string, n.fret, n.finger) for n in event.notes))
        made.append(
            {
                "id": event.id,
                "label": event_label(study, event),
                "notes": [
                    _note(study, event, note, before.get(note.string), accidentals)
                    for note in sorted(event.notes, key=lambda n: (n.sounding2 // 2, -n.string))
                ],
                "showFingers": fingering != last_grip,
            }
        )
        last_grip = fingering if event.grip else None
        before.update({n.string: index for n in event.notes})
    return made


def _note(
    study: Study, event: Event, note: Note, before: int | None, accidentals: _Accidentals
) -> dict[str, Any]:
    """One note as it is written: heads with accidentals, its link to the note before on its string."""
    chord = study.chord(event.chord)

    def head(pitch: int) -> dict[str, Any]:
        spelled = spell(pitch, study.home, chord)
        sign = "" if note.muted else accidentals.needed(spelled, event.onset)
        return {**_written(spelled), "accidental": sign}

    small = note.bend is not None and note.bend.size > 1
    grace = head(study.neck.pitch(note.string, note.grace.fret)) if note.grace else None
    fretted = head(note.pitch) if small else None
    arrived = head(note.sounding2 // 2) if not note.tied else _plain(study, event, note)
    released = None
    if note.bend and small and note.bend.kind in (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE):
        released = head(note.pitch)
    legato = note.technique is not Technique.PLUCK or note.tied
    linked = before is not None and legato and study.events[before].end == event.onset
    return {
        "string": note.string,
        "fret": note.fret,
        "finger": FINGERS[note.finger],
        "head": arrived,
        "grace": grace,
        "graceFret": note.grace.fret if note.grace else None,
        "graceBy": note.grace.technique.value if note.grace else None,
        "fretted": fretted,
        "released": released,
        "technique": note.technique.value,
        "from": before if linked else None,
        "bend": _bend(note),
        "vibrato": note.vibrato,
        "muted": note.muted,
        "tied": note.tied,
        "trill": note.trill,
        "trillHead": head(study.neck.pitch(note.string, note.trill)) if note.trill is not None else None,
    }


def _plain(study: Study, event: Event, note: Note) -> dict[str, Any]:
    """A head that is only held: the sign of the note it is tied to still holds."""
    return {**_written(spell(note.pitch, study.home, study.chord(event.chord))), "accidental": ""}


def _bend(note: Note) -> dict[str, Any] | None:
    """The bend's label; in ticks after the onset when it is up, when it leaves, when it is down."""
    if note.bend is None:
        return None
    curve, size = note.bend.curve, note.bend.size
    up = next((t for t, height in curve if height >= size), curve[-1][0])
    last_up = max((t for t, height in curve if height >= size), default=up)
    down = next((t for t, height in curve if t > last_up and height <= 0), None)
    return {
        "size": size,
        "label": bend_label(size),
        "kind": note.bend.kind.value,
        "up": up,
        "leaves": last_up,
        "down": down,
    }
