"""Tablature as MusicXML 4.0 means it (w3.org/2021/06/musicxml40, W3C Music Notation Community Group).

Each fact of the reference's element pages is written out as a small score of our own and read.
"""

from __future__ import annotations

import pytest
from lickwright.read.files import read_bytes
from lickwright.study.model import BendKind, Note, Technique

from tests.read.scores import TUNING, attributes, harmony, note, score, tab


def first(bar: str, details: str = "") -> Note:
    given = attributes(details=details) if details else attributes()
    return read_bytes(score(given + harmony("A") + bar)).study.events[0].notes[0]


def test_string_1_is_the_highest_and_fret_0_the_open_string():
    """Element string: "the highest pitched string" is 1. Element fret: "0 is used for an open string"."""
    n = first(note(64, 48, "<string>1</string><fret>0</fret>"))
    assert (n.string, n.fret, n.finger, n.pitch) == (1, 0, 0, 64)


def test_lines_of_the_tuning_count_from_the_bottom():
    """Attribute line: "staff lines are numbered from bottom to top": drop D is line 1."""
    dropped = TUNING.replace(
        "<tuning-step>E</tuning-step><tuning-octave>2", "<tuning-step>D</tuning-step><tuning-octave>2"
    )
    details = f"<staff-details><staff-lines>6</staff-lines>{dropped}</staff-details>"
    bar = attributes(details=details) + harmony("D") + note(38, 48, "<string>6</string><fret>0</fret>")
    study = read_bytes(score(bar)).study
    assert study.neck.tuning == (64, 59, 55, 50, 45, 38)


def test_a_capo_changes_the_open_tuning_by_its_half_steps():
    """Element capo: "changes the open tuning of the strings specified by staff-tuning by the specified number"."""
    details = f"<staff-details><staff-lines>6</staff-lines>{TUNING}<capo>3</capo></staff-details>"
    n = first(note(67, 48, "<string>1</string><fret>0</fret>"), details)
    assert (n.fret, n.pitch) == (0, 67)


@pytest.mark.parametrize(("alter", "quarters"), [("2", 4), ("1", 2), ("0.5", 1), ("3", 6), ("1.5", 3)])
def test_bend_alter_counts_semitones_and_may_be_a_fraction(alter, quarters):
    """Element bend-alter: "the number of semitones in the bend", decimals for microtones."""
    bend = first(tab(2, 8, 48, f"<bend><bend-alter>{alter}</bend-alter></bend>")).bend
    assert bend is not None
    assert (bend.kind, bend.size) == (BendKind.BEND, quarters)


def test_a_single_note_with_bend_and_release_has_two_bend_elements():
    """Element bend: "A single note with a bend and release will contain two bend elements"."""
    signs = "<bend><bend-alter>2</bend-alter></bend><bend><bend-alter>-2</bend-alter><release/></bend>"
    bend = first(tab(2, 8, 48, signs)).bend
    assert bend is not None
    assert (bend.kind, bend.size) == (BendKind.BEND_RELEASE, 4)


def test_a_pre_bend_starts_bent():
    """Element pre-bend: "a bend is a pre-bend rather than a normal bend or a release"."""
    bend = first(tab(2, 8, 48, "<bend><bend-alter>2</bend-alter><pre-bend/></bend>")).bend
    assert bend is not None
    assert bend.kind is BendKind.PRE_BEND


def test_first_beat_and_last_beat_say_when_a_bend_moves():
    """Attributes first-beat, last-beat (group bend-sound): percentages of the note's duration."""
    bend = first(tab(2, 8, 48, '<bend first-beat="25" last-beat="50"><bend-alter>2</bend-alter></bend>')).bend
    assert bend is not None
    assert bend.curve == ((0.0, 0.0), (12.0, 0.0), (24.0, 4.0), (48.0, 4.0))


@pytest.mark.parametrize(
    ("tag", "up", "technique"),
    [("hammer-on", True, Technique.HAMMER_ON), ("pull-off", False, Technique.PULL_OFF)],
)
def test_hammer_ons_and_pull_offs_start_on_one_note_and_stop_on_the_next(tag, up, technique):
    frets = (5, 7) if up else (7, 5)
    bar = "".join(
        tab(3, fret, 24, f'<{tag} type="{kind}"/>')
        for fret, kind in zip(frets, ("start", "stop"), strict=True)
    )
    events = read_bytes(score(attributes() + harmony("A") + bar)).study.events
    assert [e.notes[0].technique for e in events] == [Technique.PLUCK, technique]


@pytest.mark.parametrize("tag", ["slide", "glissando"])
def test_slides_stand_in_notations(tag):
    bar = "".join(
        tab(3, fret, 24, notations=f'<{tag} type="{kind}" number="1"/>')
        for fret, kind in ((5, "start"), (7, "stop"))
    )
    events = read_bytes(score(attributes() + harmony("A") + bar)).study.events
    assert events[1].notes[0].technique is Technique.SLIDE


def test_a_wavy_line_is_vibrato_and_with_a_trill_mark_a_trill():
    wavy = '<wavy-line type="start" number="1"/><wavy-line type="stop" number="1"/>'
    plain = first(tab(3, 7, 48, notations=f"<ornaments>{wavy}</ornaments>"))
    trilled = first(tab(3, 7, 48, notations=f'<ornaments><trill-mark trill-step="half"/>{wavy}</ornaments>'))
    assert (plain.vibrato, plain.trill) == (True, None)
    assert (trilled.vibrato, trilled.trill) == (False, 8)


def test_a_note_head_x_is_a_dead_note():
    """Element notehead: value x; on strings a dead note (common practice, no source)."""
    n = first(tab(3, 7, 48, more="<notehead>x</notehead>"))
    assert n.muted


def test_a_tie_that_lets_ring_goes_nowhere():
    """Attribute type of tied: "let-ring" has no second note."""
    grip = "".join(
        tab(s, f, 12, chord=k > 0, notations='<tied type="let-ring"/>')
        for k, (s, f) in enumerate(((4, 5), (3, 6), (2, 5)))
    )
    rest = "<note><rest/><duration>36</duration></note>"
    events = read_bytes(score(attributes() + harmony("A") + grip + rest)).study.events
    assert (events[0].duration, events[0].ring) == (12, 12)


def test_transpose_takes_written_pitches_to_sounding_ones():
    """Element transpose: "what must be added to a written pitch to get a correct sounding pitch"."""
    moved = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change></transpose>"
    bar = attributes(details="", more=moved) + harmony("A") + note(78, 48)
    assert read_bytes(score(bar)).study.events[0].notes[0].pitch == 64
