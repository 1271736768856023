"""The MIDI file of a Study, read back by mido and pretty_midi."""

from __future__ import annotations

import io
import math
from collections import Counter
from dataclasses import dataclass, field, replace

import mido
import pretty_midi
import pytest
from hypothesis import given, settings
from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.render.midi.wheel import VIBRATO_SEMITONES
from lickwright.render.midi.write import BEND_RANGE, channel_of, midi
from lickwright.study.model import Grace, Note, Study, Technique
from lickwright.theory.harmony import KEY_NAMES
from lickwright.theory.rhythm import seconds

from tests.render.any_study import studies
from tests.render.score_reading import METERS, every_case, one_bar
from tests.studies import bend, tour

WHEEL = 8192


@dataclass
class Struck:
    """A note as read: channel, MIDI ticks, key, and the wheel in cents at (tick) while it sounds."""

    channel: int
    start: int
    key: int
    velocity: int
    end: int = 0
    cents: list[tuple[int, float]] = field(default_factory=list)


def file_of(study: Study) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(midi(study)))


def scale(study: Study) -> int:
    """MIDI ticks in a tick of the Study."""
    return 60 if study.meter == "12/8" else 40


def struck(study: Study) -> list[Struck]:
    """Every note with the wheel's motion from its start to its end."""
    found: list[Struck] = []
    for track in file_of(study).tracks[1:]:
        at, wheel, sounding = 0, 0.0, None
        for message in track:
            at += message.time
            if message.type == "pitchwheel":
                wheel = message.pitch * 100 * BEND_RANGE / WHEEL
                if sounding:
                    sounding.cents.append((at, wheel))
            elif message.type == "note_on":
                assert sounding is None, "one string sounds one note"
                sounding = Struck(message.channel, at, message.note, message.velocity, cents=[(at, wheel)])
            elif message.type == "note_off":
                assert sounding is not None
                assert message.note == sounding.key
                sounding.end = at
                found.append(sounding)
                sounding = None
        assert sounding is None
    return found


def cents_at(note: Struck, tick: float) -> float:
    return [cents for at, cents in note.cents if at <= tick][-1]


@every_case
def test_mido_reads_back_every_struck_note_at_its_tick_on_its_string(key, meter, grid):
    study = tour(key, meter, grid)
    expected = Counter(
        (channel_of(n.string), e.onset * scale(study), n.pitch) for e, n in study.notes() if not n.tied
    )
    assert Counter((s.channel, s.start, s.key) for s in struck(study)) == expected


@every_case
def test_pretty_midi_reads_back_onsets_in_seconds_and_one_clean_guitar_a_string(key, meter, grid, tmp_path):
    study = tour(key, meter, grid)
    data = pretty_midi.PrettyMIDI(io.BytesIO(midi(study)))
    found = Counter((round(n.start, 3), n.pitch) for i in data.instruments for n in i.notes)
    expected = Counter(
        (round(seconds(e.onset, study.tempo_bpm), 3), n.pitch) for e, n in study.notes() if not n.tied
    )
    assert found == expected
    assert len(data.instruments) == len({n.string for _, n in study.notes()})
    assert all(i.program == 27 and not i.is_drum for i in data.instruments)
    (change,) = data.time_signature_changes
    assert f"{change.numerator}/{change.denominator}" == meter


@every_case
def test_a_bend_settles_on_its_target_and_follows_its_curve(key, meter, grid):
    study = tour(key, meter, grid)
    by_start = {(s.channel, s.start): s for s in struck(study)}
    bends = 0
    for event, note in study.notes():
        if note.bend is None:
            continue
        sound = by_start[channel_of(note.string), event.onset * scale(study)]
        for tick, height in note.bend.curve[:-1]:
            at = math.ceil((event.onset + tick) * scale(study) - 1e-6)
            assert cents_at(sound, at) == pytest.approx(50 * height, abs=1)
        steps = [abs(b - a) for (_, a), (_, b) in zip(sound.cents, sound.cents[1:], strict=False)]
        assert all(step <= 25 for step in steps), "small steps"
        bends += 1
    assert bends == 4


