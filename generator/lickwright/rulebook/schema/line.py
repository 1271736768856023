"""What a rule file may say of how licks are played and how their line runs: bends, techniques, shape, melody."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.base import (
    Beats,
    Degree,
    Fret,
    Points,
    Role,
    Size,
    StringNumber,
    Table,
    Times,
)


class BendsTable(Table):
    """[lead.bends]: sizes, places, fingers and targets of bends, and how many."""

    sizes: list[Size] = Field(description="How far strings are bent: quarter, half, whole (steps).")
    strings: list[StringNumber] = Field(description="The strings that are bent (string numbers).")
    fingers: dict[Size, list[Annotated[int, Field(ge=1, le=4)]]] = Field(
        description="The fingers that bend, by size (1 index to 4 little)."
    )
    lowest_fret: dict[Size, Fret] = Field(description="The lowest fret that is bent, by size (fret).")
    highest_fret: Fret = Field(default=19, description="The highest fret that is bent (fret).")
    targets: dict[Size, list[str]] = Field(
        description="What is bent to what, by size (degrees of the key, from > to)."
    )
    curls_over: list[str] = Field(
        default=[],
        description="The chords over which quarter-tone bends are made, by root; none named is all.",
    )
    kinds: list[Literal["bend", "bend-release", "pre-bend-release"]] = Field(
        description="The kinds of bends: bend, bend-release, pre-bend-release."
    )
    least_beats: dict[Size, float] = Field(
        description="How long a bent note lasts at least, by size (beats)."
    )
    most_per_lick: int = Field(
        ge=0, le=6, description="The most bends of a half step or more in a lick (bends)."
    )
    most_per_study: int = Field(
        ge=0, le=30, description="The most bends of a half step or more in a study (bends)."
    )
    least_per_study: int = Field(
        default=0,
        ge=0,
        le=6,
        description="The fewest bends in a study whose hand positions allow one (bends).",
    )
    cost: dict[Literal["quarter", "half", "whole", "bend-release", "pre-bend-release"], Points] = Field(
        description="What a bend costs by its size, and its kind on top (points)."
    )
    held: Points = Field(
        default=0, description="So much cheaper is a whole-step bend that is held for held_beats (points)."
    )
    held_beats: Beats = Field(default=0.67, description="From when on a bend is held (beats).")


class TechniquesTable(Table):
    """[lead.techniques]: what each way of sounding a note costs, and its limits."""

    pluck: Points = Field(
        description="A plucked note; none for bends, graces and double stops, which have their own (points)."
    )
    hammer: Points = Field(description="A note hammered on (points).")
    pull: Points = Field(description="A note pulled off (points).")
    slide: Points = Field(description="A note slid to (points).")
    double_stop: Points = Field(description="Two notes at once (points).")
    grace_hammer: Points = Field(description="A grace note from which the note is hammered on (points).")
    grace_slide: Points = Field(description="A grace note from which the note is slid to (points).")
    legato_frets: int = Field(ge=1, le=5, description="The widest hammer-on or pull-off (frets).")
    slide_frets: int = Field(ge=1, le=5, description="The widest slide (frets).")
    vibrato_beats: float = Field(gt=0, description="From when on a lick's last note has vibrato (beats).")
    vibrato_inside_beats: float = Field(
        default=1.3,
        gt=0,
        description="From when on a note before the last has vibrato, if longer than vibrato_beats (beats).",
    )
    double_stops_per_lick: int = Field(
        ge=0, le=8, description="The most double stops in a lick (double stops)."
    )
    double_stop_strings: list[StringNumber] = Field(
        description="The upper string of a double stop (string numbers)."
    )
    double_stop_intervals: list[Annotated[int, Field(ge=3, le=9)]] = Field(
        description="How far the notes of a double stop are apart (semitones)."
    )
    double_stop_beats: Beats = Field(
        default=0.33, description="How long a double stop lasts at least (beats)."
    )
    graces: list[str] = Field(
        description="The notes that get grace notes: degree of the key over a chord's root."
    )
    grace_beats: float = Field(ge=0, description="How long a note with a grace lasts at least (beats).")
    graces_per_study: int = Field(ge=0, le=12, description="The most grace notes in a study (graces).")


class ShapeTable(Table):
    """[lead.shape]: the line of a lick."""

    notes: tuple[int, int] = Field(description="How many notes a lick has, least and most (notes).")
    short_notes: int = Field(default=3, ge=1, le=8, description="The fewest notes in a short place (notes).")
    close_notes: int = Field(
        default=8, ge=1, le=16, description="The most notes of a lick that closes (notes)."
    )
    long_notes: int = Field(default=14, ge=1, le=24, description="The most notes in a long place (notes).")
    most_leap: int = Field(ge=3, le=24, description="The widest leap (semitones).")
    most_run: int = Field(ge=2, le=12, description="The most moves in one direction (moves).")
    most_repeats: int = Field(
        ge=1, le=8, description="How often one pitch is struck in a row at most (times)."
    )
    trills: bool = Field(
        default=False, description="Whether two notes may go back and forth again and again (true or false)."
    )
    least_distinct: float = Field(
        ge=0, le=1, description="How many of a lick's pitches differ at least (share)."
    )
    most_of_one: float = Field(gt=0, le=1, description="How much of a lick is one pitch at most (share).")
    least_range: int = Field(
        ge=0, le=24, description="How far a lick's highest note lies above its lowest at least (semitones)."
    )
    range_notes: int = Field(
        default=7, ge=2, le=24, description="From how many notes on least_range is asked of a lick (notes)."
    )
    held_beats: float = Field(gt=0, description="A note held so long belongs to its chord (beats).")
    passing: list[Degree] = Field(
        default=[], description="Notes that only pass, unless the chord has them (degrees of the key)."
    )
    passing_beats: float = Field(
        default=0.7, gt=0, description="Notes that only pass are shorter than this (beats)."
    )


class MelodyTable(Table):
    """[lead.melody]: preferences for the line, in points."""

    skip: Points = Field(description="A move of three or four semitones (points).")
    leap: Points = Field(description="A move of five semitones or more (points).")
    unanswered_leap: Points = Field(description="A step on in the direction of the leap before it (points).")
    turn: Points = Field(description="A change of direction (points).")
    run3: Points = Field(description="The third move in one direction (points).")
    run4: Points = Field(description="Each further move in that direction (points).")
    zigzag: Points = Field(description="A second change of direction right after the first (points).")
    repeat: Points = Field(description="The same pitch again (points).")
    string_skip: Points = Field(description="Each string skipped between two notes (points).")
    string: dict[Literal["1", "2", "3", "4", "5", "6", "7"], Points] = Field(
        description="A note by its string (points)."
    )
    finger: dict[Literal["1", "2", "3", "4"], Points] = Field(
        description="A note by its finger, 1 index to 4 little (points)."
    )
    stretched: Points = Field(
        description="A note below or above the four frets of the hand's place (points)."
    )
    same_finger: Points = Field(
        description="The same finger on another fret, other than in a slide (points)."
    )
    other_finger: Points = Field(description="Another finger on the same string and fret (points).")
    hand_fret: Points = Field(description="Each fret that the hand moves (points).")
    wide_semitone: Points = Field(description="Each semitone of a move beyond those of wide_beyond (points).")
    wide_beyond: int = Field(
        default=7, ge=0, le=24, description="A move of more than this is wide (semitones)."
    )
    very_wide: Points = Field(description="A move wider than very_wide_beyond, on top (points).")
    very_wide_beyond: int = Field(
        default=9, ge=0, le=24, description="A move of more than this is very wide (semitones)."
    )
    unresolved_release: Points = Field(
        description="A bend let down that is not followed by a pull-off (points)."
    )
    pairs: dict[str, Points] = Field(
        description="What the line likes and dislikes, from > to (degrees of the key, points)."
    )
    pairs_within: int = Field(
        default=6,
        ge=0,
        le=24,
        description="What the line likes holds for moves of no more than this (semitones).",
    )
    up_after_peak: dict[Role, Points] = Field(
        description="Each move up after the highest note, by what the lick says (points)."
    )
    down_before_peak: Points = Field(description="Each move down before the highest note (points).")
    off_chord_strong: Points = Field(description="A note on a beat that is not of its chord (points).")
    landing_step: int = Field(
        ge=1, le=12, description="The widest move to the last note that is no leap (semitones)."
    )
    landing_leap: Points = Field(description="A last note reached by a leap or struck again (points).")
    same_landing: Points = Field(description="The same last note as that of the lick before (points).")


class LengthTimes(Table):
    """How many times as dear a note is by its length."""

    long: Times = Field(description="Long notes, so many times as dear.")
    usual: Times = Field(description="Notes between long and short, so many times as dear.")
    short: Times = Field(description="Short notes, so many times as dear.")


class PaletteWeightsTable(Table):
    """[lead.palette_weights]: how many times its points in the palette a note is charged, rounded down."""

    on_beat: LengthTimes = Field(
        default=LengthTimes(long=2.4, usual=1.6, short=1.2),
        description="On a beat: the palette's points are charged so many times, by the note's length.",
    )
    between: LengthTimes = Field(
        default=LengthTimes(long=1.5, usual=1.0, short=0.8),
        description="Between beats: the palette's points are charged so many times, by the note's length.",
    )
    long_beats: Beats = Field(default=0.67, description="A note of this length or more is long (beats).")
    short_beats: Beats = Field(default=0.17, description="A note of this length or less is short (beats).")
