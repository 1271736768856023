"""How long sound takes: twelve bars alone and with a band, all clips, a page. Run with ``pytest
--benchmark-only``.
"""

from __future__ import annotations

import dataclasses

import pytest
from lickwright.render.sound.clips import recordings, render, tags_of, write_sound
from lickwright.render.sound.encode import encode
from lickwright.render.sound.page import page_sound

from tests.studies import tour

SLOW_BLUES = tour(repeats=3)
SHUFFLE = dataclasses.replace(SLOW_BLUES, feel="shuffle", tempo_bpm=112)


@pytest.mark.parametrize("study", [SLOW_BLUES, SHUFFLE], ids=["60 bpm", "112 bpm"])
@pytest.mark.parametrize("name", ["study", "band", "study-with-band"])
def test_twelve_bars_rendered_and_encoded(benchmark, study, name):
    wanted = next(r for r in recordings(study, band=True) if r.name == name)
    benchmark.pedantic(
        lambda: encode(render(study, wanted).samples, "mp3", tags_of(study, wanted)),
        rounds=5,
        warmup_rounds=1,
    )


@pytest.mark.parametrize("study", [SLOW_BLUES, SHUFFLE], ids=["60 bpm", "112 bpm"])
def test_all_clips_at_tempo(benchmark, study, tmp_path):
    benchmark.pedantic(lambda: write_sound(study, tmp_path), rounds=3, warmup_rounds=1)


@pytest.mark.parametrize("study", [SLOW_BLUES, SHUFFLE], ids=["60 bpm", "112 bpm"])
def test_all_clips_at_tempo_and_at_two_slower_speeds(benchmark, study, tmp_path):
    benchmark.pedantic(lambda: write_sound(study, tmp_path, slow=(0.75, 0.5)), rounds=3, warmup_rounds=1)


def test_the_sound_of_a_page(benchmark):
    benchmark.pedantic(lambda: page_sound(SLOW_BLUES), rounds=5, warmup_rounds=1)
