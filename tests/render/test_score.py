"""The score: what independent readers, and a reader of the printed signs, find in its MusicXML."""

from __future__ import annotations

import io
import re
import warnings
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.harmony import KEY_NAMES, LETTER_PITCH, Key
from generator.neck import TUNINGS, Neck
from generator.render.score import musicxml
from generator.study import Brief, Event, Note, Slot, SlotKind, Study, Technique
from tests.studies import bend, tour

METERS = (("12/8", "triplet"), ("4/4", "triplet"), ("4/4", "straight"))
SAMPLED = {("A", *METERS[0]), ("Db", *METERS[1]), ("F#", *METERS[2]), ("Eb", *METERS[0])}
CASES = [
    pytest.param(*case, id=" ".join(case), marks=() if case in SAMPLED else pytest.mark.long)
    for case in ((key, *meter) for key, meter in product(KEY_NAMES, METERS))
]
every_case = pytest.mark.parametrize(("key", "meter", "grid"), CASES)


@dataclass(frozen=True)
class Sign:
    """One <note> that is no rest: where it stands in quarters from the start, and its element."""

    staff: int
    bar: int
    at: Fraction
    length: Fraction
    pitch: int
    grace: bool
    element: ET.Element

    def text(self, path: str) -> str:
        return self.element.findtext(path) or ""


@lru_cache(maxsize=64)
def written(study: Study) -> bytes:
    return musicxml(study)


def root_of(study: Study) -> ET.Element:
    return ET.fromstring(written(study))


def pitch_of(element: ET.Element, prefix: str = "") -> int:
    step = element.findtext(prefix + "step") or ""
    alter = int(element.findtext(prefix + "alter") or 0)
    return 12 * (int(element.findtext(prefix + "octave") or 0) + 1) + LETTER_PITCH[step] + alter


def signs(study: Study) -> list[Sign]:
    """Every head of the file by plain reading: backup, chord and duration move the time."""
    root = root_of(study)
    divisions = int(root.findtext(".//divisions") or 0)
    found, start = [], Fraction(0)
    for number, measure in enumerate(root.iter("measure")):
        at = start
        for element in measure:
            length = Fraction(int(element.findtext("duration") or 0), divisions)
            if element.tag == "backup":
                at -= length
            elif element.tag == "note":
                grace = element.find("grace") is not None
                chord = element.find("chord") is not None
                if element.find("rest") is None:
                    onset = at - (length if chord and not grace else 0)
                    staff = int(element.findtext("staff") or 0)
                    pitch = pitch_of(element, "pitch/")
                    found.append(Sign(staff, number, onset, length, pitch, grace, element))
                at += 0 if chord else length
        start += full_bar(study)
    return found


def full_bar(study: Study) -> Fraction:
    return Fraction(6) if study.meter == "12/8" else Fraction(4)


def place(study: Study, tick: int) -> Fraction:
    """Where a tick is written, in quarters: a swung beat cut at two thirds alone is two written eighths."""
    beat, rest = divmod(tick, 12)
    if study.meter == "12/8":
        return Fraction(tick, 8)
    cuts = {t - 12 * beat for e in study.events for t in (e.onset, e.end) if 12 * beat < t < 12 * beat + 12}
    if study.swung and cuts <= {8}:
        rest = 6 if rest == 8 else rest
    return beat + Fraction(rest, 12)


def expected(study: Study, staff: int) -> Counter[tuple[Fraction, Fraction, int]]:
    """(onset, length, pitch) of every note of the Study as a staff shows it, notes that ring on left out."""
    found: Counter[tuple[Fraction, Fraction, int]] = Counter()
    for number, event in enumerate(study.events):
        for note in event.notes:
            if note.tied:
                continue
            end = event.end
            after = study.events[number + 1].notes if number + 1 < len(study.events) else ()
            if any(n.tied and n.string == note.string for n in after):
                end = study.events[number + 1].end
            pitch = note.sounding2 // 2 if staff == 1 else note.pitch
            at = place(study, event.onset)
            found[at, place(study, end) - at, pitch] += 1
    return found


# What readers find.


