"""What a rule file may say of a study as a whole: meter, tempo, forms, rhythms, where its licks stand."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from lickwright.rulebook.schema.base import (
    Feel,
    Grid,
    Odds,
    Part,
    PhraseKind,
    Role,
    Share,
    Table,
    Times,
    listed,
)

Bpm = Annotated[int, Field(ge=30, le=260)]


class Tempo(Table):
    """Beats a minute: the range a style is meant for, and what it takes unasked."""

    least: Bpm = Field(description="The slowest tempo (beats a minute).")
    usual: Bpm = Field(description="The tempo taken unasked (beats a minute).")
    most: Bpm = Field(description="The fastest tempo (beats a minute).")


class StudyTable(Table):
    """[study]: how a study of this style is laid out; of several forms the seed takes one."""

    meter: Literal["12/8", "4/4"] = Field(description="The meter it is written in: 12/8 or 4/4.")
    grid: Grid = Field(description="How a beat is divided: triplet (3 signs of a rhythm) or straight (2).")
    feel: Feel = Field(description="What the band plays: slow 12/8, shuffle, straight or rhumba.")
    minor: bool = Field(default=False, description="Whether the key is minor (true or false).")
    tempo: Tempo = Field(description="The tempo: slowest, taken unasked, fastest (beats a minute).")
    form: Annotated[list[str], BeforeValidator(listed), Field(min_length=1)] = Field(
        description="The forms, by name; the seed takes one."
    )
    level: str = Field(default="growing", description="The level taken unasked, by name.")
    titles: list[str] = Field(min_length=1, description="Titles to choose from.")


class FormTable(Table):
    """[forms.NAME]: the bars' chords (two in one bar share it), and the phrases' lengths in bars."""

    bars: list[str] = Field(
        min_length=1, max_length=64, description="The chords, a bar an entry, as Roman numerals."
    )
    phrases: list[int] = Field(min_length=1, description="How long each phrase is (bars).")


class CellFamily(Table):
    """[figures.NAME] or [tails.NAME]: rhythm cells of one grade on one grid, for some feels only if it says so."""

    grade: int = Field(ge=1, le=3, description="From which level on they are used (1 to 3).")
    grid: Grid = Field(default="triplet", description="How a beat is divided: triplet or straight.")
    feels: list[Feel] = Field(default=[], description="The feels they belong to; none named is all.")
    weight: Odds = Field(default=10, description="How often each cell is taken (weight, 0 for never).")
    cells: list[str] = Field(min_length=1, description="The rhythms, a sign an eighth.")


class LickPlace(Table):
    """A lick in a template: its beat in the phrase, the most beats it may take, what it says."""

    beat: int = Field(ge=0, le=63, description="Where it starts, from the phrase's start (beats).")
    most_beats: int = Field(ge=2, le=12, description="How long it is at most (beats).")
    least_beats: int = Field(default=1, ge=1, le=12, description="How long it is at least (beats).")
    role: Role = Field(description="What it says: question, answer, climax or close.")
    early: int = Field(default=0, ge=0, le=2, description="How much earlier it may start (beats).")
    late: int = Field(default=0, ge=0, le=2, description="How much later it may start (beats).")


class TemplateTable(Table):
    """[templates.NAME]: where the licks of a phrase stand; the comping has the rest."""

    phrases: list[PhraseKind] = Field(min_length=1, description="The kinds of phrase it is for.")
    weight: Odds = Field(default=10, description="How often it is taken (weight, 0 for never).")
    licks: list[LickPlace] = Field(min_length=1, max_length=4, description="Its licks in order of time.")


class SchemeTable(Table):
    """[schemes.NAME]: one entry a phrase, letters for its licks; A' takes up the figure of A.

    ``kinds`` says what each phrase is; unless given, the last one closes and the others open.
    """

    phrases: list[str] = Field(min_length=1, description="The licks' letters, a phrase an entry.")
    kinds: list[PhraseKind] = Field(default=[], description="What each phrase is; else the last one closes.")
    weight: Odds = Field(default=10, description="How often it is taken (weight, 0 for never).")

    def kind(self, number: int) -> PhraseKind:
        """What a phrase, counted from 0, is to the study."""
        if self.kinds:
            return self.kinds[number]
        return "closing" if number == len(self.phrases) - 1 else "opening"


class LayoutTable(Table):
    """[layout]: how often a plan takes what, and how long and how full its licks are."""

    landings: dict[Literal["written", "to the answer", "short"], Odds] = Field(
        description="How often a last note is as written, held on to the answer, or cut short (weights)."
    )
    longest_landing_beats: float = Field(
        gt=0, le=8, description="How long a last note that is held on to the answer lasts at most (beats)."
    )
    short_landing_notes: int = Field(
        default=5,
        ge=1,
        le=24,
        description="The last note is cut short only in licks of so many notes (notes).",
    )
    slow_bpm: Bpm = Field(description="A tempo below this is slow (beats a minute).")
    home_odds: Part = Field(
        description="How often each next home of the hand is taken, against the one before it (0 to 1)."
    )
    most_sounding: float = Field(
        gt=0, le=1, description="How much of a lick's place sounds before its landing at most (share)."
    )
    kin: Share = Field(description="How many licks come home with their figure's rhythm (share).")
    own_grade_when_slow: Times = Field(
        description="In slow studies: rhythms of the level's own grade, so many times as often."
    )
    off_beat: Times = Field(description="Rhythms that begin off the beat, so many times as often.")
    sixteenths: Times = Field(description="Rhythms with two notes in an eighth, so many times as often.")
    sixteenths_grade: int = Field(
        default=3, ge=1, le=4, description="The level from which on sixteenths counts (1 to 3; 4 for none)."
    )
    sixteenths_first: bool = Field(
        default=True,
        description="In slow studies of that level the first figure has two notes in an eighth, if one can (true or false).",
    )
    short_figure: Times = Field(
        default=1.0, description="Figures of one or two notes, so many times as often."
    )
    on_time: Times = Field(
        default=2.0,
        description="Licks that start on the beat named for them, so many times as often as early or late.",
    )
    short_place_beats: int = Field(
        default=3,
        ge=0,
        le=12,
        description="A place of no more than this may hold a short lick and a way home of its own (beats).",
    )
    long_place_beats: int = Field(
        default=7, ge=1, le=13, description="A place of this length or more may hold a long lick (beats)."
    )
    ending_beats: int = Field(
        default=2, ge=0, le=8, description="What the last lick leaves to the ending at least (beats)."
    )
