"""What a rule file may say of the licks: degrees, landings, places, figures taken up, peaks, how freely they are drawn."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from lickwright.rulebook.schema.base import Beats, Degree, Fret, Palette, Part, Points, Role, Share, Table
from lickwright.rulebook.schema.line import (
    BendsTable,
    MelodyTable,
    PaletteWeightsTable,
    ShapeTable,
    TechniquesTable,
)

Semitones = Annotated[int, Field(ge=-12, le=12)]


class WindowsTable(Table):
    """[lead.windows]: frets under the index finger, counted up from the key's root on string 6, or as frets."""

    relative: list[Annotated[int, Field(ge=-11, le=23)]] = Field(
        default=[],
        description="Homes of the hand, the first the most often (frets above the root on string 6).",
    )
    frets: list[Fret] = Field(default=[], description="Homes that stay where they are in every key (frets).")
    by_role: dict[Role, list[int]] = Field(
        default={},
        description="Places that a lick may take besides home, by what it says (frets above the root on string 6).",
    )
    away: tuple[Annotated[int, Field(ge=0, le=24)], Annotated[int, Field(ge=0, le=24)]] = Field(
        default=(2, 5), description="How far a place besides home is from it, least and most (frets)."
    )
    lowest: Fret = Field(default=0, description="The lowest place of the hand (fret).")
    highest: Fret = Field(default=15, description="The highest place of the hand (fret).")
    home_highest: Fret = Field(default=11, description="The highest home (fret).")
    shift_inside: bool = Field(
        default=False, description="Whether the hand may move during a lick (true or false)."
    )
    open_strings_up_to: Fret = Field(
        default=2, description="The highest place from which open strings are played (fret)."
    )


class DownbeatsTable(Table):
    """[lead.downbeats]: which beats are strong and what may stand there, as degrees of the sounding chord."""

    strong: list[Annotated[int, Field(ge=1, le=4)]] = Field(description="The strong beats of a bar (beats).")
    degrees: list[Degree] = Field(description="What may stand on strong beats (degrees of the chord).")
    minor_degrees: list[Degree] = Field(
        default=[],
        description="What may stand on them over minor chords; none named is the same (degrees of the chord).",
    )


class QuoteTable(Table):
    """[lead.quote]: how closely a restatement follows its figure."""

    band: int = Field(ge=0, le=12, description="How far a note may be from its model's at most (semitones).")
    semitone: Points = Field(
        description="Each semitone by which a note is off its model, or a way home off its figure (points).",
    )
    exact_semitone: Points = Field(
        description="Each semitone by which a note is off its model over the same chord (points).",
    )
    wrong_direction: Points = Field(
        description="A move down where the model goes up, or up for down (points)."
    )
    move_up_a_fourth: Share = Field(
        description="How often a figure over another chord is tried a fourth up before as it is (share)."
    )
    climb: list[Semitones] = Field(
        min_length=1, description="Where a figure goes when it climbs, the first rather (semitones)."
    )
    within_phrase: list[Semitones] = Field(
        min_length=1,
        description="Where it goes in its own phrase over another chord, the first rather (semitones).",
    )


class FigureTable(Table):
    """[lead.figure]: what the opening figure must be so that it bears repeating."""

    fits: dict[Degree, Points] = Field(
        description="Its notes on beats, and long ones, by degree of the key: at home over I and IV (points)."
    )
    other: Points = Field(description="A note of any other degree on a beat, or a long one (points).")
    long_beats: Beats = Field(default=0.67, description="From when on a note is long (beats).")
    hook: bool = Field(
        description="Whether it has a bend, a grace, a double stop, a leap or a note struck again (true or false)."
    )
    hook_leap: int = Field(
        default=4, ge=1, le=24, description="The narrowest leap that is enough of a hook (semitones)."
    )


def _moves(text: str) -> str:
    moves_of(text)
    return text


def moves_of(text: str) -> tuple[tuple[int, int], ...]:
    """A line as rule files write it, "3/4 -2/8": (semitones, ticks to the next onset) for each move.

    >>> moves_of("3/4 -2/8")
    ((3, 4), (-2, 8))
    """
    found = []
    for word in text.split():
        match = re.fullmatch(r"([+-]?\d{1,3})/(\d{1,5})", word)
        if not match:
            raise ValueError(f"{word!r} is no move: write semitones/ticks, as in 3/4 -2/8")
        found.append((int(match[1]), int(match[2])))
    return tuple(found)


