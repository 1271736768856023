"""Completes what music21 leaves out of a MusicXML file: the one place where elements are added by hand.

music21 10 has no way to write, or writes for the first note of a chord only: string and fret, fingers of some
notes of a chord, slurs, slides, hammer-ons and pull-offs between single notes of chords, bends with their
release, wavy lines and trills on one voice, let-ring ties, the lines and the tuning of a tab staff, the capo,
swing, and a header without a date. Heads are found by the ids that ``score`` gave them.

The elements follow W3C MusicXML 4.0 (content model: ``musicxml.xsd``): a bend states semitones, a release is
a second bend that goes back; hammer-on and pull-off are start and stop; slides stand in notations, wavy lines
in ornaments; string 1 is the highest, ``staff-tuning`` counts lines from the lowest.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from itertools import pairwise

from lickwright.render.accidentals import Sign, extra_id
from lickwright.render.heads import Head, Layout, Role, Staff, bend_left, slurred
from lickwright.render.score.text import heading, open_strings, printable
from lickwright.study.model import Bend, BendKind, Event, Note, Study, Technique
from lickwright.study.score_fields import fields_of, to_texts

#: Divisions of a quarter note in the file: a tick is 3 of them in 12/8 and 2 in 4/4.
DIVISIONS = 24

_DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_TECHNICALS = {Technique.HAMMER_ON: ("hammer-on", "H"), Technique.PULL_OFF: ("pull-off", "P")}
_SIGNS = {-1: "flat", 0: "natural", 1: "sharp"}


def complete(root: ET.Element, study: Study, layouts: Sequence[Layout], signs: Mapping[str, Sign]) -> None:
    """Adds to music21's tree what it cannot write; ``layouts`` and ``signs`` are those the tree was built from."""
    _header(root, study)
    _use_divisions(root)
    _attributes(root, study)
    _tempo(root, study)
    _chord_degrees(root)
    notes = {e.get("id", ""): e for e in root.iter("note")}
    for layout in layouts:
        for head in layout:
            note = study.events[head.place[0]].notes[head.place[1]]
            _mark_head(notes[head.id], study, layout, head, note)
            if note.trill is not None and head is layout.heads[head.place].pieces[0]:
                _trill(notes[head.id], note, signs.get(extra_id(head, "trill")))
        _mark_lines(notes, layout)
        _write_trills(root, study, layout)


def as_bytes(root: ET.Element) -> bytes:
    """The tree as a file: UTF-8, indented, with the doctype of MusicXML 4.0."""
    ET.indent(root)
    return (_DOCTYPE + ET.tostring(root, encoding="unicode") + "\n").encode("utf-8")


def _sub(parent: ET.Element, tag: str, text: object = None, **attributes: object) -> ET.Element:
    element = ET.SubElement(parent, tag, {k.replace("_", "-"): str(v) for k, v in attributes.items()})
    if text is not None:
        element.text = str(text)
    return element


def _need(element: ET.Element, path: str) -> ET.Element:
    found = element.find(path)
    if found is None:
        raise LookupError(f"music21 wrote no {path} in {element.tag}")
    return found


# The head of the file.


def _header(root: ET.Element, study: Study) -> None:
    for parent in root.iter():
        for child in [c for c in parent if not isinstance(c.tag, str)]:  # music21's dividing comments
            parent.remove(child)
    for tag in ("movement-title", "movement-number", "identification", "work"):
        for old in root.findall(tag):
            root.remove(old)
    work = ET.Element("work")
    if study.number is not None:
        _sub(work, "work-number", study.number)
    _sub(work, "work-title", heading(study))
    identification = ET.Element("identification")
    encoding = _sub(identification, "encoding")
    _sub(encoding, "software", f"lickwright {printable(study.tool_version)}".strip())
    for element in ("accidental", "beam"):
        _sub(encoding, "supports", element=element, type="yes")
    _sub(encoding, "supports", element="print", attribute="new-system", type="yes", value="yes")
    miscellaneous = _sub(identification, "miscellaneous")
    for name, text in to_texts(fields_of(study)).items():
        _sub(miscellaneous, "miscellaneous-field", printable(text), name=name)
    root[0:0] = [work, identification]
    part = _need(root, "part-list/score-part")
    instrument = _need(part, "score-instrument")
    _need(part, "part-name").text = _need(instrument, "instrument-name").text = "Guitar"
    _sub(instrument, "instrument-sound", "pluck.guitar.electric")


