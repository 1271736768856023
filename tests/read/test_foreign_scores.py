"""Scores as other programs write them: each thing is read as it is meant, or refused with the bar named."""

from __future__ import annotations

import io
import zipfile

import pytest
from lickwright.read.files import Asked, Reading, read_bytes
from lickwright.read.limits import UnreadableError
from lickwright.study.model import BendKind, SlotKind, Study, Technique

from tests.read.scores import attributes, backup, harmony, lick, note, pitch, rest, score, tab


def read(*bars: str, asked: Asked | None = None, **more: object) -> Reading:
    return read_bytes(score(*bars, **more), asked or Asked())  # type: ignore[arg-type]


def line(study: Study) -> list[tuple[int, int, int]]:
    """(onset, duration, highest pitch) of each event."""
    return [(e.onset, e.duration, max(n.pitch for n in e.notes)) for e in study.events]


def places(study: Study) -> list[tuple[int, int]]:
    return [(n.string, n.fret) for e in study.events for n in e.notes]


def refusal(*bars: str, **more: object) -> str:
    with pytest.raises(UnreadableError) as caught:
        read(*bars, **more)
    assert len(caught.value.problems) == 1
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_lick_with_tab_is_read_and_fingered():
    study = read(lick()).study
    assert (study.key, study.meter, study.grid, study.bars) == ("A", "4/4", "triplet", 1)
    assert places(study) == [(3, 5), (3, 6), (2, 5), (1, 5), (2, 8), (2, 5), (3, 5), (4, 7)]
    assert [e.onset for e in study.events] == [4, 8, 12, 20, 24, 32, 36, 40]
    fingers = [n.finger for e in study.events for n in e.notes]
    assert fingers == [1, 2, 1, 1, 3, 1, 1, 3], "as a hand at the fifth fret takes them"
    assert {e.hand for e in study.events} == {5}
    assert study.events[1].notes[0].technique is Technique.HAMMER_ON
    bend = study.events[4].notes[0].bend
    assert bend is not None
    assert (bend.kind, bend.size) == (BendKind.BEND, 4)
    assert [(s.kind, s.role) for s in study.slots] == [(SlotKind.LICK, "answer")]


def test_fingers_that_the_file_gives_are_kept():
    bar = (
        attributes()
        + harmony("A")
        + "".join(tab(2, f, 12, f"<fingering>{g}</fingering>") for f, g in ((5, 2), (7, 4), (8, 4), (5, 2)))
    )
    study = read(bar).study
    assert [e.notes[0].finger for e in study.events] == [2, 4, 4, 2]


def test_plain_pitches_are_placed_and_fingered():
    bar = attributes(details="") + harmony("A") + "".join(note(p, 12) for p in (69, 72, 74, 69))
    study = read(bar).study
    assert [n.pitch for e in study.events for n in e.notes] == [69, 72, 74, 69]
    for event in study.events:
        for n in event.notes:
            assert study.neck.pitch(n.string, n.fret) == n.pitch
            assert (n.fret == 0) == (n.finger == 0)


def test_ties_make_one_note_over_the_bar_line():
    first = attributes() + harmony("A") + rest(36) + tab(2, 5, 12, tie="start")
    second = tab(2, 5, 24, tie="stop") + rest(24)
    assert line(read(first, second).study) == [(36, 36, 64)]


def test_a_tie_from_nowhere_is_struck_and_said():
    reading = read(attributes() + harmony("A") + tab(2, 5, 48, tie="stop"))
    assert line(reading.study) == [(0, 48, 64)]
    assert any("bar 1: a tie" in r for r in reading.remarks)


def test_triplets_keep_their_thirds_and_swung_eighths_become_them():
    three = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    )
    swung = "<direction><direction-type><words>Swing</words></direction-type></direction>"
    plain = tab(2, 5, 6) + tab(2, 8, 6)
    triplet = "".join(tab(2, 5, 4, more=three) for _ in range(3))
    bar = attributes() + swung + harmony("A") + plain + triplet + plain + tab(2, 5, 12)
    reading = read(bar)
    assert [e.onset for e in reading.study.events] == [0, 8, 12, 16, 20, 24, 32, 36]
    assert any("swung" in r for r in reading.remarks)


def test_straight_eighths_stay_straight_without_a_word():
    bar = attributes() + harmony("A") + "".join(tab(2, 5, 6) for _ in range(8))
    study = read(bar).study
    assert [e.onset for e in study.events] == list(range(0, 48, 6))
    assert study.grid == "straight"


