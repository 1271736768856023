"""What a rule file may say of the comping: grips, answers, endings, signs, and what goes well together."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.base import (
    Charge,
    Degree,
    Feel,
    Fret,
    Grid,
    Odds,
    Points,
    Quality,
    Roman,
    Share,
    StringNumber,
    Table,
    Times,
)


class GripTable(Table):
    """[grips.NAME]: a voicing as a recipe: degrees low to high on string sets, or in any order."""

    qualities: list[Quality] = Field(min_length=1, description="The chords it is a grip of, by quality.")
    degrees: list[Degree] = Field(
        min_length=2, max_length=6, description="Its degrees of the chord, from low to high."
    )
    order: Literal["given", "any"] = Field(
        default="given", description="Whether its degrees lie in the given order, or in any."
    )
    strings: list[list[StringNumber]] = Field(
        min_length=1, description="The strings it may lie on, from the lowest string up."
    )
    grade: int = Field(default=1, ge=1, le=3, description="From which level on it is used (1 to 3).")
    cost: Points = Field(default=0, description="What it costs beside other grips (points).")


class AnswerFamily(Table):
    """[answers.NAME]: comping patterns of one length; see ``rules/parts/comping.toml`` for the signs.

    Families of one ``groove`` go together: a study takes up one groove and seldom another's patterns.
    """

    beats: int = Field(ge=1, le=8, description="How long its patterns are (beats).")
    grade: int = Field(default=1, ge=1, le=3, description="From which level on they are used (1 to 3).")
    grid: Grid = Field(default="triplet", description="How a beat is divided: triplet or straight.")
    feels: list[Feel] = Field(default=[], description="The feels they belong to; none named is all.")
    groove: str = Field(default="", description="The groove they belong to, by name; none is all.")
    weight: Odds = Field(default=10, description="How often each is taken (weight, 0 for never).")
    place: Literal["anywhere", "inside", "before a change"] = Field(
        default="anywhere", description="Where they stand: anywhere, inside a chord, or before a change."
    )
    patterns: list[str] = Field(min_length=1, description="Rows of signs, a sign a step of the grid.")


class EndingTable(Table):
    """[endings.NAME]: the last beats: a pattern and the chord of each hit, in order.

    ``to`` is the root it ends on: I closes, V turns a chorus round.
    """

    beats: int = Field(ge=1, le=8, description="How long it is (beats).")
    grade: int = Field(default=1, ge=1, le=3, description="From which level on it is used (1 to 3).")
    grid: Grid = Field(default="triplet", description="How a beat is divided: triplet or straight.")
    feels: list[Feel] = Field(default=[], description="The feels it belongs to; none named is all.")
    to: Literal["I", "V"] = Field(default="I", description="The root it ends on: I closes, V turns round.")
    weight: Odds = Field(default=10, description="How often it is taken (weight, 0 for never).")
    minor: bool = Field(default=False, description="Whether it is for minor keys (true or false).")
    pattern: str = Field(description="A row of signs, a sign a step of the grid.")
    chords: list[Roman] = Field(min_length=1, description="The chord of each hit, as a Roman numeral.")


Sign = Annotated[str, Field(pattern=r"^[^\s.\-]$")]


class VoicesTable(Table):
    """[comping.voices.SIGN]: a grip with voices moved, by degree of the chord in semitones.

    ``voice`` says which voices: the top one alone, or every one whose degree is listed. One that ``resolves`` is
    followed by its grip.
    """

    about: str = Field(description="What the sign stands for, in words.")
    voice: Literal["top", "every"] = Field(description="Which voices move: the top one, or every listed one.")
    major: dict[Degree, int] = Field(description="How far each degree moves in other chords (semitones).")
    minor: dict[Degree, int] = Field(
        default={}, description="How far each degree moves in minor chords (semitones)."
    )
    resolves: bool = Field(default=False, description="Whether its grip must follow (true or false).")


class PairTable(Table):
    """[comping.pairs.SIGN]: two notes of a chord, degrees from the lower string up, and their strings."""

    about: str = Field(description="What the sign stands for, in words.")
    major: tuple[Degree, Degree] = Field(description="The two degrees in other chords, the lower first.")
    minor: tuple[Degree, Degree] = Field(description="The two degrees in minor chords, the lower first.")
    turned: bool = Field(
        default=False, description="Whether they may lie the other way round too (true or false)."
    )
    strings: list[tuple[StringNumber, StringNumber]] = Field(
        description="The strings they may lie on, the lower first."
    )


class BassTable(Table):
    """[comping.bass.SIGN]: a bass note: a degree of the chord, or steps off the next chord's root."""

    about: str = Field(description="What the sign stands for, in words.")
    major: Degree | None = Field(default=None, description="The degree in other chords.")
    minor: Degree | None = Field(default=None, description="The degree in minor chords.")
    off_next: list[int] = Field(
        default=[], description="Instead of a degree: so far from the next chord's root (semitones)."
    )


class ColourTable(Table):
    """[comping.colours.SIGN]: a grip of the same root in another quality, for dominant and for minor chords."""

    about: str = Field(description="What the sign stands for, in words.")
    major: Quality = Field(description="The quality in other chords.")
    minor: Quality = Field(description="The quality in minor chords.")


