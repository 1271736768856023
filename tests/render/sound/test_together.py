"""Guitars of several studies to be heard in turn: one length, one tempo, one loudness."""

from __future__ import annotations

import io
from dataclasses import replace

import pyloudnorm
import pytest
import soundfile
from lickwright.render.sound.page import TogetherSound, together_sound

from tests.studies import tour


@pytest.fixture(scope="module")
def sound() -> TogetherSound:
    slower = replace(tour("D"), tempo_bpm=48)
    fewer = replace(tour("E"), events=tour("E").events[:6])
    return together_sound([tour("A"), slower, fewer])


@pytest.mark.long
def test_all_files_have_one_length_and_one_clock(sound: TogetherSound) -> None:
    read = [
        soundfile.read(io.BytesIO(data))[0] for data in (*sound.guitar_mp3s, sound.band_mp3, sound.click_mp3)
    ]
    assert len({len(samples) for samples in read}) == 1
    first = sound.time_maps[0]
    for times in sound.time_maps:
        assert (times.origin_s, times.tick_s, times.length_s) == (
            first.origin_s,
            first.tick_s,
            first.length_s,
        )
    assert [len(times.events) for times in sound.time_maps][2] == 6


@pytest.mark.long
def test_the_guitars_are_as_loud_as_each_other(sound: TogetherSound) -> None:
    """Measured by pyloudnorm (ITU-R BS.1770), within half a loudness unit."""
    levels = []
    for data in sound.guitar_mp3s:
        samples, rate = soundfile.read(io.BytesIO(data))
        levels.append(pyloudnorm.Meter(rate).integrated_loudness(samples))
        assert abs(samples).max() < 1
    assert max(levels) - min(levels) < 0.5
