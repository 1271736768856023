"""Which noteheads stand on the two staves of score and page, and how they hang together on their strings.

It knows the Study and its written values; it knows nothing of MusicXML. The convention for bends is set here:

* The *notation* staff shows what is heard. A bent note stands at its target, led by a slurred grace note at
  the fretted pitch where it is struck before it is bent; a release adds a small note at the fretted pitch
  after it. Of a bend only whole semitones are written out, as no book gives a quarter tone a head of its own:
  what is left (half a semitone) stays a bend sign on the notation staff too.
* The *tab* staff shows what the hand does: the pitch of the fretted place, and the whole bend as a sign.

So for every struck note: tuning + capo + fret = tab pitch, and tab pitch + bend = notation pitch + what is
left of the bend. Heads of both staves come in the same order, the lowest string of a chord first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from lickwright.render.notation import Written, written_bars
from lickwright.study.model import BendKind, Event, Note, Study, Technique

#: (number of the event, number of the note in it).
Place = tuple[int, int]

STRUCK_BEFORE_BENT = (BendKind.BEND, BendKind.BEND_RELEASE)
RELEASED = (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE)


class Staff(StrEnum):
    """The two staves; the value begins the ids of their heads."""

    NOTATION = "n"
    TAB = "t"


class Role(StrEnum):
    """What a head stands for; the value ends its id."""

    GRACE = "g"
    STRIKE = "b"
    MAIN = ""
    RELEASE = "r"


@dataclass(frozen=True)
class Head:
    """One notehead. ``pitch`` is MIDI, ``finger`` None where it is not printed; ties are to its like.

    ``chord`` is the Roman numeral that it is spelled by: for a head that rings on, that of its stroke.
    """

    id: str
    place: Place
    role: Role
    string: int
    fret: int
    pitch: int
    chord: str
    finger: int | None = None
    tied: bool = False
    ties: bool = False
    muted: bool = False


@dataclass(frozen=True)
class Heads:
    """The heads of one note of the Study: small ones before, the written pieces, a small one after."""

    before: tuple[Head, ...]
    pieces: tuple[Head, ...]
    after: tuple[Head, ...] = ()

    @property
    def all(self) -> tuple[Head, ...]:
        """All of them in the order they sound."""
        return self.before + self.pieces + self.after


@dataclass(frozen=True)
class Join:
    """``target`` is sounded out of ``source`` by a hammer-on, pull-off or slide."""

    technique: Technique
    source: Head
    target: Head


@dataclass(frozen=True)
class Layout:
    """One staff: the bars as written values, the ticks at which each event's pieces start, the heads of
    each note, the joins between heads, and for each stroke on a string the heads that it sounds.
    """

    staff: Staff
    bars: tuple[tuple[Written, ...], ...]
    starts: dict[int, tuple[int, ...]]
    heads: dict[Place, Heads]
    joins: tuple[Join, ...]
    strokes: tuple[tuple[Head, ...], ...]

    def piece(self, written: Written) -> int:
        """Which of its event's pieces a written value is, from 0."""
        return self.starts[written.event].index(written.tick) if written.event is not None else 0

    def quarters(self, place: Place) -> Fraction:
        """The written length of a note in quarters, over all its pieces."""
        return sum((w.quarters for bar in self.bars for w in bar if w.event == place[0]), Fraction(0))

    def __iter__(self) -> Iterator[Head]:
        for heads in self.heads.values():
            yield from heads.all