def test_a_plain_note_is_not_moved():
    study = tour("A")
    plain = next(s for s in struck(study) if s.channel == channel_of(6))
    assert plain.cents == [(plain.start, 0)]


@pytest.mark.parametrize(("technique", "away"), [("hammer-on", -2), ("pull-off", 2), ("slide", -1)])
def test_a_grace_note_is_heard_first_and_then_the_note(technique, away):
    study = one_bar("12/8", "triplet", (12, 12))
    note = Note(3, 7, 3, 62, "4", grace=Grace(7 + away, 1, Technique(technique)))
    (sound,) = struck(replace(study, events=(replace(study.events[0], notes=(note,)),)))
    assert sound.key == 62
    assert sound.cents[0] == (720, pytest.approx(100 * away, abs=1))
    assert cents_at(sound, sound.end) == 0
    between = {round(c) for _, c in sound.cents} - {100 * away, 0}
    assert bool(between) == (technique == "slide"), "a slide travels, a finger does not"


def test_a_slide_sets_out_before_the_note_it_goes_to():
    study = one_bar("12/8", "triplet", (0, 12), (12, 12))
    first, second = Note(3, 5, 1, 60, "1"), Note(3, 9, 1, 64, "1", technique=Technique.SLIDE)
    events = tuple(replace(e, notes=(n,)) for e, n in zip(study.events, (first, second), strict=True))
    one, two = struck(replace(study, events=events))
    assert cents_at(one, 0) == 0
    assert 300 < one.cents[-1][1] <= 400
    assert (one.end, two.start, cents_at(two, two.start)) == (720, 720, 0)
    assert two.velocity < one.velocity, "not picked again"


def test_vibrato_rocks_the_pitch_upward_on_a_fret_and_downward_on_a_bend():
    study = one_bar("12/8", "triplet", (0, 36))
    held = Note(3, 7, 3, 62, "4", vibrato=True)
    bent = replace(held, bend=bend("bend", 4, 36))
    for note, low, high in ((held, 0, 100 * VIBRATO_SEMITONES), (bent, 200 - 100 * VIBRATO_SEMITONES, 200)):
        (sound,) = struck(replace(study, events=(replace(study.events[0], notes=(note,)),)))
        late = [cents for at, cents in sound.cents if at > 900]
        assert min(late) == pytest.approx(low, abs=3)
        assert max(late) == pytest.approx(high, abs=3)
        assert sum(a < b > c for a, b, c in zip(late, late[1:], late[2:], strict=False)) > 5, "many swings"


def test_a_trill_alternates_with_its_upper_note_and_ends_on_the_lower():
    study = one_bar("12/8", "triplet", (0, 12))
    note = Note(3, 5, 1, 60, "b3", trill=6)
    (sound,) = struck(replace(study, events=(replace(study.events[0], notes=(note,)),)))
    heights = [round(c) for _, c in sound.cents]
    assert len(heights) > 6
    assert heights == [0 if i % 2 == 0 else 100 for i in range(len(heights))]
    assert heights[-1] == 0


def test_a_tail_is_not_bent_the_wheel_waits_for_the_next_stroke():
    """After a bent note nothing moves; at the next stroke the tail is silenced before the wheel goes home."""
    study = one_bar("12/8", "triplet", (0, 12), (24, 12))
    first, second = Note(3, 7, 3, 62, "4", bend=bend("bend", 4, 12)), Note(3, 5, 1, 60, "b3")
    events = tuple(replace(e, notes=(n,)) for e, n in zip(study.events, (first, second), strict=True))
    track = file_of(replace(study, events=events)).tracks[3]
    at, seen = 0, []
    for message in track:
        at += message.time
        if at >= 720 and not message.is_meta:
            seen.append((at, message.type, getattr(message, "control", None)))
    assert seen == [
        (720, "note_off", None), (1440, "control_change", 120), (1440, "pitchwheel", None),
        (1440, "note_on", None), (2160, "note_off", None),
    ]  # fmt: skip