class CompingTable(Table):
    """[comping]: preferences between grips, and the chords that may lead into a change."""

    moved_string: Points = Field(
        description="Each string that changes its fret from one grip to the next (points)."
    )
    semitone: Points = Field(description="Each semitone that a string moves between two grips (points).")
    far_position: Points = Field(
        description="Each fret of the hand's way beyond those of far_from, on top of hand_fret (points)."
    )
    far_from: int = Field(
        default=3, ge=0, le=24, description="The frets of the hand's way that are not far (frets)."
    )
    hand_fret: Points = Field(description="Each fret that the hand moves (points).")
    five_strings: Points = Field(description="A grip of five strings or six, other than the last (points).")
    rootless_close: Points = Field(description="A last grip whose lowest note is not the root (points).")
    rootless_lead: Points = Field(
        default=0, description="A grip that leads into a change and has no root (points)."
    )
    stretch: Points = Field(
        default=0, description="Each fret that a moved voice stretches a grip beyond natural_reach (points)."
    )
    natural_reach: int = Field(
        default=3, ge=0, le=6, description="The frets that a grip spans with none stretched (frets)."
    )
    high: Points = Field(description="A grip that lies above high_above (points).")
    high_above: Fret = Field(default=12, description="The hand's place above which a grip is high (fret).")
    low: Points = Field(description="A grip with a note below low_below (points).")
    low_below: int = Field(
        default=45, ge=0, le=127, description="The note below which a grip is low (MIDI number, 45 is A2)."
    )
    noise: Points = Field(
        description="How much the seed sways what each grip costs; 0 takes the same ones always (points)."
    )
    leads: dict[str, list[Roman]] = Field(
        description="The chords that may lead into a bar, by the root of the bar's chord (Roman numerals)."
    )
    least_bass: int = Field(
        default=0, ge=0, le=6, description="In how many answers a bass note is heard at least (answers)."
    )
    least_moving: int = Field(
        default=0,
        ge=0,
        le=6,
        description="In how many answers a voice, pair or bass moves at least (answers).",
    )
    bass_under_lick: Share = Field(
        default=0.0,
        description="How often a lick that starts off the beat has the root under that beat (share).",
    )
    pair_way: int = Field(
        default=24,
        ge=1,
        le=24,
        description="How far the upper note of a pair goes to the next pair at most (semitones).",
    )
    pair_reach: int = Field(
        default=3, ge=0, le=6, description="How far the two notes of a pair lie apart at most (frets)."
    )
    power_reach: int = Field(
        default=5,
        ge=0,
        le=7,
        description="How far the upper note of a power chord lies above its root (frets).",
    )
    power_fret: Points = Field(
        default=2, description="Each fret up the neck of a power chord's root (points)."
    )
    bass_finger: Points = Field(
        default=2, description="A bass note under the middle or the little finger (points)."
    )
    slide_frets: int = Field(
        default=2, ge=1, le=5, description="How far a pair of notes slides into the next at most (frets)."
    )
    moved_higher: int = Field(
        default=2, ge=0, le=6, description="How far above highest_fret voices that move may lie (frets)."
    )
    same_pattern: int = Field(
        ge=1,
        le=12,
        description="How often an answer may come, and so often more for each further twelve bars (times).",
    )
    highest_fret: Fret = Field(default=14, description="The highest fret of a grip (fret).")
    voices: dict[Sign, VoicesTable] = Field(default={}, description="Signs for grips with voices moved.")
    pairs: dict[Sign, PairTable] = Field(default={}, description="Signs for two notes of a chord.")
    bass: dict[Sign, BassTable] = Field(default={}, description="Signs for bass notes.")
    colours: dict[Sign, ColourTable] = Field(default={}, description="Signs for other qualities of a chord.")
    barre: Points = Field(
        description="The index finger lies across the lowest fret where that costs no more than this on top (points)."
    )
    bass_apart: Points = Field(description="A grip that does not lie over the bass note before it (points).")
    bass_semitone: Points = Field(description="Each semitone from one bass note to the next (points).")
    other_grip: Points = Field(description="An ornament that leaves its grip for another (points).")
    no_third: Points = Field(description="A grip of three notes or more without the chord's third (points).")
    close_hands: Annotated[int, Field(ge=0, le=20), Charge("times")] = Field(
        description="The hand's way between the chords of an ending, so many times as dear."
    )
    grooves: dict[str, Odds] = Field(
        default={}, description="How often a study takes each groove (weights, 0 for never)."
    )
    on_groove: Times = Field(
        default=1.0, description="Patterns of the study's own groove, so many times as often."
    )
    off_groove: Times = Field(default=1.0, description="Patterns of other grooves, so many times as often.")
    leading: Times = Field(
        default=2.0, description="Before a change, patterns that lead into it, so many times as often."
    )
    root_first: Times = Field(
        default=1.0, description="The root or a power chord on a bar's first beat, so many times as often."
    )
    grip_first: Times = Field(
        default=1.0, description="Other patterns that begin with a stroke, so many times as often."
    )
    echo: Times = Field(
        default=0.0,
        description="So many times more often for each gap between strokes that the lick before has too.",
    )
    riff: Times = Field(
        default=0.0,
        description="So many times more often where a pattern strikes just as the first answer did, less the less it does.",
    )
    riff_beats: int = Field(
        default=2, ge=1, le=8, description="The first answer of at least this gives the riff (beats)."
    )
