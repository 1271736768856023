"""What comes out: the study, its phrases, its licks, slower versions, with a band; on time, level, whole
or not at all.
"""

from __future__ import annotations

import dataclasses
import io
import json
import os
import signal
import subprocess
import sys

import numpy as np
import pytest
import soundfile
from lickwright.render.sound import clips
from lickwright.render.sound.amplifier import Tone
from lickwright.render.sound.clips import recordings, render, write_sound
from lickwright.render.sound.loudness import CEILING, block_peaks, loudness_lufs
from lickwright.render.sound.mix import Settings
from lickwright.render.sound.page import page_sound
from lickwright.render.sound.timemap import TimeMap
from lickwright.study.model import SlotKind

from tests.render.sound.trackers import RATE, onset_s
from tests.studies import tour

EXACT = Settings(human=False)


def request(study, name, slow=(), band=True):
    return next(r for r in recordings(study, slow, band) if r.name == name)


def test_there_is_a_recording_of_the_study_of_each_phrase_and_of_each_lick():
    study = tour(repeats=3)
    assert [r.name for r in recordings(study)] == [
        "study", "phrase-1", "phrase-2", "phrase-3", "lick-1", "lick-2", "lick-3", "lick-4", "lick-5", "lick-6"
    ]  # fmt: skip


def test_slow_versions_and_the_band_add_to_them():
    names = [r.name for r in recordings(tour(), (0.5, 0.75), band=True)]
    assert {"study-with-band", "band", "study-at-50", "study-with-band-at-75", "lick-2-at-50"} <= set(names)
    assert len(names) == len(set(names))


@pytest.mark.parametrize("speed", [0.2, 2.5, 0.0, -1.0, float("nan")])
def test_a_speed_out_of_reach_is_refused_before_anything_is_written(tmp_path, speed):
    with pytest.raises(ValueError, match=r"from 0\.25 to 2"):
        write_sound(tour(), tmp_path / "out", slow=(speed,))
    assert not (tmp_path / "out").exists()


def test_an_unknown_format_is_refused_before_anything_is_written(tmp_path):
    with pytest.raises(ValueError, match="mp3, flac, wav"):
        write_sound(tour(), tmp_path / "out", format="aiff")
    assert not (tmp_path / "out").exists()


def test_files_are_written_whole_in_order_and_progress_is_told(tmp_path):
    told = []
    paths = write_sound(tour(), tmp_path, format="flac", progress=lambda *p: told.append(p))
    assert [p.name for p in paths] == ["study.flac", "phrase-1.flac", "lick-1.flac", "lick-2.flac"]
    assert told == [(1, 4, "study"), (2, 4, "phrase-1"), (3, 4, "lick-1"), (4, 4, "lick-2")]
    assert sorted(os.listdir(tmp_path)) == sorted(p.name for p in paths)
    with soundfile.SoundFile(paths[2]) as file:
        assert file.title == "A tour of signs, lick 1"
        assert file.comment == "Key of A, 60 beats a minute"


def test_what_was_finished_before_an_error_stays_and_nothing_half_written_does(tmp_path, monkeypatch):
    real = clips.write_whole

    def full_disk(path, data):
        if path.name.startswith("phrase"):
            raise OSError(28, "No space left on device")
        real(path, data)

    monkeypatch.setattr(clips, "write_whole", full_disk)
    with pytest.raises(OSError, match="No space left"):
        write_sound(tour(), tmp_path, format="wav")
    assert "phrase-1.wav" not in os.listdir(tmp_path)
    assert not [n for n in os.listdir(tmp_path) if n.startswith(".")]


@pytest.mark.parametrize("tone", Tone)
@pytest.mark.parametrize("name", ["study", "study-with-band", "band", "lick-1"])
def test_every_recording_is_level_finite_and_under_the_ceiling(name, tone):
    study = tour()
    sound = render(study, request(study, name), Settings(tone=tone)).samples
    assert np.isfinite(sound).all()
    assert loudness_lufs(sound) == pytest.approx(-16.0, abs=0.5)
    assert block_peaks(sound).max() <= CEILING + 0.01


@pytest.mark.parametrize("tone", Tone)
def test_nothing_false_sounds_above_sixteen_kilohertz(tone):
    sound = render(tour(), request(tour(), "study"), Settings(tone=tone)).samples
    power = np.abs(np.fft.rfft(sound)) ** 2
    f = np.fft.rfftfreq(len(sound), 1 / RATE)
    assert power[f > 16_000].sum() < 1e-7 * power.sum()


@pytest.mark.parametrize(("speed", "name"), [(1.0, "study"), (0.5, "study-at-50")])
def test_picked_notes_sound_within_two_milliseconds_of_the_score(speed, name):
    study = tour()
    recording = render(study, request(study, name, (0.5,)), EXACT)
    by_id = {span.id: span for span in recording.time_map.events}
    checked = 0
    for event in study.events:
        note = event.notes[0]
        if note.technique.value == "pluck" and not note.tied and len(event.notes) == 1:
            score = event.onset * 60 / (study.tempo_bpm * 12 * speed)
            assert by_id[event.id].start == pytest.approx(score, abs=1e-9)
            assert onset_s(recording.samples, score) == pytest.approx(score, abs=0.002), event.id
            checked += 1
    assert checked >= 8