@every_case
def test_every_bar_of_both_staves_is_full(key, meter, grid):
    study = tour(key, meter, grid)
    root = root_of(study)
    divisions = int(root.findtext(".//divisions") or 0)
    for measure in root.iter("measure"):
        for voice in ("1", "2"):
            total = sum(
                int(n.findtext("duration") or 0)
                for n in measure.findall("note")
                if n.findtext("voice") == voice and n.find("chord") is None
            )
            assert Fraction(total, divisions) == full_bar(study), (measure.get("number"), voice)


@every_case
def test_every_tab_position_plus_its_bend_is_the_notated_pitch(key, meter, grid):
    study = tour(key, meter, grid)
    tuning = {
        study.neck.strings + 1 - int(t.get("line") or 0): pitch_of(t, "tuning-")
        for t in root_of(study).iter("staff-tuning")
    }
    struck: dict[int, list[Sign]] = {1: [], 2: []}
    for sign in signs(study):
        if not sign.grace and sign.element.find("tie[@type='stop']") is None:
            struck[sign.staff].append(sign)
    assert len(struck[1]) == len(struck[2]) > 0

    def bent(sign: Sign) -> Fraction:
        return Fraction(sign.text("notations/technical/bend/bend-alter") or 0)

    for heard, played in zip(struck[1], struck[2], strict=True):
        position = tuning[int(played.text("notations/technical/string"))] + int(
            played.text("notations/technical/fret")
        )
        assert (heard.at, heard.length) == (played.at, played.length)
        assert position == played.pitch
        assert position + bent(played) == heard.pitch + bent(heard)


@every_case
def test_music21_reads_back_pitch_onset_and_duration(key, meter, grid):
    import music21

    study = tour(key, meter, grid)
    score = music21.converter.parseData(written(study), format="musicxml")
    assert len(score.parts) == 2
    for staff, part in enumerate(score.parts, start=1):
        found: Counter[tuple[Fraction, Fraction, int]] = Counter()
        open_ties: dict[int, tuple[Fraction, Fraction]] = {}
        for sign in part.flatten().notes:
            if isinstance(sign, music21.harmony.ChordSymbol) or sign.duration.isGrace:
                continue
            for note in sign.notes if sign.isChord else [sign]:
                at, length = Fraction(sign.offset), Fraction(sign.quarterLength)
                if note.tie and note.tie.type in ("continue", "stop"):
                    start, so_far = open_ties.pop(note.pitch.midi)
                    assert start + so_far == at
                    at, length = start, so_far + length
                if note.tie and note.tie.type in ("start", "continue"):
                    open_ties[note.pitch.midi] = (at, length)
                else:
                    found[at, length, note.pitch.midi] += 1
        assert found == expected(study, staff)
    assert score.metadata.title == "No. 3: A tour of signs"


@every_case
def test_partitura_reads_back_pitch_onset_and_duration(key, meter, grid, tmp_path):
    import partitura

    study = tour(key, meter, grid)
    for staff in (1, 2):
        path = tmp_path / f"{staff}.musicxml"
        path.write_bytes(only_staff(study, staff))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            (part,) = partitura.load_musicxml(path).parts
        divisions = part.quarter_durations()[0][1]
        found: Counter[tuple[Fraction, Fraction, int]] = Counter()
        for note in part.notes_tied:
            if note.staff == staff and not isinstance(note, partitura.score.GraceNote):
                length = Fraction(int(note.duration_tied), int(divisions))
                found[Fraction(int(note.start.t), int(divisions)), length, note.midi_pitch] += 1
        assert found == expected(study, staff)


def only_staff(study: Study, staff: int) -> bytes:
    """The file with one staff's notes: partitura keeps a single tie for a pitch and a time of a part."""
    root = root_of(study)
    for measure in root.iter("measure"):
        for element in [e for e in measure if e.tag in ("note", "backup")]:
            if element.findtext("staff") != str(staff):
                measure.remove(element)
    return ET.tostring(root)


def count(study: Study, staff: int, path: str) -> int:
    return sum(len(s.element.findall(path)) for s in signs(study) if s.staff == staff)


