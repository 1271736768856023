"""Samples into the bytes of an audio file, with tags; it knows nothing of a study.

The formats are those that ``soundfile`` writes well from memory. Long files are handed over in pieces:
some encoders take no more at once.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np

from lickwright.render.sound.id3 import id3_tag
from lickwright.render.sound.strings import SAMPLE_RATE
from lickwright.render.sound.voice import Samples

_PIECE = 65_536


@dataclass(frozen=True)
class _Format:
    major: str
    subtype: str
    lossy: bool


FORMATS = {
    "mp3": _Format("MP3", "MPEG_LAYER_III", lossy=True),
    "flac": _Format("FLAC", "PCM_16", lossy=False),
    "wav": _Format("WAV", "PCM_16", lossy=False),
}
#: 0 is the best and largest MP3, 1 the smallest; half is near 50 kbit/s for one guitar.
GOOD, SMALL = 0.5, 0.7


@dataclass(frozen=True)
class Tags:
    """What a player shows: the title, the study's number in its series, key and beats a minute."""

    title: str
    number: int | None = None
    key: str = ""
    tempo_bpm: float | None = None

    @property
    def comment(self) -> str:
        """Key and tempo as a line of text, for which the formats have no common field.

        >>> Tags("Late train", 3, "A", 60).comment
        'Key of A, 60 beats a minute'
        """
        parts = [f"Key of {self.key}"] if self.key else []
        parts += [f"{self.tempo_bpm:g} beats a minute"] if self.tempo_bpm else []
        return ", ".join(parts)


def checked_format(name: str) -> str:
    """The format's name; raises ValueError naming those there are.

    >>> checked_format("MP3")
    'mp3'
    """
    if name.lower() not in FORMATS:
        raise ValueError(f"unknown sound format {name!r}: use one of {', '.join(FORMATS)}")
    return name.lower()


def encode(samples: Samples, format: str, tags: Tags, quality: float = GOOD) -> bytes:
    """The file's bytes.

    Parameters
    ----------
    samples : float32, (n,) or (n, 2), within -1 and 1, at 44.1 kHz.
    format : ``mp3``, ``flac`` or ``wav`` (16 bits); raises ValueError for another.
    quality : of an MP3, variable bit rate, from 0 (best) to 1 (smallest).
    """
    import soundfile

    chosen = FORMATS[checked_format(format)]
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    lossy = {"compression_level": quality, "bitrate_mode": "VARIABLE"} if chosen.lossy else {}
    buffer = io.BytesIO()
    with soundfile.SoundFile(
        buffer, "w", SAMPLE_RATE, channels, chosen.subtype, format=chosen.major, **lossy
    ) as file:
        if not chosen.lossy:
            number = "" if tags.number is None else str(tags.number)
            for name, text in (("title", tags.title), ("tracknumber", number), ("comment", tags.comment)):
                if text:  # libsndfile refuses an empty one
                    setattr(file, name, text)
        for first in range(0, len(samples), _PIECE):
            file.write(np.ascontiguousarray(samples[first : first + _PIECE]))
    if chosen.lossy:
        tag = id3_tag(tags.title, tags.number, tags.key, tags.tempo_bpm, tags.comment)
        return tag + buffer.getvalue()
    return buffer.getvalue()