def lay_out(study: Study, staff: Staff) -> Layout:
    """The heads of one staff for the whole study."""
    bars = written_bars(study)
    starts: dict[int, tuple[int, ...]] = {}
    for written in (w for bar in bars for w in bar):
        if written.event is not None:
            starts[written.event] = (*starts.get(written.event, ()), written.tick)
    bent = _bent(study)
    shown = {place: (size // 2 if staff is Staff.NOTATION else 0) for place, size in bent.items()}
    held = {place: before for place in bent if (before := _rings_on(study, place))}
    held = {place: before for place, before in held.items() if shown[place] == shown[before]}
    heads: dict[Place, Heads] = {}
    for number, event in enumerate(study.events):
        for place, note in low_string_first(number, event):
            count = len(starts.get(number, ()))
            chord = heads[held[place]].pieces[0].chord if place in held else event.chord
            piece = Head("", place, Role.MAIN, note.string, note.fret, note.pitch + shown[place], chord)
            piece = replace(piece, tied=place in held, ties=place in held.values(), muted=note.muted)
            heads[place] = _heads(note, piece, staff, count)
    joins, strokes = _connect(study, heads)
    return Layout(staff, bars, starts, heads, joins, strokes)


def low_string_first(number: int, event: Event) -> list[tuple[Place, Note]]:
    """The notes of an event with their places, the lowest string first."""
    pairs = [((number, k), note) for k, note in enumerate(event.notes)]
    return sorted(pairs, key=lambda pair: -pair[1].string)


def grace_columns(heads: Sequence[Heads]) -> list[list[Head]]:
    """The small notes before an event, one chord each, the last ones next to it."""
    depth = max(len(each.before) for each in heads)
    return [
        [each.before[-back] for each in heads if len(each.before) >= back] for back in range(depth, 0, -1)
    ]


def bend_left(note: Note, staff: Staff) -> int:
    """The quarter tones of the note's bend that its place on the staff does not show."""
    if note.bend is None:
        return 0
    return note.bend.size if staff is Staff.TAB else note.bend.size % 2


def _heads(note: Note, main: Head, staff: Staff, count: int) -> Heads:
    """The heads of one note, given what its pieces have in common."""
    stem = f"{staff}{main.place[0] + 1}s{note.string}"
    struck = replace(main, pitch=note.pitch, tied=False, ties=False, muted=False)
    before = []
    if note.grace:
        pitch = note.pitch + note.grace.fret - note.fret
        grace = replace(struck, id=stem + Role.GRACE, role=Role.GRACE, fret=note.grace.fret, pitch=pitch)
        before.append(replace(grace, finger=note.grace.finger))
    written_out = note.bend if staff is Staff.NOTATION and note.bend and note.bend.size >= 2 else None
    if written_out and written_out.kind in STRUCK_BEFORE_BENT and not note.tied:
        before.append(replace(struck, id=stem + Role.STRIKE, role=Role.STRIKE))
    after: tuple[Head, ...] = ()
    if written_out and written_out.kind in RELEASED:
        after = (replace(struck, id=stem + Role.RELEASE, role=Role.RELEASE),)
    pieces = tuple(
        replace(
            main,
            id=stem + (f"p{k + 1}" if k else ""),
            finger=None if k or note.tied else note.finger,
            tied=main.tied or k > 0,
            ties=main.ties or k < count - 1,
        )
        for k in range(count)
    )
    return Heads(tuple(before), pieces, after)


def _bent(study: Study) -> dict[Place, int]:
    """The quarter tones by which each note is bent; one that rings on keeps the bend of its string."""
    bent: dict[Place, int] = {}
    leaves: dict[Place, int] = {}
    for number, event in enumerate(study.events):
        for k, note in enumerate(event.notes):
            place = (number, k)
            before = _rings_on(study, place)
            if note.bend:
                bent[place] = note.bend.size
                leaves[place] = 0 if note.bend.kind in RELEASED else note.bend.size
            else:
                bent[place] = leaves[place] = leaves[before] if before else 0
    return bent


def _rings_on(study: Study, place: Place) -> Place | None:
    """The note of the event before that a tied note rings on from."""
    number, k = place
    event, note = study.events[number], study.events[number].notes[k]
    if not note.tied or not number or study.events[number - 1].end != event.onset:
        return None
    before = study.events[number - 1].notes
    return next(((number - 1, j) for j, other in enumerate(before) if other.string == note.string), None)


def _connect(
    study: Study, heads: dict[Place, Heads]
) -> tuple[tuple[Join, ...], tuple[tuple[Head, ...], ...]]:
    """The joins in order, and for each stroke on a string the heads that it sounds."""
    joins: list[Join] = []
    strokes: list[list[Head]] = []
    sounding: dict[int, list[Head]] = {}
    for place, mine in heads.items():
        note = study.events[place[0]].notes[place[1]]
        stroke = sounding.get(note.string)
        legato = note.technique is not Technique.PLUCK and not note.tied
        if stroke and legato:
            joins.append(Join(note.technique, stroke[-1], mine.all[0]))
        if stroke is None or not (legato or note.tied):
            stroke = sounding[note.string] = []
            strokes.append(stroke)
        if note.grace:
            joins.append(Join(note.grace.technique, mine.all[0], mine.all[1]))
        stroke.extend(mine.all)
    return tuple(joins), tuple(tuple(s) for s in strokes)


def slurred(stroke: tuple[Head, ...]) -> bool:
    """Whether a stroke sounds more than one written pitch, so that a slur gathers it."""
    return len([h for h in stroke if not h.tied]) > 1