@every_case
def test_every_technique_of_the_study_is_in_the_tab_as_often(key, meter, grid):
    study = tour(key, meter, grid, repeats=2)
    notes = [n for _, n in study.notes()]
    used = Counter(n.technique for n in notes) + Counter(n.grace.technique for n in notes if n.grace)
    released = sum(n.bend is not None and "release" in n.bend.kind for n in notes)
    for tag, technique in (("hammer-on", Technique.HAMMER_ON), ("pull-off", Technique.PULL_OFF)):
        for end in ("start", "stop"):
            path = f"notations/technical/{tag}[@type='{end}']"
            assert count(study, 2, path) == used[technique] > 0
    for staff, end in product((1, 2), ("start", "stop")):
        assert count(study, staff, f"notations/slide[@type='{end}']") == used[Technique.SLIDE] > 0
        waved = sum(n.vibrato or n.trill is not None for n in notes)
        assert count(study, staff, f"notations/ornaments/wavy-line[@type='{end}']") == waved > 0
        assert count(study, staff, "notations/ornaments/trill-mark") == sum(
            n.trill is not None for n in notes
        )
    bends = "notations/technical/bend"
    assert count(study, 2, bends) == sum(n.bend is not None for n in notes) + released
    assert count(study, 2, f"{bends}/release") == released > 0
    pre = sum(n.bend is not None and n.bend.kind.startswith("pre") for n in notes)
    assert count(study, 2, f"{bends}/pre-bend") == pre > 0
    assert count(study, 2, "grace") == sum(n.grace is not None for n in notes) > 0
    assert count(study, 2, "notehead") == sum(n.muted for n in notes) > 0
    fingered = sum(not n.tied for n in notes) + sum(n.grace is not None for n in notes)
    assert count(study, 1, "notations/technical/fingering") == fingered
    staccato = sum(e.staccato for e in study.events)
    assert count(study, 1, "notations/articulations/staccato") == staccato > 0
    ringing = sum(len(e.notes) for e in study.events if e.ring)
    assert count(study, 1, "notations/tied[@type='let-ring']") == ringing > 0


@every_case
def test_every_line_that_starts_ends_on_its_own_string_further_on(key, meter, grid):
    study = tour(key, meter, grid)
    opened: dict[tuple[str, str], int] = {}
    for sign in signs(study):
        for element in sign.element.find("notations") or []:
            for line in (element, *element):
                kind, number = line.get("type"), line.get("number")
                if line.tag not in ("slur", "slide", "hammer-on", "pull-off", "wavy-line"):
                    continue
                if kind == "start":
                    assert (line.tag, number) not in opened
                    opened[line.tag, number] = sign.staff
                else:
                    assert opened.pop((line.tag, number)) == sign.staff
    assert not opened


# Spelling, as the eye reads it.


@every_case
def test_a_reader_of_the_printed_accidentals_finds_the_pitches(key, meter, grid):
    """Key signature, then accidentals until the bar line, ties carrying over it (common practice)."""
    study = tour(key, meter, grid, repeats=2)
    fifths = study.home.fifths
    sharps = dict.fromkeys("FCGDAEB"[:fifths], 1) if fifths > 0 else {}
    signature = sharps or dict.fromkeys("BEADGCF"[: max(0, -fifths)], -1)
    values = {"sharp": 1, "flat": -1, "natural": 0}
    bar, state = -1, {}
    for sign in (s for s in signs(study) if s.staff == 1):
        if sign.bar != bar:
            bar, state = sign.bar, {}
        line = (sign.text("pitch/step"), sign.text("pitch/octave"))
        printed = sign.text("accidental")
        if printed:
            state[line] = values[printed]
        alter = int(sign.text("pitch/alter") or 0)
        if sign.element.find("tie[@type='stop']") is None:
            assert state.get(line, signature.get(line[0], 0)) == alter, (sign.bar, sign.at, line)
        assert abs(alter) <= 1


@every_case
def test_chord_tones_are_spelled_as_music21_spells_the_chord(key, meter, grid):
    from music21.harmony import ChordSymbol

    study = tour(key, meter, grid)
    by_onset: dict[Fraction, list[Sign]] = {}
    for sign in signs(study):
        if sign.staff == 1 and not sign.grace:
            by_onset.setdefault(sign.at, []).append(sign)
    checked = 0
    for event in study.events:
        chord = study.chord(event.chord)
        names = {
            p.pitchClass: p.name
            for p in ChordSymbol(root=chord.root.replace("b", "-"), kind=chord.kind).pitches
        }
        for sign in by_onset[place(study, event.onset)]:
            name = names.get(sign.pitch % 12)
            if name is not None and len(name) < 3:
                alter = {"": 0, "#": 1, "-": -1}[name[1:]]
                assert (sign.text("pitch/step"), int(sign.text("pitch/alter") or 0)) == (name[0], alter)
                checked += 1
    assert checked > 20