class CopyingTable(Table):
    """[lead.copying]: lines that were learned from; no figure of theirs longer than ``longest`` moves is played."""

    longest: int = Field(
        default=4, ge=1, le=16, description="The longest figure that may be played again (moves)."
    )
    lines: list[Annotated[str, AfterValidator(_moves)]] = Field(
        default=[], description="The lines that were learned from (semitones/ticks, 12 to the beat)."
    )


class LeadTable(Table):
    """[lead]: everything about the licks."""

    palette: dict[str, Palette] = Field(
        description="What each degree of the key costs over a chord, by root; others are not played (points)."
    )
    palette_weights: PaletteWeightsTable = Field(
        default=PaletteWeightsTable(),
        description="How many times those points a note is charged by place and length, rounded down (times).",
    )
    landing: dict[str, dict[str, Palette]] = Field(
        description="Where a lick comes home, by what it says and the chord: degrees of the key (points)."
    )
    windows: WindowsTable = Field(description="Where the hand lies: the index finger's fret.")
    downbeats: DownbeatsTable = Field(description="Which beats are strong, and what may stand there.")
    sounded: dict[str, list[Degree]] = Field(
        default={},
        description="What a lick over a chord must sound, by root (one of these degrees of the key).",
    )
    sounded_notes: int = Field(
        default=3, ge=1, le=24, description="A lick is over a chord with so many notes there (notes)."
    )
    bends: BendsTable = Field(description="Sizes, places, fingers and targets of bends, and how many.")
    techniques: TechniquesTable = Field(description="What each way of sounding a note costs, and its limits.")
    shape: ShapeTable = Field(description="The line of a lick: hard limits.")
    melody: MelodyTable = Field(description="The line of a lick: what it likes and dislikes.")
    quote: QuoteTable = Field(description="How closely a figure that is taken up follows its model.")
    figure: FigureTable = Field(description="What the opening figure must be so that it bears repeating.")
    develop: Share = Field(
        default=0.0,
        description="How often a way home of three notes or more takes up its figure's course (share).",
    )
    develop_down: tuple[int, int] = Field(
        default=(2, 5),
        description="How much lower a way home takes up its figure, least and most (semitones).",
    )
    develop_turned: Share = Field(
        default=0.0,
        description="How often a way home tries its figure upside down first (share).",
    )
    role_points: dict[Role, dict[Literal["bend", "double-stop", "grace"], Points]] = Field(
        default={}, description="What an ornament costs more or less, by what the lick says (points)."
    )
    peaks: dict[Role, tuple[int, int]] = Field(
        description="A lick's highest note, least and most, from the top of the home window (semitones)."
    )
    peak_place: dict[Role, Share] = Field(
        description="Where in a lick its highest note is wished (0 at the start to 1 at the end)."
    )
    peak_spread: float = Field(
        default=0.25,
        gt=0,
        le=10,
        description="How far from peak_place the highest note may well be (share of the lick).",
    )
    peak_last: Part = Field(
        default=0.1, description="The highest note on a lick's last note, so many times as often (0 to 1)."
    )
    peak_slack: int = Field(
        default=4,
        ge=0,
        le=24,
        description="How far outside peaks the highest note is tried when nothing else fits (semitones).",
    )
    copying: CopyingTable = Field(
        default=CopyingTable(), description="Lines that were learned from and are not played back."
    )
    written: float = Field(
        default=0.0,
        ge=0,
        le=1,
        description="The share of studies whose licks are written ones ([lick], [pair]).",
    )
    adventure: float = Field(
        default=12.0, gt=0, le=200, description="How freely a study leaves the cheapest solution (points)."
    )
    adventurous: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="How freely, from 0 for the cheapest to 1 for anything allowed; replaces adventure.",
    )
    draws: int = Field(
        default=80, ge=1, le=2000, description="How many licks are drawn for each place (licks)."
    )
    best_share: float = Field(
        default=0.25,
        gt=0,
        le=1,
        description="From which share of the drawn licks, cheapest first, one is taken (share).",
    )
