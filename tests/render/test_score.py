"""The score: what independent readers, and a reader of the printed signs, find in its MusicXML."""

from __future__ import annotations

import warnings
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.guitar.neck import Neck
from lickwright.study.model import Brief, Event, Note, Slot, SlotKind, Study, Technique
from lickwright.theory.harmony import KEY_NAMES, Key

from tests.render import any_study
from tests.render.score_reading import (
    METERS,
    Sign,
    every_case,
    expected,
    full_bar,
    only_staff,
    pitch_of,
    place,
    root_of,
    signs,
    written,
)
from tests.studies import tour

LINES = ("slur", "slide", "hammer-on", "pull-off", "wavy-line")

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


def check_lines(study: Study) -> None:
    """Every slur, slide, hammer-on, pull-off and wavy line that starts stops once, on its own staff."""
    opened: dict[tuple[str, str], int] = {}
    for sign in signs(study):
        for element in sign.element.find("notations") or []:
            lines = [e for e in (element, *element) if e.tag in LINES]
            for line in sorted(lines, key=lambda e: (e.get("type") == "start") != (e.tag == "wavy-line")):
                key = (line.tag, line.get("number") or "")
                if line.get("type") == "start":
                    assert key not in opened
                    opened[key] = sign.staff
                else:
                    assert opened.pop(key) == sign.staff
    assert not opened


@every_case
def test_every_line_that_starts_ends_on_its_own_staff(key, meter, grid):
    check_lines(tour(key, meter, grid))


@settings(max_examples=15, deadline=None)
@given(any_study.studies())
def test_the_lines_and_the_accidentals_of_any_study_are_in_order(study):
    check_lines(study)
    check_printed_accidentals(study)


# Spelling, as the eye reads it.


def check_printed_accidentals(study: Study) -> None:
    """Key signature, then accidentals until the bar line, ties carrying over it (common practice)."""
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
        if sign.text("notehead") == "x":
            assert not printed, "a dead note has no pitch"
            continue
        if sign.element.find("tie[@type='stop']") is None:
            assert state.get(line, signature.get(line[0], 0)) == alter, (sign.bar, sign.at, line)
        assert abs(alter) <= 1


@every_case
def test_a_reader_of_the_printed_accidentals_finds_the_pitches(key, meter, grid):
    check_printed_accidentals(tour(key, meter, grid, repeats=2))


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