def test_values_finer_than_the_grid_are_moved_and_said():
    bar = attributes(divisions=10) + harmony("A") + "".join(tab(2, 5, 2) for _ in range(5)) + rest(30)
    reading = read(bar)
    assert [e.onset for e in reading.study.events] == [0, 2, 5, 7, 10]
    assert any(r.startswith("bar 1 beat 1") and "nearest" in r for r in reading.remarks)


def test_two_voices_become_one_line_over_a_bass_that_rings():
    bar = (
        attributes() + harmony("A") + tab(2, 5, 24) + tab(2, 8, 24) + backup(48)
        + tab(6, 5, 48, voice=2)
    )  # fmt: skip
    reading = read(bar)
    events = reading.study.events
    assert [(e.onset, e.duration, len(e.notes), e.ring) for e in events] == [(0, 24, 2, 24), (24, 24, 1, 0)]
    assert any("another voice" in r for r in reading.remarks)


def test_a_note_of_a_chord_that_is_held_longer_is_tied_on():
    first = tab(4, 6, 12, tie="start") + tab(3, 7, 12, chord=True)
    second = tab(4, 6, 12, tie="stop") + tab(3, 9, 12, chord=True)
    study = read(attributes() + harmony("A") + first + second + rest(24)).study
    assert [[(n.string, n.tied) for n in e.notes] for e in study.events] == [
        [(4, False), (3, False)], [(4, True), (3, False)],
    ]  # fmt: skip


@pytest.mark.parametrize(("fret", "technique"), [(4, Technique.HAMMER_ON), (7, Technique.PULL_OFF)])
def test_a_grace_note_goes_to_its_main_note(fret, technique):
    bar = attributes() + harmony("A") + tab(3, fret, 0, grace=True) + tab(3, 6, 48)
    grace = read(bar).study.events[0].notes[0].grace
    assert grace is not None
    assert (grace.fret, grace.technique) == (fret, technique)


def test_of_several_grace_notes_the_last_is_kept_and_said():
    graces = tab(3, 4, 0, grace=True) + tab(3, 5, 0, grace=True)
    reading = read(attributes() + harmony("A") + graces + tab(3, 6, 48))
    grace = reading.study.events[0].notes[0].grace
    assert grace is not None
    assert grace.fret == 5
    assert any("bar 1: of 2 grace notes" in r for r in reading.remarks)


REPEAT = '<barline location="right"><repeat direction="backward"/></barline>'


def ending(number: str, kind: str, repeat: bool = False) -> str:
    sign = '<repeat direction="backward"/>' if repeat else ""
    side = "left" if kind == "start" else "right"
    return f'<barline location="{side}"><ending number="{number}" type="{kind}"/>{sign}</barline>'


def test_repeats_and_their_endings_are_written_out():
    bars = [
        attributes() + harmony("A") + tab(2, 5, 48),
        ending("1", "start") + tab(2, 6, 48) + ending("1", "stop", repeat=True),
        ending("2", "start") + tab(2, 7, 48) + ending("2", "stop"),
        tab(2, 8, 48) + REPEAT,
    ]
    reading = read(*bars)
    assert [p[2] - 59 for p in line(reading.study)] == [5, 6, 5, 7, 8, 8]
    assert any("repeats are written out" in r for r in reading.remarks)


def test_a_transposing_staff_sounds_where_it_says():
    octave_down = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    bar = attributes(details="", more=octave_down) + harmony("A") + note(76, 48)
    assert line(read(bar).study) == [(0, 48, 64)]


def test_a_staff_written_an_octave_above_its_tab_is_read_as_the_tab():
    bar = (
        attributes()
        + harmony("A")
        + "".join(
            note(p + 12, 24, f"<string>{s}</string><fret>{f}</fret>") for p, s, f in ((64, 2, 5), (60, 3, 5))
        )
    )
    reading = read(bar)
    assert [p for _, _, p in line(reading.study)] == [64, 60]
    assert any("1 octave above the tab" in r for r in reading.remarks)


def test_tab_and_pitch_that_disagree_are_refused():
    wrong = note(66, 24, "<string>2</string><fret>5</fret>")
    assert "bar 1 beat 3: string 2 fret 5 is E4, but the note is written" in refusal(
        attributes() + harmony("A") + tab(2, 5, 24) + wrong
    )


def test_a_tuning_that_is_not_said_is_worked_out():
    pitches = {1: 62, 2: 57, 3: 55, 4: 50, 5: 45, 6: 38}  # DADGAD, a fret of each string
    bar = (
        attributes(details="")
        + harmony("D")
        + "".join(note(p + 2, 8, f"<string>{s}</string><fret>2</fret>") for s, p in pitches.items())
    )
    reading = read(bar)
    assert reading.study.neck.tuning == (62, 57, 55, 50, 45, 38)
    assert any("D2 A2 D3 G3 A3 D4" in r for r in reading.remarks)