def test_a_grip_rings_on_and_stops_where_a_string_is_struck_again():
    study = tour("A")
    ends = {(s.channel, s.start): s.end for s in struck(study)}
    grip = 84 * 60
    assert ends[channel_of(4), grip] == (84 + 12 + 12) * 60
    assert ends[channel_of(1), grip] == 96 * 60, "the next lick takes the first string"


def test_a_note_that_rings_on_is_not_struck_again():
    study = tour("A")
    held = [s for s in struck(study) if s.channel == channel_of(4) and s.start == 144 * 60]
    assert [s.end for s in held] == [168 * 60]


def test_dead_notes_are_short_and_soft_and_staccato_is_half_as_long():
    study = tour("A")
    by_start = {(s.channel, s.start): s for s in struck(study)}
    dead = by_start[channel_of(3), 72 * 60]
    stab = by_start[channel_of(3), 76 * 60]
    assert dead.end - dead.start < 60
    assert dead.velocity < stab.velocity
    assert stab.end - stab.start == 8 * 60 // 2


@pytest.mark.parametrize(("meter", "grid"), METERS)
def test_the_conductor_track_has_title_tempo_meter_and_key(meter, grid):
    study = tour("Eb", meter, grid)
    track = file_of(study).tracks[0]
    found = {m.type: m for m in track}
    assert track.name == "No. 3: A tour of signs"
    beat_quarters = 1.5 if meter == "12/8" else 1
    assert mido.tempo2bpm(found["set_tempo"].tempo) == pytest.approx(
        study.tempo_bpm * beat_quarters, rel=1e-5
    )
    signature = found["time_signature"]
    assert f"{signature.numerator}/{signature.denominator}" == meter
    assert signature.clocks_per_click == 24 * beat_quarters, "a click a beat"
    assert found["key_signature"].key == "Eb"


@pytest.mark.parametrize("key", KEY_NAMES)
def test_every_key_signature_is_read_back(key):
    found = next(m for m in file_of(tour(key)).tracks[0] if m.type == "key_signature")
    assert found.key == key
    minor = replace(tour("A"), key="F#", minor=True)
    assert next(m for m in file_of(minor).tracks[0] if m.type == "key_signature").key == "F#m"


def test_each_string_is_a_named_track_on_a_channel_of_its_own():
    tracks = file_of(tour()).tracks
    assert [t.name for t in tracks[1:]] == [
        "Guitar, string 1 (E4)", "Guitar, string 2 (B3)", "Guitar, string 3 (G3)",
        "Guitar, string 4 (D3)", "Guitar, string 5 (A2)", "Guitar, string 6 (E2)",
    ]  # fmt: skip
    channels = [{m.channel for m in t if not m.is_meta} for t in tracks[1:]]
    assert channels == [{0}, {1}, {2}, {3}, {4}, {5}]


def test_other_necks_have_as_many_tracks_as_strings():
    for name, strings in (("bass", 4), ("seven strings", 7)):
        study = replace(tour(), neck=Neck(TUNINGS[name]), events=())
        assert len(file_of(study).tracks) == 1 + strings


def test_the_file_lasts_as_long_as_the_study_and_is_the_same_each_time():
    study = replace(tour("A"), events=tour("A").events[:5])
    assert file_of(study).length == pytest.approx(seconds(study.ticks, study.tempo_bpm), rel=1e-5)
    assert midi(study) == midi(study)


@settings(max_examples=30, deadline=None)
@given(studies())
def test_any_study_is_read_back_with_one_sound_a_string_at_a_time(study):
    onsets = {(channel_of(n.string), e.onset * scale(study), n.pitch) for e, n in study.notes()}
    found = {(s.channel, s.start, s.key) for s in struck(study)}
    assert found <= onsets
    assert found >= {
        (channel_of(n.string), e.onset * scale(study), n.pitch) for e, n in study.notes() if not n.tied
    }