def _use_divisions(root: ET.Element) -> None:
    """Counts time in few divisions instead of music21's 10080, so that a person can read the durations."""
    old = int(_need(root, ".//divisions").text or 0)
    for tag in ("duration", "divisions", "offset"):
        for element in root.iter(tag):
            element.text = str(round(int(element.text or 0) * DIVISIONS / old))
    for harmony in root.iter("harmony"):
        for offset in harmony.findall("offset"):
            if offset.text == "0":
                harmony.remove(offset)


def _attributes(root: ET.Element, study: Study) -> None:
    attributes = _need(root, ".//attributes")
    details = _sub(attributes, "staff-details", number=2)
    _sub(details, "staff-lines", study.neck.strings)
    for line, spelled in enumerate(reversed(open_strings(study.neck)), start=1):
        tuning = _sub(details, "staff-tuning", line=line)
        _sub(tuning, "tuning-step", spelled.letter)
        if spelled.alter:
            _sub(tuning, "tuning-alter", spelled.alter)
        _sub(tuning, "tuning-octave", spelled.octave)
    if study.neck.capo:
        _sub(details, "capo", study.neck.capo)
    for clef in attributes.findall("clef"):
        if clef.findtext("sign") == "TAB":
            _need(clef, "line").text = str((study.neck.strings + 4) // 2)


def _tempo(root: ET.Element, study: Study) -> None:
    """Feel before figure, over the staff; swing, for the eye and for players, where it is written plainly.

    The equation of notes is not used for it: readers that know no equations take it for a second tempo.
    """
    measure = _need(root, ".//measure")
    directions = measure.findall("direction")
    for direction in directions:
        direction.set("placement", "above")
        for words in direction.iter("words"):
            words.attrib.pop("default-y", None)
    mark = next(d for d in directions if d.find(".//metronome") is not None)
    for direction in directions:
        if direction is not mark:
            measure.remove(direction)
            mark[0:0] = direction.findall("direction-type")
    if study.swung:
        words = ET.Element("direction-type")
        _sub(words, "words", "(swung eighths)")
        mark.insert(len(mark.findall("direction-type")), words)
        swing = _sub(_need(mark, "sound"), "swing")
        _sub(swing, "first", 2)
        _sub(swing, "second", 1)
        _sub(swing, "swing-type", "eighth")


def _chord_degrees(root: ET.Element) -> None:
    """The text of the kind says the added degree already (7♭9): it must not be printed twice."""
    for harmony in root.iter("harmony"):
        for degree in harmony.findall("degree"):
            degree.set("print-object", "no")


# The signs of one head.


def _group(note: ET.Element, tag: str) -> ET.Element:
    """The technical or ornaments group of a note's notations, made where it is missing."""
    notations = _notations(note)
    found = notations.find(tag)
    return found if found is not None else _sub(notations, tag)


def _notations(note: ET.Element) -> ET.Element:
    found = note.find("notations")
    return found if found is not None else _sub(note, "notations")


def _mark_head(element: ET.Element, study: Study, layout: Layout, head: Head, note: Note) -> None:
    event = study.events[head.place[0]]
    pieces = layout.heads[head.place].pieces
    if layout.staff is Staff.TAB:
        technical = _group(element, "technical")
        _sub(technical, "string", head.string)
        _sub(technical, "fret", head.fret)
    elif head.finger is not None:
        _sub(_group(element, "technical"), "fingering", head.finger)
    if head is pieces[0]:
        _bend(element, head, event, note, layout)
    if layout.staff is Staff.NOTATION and head is pieces[-1] and event.ring and not (head.ties or note.muted):
        _sub(_notations(element), "tied", type="let-ring")
    if (note.vibrato or note.trill is not None) and head.role is Role.MAIN:
        number = _number(head, layout.staff)
        for wanted, mark in ((pieces[0], "start"), (pieces[-1], "stop")):
            if head is wanted:
                _sub(_group(element, "ornaments"), "wavy-line", type=mark, number=number)


def _bend(element: ET.Element, head: Head, event: Event, note: Note, layout: Layout) -> None:
    """The bend signs of a note: all of it on tab, what the head's place does not say in notation."""
    left = bend_left(note, layout.staff)
    if note.bend is None or not left:
        return
    alter = f"{left / 2:g}"
    technical = _group(element, "technical")
    moves = _moves(note.bend, event.duration) if layout.staff is Staff.TAB else []
    bend = _sub(technical, "bend")
    if moves and moves[0][2] > 0:
        _time(bend, moves.pop(0))
    _sub(bend, "bend-alter", alter)
    if note.bend.kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE):
        _sub(bend, "pre-bend")
    if note.bend.kind in (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE) and left == note.bend.size:
        release = _sub(technical, "bend")
        if moves:
            _time(release, moves.pop(0))
        _sub(release, "bend-alter", f"-{alter}")
        top = max(t for t, height in note.bend.curve if height == max(h for _, h in note.bend.curve))
        length = DIVISIONS * layout.quarters(head.place)
        _sub(release, "release", offset=round(float(length) * top / event.duration))


