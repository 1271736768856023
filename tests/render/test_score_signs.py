"""The score sign by sign: swing, tuplets, chord symbols, header, tunings, bends and what rings on."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.render.score.write import musicxml
from lickwright.study.model import Note, Technique

from tests.render.score_reading import one_bar, pitch_of, root_of, signs, written
from tests.studies import bend, tour


def test_a_long_and_a_short_of_swing_are_plain_eighths_under_a_swing_sign():
    study = one_bar("4/4", "triplet", (0, 8), (8, 4), (12, 4), (16, 4), (20, 4), (24, 24))
    heads = [s for s in signs(study) if s.staff == 1]
    assert [s.length for s in heads] == [*[Fraction(1, 2)] * 2, *[Fraction(1, 3)] * 3, 2]
    assert [s.element.find("time-modification") is not None for s in heads] == [False] * 2 + [True] * 3 + [
        False
    ]
    swing = root_of(study).find(".//sound/swing")
    assert swing is not None
    assert [(e.tag, e.text) for e in swing] == [("first", "2"), ("second", "1"), ("swing-type", "eighth")]
    assert root_of(tour("A", "4/4", "straight")).find(".//swing") is None
    assert root_of(tour("A", "12/8", "triplet")).find(".//swing") is None


def test_a_triplet_is_bracketed_in_notation_where_no_beam_holds_it_and_never_on_tab():
    study = one_bar("4/4", "triplet", (0, 4), (4, 8), (12, 4), (16, 4), (20, 4))
    starts = [
        (s.staff, t) for s in signs(study) for t in s.element.findall("notations/tuplet[@type='start']")
    ]
    assert [(staff, t.get("bracket")) for staff, t in starts] == [(1, "yes"), (1, "no"), (2, "no"), (2, "no")]
    assert [t.get("show-number") for staff, t in starts if staff == 2] == ["none", "none"]


def test_a_hook_points_into_its_eighth():
    study = one_bar("4/4", "straight", (0, 9), (9, 3), (12, 3), (15, 9))
    hooks = [
        (i, b.text)
        for i, s in enumerate(s for s in signs(study) if s.staff == 1)
        for b in s.element.findall("beam")
        if "hook" in (b.text or "")
    ]
    assert hooks == [(1, "backward hook"), (2, "forward hook")]


# The head of the file.


def test_the_tempo_counts_beats_of_the_meter():
    root = root_of(tour("A", "12/8"))
    assert root.findtext(".//beat-unit") == "quarter"
    assert root.find(".//beat-unit-dot") is not None
    assert root.findtext(".//per-minute") == "60"
    assert float(root.find(".//sound").get("tempo")) == 90  # in quarters, as the standard wants it
    assert root_of(tour("A", "4/4")).find(".//beat-unit-dot") is None


def test_chord_symbols_stand_where_the_form_changes_and_are_not_repeated():
    study = tour("A", "12/8")
    names = [
        (h.findtext("root/root-step"), h.findtext("kind"), h.find("kind").get("text"))
        for h in root_of(study).iter("harmony")
    ]
    assert names == [
        ("A", "dominant", "7"), ("D", "dominant", "7"), ("A", "dominant", "7"), ("E", "dominant", "7"),
        ("A", "dominant-ninth", "9"),
    ]  # fmt: skip


def test_an_altered_chord_keeps_its_degree_without_printing_it_twice():
    study = tour("A", "12/8")
    form = (replace(study.form[0], roman="V7b9"), *study.form[1:])
    harmony = root_of(replace(study, form=form)).find(".//harmony")
    assert harmony.find("kind").get("text") == "7♭9"
    degree = harmony.find("degree")
    assert [e.text for e in degree] == ["9", "-1", "add"]
    assert degree.get("print-object") == "no"


def test_a_chord_that_changes_inside_a_held_note_stands_at_its_tick():
    study = tour("A", "12/8")
    held = replace(study, events=(replace(study.events[0], onset=0, duration=48), *study.events[6:]))
    held = replace(held, form=(study.form[0], replace(study.form[2], onset=20), *study.form[4:]))
    measure = root_of(held).find(".//measure")
    moved = [int(h.findtext("offset") or 0) for h in measure.findall("harmony")]
    before = [
        sum(
            int(n.findtext("duration") or 0)
            for n in list(measure)[: list(measure).index(h)]
            if n.tag == "note"
        )
        for h in measure.findall("harmony")
    ]
    assert [a + b for a, b in zip(moved, before, strict=True)] == [0, 20 * 3]


@pytest.mark.parametrize(
    ("title", "printed"),
    [
        ('<b>Slow</b> & "low"', 'No. 3: <b>Slow</b> & "low"'),
        ("bell\x07 tab\tline\nend\x00", "No. 3: bell tab line end"),
        ("Größe ♭7 \ud800", "No. 3: Größe ♭7 "),
        ("]]> \ufffe", "No. 3: ]]> "),
    ],
)
def test_a_title_is_escaped_and_loses_its_control_characters(title, printed):
    assert root_of(replace(tour(), title=title)).findtext("work/work-title") == printed


def test_a_study_without_a_number_has_the_bare_title():
    root = root_of(replace(tour(), number=None))
    assert root.findtext("work/work-title") == "A tour of signs"
    assert root.find("work/work-number") is None


def test_the_same_study_gives_the_same_bytes_and_no_date():
    data = musicxml(tour("Bb"))
    assert data == musicxml(tour("Bb"))
    assert b"date" not in data
    assert not re.search(rb"[0-9a-f]{16}", data)


@pytest.mark.parametrize("name", ["half a step down", "drop D", "seven strings", "bass"])
def test_the_tab_staff_has_the_lines_and_the_tuning_of_the_neck(name):
    neck = Neck(tuning=TUNINGS[name], capo=2)
    study = tour()
    note = replace(study.events[0].notes[0], string=1, fret=3, pitch=neck.pitch(1, 3))
    study = replace(study, neck=neck, events=(replace(study.events[0], notes=(note,)),))
    details = root_of(study).find(".//staff-details")
    assert details.findtext("staff-lines") == str(len(neck.tuning))
    lines = {int(t.get("line")): pitch_of(t, "tuning-") for t in details.findall("staff-tuning")}
    assert [lines[n] for n in sorted(lines)] == list(reversed(neck.tuning))
    assert details.findtext("capo") == "2"
    head = next(s for s in signs(study) if s.staff == 2)
    assert head.pitch == lines[len(lines)] + 2 + 3


def test_a_phrase_begins_a_system():
    root = root_of(tour(repeats=3))
    broken = [m.get("number") for m in root.iter("measure") if m.find("print[@new-system='yes']") is not None]
    assert broken == ["5", "9"]


def test_a_minor_key_has_its_signature_and_mode():
    root = root_of(replace(tour(), key="C#", minor=True))
    assert (root.findtext(".//fifths"), root.findtext(".//mode")) == ("4", "minor")


# Bends and what rings on.


def bent_note(kind: str, size: int) -> list[tuple[int, bool, int]]:
    """(staff, grace, pitch) of the heads of a bent D at fret 7 of string 3, held for a beat."""
    study = one_bar("12/8", "triplet", (0, 12))
    note = Note(3, 7, 3, 62, "4", bend=bend(kind, size, 12))
    return [
        (s.staff, s.grace, s.pitch)
        for s in signs(replace(study, events=(replace(study.events[0], notes=(note,)),)))
    ]


@pytest.mark.parametrize(
    ("kind", "size", "notation"),
    [
        ("bend", 4, [(True, 62), (False, 64)]),
        ("bend", 2, [(True, 62), (False, 63)]),
        ("bend", 1, [(False, 62)]),
        ("bend-release", 4, [(True, 62), (False, 64), (True, 62)]),
        ("pre-bend", 4, [(False, 64)]),
        ("pre-bend-release", 4, [(False, 64), (True, 62)]),
    ],
)
def test_a_bend_is_written_out_in_notation_and_a_sign_on_tab(kind, size, notation):
    heads = bent_note(kind, size)
    assert [(grace, pitch) for staff, grace, pitch in heads if staff == 1] == notation
    assert [(grace, pitch) for staff, grace, pitch in heads if staff == 2] == [(False, 62)]


def test_a_quarter_tone_keeps_its_bend_sign_on_both_staves():
    study = tour("A")
    curls = [s for s in signs(study) if s.text("notations/technical/bend/bend-alter") == "0.5"]
    assert [s.staff for s in curls] == [1, 2]


def test_a_bend_that_is_held_over_stays_at_its_target_and_is_not_struck_again():
    study = one_bar("12/8", "triplet", (0, 12), (12, 12))
    first = Note(2, 8, 3, 67, "b7", bend=bend("bend", 4, 12))
    other = Note(1, 5, 1, 69, "1")
    events = (
        replace(study.events[0], notes=(first,)),
        replace(study.events[1], notes=(Note(2, 8, 3, 67, "b7", tied=True), other)),
    )
    heads = [s for s in signs(replace(study, events=events)) if s.staff == 1 and not s.grace]
    assert [s.pitch for s in heads] == [69, 69, 69]
    assert [bool(s.element.find("tie[@type='stop']") is not None) for s in heads] == [False, True, False]


def test_one_slur_gathers_what_one_stroke_sounds():
    study = one_bar("12/8", "triplet", (0, 4), (4, 4), (8, 4), (12, 4))
    chain = [(5, Technique.PLUCK), (7, Technique.HAMMER_ON), (5, Technique.PULL_OFF), (5, Technique.PLUCK)]
    events = tuple(
        replace(e, notes=(Note(3, fret, 1, 55 + fret, "1", technique=t),))
        for e, (fret, t) in zip(study.events, chain, strict=True)
    )
    for staff in (1, 2):
        slurs = [
            [x.get("type") for x in s.element.findall("notations/slur")]
            for s in signs(replace(study, events=events))
            if s.staff == staff
        ]
        assert slurs == [["start"], [], ["stop"], []]


def test_a_trill_names_its_upper_note_as_the_next_letter_and_its_fret_over_the_tab():
    root = root_of(tour("A"))
    mark = root.find(".//trill-mark")
    assert mark.get("trill-step") == "half"
    assert root.findtext(".//accidental-mark") == "flat"  # C to D flat, so that it is read as a neighbour
    assert "(6)" in [w.text for w in root.iter("words")]


def test_the_file_is_parsed_as_utf_8_with_the_doctype_of_its_version():
    data = written(tour())
    assert data.startswith(b'<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise')
    assert ET.parse(io.BytesIO(data)).getroot().get("version") == "4.0"
