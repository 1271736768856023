"""The score of a Study as MusicXML 4.0: a notation staff and a tab staff in one part, built with music21.

Here stands what music21 writes well: bars, values, tuplets, beams, ties, spelling, accidentals, graces,
chord symbols, tempo. What it has no way to write is added in ``score.complete``; which heads stand on
which staff, and the convention for bends, is in ``heads``, which of them print a sign in ``accidentals``. Two
staves of one part, because readers keep them together and a part stays one player.

The notation staff has the treble clef that sounds an octave lower; MusicXML states sounding pitches, so the
clef alone moves the heads. Times are exact fractions of a quarter. In swung 4/4 a beat of two plain eighths
is played two to one, as the swing sign says; every other beat is written out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import groupby
from typing import Any

from lickwright.render.accidentals import Sign, signs_of, spelled
from lickwright.render.heads import Head, Layout, Staff, grace_columns, lay_out, low_string_first
from lickwright.render.notation import Written
from lickwright.render.score.complete import as_bytes, complete
from lickwright.render.score.text import printable
from lickwright.study.model import Event, Study
from lickwright.theory.harmony import Chord
from lickwright.theory.rhythm import bar_of

_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3}
_CHORD_STEPS = {"b9": (9, -1), "#9": (9, 1)}


def musicxml(study: Study) -> bytes:
    """The study as an uncompressed MusicXML 4.0 file (UTF-8), the same bytes for the same study."""
    from music21.musicxml.m21ToXml import ScoreExporter

    layouts = tuple(lay_out(study, staff) for staff in Staff)
    signs = signs_of(study, layouts[0])
    root = ScoreExporter(_score(study, layouts, signs), makeNotation=False).parse()
    complete(root, study, layouts, signs)
    return as_bytes(root)


def _score(study: Study, layouts: Sequence[Layout], signs: Mapping[str, Sign]) -> Any:
    from music21 import layout, metadata, stream

    score = stream.Score()
    score.insert(0, metadata.Metadata(title=printable(study.title)))
    staves = [_StaffWriter(study, each, signs).part() for each in layouts]
    for staff in staves:
        score.insert(0, staff)
    _add_chord_symbols(study, layouts[0].bars, staves[0])
    score.insert(0, layout.StaffGroup(staves, symbol="bracket"))
    return score


class _StaffWriter:
    """Writes one staff bar by bar, in the order of the file."""

    def __init__(self, study: Study, layout: Layout, signs: Mapping[str, Sign]):
        self.study, self.layout, self.signs = study, layout, signs
        self.tab = layout.staff is Staff.TAB

    def part(self) -> Any:
        """The whole staff."""
        from music21 import bar, instrument, layout, stream

        part = stream.PartStaff()
        guitar = instrument.Instrument("Guitar")
        guitar.partId, guitar.instrumentId, guitar.midiProgram, guitar.midiChannel = "P1", "P1-I1", 27, 0
        part.insert(0, guitar)
        offset = Fraction(0)
        for number, written in enumerate(self.layout.bars):
            measure = stream.Measure(number=number + 1)
            if number == 0:
                _open(self.study, self.layout.staff, measure)
            elif any(p.first_bar == number for p in self.study.phrases):
                measure.insert(0, layout.SystemLayout(isNew=True))
            length = self._fill(measure, written)
            part.insert(offset, measure)
            offset += length
        measure.rightBarline = bar.Barline("final")
        return part

    def _fill(self, measure: Any, bar: Sequence[Written]) -> Fraction:
        """Writes one bar and gives its length in quarters."""
        if bar[0].bar_rest:
            length = Fraction(6) if self.study.meter == "12/8" else Fraction(4)
            measure.insert(0, self._rest(quarterLength=length, fullMeasure=True))
            return length
        at = Fraction(0)
        beams = _beams(bar)
        for index, written in enumerate(bar):
            duration = _duration(bar, index, self.layout.staff)
            if written.event is None:
                measure.insert(at, self._rest(duration=duration))
            else:
                self._write_event(measure, at, written, written.event, duration, beams[index])
            at += written.quarters
        return at

    def _rest(self, **length: Any) -> Any:
        from music21 import note

        rest = note.Rest(**length)
        rest.style.hideObjectOnPrint = self.tab
        return rest

    def _write_event(
        self, measure: Any, at: Fraction, written: Written, number: int, duration: Any, beams: Any
    ) -> None:
        """One written piece of an event, with its small notes before and after."""
        event = self.study.events[number]
        heads = [self.layout.heads[place] for place, _ in low_string_first(number, event)]
        piece = self.layout.piece(written)
        if piece == 0:
            for column in grace_columns(heads):
                measure.insert(at, self._grace(column))
        sign = self._sounding([h.pieces[piece] for h in heads], duration)
        if not self.tab:
            sign.beams = beams
            if event.staccato and not written.ties:
                from music21.articulations import Staccato

                sign.articulations.append(Staccato())
        measure.insert(at, sign)
        after = [h for each in heads for h in each.after]
        if after and not written.ties:
            small = self._grace(after)
            small.duration.slash = False
            small.duration.stealTimePrevious = _release_share(event, after[0])
            measure.insert(at + written.quarters, small)

    def _sounding(self, heads: Sequence[Head], duration: Any) -> Any:
        """A note or a chord of music21 for heads that are struck together."""
        from music21 import note, tie
        from music21.chord import Chord as NoteChord

        notes = []
        for head in heads:
            one = note.Note(self._pitch(head))
            one.id = head.id
            if head.tied or head.ties:
                one.tie = tie.Tie("continue" if head.tied and head.ties else "stop" if head.tied else "start")
            if head.muted:
                one.notehead = "x"
            if self.tab and head.tied:
                one.style.hideObjectOnPrint = True
            notes.append(one)
        sign = notes[0] if len(notes) == 1 else NoteChord(notes)
        sign.duration = duration
        if self.tab:
            sign.stemDirection = "noStem"
        return sign

    def _grace(self, heads: Sequence[Head]) -> Any:
        from music21.duration import Duration

        return self._sounding(heads, Duration(type="eighth")).getGrace()

    def _pitch(self, head: Head) -> Any:
        """The head's pitch, spelled, and with a sign where one is to be printed."""
        from music21.pitch import Accidental, Pitch

        sign = self.signs.get(head.id) or Sign(spelled(self.study, head), printed=False)
        pitch = Pitch(sign.spelled.letter, octave=sign.spelled.octave)
        if sign.printed or sign.spelled.alter:
            pitch.accidental = Accidental(sign.spelled.alter)
            pitch.accidental.displayStatus = sign.printed
        return pitch


def _release_share(event: Event, head: Head) -> Fraction:
    """The part of the note that is left when its bend has come down again."""
    bend = event.notes[head.place[1]].bend
    assert bend is not None
    down = next((t for t, height in bend.curve if t > 0 and height == 0), event.duration)
    return Fraction(1) - Fraction(round(100 * down / event.duration), 100)


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
