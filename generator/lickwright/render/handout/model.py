"""What the page's script needs of a Study: the study itself, and every choice that is not about ink.

Written values come from ``notation``, heads from ``heads``, spelling and signs from ``accidentals``, as in the score;
joins between notes and labels are settled here. The script decides only where things stand. All values are JSON.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lickwright.render.accidentals import Sign, extra_id, signs_of
from lickwright.render.chord_names import chord_names
from lickwright.render.handout.strings import FINGERS, SCRIPT, bend_label, event_label, range_labels
from lickwright.render.heads import Heads, Layout, Role, Staff, lay_out
from lickwright.render.notation import Written
from lickwright.render.words.facts import role_of
from lickwright.study.json_text import as_data
from lickwright.study.model import Event, Note, SlotKind, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BAR

#: Guitars and basses are written an octave above their sound.
WRITTEN_OCTAVES_UP = 1
#: A neck whose first string lies below this is a bass and is written in the bass clef.
BASS_BELOW = 50


def page_model(study: Study) -> dict[str, Any]:
    """The page's data: ``study`` as in its file, and ``bars``, ``events``, ``ranges`` made from it."""
    layout = lay_out(study, Staff.NOTATION)
    return {
        "study": as_data(study),
        "clef": "bass" if study.neck.tuning[0] < BASS_BELOW else "treble",
        "signature": signature_name(study.home.fifths),
        "fifths": study.home.fifths,
        "bars": [
            {"start": number * TICKS_PER_BAR, "items": [_item(w) for w in bar]}
            for number, bar in enumerate(layout.bars)
        ],
        "chords": _chords(study),
        "events": _events(study, layout),
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


def _written(sign: Sign) -> dict[str, Any]:
    return {
        "letter": sign.spelled.letter,
        "alter": sign.spelled.alter,
        "octave": sign.spelled.octave + WRITTEN_OCTAVES_UP,
        "accidental": sign.letter,
    }


def _events(study: Study, layout: Layout) -> list[dict[str, Any]]:
    signs = signs_of(study, layout)
    made = []
    before: dict[int, int] = {}
    last_grip: tuple[object, ...] | None = None
    for index, event in enumerate(study.events):
        fingering = (event.grip, tuple((n.string, n.fret, n.finger) for n in event.notes))
        heads = {number: layout.heads[index, number] for number in range(len(event.notes))}
        rising = sorted(heads, key=lambda n: (heads[n].pieces[0].pitch, -event.notes[n].string))
        made.append(
            {
                "id": event.id,
                "label": event_label(study, event),
                "notes": [
                    _note(study, event, event.notes[n], before.get(event.notes[n].string), heads[n], signs)
                    for n in rising
                ],
                "showFingers": fingering != last_grip,
            }
        )
        last_grip = fingering if event.grip else None
        before.update({n.string: index for n in event.notes})
    return made


def _note(
    study: Study, event: Event, note: Note, before: int | None, heads: Heads, signs: Mapping[str, Sign]
) -> dict[str, Any]:
    """One note as it is written: heads with accidentals, its link to the note before on its string."""
    main = heads.pieces[0]
    small = {head.role: head.id for head in (*heads.before, *heads.after)}

    def head(name: str) -> dict[str, Any] | None:
        return _written(signs[name]) if name in signs else None

    legato = note.technique is not Technique.PLUCK or note.tied
    linked = before is not None and legato and study.events[before].end == event.onset
    return {
        "string": note.string,
        "fret": note.fret,
        "finger": FINGERS[note.finger],
        "head": head(main.id),
        "grace": head(small.get(Role.GRACE, "")),
        "graceFret": note.grace.fret if note.grace else None,
        "graceBy": note.grace.technique.value if note.grace else None,
        "fretted": head(small.get(Role.STRIKE, extra_id(main, "fretted"))),
        "released": head(small.get(Role.RELEASE, "")),
        "technique": note.technique.value,
        "from": before if linked else None,
        "bend": _bend(note),
        "vibrato": note.vibrato,
        "muted": note.muted,
        "tied": note.tied,
        "trill": note.trill,
        "trillHead": head(extra_id(main, "trill")),
    }


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
