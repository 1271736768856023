"""The sound of one web page: guitar, band and click as three small files of one length, and the time map.

All three begin with a bar to be counted in: the sticks are in the band's file, the click counts for
itself, the guitar is silent. They start together, so a page may mix them as it likes; guitar and band
together have the loudness of a file.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from generator.render.sound.encode import SMALL, Tags, encode
from generator.render.sound.loudness import loudness_lufs
from generator.render.sound.mix import (
    BAND_BELOW_LU,
    Settings,
    Stretch,
    band_part,
    guitar_sound,
    levelled_pair,
    timing,
    whole,
)
from generator.render.sound.timemap import TimeMap
from generator.study import Study


@dataclass(frozen=True)
class PageSound:
    """Three MP3 files, one channel each, of the same length to the sample; ``time_map`` holds for all of
    them.
    """

    guitar_mp3: bytes
    band_mp3: bytes
    click_mp3: bytes
    time_map: TimeMap


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
        click = band_part(*args, replace(settings, click=True, count_in=False))
        level = 10.0 ** ((loudness_lufs(guitar) - BAND_BELOW_LU - loudness_lufs(click)) / 20.0)
        peak = float(np.abs(click).max(initial=1e-9))
        click = click * np.float32(min(0.5 / peak, level))
        tags = Tags(study.title, study.number, study.home.name, round(study.tempo_bpm * speed, 1))
        files = workers.map(lambda part: encode(part, "mp3", tags, SMALL), (guitar, band, click))
        guitar_mp3, band_mp3, click_mp3 = files
    return PageSound(guitar_mp3, band_mp3, click_mp3, times)
