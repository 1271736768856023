"""What a rule file may say of the music it expects: a band for each measure of a study.

Bands judge nothing by themselves: a study outside one is shown as unusual for its style. The measures are those
of ``judge.measure``, which has a sentence for each.
"""

from __future__ import annotations

from typing import Annotated, TypeAlias

from pydantic import AfterValidator, Field

from lickwright.rulebook.schema.base import Table


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

    notes: Band | None = Field(default=None, description="Notes in a lick (notes).")
    room: ShareBand | None = Field(
        default=None, description="How much of a lick is silent or held for a beat or longer (share)."
    )
    off_the_beat: ShareBand | None = Field(
        default=None, description="Licks that start off a bar's first beat (share)."
    )
    syncopation: ShareBand | None = Field(
        default=None, description="Notes that start between beats and sound over the next (share)."
    )
    landing_beats: Band | None = Field(default=None, description="How long a lick's last note lasts (beats).")
    lead_share: ShareBand | None = Field(
        default=None, description="How much of the chorus the licks take (share)."
    )
    steps: ShareBand | None = Field(
        default=None, description="Moves to a neighbour, a minor third at most (share)."
    )
    leaps: ShareBand | None = Field(default=None, description="Moves of a fourth or wider (share).")
    leaps_answered: ShareBand | None = Field(
        default=None, description="Leaps that turn back by a step (share)."
    )
    longest_run: Band | None = Field(default=None, description="Notes in one direction by steps (notes).")
    most_repeats: Band | None = Field(default=None, description="One pitch struck in a row (times).")
    pitches: Band | None = Field(default=None, description="Different pitches in a lick (pitches).")
    compass: Band | None = Field(default=None, description="From the lowest note to the highest (semitones).")
    one_peak: ShareBand | None = Field(default=None, description="Licks with one highest note (share).")
    peak_place: ShareBand | None = Field(
        default=None, description="Where in a lick its highest note is (0 at its start to 1 at its end)."
    )
    climax_on_top: ShareBand | None = Field(
        default=None, description="Whether the climax has the highest note (share)."
    )
    comes_down: ShareBand | None = Field(
        default=None, description="Licks that go down to their last note (share)."
    )
    strong_tones: ShareBand | None = Field(
        default=None, description="Notes on strong beats that are of the chord (share)."
    )
    long_tones: ShareBand | None = Field(
        default=None, description="Notes of a beat or longer that are of the chord (share)."
    )
    landings_in_chord: ShareBand | None = Field(
        default=None, description="Licks that end on a note of the chord (share)."
    )
    landing_degrees: Band | None = Field(
        default=None, description="Different degrees on which licks end (degrees)."
    )
    third_of_five: ShareBand | None = Field(
        default=None, description="Licks over V that sound its third (share)."
    )
    techniques: Band | None = Field(
        default=None, description="Techniques in a lick besides plucking (kinds)."
    )
    bends: Band | None = Field(default=None, description="Notes bent by a half step or more (bends).")
    pre_bends: Band | None = Field(default=None, description="Notes bent before they are struck (bends).")
    legato: ShareBand | None = Field(
        default=None, description="Notes hammered, pulled off or slid to (share)."
    )
    windows: Band | None = Field(default=None, description="Places of the hand in the licks (places).")
    quoting: ShareBand | None = Field(
        default=None, description="Licks that take up an earlier figure (share)."
    )
    fidelity: ShareBand | None = Field(
        default=None, description="Ups and downs kept where a figure is taken up (share)."
    )
    develops: ShareBand | None = Field(
        default=None, description="Licks whose way home takes up their figure (share)."
    )
    rhythms: ShareBand | None = Field(
        default=None, description="Different opening rhythms among the licks (share)."
    )
    variety: ShareBand | None = Field(default=None, description="How far two licks are apart (0 to 1).")
    hits: Band | None = Field(default=None, description="Strokes in an answer (strokes).")
    hits_off_the_beat: ShareBand | None = Field(
        default=None, description="Strokes between the beats (share)."
    )
    riff: ShareBand | None = Field(
        default=None, description="How far two answers strike at the same places (share)."
    )
    comping_room: ShareBand | None = Field(
        default=None, description="How much of an answer is silent (share)."
    )
    strings_a_grip: Band | None = Field(default=None, description="Strings in a grip (strings).")
    different_grips: Band | None = Field(default=None, description="Different grips (grips).")
    moved_strings: Band | None = Field(
        default=None, description="Strings that change from grip to grip (strings)."
    )
    hand_moves: Band | None = Field(
        default=None, description="From a lick's last note to the answer's grip (frets)."
    )
    breath: Band | None = Field(default=None, description="Silence between a lick and its answer (beats).")
    shared_places: ShareBand | None = Field(
        default=None, description="Strokes where the lick before has a note (share)."
    )
    silence: ShareBand | None = Field(
        default=None, description="How much of the chorus nothing sounds (share)."
    )


class MusicTable(Table):
    """[music]: what is usual in the music of a style."""

    bands: BandsTable = Field(
        default=BandsTable(), description="The least and the most of each measure that is usual."
    )
