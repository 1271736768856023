"""The sound of one web page: guitar, band and click as three small files of one length, and the time map; for a
page that holds studies side by side a guitar each, so long and so loud as the first, at the first one's tempo.

All three begin with a bar to be counted in: the sticks are in the band's file, the click counts for
itself, the guitar is silent. They start together, so a page may mix them as it likes; guitar and band
together have the loudness of a file.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from lickwright.render.sound.encode import SMALL, Tags, encode
from lickwright.render.sound.loudness import CEILING, loudness_lufs
from lickwright.render.sound.mix import (
    BAND_BELOW_LU,
    Settings,
    Stretch,
    band_part,
    guitar_sound,
    levelled_pair,
    timing,
    whole,
)
from lickwright.render.sound.timemap import Clock, TimeMap
from lickwright.render.sound.voice import Samples
from lickwright.study.model import Study


@dataclass(frozen=True)
class PageSound:
    """Three MP3 files, one channel each, of the same length to the sample; ``time_map`` holds for all of
    them.
    """

    guitar_mp3: bytes
    band_mp3: bytes
    click_mp3: bytes
    time_map: TimeMap


@dataclass(frozen=True)
class TogetherSound:
    """A guitar for each study, one band and click, all MP3 files of one length; a time map for each study."""

    guitar_mp3s: tuple[bytes, ...]
    band_mp3: bytes
    click_mp3: bytes
    time_maps: tuple[TimeMap, ...]


def together_sound(studies: Sequence[Study], settings: Settings = Settings()) -> TogetherSound:  # noqa: B008
    """Several studies to be heard in turn at the same place: all at the first one's tempo, with its band."""
    first = studies[0]
    settings = replace(settings, click=False, count_in=True)
    same = [replace(study, tempo_bpm=first.tempo_bpm) for study in studies]
    end = max(whole(study).end for study in same)
    stretches = [Stretch(0, end, study.events) for study in same]
    timings = [timing(study, s, 1.0, counted=True) for study, s in zip(same, stretches, strict=True)]
    clock, times = timings[0]
    args = (first, stretches[0], clock, times.length_s)
    with ThreadPoolExecutor(2) as workers:
        jobs = [
            workers.submit(guitar_sound, study, s, clock, times.length_s, settings)
            for study, s in zip(same, stretches, strict=True)
        ]
        band = band_part(*args, settings)
        guitars = [job.result() for job in jobs]
        guitars[0], band = levelled_pair(guitars[0], band)
        guitars[1:] = [_as_loud(guitar, guitars[0]) for guitar in guitars[1:]]
        click = _click(args, guitars[0], settings)
        tags = Tags(first.title, first.number, first.home.name, first.tempo_bpm)
        files = list(workers.map(lambda part: encode(part, "mp3", tags, SMALL), (*guitars, band, click)))
    return TogetherSound(tuple(files[:-2]), files[-2], files[-1], tuple(times for _, times in timings))


def _as_loud(guitar: Samples, model: Samples) -> Samples:
    """A guitar at the loudness of another, within the ceiling of a file; as it is when either is silent."""
    gain = 10.0 ** ((loudness_lufs(model) - loudness_lufs(guitar)) / 20.0)
    peak = float(np.abs(guitar).max(initial=1e-9))
    return guitar * np.float32(min(gain, CEILING / peak)) if np.isfinite(gain) else guitar


def _click(args: tuple[Study, Stretch, Clock, float], guitar: Samples, settings: Settings) -> Samples:
    """The click as far below the guitar as the band is, within its ceiling."""
    click = band_part(*args, replace(settings, click=True, count_in=False))
    level = 10.0 ** ((loudness_lufs(guitar) - BAND_BELOW_LU - loudness_lufs(click)) / 20.0)
    peak = float(np.abs(click).max(initial=1e-9))
    return click * np.float32(min(0.5 / peak, level))


def page_sound(
    study: Study,
    speed: float = 1.0,
    settings: Settings = Settings(),  # noqa: B008
    stretch: Stretch | None = None,
) -> PageSound:
    """Guitar, band and click of the study (or of a stretch of it) at a speed; the band is always drums
    and bass.

    Raises ValueError for a speed outside 0.25 to 2.
    """
    settings = replace(settings, click=False, count_in=True)
    stretch = stretch or whole(study)
    clock, times = timing(study, stretch, speed, counted=True)
    args = (study, stretch, clock, times.length_s)
    with ThreadPoolExecutor(2) as workers:
        guitar_job = workers.submit(guitar_sound, *args, settings)
        band = band_part(*args, settings)
        guitar, band = levelled_pair(guitar_job.result(), band)
        click = _click(args, guitar, settings)
        tags = Tags(study.title, study.number, study.home.name, round(study.tempo_bpm * speed, 1))
        files = workers.map(lambda part: encode(part, "mp3", tags, SMALL), (guitar, band, click))
        guitar_mp3, band_mp3, click_mp3 = files
    return PageSound(guitar_mp3, band_mp3, click_mp3, times)