# Beams, tuplets, swing.


@every_case
def test_beams_join_the_flagged_notes_of_a_beat_and_never_leave_it(key, meter, grid):
    study = tour(key, meter, grid)
    beat = Fraction(3, 2) if meter == "12/8" else Fraction(1)
    flags = {"eighth": 1, "16th": 2, "32nd": 3}
    heads = [s for s in signs(study) if s.staff == 1 and not s.grace and s.element.find("chord") is None]
    run: list[Sign] = []
    joined = set()
    for sign in heads:
        beams = sign.element.findall("beam")
        main = beams[0].text if beams else None
        assert len(beams) in (0, flags.get(sign.text("type"), 0))
        if main == "begin":
            assert not run
            run = [sign]
        elif main in ("continue", "end"):
            run.append(sign)
        if main == "end":
            span = beat * 2 if meter == "4/4" and all(r.text("type") == "eighth" for r in run) else beat
            assert run[0].at // span == run[-1].at // span
            joined.update((id(a), id(b)) for a, b in pairwise(run))
            run = []
    for a, b in pairwise(heads):
        if (
            a.at + a.length == b.at
            and a.at // beat == b.at // beat
            and {a.text("type"), b.text("type")} <= set(flags)
        ):
            assert (id(a), id(b)) in joined
    assert all(s.element.find("beam") is None for s in signs(study) if s.staff == 2)


def one_bar(meter: str, grid: str, *spans: tuple[int, int]) -> Study:
    """A study of one bar that plays the same note for each (onset, duration)."""
    base = tour("A", meter, grid)
    events = tuple(replace(base.events[0], onset=a, duration=d) for a, d in spans)
    return replace(base, bars=1, events=events, phrases=base.phrases[:1])


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


# Any bar.


@st.composite
def studies(draw):
    meter, grid = draw(st.sampled_from(METERS))
    key = Key.parse(draw(st.sampled_from(KEY_NAMES)))
    neck = Neck()
    step = 3 if grid == "straight" else 2
    cuts = sorted(draw(st.sets(st.integers(0, 96 // step), min_size=2, max_size=16)))
    events = []
    for a, b in pairwise(c * step for c in cuts):
        if draw(st.booleans()):
            strings = draw(st.lists(st.integers(1, 6), min_size=1, max_size=3, unique=True))
            frets = [(s, draw(st.integers(0, 14))) for s in strings]
            notes = tuple(Note(s, f, 1 if f else 0, neck.pitch(s, f), "1") for s, f in frets)
            events.append(Event(f"e{a}", 0, a, b - a, notes, "I7", 5))
    base = tour("A", meter, grid)
    return replace(
        base, key=key.tonic, bars=2, events=tuple(events), brief=Brief("x", key.tonic, 1),
        slots=(Slot(0, SlotKind.LICK, 0, 0, 96),),
    )  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(studies())
def test_any_two_bars_are_read_back_as_they_were(study):
    for staff in (1, 2):
        found: Counter[tuple[Fraction, Fraction, int]] = Counter()
        open_ties: dict[tuple[int, Fraction], list[Fraction]] = {}
        for sign in (s for s in signs(study) if s.staff == staff):
            start, end = sign.at, sign.at + sign.length
            ties = {t.get("type") for t in sign.element.findall("tie")}
            if "stop" in ties:
                start = open_ties[sign.pitch, sign.at].pop()
            if "start" in ties:
                open_ties.setdefault((sign.pitch, end), []).append(start)
            else:
                found[start, end - start, sign.pitch] += 1
        assert found == expected(study, staff)
        assert not any(open_ties.values())


def test_the_file_is_parsed_as_utf_8_with_the_doctype_of_its_version():
    data = written(tour())
    assert data.startswith(b'<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise')
    assert ET.parse(io.BytesIO(data)).getroot().get("version") == "4.0"