def _moves(bend: Bend, ticks: int) -> list[tuple[float, float, float]]:
    """(from, to, rise) of each way up or down that a bend takes, as percentages of its note."""
    return [
        (100 * t0 / ticks, 100 * t1 / ticks, h1 - h0)
        for (t0, h0), (t1, h1) in pairwise(bend.curve)
        if h1 != h0
    ]


def _time(bend: ET.Element, move: tuple[float, float, float]) -> None:
    """When a bend begins to move and has arrived (the attributes of MusicXML's group bend-sound)."""
    bend.set("first-beat", f"{round(move[0], 4):g}")
    bend.set("last-beat", f"{round(move[1], 4):g}")


def _trill(element: ET.Element, note: Note, upper: Sign | None) -> None:
    """A trill sign; the accidental over it is that of the next letter, for so the sign is read. On tab there is none."""
    ornaments = _group(element, "ornaments")
    assert note.trill is not None
    size = note.trill - note.fret
    mark = _sub(ornaments, "trill-mark")
    if size in (1, 2):
        mark.set("trill-step", "half" if size == 1 else "whole")
    if upper is not None and upper.printed and upper.in_score:
        _sub(ornaments, "accidental-mark", _SIGNS[upper.spelled.alter])


def _write_trills(root: ET.Element, study: Study, layout: Layout) -> None:
    """The fret of a trill's upper note, in brackets over the tab: the sign alone does not say it."""
    if layout.staff is not Staff.TAB:
        return
    for head in layout:
        trill = study.events[head.place[0]].notes[head.place[1]].trill
        if trill is None or head is not layout.heads[head.place].pieces[0]:
            continue
        measure = next(m for m in root.iter("measure") if m.find(f"note[@id='{head.id}']") is not None)
        index = [e.get("id") for e in measure].index(head.id)
        while measure[index].find("chord") is not None:
            index -= 1
        measure.insert(index, _words(f"({trill})", 2))


def _words(text: str, staff: int) -> ET.Element:
    direction = ET.Element("direction", placement="above")
    _sub(_sub(direction, "direction-type"), "words", text)
    _sub(direction, "staff", staff)
    return direction


# Lines from one head to another.


def _number(head: Head, staff: Staff) -> int:
    """A number that no other line open at the same time has: one for each string of each staff."""
    return (head.string - 1) % 8 + (1 if staff is Staff.NOTATION else 9)


def _mark_lines(notes: dict[str, ET.Element], layout: Layout) -> None:
    for join in layout.joins:
        for head, mark in ((join.source, "start"), (join.target, "stop")):
            number = _number(head, layout.staff)
            if join.technique is Technique.SLIDE:
                _sub(_notations(notes[head.id]), "slide", type=mark, number=number, line_type="solid")
            elif layout.staff is Staff.TAB and join.technique in _TECHNICALS:
                tag, letter = _TECHNICALS[join.technique]
                text = letter if mark == "start" else None
                _sub(_group(notes[head.id], "technical"), tag, text, type=mark, number=number)
    for stroke in filter(slurred, layout.strokes):
        # On tab a number held over is not printed, so no slur can end there.
        ends = [h for h in stroke if layout.staff is Staff.NOTATION or not h.tied]
        for head, mark in ((ends[0], "start"), (ends[-1], "stop")):
            _sub(_notations(notes[head.id]), "slur", type=mark, number=_number(head, layout.staff))
