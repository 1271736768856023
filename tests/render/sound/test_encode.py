"""Files: every format decodes again at any length, with its tags."""

from __future__ import annotations

import io

import numpy as np
import pytest
import soundfile
from lickwright.render.sound.encode import FORMATS, Tags, encode

RATE = 44_100
TAGS = Tags("Blå morgon", 3, "Bb", 57.5)


def music(seconds: float, channels: int = 1) -> np.ndarray:
    t = np.arange(int(seconds * RATE)) / RATE
    x = 0.3 * np.sin(2 * np.pi * 220 * t) * np.exp(-3 * (t % 0.5))
    return np.asarray(np.stack([x] * channels, axis=1).squeeze(), dtype=np.float32)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("name", FORMATS)
def test_every_format_decodes_to_what_went_in(name, channels):
    sound = music(3.0, channels)
    back, rate = soundfile.read(io.BytesIO(encode(sound, name, TAGS)))
    assert rate == RATE
    assert back.shape == sound.shape
    assert np.abs(back - sound).max() < (0.05 if name == "mp3" else 1e-4)


@pytest.mark.parametrize("name", FORMATS)
def test_every_format_carries_its_tags(name):
    with soundfile.SoundFile(io.BytesIO(encode(music(1.0), name, TAGS))) as file:
        assert file.title == "Blå morgon"
        assert file.comment == "Key of Bb, 57.5 beats a minute"
        assert file.tracknumber in ("3", "03")


def test_an_mp3_carries_key_and_tempo_in_their_own_frames():
    # Frames TKEY and TBPM of ID3v2 (from memory): key as "Bb", beats a minute as a whole number.
    data = encode(music(0.5), "mp3", TAGS)
    assert data.startswith(b"ID3\x04")
    assert b"TKEY\x00\x00\x00\x03\x00\x00\x03Bb" in data
    assert b"TBPM\x00\x00\x00\x03\x00\x00\x0358" in data
    assert data.count(b"ID3\x04") == 1


def test_an_mp3_of_half_a_minute_decodes_to_its_full_length():
    sound = music(30.0)
    info = soundfile.info(io.BytesIO(encode(sound, "mp3", TAGS)))
    assert abs(info.frames - len(sound)) < 2400


@pytest.mark.long
@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("name", FORMATS)
def test_five_minutes_decode_again_to_the_last_sample(name, channels):
    sound = music(300.0, channels)
    back, _ = soundfile.read(io.BytesIO(encode(sound, name, TAGS)), dtype="float32")
    assert abs(len(back) - len(sound)) < 2400
    tail = slice(len(sound) - RATE, len(sound) - 2400)
    assert np.abs(back[tail] - sound[tail]).max() < 0.05


def test_an_unknown_format_is_named_with_those_there_are():
    with pytest.raises(ValueError, match=r"'ogg'.*mp3, flac, wav"):
        encode(music(0.5), "ogg", TAGS)


@pytest.mark.parametrize("name", sorted(FORMATS))
def test_a_study_without_a_number_or_a_title_is_written_too(name):
    silence = np.zeros(4410, np.float32)
    data = encode(silence, name, Tags("", None, "A", 60.0))
    assert soundfile.info(io.BytesIO(data)).samplerate == RATE