def test_a_capo_raises_every_string():
    details = "<staff-details><staff-lines>6</staff-lines><capo>2</capo></staff-details>"
    bar = attributes(details=details) + harmony("B") + note(66, 48, "<string>2</string><fret>5</fret>")
    study = read(bar).study
    assert (study.neck.capo, places(study)) == (2, [(2, 5)])


def test_a_pickup_is_a_bar_with_silence_before_it():
    bars = [attributes() + harmony("A") + tab(2, 5, 12), tab(2, 8, 48)]
    reading = read(*bars)
    assert [e.onset for e in reading.study.events] == [36, 48]
    assert any("pickup" in r for r in reading.remarks)


def test_a_bar_that_is_too_full_is_refused_by_its_name():
    message = refusal(attributes() + tab(2, 5, 48), tab(2, 5, 48) + tab(2, 5, 12), labels=("7", "8"))
    assert message == "bar 8: 5 quarters in a bar of 4"


def test_a_bar_that_is_too_short_is_filled_and_said():
    reading = read(attributes() + harmony("A") + tab(2, 5, 48), tab(2, 5, 36), tab(2, 8, 48))
    assert [e.onset for e in reading.study.events] == [0, 48, 96]
    assert any("bar 2: holds 3 of 4" in r for r in reading.remarks)