def test_a_slow_version_is_as_long_as_it_should_be_and_at_the_same_pitch():
    study = tour()
    fast, slow = (render(study, request(study, n, (0.5,)), EXACT) for n in ("lick-1", "lick-1-at-50"))
    assert slow.time_map.length_s - 0.7 == pytest.approx(2 * (fast.time_map.length_s - 0.7))
    assert slow.time_map.tempo_bpm == study.tempo_bpm / 2


def test_a_lick_begins_on_the_beat_of_its_first_note_and_holds_only_its_own_events():
    study = tour()
    lick = request(study, "lick-1")
    assert lick.stretch.start == 0
    assert {e.slot for e in lick.stretch.events} == {0}
    assert study.slots[0].kind is SlotKind.LICK
    assert render(study, lick).time_map.events[0].start == pytest.approx(1 / 3)


def test_a_pickup_belongs_to_its_phrase():
    study = tour(repeats=2)
    early = dataclasses.replace(study.events[-1], id="early", slot=4, onset=4 * 48 - 4, duration=4, ring=0)
    events = tuple(sorted((*study.events, early), key=lambda e: e.onset))
    stretch = request(dataclasses.replace(study, events=events), "phrase-2").stretch
    assert stretch.start == 4 * 48 - 12
    assert early in stretch.events


def test_guitar_and_band_can_stand_wholly_apart():
    study = tour()
    whole = render(study, request(study, "study-with-band"), Settings(width=1.0, human=False)).samples
    counted = whole[: 3 * RATE]
    assert np.abs(counted[:, 0]).max() < 1e-4  # the guitar's side is silent while the sticks count
    assert np.abs(counted[:, 1]).max() > 0.05


def test_a_click_can_take_the_bands_place():
    study = tour()
    click = render(study, request(study, "band"), Settings(click=True)).samples
    drums = render(study, request(study, "band")).samples
    assert len(click) == len(drums)
    assert np.mean(np.abs(click) < 1e-3) > 0.4
    assert np.mean(np.abs(drums[5 * RATE : -RATE]) < 1e-3) < 0.2


def test_the_same_study_gives_the_same_sound():
    study = tour()
    first, second = (render(study, request(study, "lick-2")).samples for _ in range(2))
    assert np.allclose(first, second, atol=1e-6)


def test_a_page_gets_three_files_of_one_length_in_time_with_each_other():
    study = tour()
    sound = page_sound(study, settings=EXACT)
    read = [soundfile.read(io.BytesIO(b)) for b in (sound.guitar_mp3, sound.band_mp3, sound.click_mp3)]
    assert len({len(samples) for samples, _ in read}) == 1
    assert sound.time_map.origin_s == pytest.approx(4.0)
    guitar, band, click = (samples for samples, _ in read)
    first = sound.time_map.events[0]
    assert onset_s(guitar, first.start) == pytest.approx(first.start, abs=0.004)
    assert onset_s(band, 1.0) == pytest.approx(1.0, abs=0.004)
    assert onset_s(click, 5.0) == pytest.approx(5.0, abs=0.004)
    both = (guitar + band).astype(np.float32)
    assert loudness_lufs(both) == pytest.approx(-16.0, abs=0.5)
    assert np.abs(both).max() < 1.0


def test_a_page_of_twelve_slow_bars_stays_small():
    sound = page_sound(tour(repeats=3))
    base64 = 4 / 3 * sum(len(b) for b in (sound.guitar_mp3, sound.band_mp3, sound.click_mp3))
    assert base64 < 2.5e6


def test_a_time_map_survives_json():
    times = page_sound(tour(), 0.75).time_map
    back = TimeMap.from_json(times.to_json())
    assert back.tick_s == times.tick_s
    assert [e.id for e in back.events] == [e.id for e in times.events]
    assert [e.start for e in back.events] == pytest.approx([e.start for e in times.events], abs=1e-4)
    assert json.loads(times.to_json())["events"][0][0] == times.events[0].id


HANGING = """
import os, sys, time
from pathlib import Path
from lickwright.render.sound import clips
from tests.studies import tour

def hang(*given):
    os.write(1, b"at work\\n")
    time.sleep(60)

clips._written = hang
clips.write_sound(tour(), Path(sys.argv[1]))
"""


def test_workers_end_with_the_process_that_is_killed(tmp_path):
    call = [sys.executable, "-c", HANGING, str(tmp_path)]
    with subprocess.Popen(call, stdout=subprocess.PIPE) as process:
        assert process.stdout.readline() == b"at work\n"
        process.send_signal(signal.SIGKILL)
        process.communicate(timeout=30)  # ends when nobody holds the pipe any more
