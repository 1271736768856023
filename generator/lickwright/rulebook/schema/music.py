"""What a rule file may say of the music it expects: a band for each measure of a study.

Bands judge nothing by themselves: a study outside one is shown as unusual for its style. The measures are those
of ``judge.measure``, which has a sentence for each.
"""

from __future__ import annotations

from typing import Annotated, TypeAlias

from pydantic import AfterValidator, Field

from lickwright.rulebook.schema.player import Table


def _in_order(band: tuple[float, float]) -> tuple[float, float]:
    if band[0] > band[1]:
        raise ValueError(f"the band begins at {band[0]:g} and ends at {band[1]:g}: the lower comes first")
    return band


Band: TypeAlias = Annotated[tuple[float, float], AfterValidator(_in_order)]


def _share(band: tuple[float, float]) -> tuple[float, float]:
    if not 0 <= band[0] <= band[1] <= 1:
        raise ValueError("a share lies from 0 to 1, the lower first")
    return band


ShareBand: TypeAlias = Annotated[tuple[float, float], AfterValidator(_share)]


class BandsTable(Table):
    """[music.bands]: the least and the most of each measure that is usual in the style; none unless given."""

    notes: Band | None = None
    room: ShareBand | None = None
    off_the_beat: ShareBand | None = None
    syncopation: ShareBand | None = None
    landing_beats: Band | None = None
    lead_share: ShareBand | None = None
    steps: ShareBand | None = None
    leaps: ShareBand | None = None
    leaps_answered: ShareBand | None = None
    longest_run: Band | None = None
    most_repeats: Band | None = None
    pitches: Band | None = None
    compass: Band | None = None
    one_peak: ShareBand | None = None
    peak_place: ShareBand | None = None
    climax_on_top: ShareBand | None = None
    comes_down: ShareBand | None = None
    strong_tones: ShareBand | None = None
    long_tones: ShareBand | None = None
    landings_in_chord: ShareBand | None = None
    landing_degrees: Band | None = None
    third_of_five: ShareBand | None = None
    techniques: Band | None = None
    bends: Band | None = None
    pre_bends: Band | None = None
    legato: ShareBand | None = None
    windows: Band | None = None
    quoting: ShareBand | None = None
    fidelity: ShareBand | None = None
    develops: ShareBand | None = None
    rhythms: ShareBand | None = None
    variety: ShareBand | None = None
    hits: Band | None = None
    hits_off_the_beat: ShareBand | None = None
    riff: ShareBand | None = None
    comping_room: ShareBand | None = None
    strings_a_grip: Band | None = None
    different_grips: Band | None = None
    moved_strings: Band | None = None
    hand_moves: Band | None = None
    breath: Band | None = None
    shared_places: ShareBand | None = None
    silence: ShareBand | None = None


class MusicTable(Table):
    """[music]: what is usual in the music of a style."""

    bands: BandsTable = Field(default=BandsTable())