@pytest.mark.parametrize(
    ("bar", "says"),
    [
        (attributes(time="3/4") + tab(2, 5, 36), "bar 1: 3/4 time"),
        (attributes() + tab(2, 5, 0), "bar 1: a note without a duration"),
        (attributes() + tab(2, 30, 48), "bar 1 beat 1: fret 30"),
        (attributes(divisions=0) + tab(2, 5, 48), "bar 1: divisions"),
        (attributes() + backup(12) + tab(2, 5, 48), "bar 1: a backup goes back before"),
        (attributes() + '<sound dacapo="yes"/>' + tab(2, 5, 48), "bar 1: a jump (dacapo)"),
        (attributes() + tab(2, 5, 24) + tab(2, 5, 24).replace("<fret>5", "<fret>five"), "bar 1: fret"),
        (attributes() + tab(2, 5, 48).replace("<string>2", "<string>9"), "bar 1 beat 1: string 9"),
        (attributes() + tab(2, 5, 48) + tab(2, 7, 48, chord=True), "bar 1 beat 1: two notes on string 2"),
        (attributes(details="") + note(30, 48), "bar 1 beat 1: MIDI pitch 30 is not on the neck"),
        (attributes(more='<measure-style><measure-repeat type="start">1</measure-repeat></measure-style>')
         + tab(2, 5, 48), "bar 1: a sign that repeats bars"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_names_its_bar(bar, says):
    assert says in refusal(bar)


def test_a_change_of_meter_is_refused_where_it_stands():
    change = "<attributes><time><beats>12</beats><beat-type>8</beat-type></time></attributes>"
    assert "bar 2: the time changes to 12/8" in refusal(attributes() + tab(2, 5, 48), change + tab(2, 5, 72))


def test_half_bars_of_six_eight_are_put_together():
    bars = [attributes(time="6/8") + harmony("A") + tab(2, 5, 36), tab(2, 8, 36)] * 2
    study = read(*bars).study
    assert (study.meter, study.bars) == ("12/8", 2)
    assert [e.onset for e in study.events] == [0, 24, 48, 72]


def test_chords_come_from_the_chord_symbols():
    study = read(attributes() + harmony("D") + tab(2, 5, 24) + harmony("D", "minor", 1) + tab(2, 8, 24)).study
    assert [(s.onset, s.roman) for s in study.form] == [(0, "IV7"), (24, "#IVm")]


def test_without_chord_symbols_a_form_can_be_named():
    bars = [attributes() + tab(2, 5, 48), *(tab(2, 5, 48) for _ in range(11))]
    study = read(*bars, asked=Asked(form="quick change")).study
    assert [s.roman for s in study.form][:3] == ["I7", "IV7", "I7"]


def test_without_chords_at_all_the_form_that_suits_is_taken_and_said():
    first = "".join(tab(*p, 12) for p in ((3, 6), (2, 5), (1, 5), (3, 6)))  # C# E A C#: I
    second = "".join(tab(*p, 12) for p in ((3, 5), (2, 7), (1, 5), (2, 7)))  # C F# A F#: IV
    reading = read(attributes() + first, second, first, first, *[rest(48)] * 8, asked=Asked("slow-shuffle"))
    assert [s.roman for s in reading.study.form][:4] == ["I7", "IV7", "I7", "I7"]
    assert any("no chords in the file" in r and "quick change" in r for r in reading.remarks)


def test_a_key_asked_for_counts_more_than_the_signature():
    study = read(attributes(fifths=0) + tab(2, 5, 48), asked=Asked(key="Am")).study
    assert (study.key, study.minor) == ("A", True)
    assert read(lick().replace("<fifths>3", "<fifths>-2")).study.key == "Bb"


def test_a_score_by_bars_is_turned_into_one_by_parts():
    data = score(lick()).decode()
    start, end = data.index('<part id="P1">'), data.index("</part>")
    body = data[start:end].replace('<part id="P1"><measure number="1">', "").replace("</measure>", "")
    timewise = (
        data[:start].replace("score-partwise", "score-timewise")
        + f'<measure number="1"><part id="P1">{body}</part></measure></score-timewise>'
    )
    assert read_bytes(timewise.encode()).study == read(lick()).study


def test_a_packed_score_is_unpacked():
    packed = io.BytesIO()
    container = '<container><rootfiles><rootfile full-path="a/lick.xml"/></rootfiles></container>'
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("META-INF/container.xml", container)
        file.writestr("a/lick.xml", score(lick()))
    assert read_bytes(packed.getvalue()).study == read(lick()).study


def test_the_staff_with_tab_is_read_and_the_other_gives_fingers():
    upper = "".join(note(p, 24, f"<fingering>{g}</fingering>", staff=1) for p, g in ((64, 2), (67, 4)))
    lower = "".join(tab(2, f, 24, staff=2, voice=2) for f in (5, 8))
    bar = attributes(more="<staves>2</staves>") + harmony("A") + upper + backup(48) + lower
    study = read(bar).study
    assert [(n.string, n.fret, n.finger) for e in study.events for n in e.notes] == [(2, 5, 2), (2, 8, 4)]


def test_slurs_on_a_string_are_legato_where_no_sign_says_so():
    slur = '<slur type="{}" number="1"/>'
    bar = (
        attributes()
        + harmony("A")
        + (
            tab(3, 5, 12, notations=slur.format("start"))
            + tab(3, 7, 12)
            + tab(3, 5, 12, notations=slur.format("stop"))
            + tab(3, 7, 12)
        )
    )
    techniques = [e.notes[0].technique for e in read(bar).study.events]
    assert techniques == [Technique.PLUCK, Technique.HAMMER_ON, Technique.PULL_OFF, Technique.PLUCK]


def test_licks_and_comping_are_told_apart():
    grip = tab(4, 5, 12) + tab(3, 6, 12, chord=True) + tab(2, 5, 12, chord=True)
    phrase = "".join(tab(*p, 12) for p in ((3, 5), (2, 5), (2, 8), (2, 5)))
    bars = [
        attributes() + harmony("A") + phrase,
        tab(6, 5, 12) + grip + rest(12) + grip,
        phrase,
        rest(12) + grip + grip + rest(12),
    ]
    slots = read(*bars).study.slots
    assert [(s.kind, s.start, s.end, s.name) for s in slots] == [
        (SlotKind.LICK, 0, 48, "A"), (SlotKind.COMP, 48, 96, ""), (SlotKind.LICK, 96, 144, "A"),
        (SlotKind.COMP, 156, 180, ""),
    ]  # fmt: skip
    assert [s.role for s in slots if s.kind is SlotKind.LICK] == ["question", "close"]


def test_a_beat_of_silence_begins_a_new_lick():
    bar = attributes() + harmony("A") + tab(2, 5, 12) + tab(2, 8, 12) + rest(12) + tab(1, 5, 6) + tab(1, 8, 6)
    assert len(read(bar).study.slots) == 2


def test_a_part_can_be_named():
    second = f'<part id="P2"><measure number="1">{attributes(details="")}{note(64, 48)}</measure></part>'
    listed = '<score-part id="P2"><part-name>Second</part-name></score-part></part-list>'
    text = score(lick()).decode().replace("</part-list>", listed)
    data = text.replace("</score-partwise>", f"{second}</score-partwise>").encode()
    assert line(read_bytes(data, Asked(part="second")).study) == [(0, 48, 64)]
    with pytest.raises(UnreadableError, match="no part 'Third'"):
        read_bytes(data, Asked(part="Third"))


def test_a_quarter_tone_written_as_an_accidental_is_a_curl():
    raised = (
        f"<note>{pitch(60).replace('<octave>', '<alter>0.5</alter><octave>')}<duration>48</duration></note>"
    )
    bend = read(attributes(details="") + harmony("A") + raised).study.events[0].notes[0].bend
    assert bend is not None
    assert bend.size == 1
