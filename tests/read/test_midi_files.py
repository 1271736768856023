"""MIDI files made with mido, a library of its own: what they play is what is read."""

from __future__ import annotations

import io

import mido
import pytest
from lickwright.read.files import Asked, read_bytes
from lickwright.read.limits import UnreadableError
from lickwright.study.model import BendKind, Study

QUARTER = 480


def made(*tracks: list[mido.Message | mido.MetaMessage], kind: int = 1) -> bytes:
    file = mido.MidiFile(type=kind, ticks_per_beat=QUARTER)
    for messages in tracks:
        file.tracks.append(mido.MidiTrack(messages))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def played(
    *notes: tuple[int, int, int], channel: int = 0, more: tuple[tuple[int, mido.Message], ...] = ()
) -> list:
    """Notes as (start, end, pitch) in file ticks, and other messages at theirs, as a track."""
    events = [(s, 1, mido.Message("note_on", channel=channel, note=p, velocity=90)) for s, _, p in notes]
    events += [(e, 0, mido.Message("note_off", channel=channel, note=p)) for _, e, p in notes]
    events += [(t, 2 if t else -1, m.copy(channel=channel)) for t, m in more]
    track, at = [], 0
    for tick, _, message in sorted(events, key=lambda x: x[:2]):
        track.append(message.copy(time=tick - at))
        at = tick
    return track


def line(study: Study) -> list[tuple[int, int, int]]:
    return [(e.onset, e.duration, max(n.pitch for n in e.notes)) for e in study.events]


FOUR = ((0, 480, 69), (480, 960, 72), (960, 1440, 74), (1440, 1920, 69))


@pytest.mark.parametrize("kind", [0, 1])
def test_notes_of_either_type_come_in_time(kind):
    study = read_bytes(made(played(*FOUR), kind=kind)).study
    assert line(study) == [(0, 12, 69), (12, 12, 72), (24, 12, 74), (36, 12, 69)]
    assert study.tempo_bpm == 120, (
        "a file without a tempo plays 120 quarters a minute (Standard MIDI Files 1.0)"
    )


def test_tempo_meter_and_key_are_read():
    head = [
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(90)),
        mido.MetaMessage("time_signature", numerator=12, denominator=8),
        mido.MetaMessage("key_signature", key="Em"),
        mido.MetaMessage("track_name", name="Porch"),
    ]
    study = read_bytes(made(head, played((0, 240, 64), (240, 480, 67)))).study
    assert (study.meter, study.tempo_bpm, study.home.name) == ("12/8", 60, "Em")
    assert line(study)[:2] == [(0, 4, 64), (4, 4, 67)]


def test_notes_off_the_grid_are_moved_and_the_most_is_said():
    reading = read_bytes(made(played((9, 470, 69), (500, 940, 72), (961, 1440, 74))))
    assert [e.onset for e in reading.study.events] == [0, 12, 24]
    assert any("3 of 3 notes were moved" in r or "2 of 3 notes were moved" in r for r in reading.remarks)


def bend_range(semitones: int) -> tuple[tuple[int, mido.Message], ...]:
    numbers = ((101, 0), (100, 0), (6, semitones), (38, 0))
    return tuple((0, mido.Message("control_change", control=c, value=v)) for c, v in numbers)


@pytest.mark.parametrize(("semitones", "wheel"), [(2, 8191), (12, 1365), (24, 683)])
def test_the_wheel_counts_by_the_range_that_is_set(semitones, wheel):
    """RPN 0,0 sets the range in semitones; the wheel spans it from the middle to 8191 (MIDI 1.0, RPN 00 00)."""
    steps = tuple((40 * k, mido.Message("pitchwheel", pitch=wheel * k // 8)) for k in range(9))
    study = read_bytes(made(played((0, 960, 67), more=(*bend_range(semitones), *steps)))).study
    bend = study.events[0].notes[0].bend
    assert bend is not None
    assert (bend.kind, bend.size) == (BendKind.BEND, 4)


def test_without_a_range_the_wheel_spans_two_semitones():
    steps = ((0, mido.Message("pitchwheel", pitch=0)), (120, mido.Message("pitchwheel", pitch=4096)))
    bend = read_bytes(made(played((0, 960, 67), more=steps))).study.events[0].notes[0].bend
    assert bend is not None
    assert bend.size == 2


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        (((0, 0), (100, 4096), (160, 8191)), BendKind.BEND),
        (((0, 0), (100, 8191), (500, 4096), (600, 0)), BendKind.BEND_RELEASE),
        (((0, 8191), (500, 4096), (600, 0)), BendKind.PRE_BEND_RELEASE),
        (((0, 8191),), BendKind.PRE_BEND),
    ],
)
def test_what_a_bend_does_is_told_from_its_curve(shape, kind):
    steps = tuple((t, mido.Message("pitchwheel", pitch=v)) for t, v in shape)
    bend = read_bytes(made(played((0, 960, 67), more=steps))).study.events[0].notes[0].bend
    assert bend is not None
    assert (bend.kind, bend.size) == (kind, 4)


def test_swings_of_the_wheel_are_vibrato_and_no_bend():
    steps = tuple((120 + 60 * k, mido.Message("pitchwheel", pitch=1500 if k % 2 else 0)) for k in range(12))
    n = read_bytes(made(played((0, 960, 67), more=steps))).study.events[0].notes[0]
    assert (n.vibrato, n.bend) == (True, None)


def test_percussion_and_other_instruments_are_left_out_and_said():
    guitar = [mido.Message("program_change", program=27), *played(*FOUR)]
    bass = [mido.Message("program_change", program=33, channel=1), *played((0, 1920, 45), channel=1)]
    drums = played((0, 100, 36), (480, 580, 38), channel=9)
    reading = read_bytes(made(guitar, bass, drums))
    assert line(reading.study) == [(0, 12, 69), (12, 12, 72), (24, 12, 74), (36, 12, 69)]
    assert any("2 notes of percussion" in r for r in reading.remarks)
    assert any("1 notes of other instruments" in r for r in reading.remarks)


def test_notes_struck_together_are_one_event():
    study = read_bytes(made(played((0, 480, 57), (3, 480, 61), (5, 480, 64), (960, 1440, 69)))).study
    assert [len(e.notes) for e in study.events] == [3, 1]


def test_a_style_gives_the_chords_a_midi_file_cannot_have():
    study = read_bytes(made(played(*FOUR)), Asked("slow-shuffle", "A", "slow change")).study
    assert [s.roman for s in study.form] == ["I7"]


def test_a_meter_that_no_study_has_is_refused():
    head = [mido.MetaMessage("time_signature", numerator=7, denominator=8)]
    with pytest.raises(UnreadableError, match="bar 1: 7/8 time"):
        read_bytes(made(head, played(*FOUR)))
