"""The score of a Study as MusicXML 4.0: a notation staff and a tab staff in one part, built with music21.

Here stands what music21 writes well: bars, values, tuplets, beams, ties, spelling, accidentals, graces,
chord symbols, tempo. What it has no way to write is added in ``score_complete``; which heads stand on
which staff, and the convention for bends, is in ``score_heads``. Two staves of one part, because readers keep
them together and a part stays one player.

The notation staff has the treble clef that sounds an octave lower; MusicXML states sounding pitches, so the
clef alone moves the heads. Times are exact fractions of a quarter. In swung 4/4 a beat of two plain eighths
is played two to one, as the swing sign says; every other beat is written out.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from typing import Any

from generator.harmony import Chord, spell
from generator.render.notation import Written
from generator.render.score_complete import as_bytes, complete, printable
from generator.render.score_heads import Head, Heads, Layout, Staff, lay_out, low_string_first
from generator.rhythm import bar_of
from generator.study import Event, Study

_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3}
_CHORD_STEPS = {"b9": (9, -1), "#9": (9, 1)}


def musicxml(study: Study) -> bytes:
    """The study as an uncompressed MusicXML 4.0 file (UTF-8), the same bytes for the same study."""
    from music21.musicxml.m21ToXml import ScoreExporter

    layouts = tuple(lay_out(study, staff) for staff in Staff)
    root = ScoreExporter(_score(study, layouts), makeNotation=False).parse()
    complete(root, study, layouts)
    return as_bytes(root)


def _score(study: Study, layouts: Sequence[Layout]) -> Any:
    from music21 import layout, metadata, stream

    score = stream.Score()
    score.insert(0, metadata.Metadata(title=printable(study.title)))
    staves = [_staff(study, each) for each in layouts]
    for staff in staves:
        score.insert(0, staff)
    _add_chord_symbols(study, layouts[0].bars, staves[0])
    score.insert(0, layout.StaffGroup(staves, symbol="bracket"))
    return score


def _staff(study: Study, layout: Layout) -> Any:
    from music21 import bar, instrument, stream

    part = stream.PartStaff()
    guitar = instrument.Instrument("Guitar")
    guitar.partId, guitar.instrumentId, guitar.midiProgram, guitar.midiChannel = "P1", "P1-I1", 27, 0
    part.insert(0, guitar)
    offset = Fraction(0)
    for number, written in enumerate(layout.bars):
        measure = stream.Measure(number=number + 1)
        if number == 0:
            _open(study, layout.staff, measure)
        elif any(p.first_bar == number for p in study.phrases):
            from music21.layout import SystemLayout

            measure.insert(0, SystemLayout(isNew=True))
        length = _fill(study, layout, measure, written)
        if number == study.bars - 1:
            measure.rightBarline = bar.Barline("final")
        part.insert(offset, measure)
        offset += length
    if layout.staff is Staff.NOTATION:
        part.makeAccidentals(inPlace=True, cautionaryNotImmediateRepeat=False)
    return part


def _open(study: Study, staff: Staff, measure: Any) -> None:
    """Clef, key, meter and tempo at the head of a staff."""
    from music21 import clef, duration, key, meter, tempo

    measure.insert(0, clef.Treble8vbClef() if staff is Staff.NOTATION else clef.TabClef())
    signature = key.KeySignature(study.home.fifths)
    measure.insert(0, signature.asKey("minor" if study.minor else "major"))
    measure.insert(0, meter.TimeSignature(study.meter))
    if staff is Staff.NOTATION:
        beat = duration.Duration(type="quarter", dots=1 if study.meter == "12/8" else 0)
        text = printable(study.feel[:1].upper() + study.feel[1:])
        measure.insert(0, tempo.MetronomeMark(text or None, study.tempo_bpm, beat))


def _fill(study: Study, layout: Layout, measure: Any, bar: Sequence[Written]) -> Fraction:
    """Writes one bar and gives its length in quarters."""
    from music21 import note

    at = Fraction(0)
    beams = _beams(bar)
    for index, written in enumerate(bar):
        if written.bar_rest:
            length = Fraction(6) if study.meter == "12/8" else Fraction(4)
            rest = note.Rest(quarterLength=length, fullMeasure=True)
            rest.style.hideObjectOnPrint = layout.staff is Staff.TAB
            measure.insert(0, rest)
            return length
        duration = _duration(bar, index, layout.staff)
        if written.event is None:
            rest = note.Rest(duration=duration)
            rest.style.hideObjectOnPrint = layout.staff is Staff.TAB
            measure.insert(at, rest)
        else:
            _write_event(study, layout, measure, at, written, duration, beams[index])
        at += written.quarters
    return at


def _write_event(
    study: Study, layout: Layout, measure: Any, at: Fraction, written: Written, duration: Any, beams: Any
) -> None:
    """One written piece of an event, with its small notes before and after."""
    assert written.event is not None
    event = study.events[written.event]
    chord = study.chord(event.chord)
    heads = [layout.heads[place] for place, _ in low_string_first(written.event, event)]
    piece = layout.piece(written)
    if piece == 0:
        for column in _grace_columns(heads):
            measure.insert(at, _grace(study, chord, column, layout.staff))
    sign = _sounding(study, chord, [h.pieces[piece] for h in heads], layout.staff, duration)
    if layout.staff is Staff.NOTATION:
        sign.beams = beams
        if event.staccato and not written.ties:
            from music21.articulations import Staccato

            sign.articulations.append(Staccato())
    measure.insert(at, sign)
    after = [h for each in heads for h in each.after]
    if after and not written.ties:
        small = _grace(study, chord, after, layout.staff)
        small.duration.slash = False
        small.duration.stealTimePrevious = _release_share(event, after[0])
        measure.insert(at + written.quarters, small)


def _release_share(event: Event, head: Head) -> Fraction:
    """The part of the note that is left when its bend has come down again."""
    bend = event.notes[head.place[1]].bend
    assert bend is not None
    down = next((t for t, height in bend.curve if t > 0 and height == 0), event.duration)
    return Fraction(1) - Fraction(round(100 * down / event.duration), 100)


def _grace_columns(heads: Sequence[Heads]) -> list[list[Head]]:
    """The small notes before an event, one chord each, the last ones next to it."""
    depth = max(len(each.before) for each in heads)
    return [
        [each.before[-back] for each in heads if len(each.before) >= back] for back in range(depth, 0, -1)
    ]


def _sounding(study: Study, chord: Chord, heads: Sequence[Head], staff: Staff, duration: Any) -> Any:
    """A note or a chord of music21 for heads that are struck together."""
    from music21 import note, tie
    from music21.chord import Chord as NoteChord

    notes = []
    for head in heads:
        one = note.Note(_pitch(study, chord, head, staff))
        one.id = head.id
        if head.tied or head.ties:
            one.tie = tie.Tie("continue" if head.tied and head.ties else "stop" if head.tied else "start")
        if head.muted:
            one.notehead = "x"
        if staff is Staff.TAB and head.tied:
            one.style.hideObjectOnPrint = True
        notes.append(one)
    if len(notes) == 1:
        sign = notes[0]
        sign.duration = duration
    else:
        sign = NoteChord(notes, duration=duration)
    if staff is Staff.TAB:
        sign.stemDirection = "noStem"
    return sign


def _grace(study: Study, chord: Chord, heads: Sequence[Head], staff: Staff) -> Any:
    from music21.duration import Duration

    return _sounding(study, chord, heads, staff, Duration(type="eighth")).getGrace()


def _pitch(study: Study, chord: Chord, head: Head, staff: Staff) -> Any:
    from music21.pitch import Pitch

    spelled = spell(head.pitch, study.home, chord)
    pitch = Pitch(spelled.name.replace("b", "-"), octave=spelled.octave)
    if staff is Staff.TAB and pitch.accidental is not None:
        pitch.accidental.displayStatus = False
    return pitch


def _duration(bar: Sequence[Written], index: int, staff: Staff) -> Any:
    from music21.duration import Duration, Tuplet

    written = bar[index]
    duration = Duration(type=written.value, dots=written.dots)
    if written.tuplet is not None:
        group = [i for i, w in enumerate(bar) if w.tuplet == written.tuplet]
        total = sum((bar[i].quarters for i in group), Fraction(0))
        tuplet = Tuplet(3, 2, "eighth" if total == 1 else "16th")
        beamed = bar[group[0]].beam is not None and len({bar[i].beam for i in group}) == 1
        tuplet.bracket = staff is Staff.NOTATION and not beamed
        tuplet.tupletActualShow = "number" if staff is Staff.NOTATION else None
        if index in (group[0], group[-1]):
            tuplet.type = "start" if index == group[0] else "stop"
        duration.appendTuplet(tuplet)
    return duration


def _beams(bar: Sequence[Written]) -> list[Any]:
    """The beams of every value of a bar as music21 keeps them, empty where there is none."""
    from music21.beam import Beams

    found = [Beams() for _ in bar]
    for group, run in groupby(range(len(bar)), key=lambda i: bar[i].beam):
        if group is None:
            continue
        members = list(run)
        flags = [_FLAGS[bar[i].value] for i in members]
        for level in range(1, max(flags) + 1):
            for k, i in enumerate(members):
                if flags[k] >= level:
                    before = k > 0 and flags[k - 1] >= level
                    after = k + 1 < len(flags) and flags[k + 1] >= level
                    found[i].append(*_beam(before, after, first=k == 0))
    return found


def _beam(before: bool, after: bool, first: bool) -> tuple[str, ...]:
    if before:
        return ("continue",) if after else ("stop",)
    if after:
        return ("start",)
    return ("partial", "right" if first else "left")


def _add_chord_symbols(study: Study, bars: Sequence[Sequence[Written]], staff: Any) -> None:
    """Puts each change of chord of the form over the notation staff; an equal chord is not said again."""
    measures = list(staff.getElementsByClass("Measure"))
    last = ""
    for span in study.form:
        chord = study.chord(span.roman)
        if chord.symbol == last or not 0 <= span.onset < study.ticks:
            continue
        last = chord.symbol
        bar = bar_of(span.onset)
        measures[bar].insert(_offset(bars[bar], span.onset), _chord_symbol(chord))


def _offset(bar: Sequence[Written], tick: int) -> Fraction:
    """Where a tick stands in its bar as written, in quarters."""
    at = Fraction(0)
    for written in bar:
        if tick < written.tick + written.ticks:
            return at + written.quarters * Fraction(tick - written.tick, written.ticks)
        at += written.quarters
    return at


def _chord_symbol(chord: Chord) -> Any:
    from music21.harmony import ChordStepModification, ChordSymbol

    text = chord.symbol[len(chord.root) :]
    symbol = ChordSymbol(root=chord.root.replace("b", "-"), kind=chord.kind, kindStr=text)
    for degree in chord.degrees:
        if degree in _CHORD_STEPS and chord.kind == "dominant-seventh":
            step, alter = _CHORD_STEPS[degree]
            symbol.addChordStepModification(ChordStepModification("add", step, alter), updatePitches=False)
    return symbol
