"""What a rule file may say. Every table and key of the TOML files is declared here, with its limits.

Costs are whole points: 10 points are about as bad as one plainly plucked note too many. A degree is written
``b3``; a chord of the form by its Roman numeral without quality (``IV``) where any quality is meant.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from lickwright.rulebook.schema.music import MusicTable
from lickwright.rulebook.schema.player import (
    EffortTable,
    Fret,
    HandTable,
    LevelTable,
    NeckTable,
    StringNumber,
    Table,
)
from lickwright.rulebook.schema.practice import PracticeTable
from lickwright.rulebook.schema.vary import VaryTable
from lickwright.theory.harmony import QUALITIES, chord_in_key, semitones
from lickwright.theory.harmony import Key as HarmonyKey


def _degree(text: str) -> str:
    semitones(text)
    return text


def _roman(text: str) -> str:
    chord_in_key(text, HarmonyKey("C"))
    return text


def _quality(text: str) -> str:
    if text not in QUALITIES:
        raise ValueError(
            f"unknown quality {text!r}: use one of {' '.join(q or '(empty)' for q in QUALITIES)}"
        )
    return text


Degree = Annotated[str, AfterValidator(_degree)]
Roman = Annotated[str, AfterValidator(_roman)]
Quality = Annotated[str, AfterValidator(_quality)]
Grid = Literal["triplet", "straight"]
Points = Annotated[int, Field(ge=-1000, le=1000)]
Palette = dict[Degree, Points]
Role = Literal["question", "answer", "climax", "close"]
#: What the band knows how to play.
Feel = Literal["slow 12/8", "shuffle", "straight", "rhumba"]
Size = Literal["quarter", "half", "whole"]
#: What a phrase is to the study: it opens, turns a chorus round, climbs in another chorus, closes.
PhraseKind = Literal["opening", "turning", "climbing", "closing"]


def _listed(value: object) -> object:
    return [value] if isinstance(value, str) else value


class Tempo(Table):
    """Beats a minute: the range a style is meant for, and what it takes unasked."""

    least: int = Field(ge=30, le=260)
    usual: int = Field(ge=30, le=260)
    most: int = Field(ge=30, le=260)


class StudyTable(Table):
    """[study]: how a study of this style is laid out; of several forms the seed takes one."""

    meter: Literal["12/8", "4/4"]
    grid: Grid
    feel: Feel
    minor: bool = False
    tempo: Tempo
    form: Annotated[list[str], BeforeValidator(_listed), Field(min_length=1)]
    level: str = "growing"
    titles: list[str] = Field(min_length=1)


class FormTable(Table):
    """[forms.NAME]: the bars' chords (two in one bar share it), and the phrases' lengths in bars."""

    bars: list[str] = Field(min_length=1, max_length=64)
    phrases: list[int] = Field(min_length=1)


class CellFamily(Table):
    """[figures.NAME] or [tails.NAME]: rhythm cells of one grade on one grid, for some feels only if it says so."""

    grade: int = Field(ge=1, le=3)
    grid: Grid = "triplet"
    feels: list[Feel] = Field(default=[])
    weight: int = Field(default=10, ge=1, le=100)
    cells: list[str] = Field(min_length=1)


class LickPlace(Table):
    """A lick in a template: its beat in the phrase, the most beats it may take, what it says."""

    beat: int = Field(ge=0, le=63)
    most_beats: int = Field(ge=2, le=12)
    least_beats: int = Field(default=1, ge=1, le=12)
    role: Role
    early: int = Field(default=0, ge=0, le=2)
    late: int = Field(default=0, ge=0, le=2)


class TemplateTable(Table):
    """[templates.NAME]: where the licks of a phrase stand; the comping has the rest."""

    phrases: list[PhraseKind] = Field(min_length=1)
    weight: int = Field(default=10, ge=1, le=100)
    licks: list[LickPlace] = Field(min_length=1, max_length=4)


class SchemeTable(Table):
    """[schemes.NAME]: one entry a phrase, letters for its licks; A' takes up the figure of A.

    ``kinds`` says what each phrase is; unless given, the last one closes and the others open.
    """

    phrases: list[str] = Field(min_length=1)
    kinds: list[PhraseKind] = Field(default=[])
    weight: int = Field(default=10, ge=1, le=100)

    def kind(self, number: int) -> PhraseKind:
        """What a phrase, counted from 0, is to the study."""
        if self.kinds:
            return self.kinds[number]
        return "closing" if number == len(self.phrases) - 1 else "opening"


class LayoutTable(Table):
    """[layout]: how often a plan takes what.

    A tempo below ``slow_bpm`` is slow. ``home_odds`` is how much less often each next home of the hand is taken
    than the one before it. ``most_sounding`` is the share of a lick's place that sounds before its landing.
    ``kin`` is the share of licks whose way home takes up their figure's rhythm. The others weigh cells: of the
    level's own grade when it is slow, that begin off the beat, with sixteenths for the fluent. ``landings`` weighs
    a last note as it is written, one held on to the answer, and one cut short.
    """

    landings: dict[Literal["written", "to the answer", "short"], Annotated[int, Field(ge=0, le=100)]]
    longest_landing_beats: float = Field(gt=0, le=8)

    slow_bpm: int = Field(ge=30, le=260)
    home_odds: float = Field(gt=0, le=1)
    most_sounding: float = Field(gt=0, le=1)
    kin: float = Field(ge=0, le=1)
    own_grade_when_slow: float = Field(gt=0)
    off_beat: float = Field(gt=0)
    sixteenths: float = Field(gt=0)
    short_figure: float = Field(default=1.0, gt=0)


class GripTable(Table):
    """[grips.NAME]: a voicing as a recipe: degrees low to high on string sets, or in any order."""

    qualities: list[Quality] = Field(min_length=1)
    degrees: list[Degree] = Field(min_length=2, max_length=6)
    order: Literal["given", "any"] = "given"
    strings: list[list[StringNumber]] = Field(min_length=1)
    grade: int = Field(default=1, ge=1, le=3)
    cost: Points = 0


class AnswerFamily(Table):
    """[answers.NAME]: comping patterns of one length; see ``rules/parts/comping.toml`` for the signs.

    Families of one ``groove`` go together: a study takes up one groove and seldom another's patterns.
    """

    beats: int = Field(ge=1, le=8)
    grade: int = Field(default=1, ge=1, le=3)
    grid: Grid = "triplet"
    feels: list[Feel] = Field(default=[])
    groove: str = ""
    weight: int = Field(default=10, ge=1, le=100)
    place: Literal["anywhere", "inside", "before a change"] = "anywhere"
    patterns: list[str] = Field(min_length=1)


class EndingTable(Table):
    """[endings.NAME]: the last beats: a pattern and the chord of each hit, in order.

    ``to`` is the root it ends on: I closes, V turns a chorus round.
    """

    beats: int = Field(ge=1, le=8)
    grade: int = Field(default=1, ge=1, le=3)
    grid: Grid = "triplet"
    feels: list[Feel] = Field(default=[])
    to: Literal["I", "V"] = "I"
    weight: int = Field(default=10, ge=1, le=100)
    minor: bool = False
    pattern: str
    chords: list[Roman] = Field(min_length=1)


class WindowsTable(Table):
    """[lead.windows]: frets under the index finger, counted up from the key's root on string 6, or as frets."""

    relative: list[Annotated[int, Field(ge=-11, le=23)]] = Field(default=[])
    frets: list[Fret] = Field(default=[])
    by_role: dict[Role, list[int]] = Field(default={})
    lowest: Fret = 0
    highest: Fret = 15
    home_highest: Fret = 11
    shift_inside: bool = False
    open_strings_up_to: Fret = 2


class DownbeatsTable(Table):
    """[lead.downbeats]: which beats are strong and what may stand there, as degrees of the sounding chord."""

    strong: list[Annotated[int, Field(ge=1, le=4)]]
    degrees: list[Degree]
    minor_degrees: list[Degree] = Field(default=[])


class BendsTable(Table):
    """[lead.bends]: sizes, places, fingers and targets of bends, and how many."""

    sizes: list[Size]
    strings: list[StringNumber]
    fingers: dict[Size, list[Annotated[int, Field(ge=1, le=4)]]]
    lowest_fret: dict[Size, Fret]
    highest_fret: Fret = 19
    targets: dict[Size, list[str]]
    curls_over: list[str] = Field(default=[])
    kinds: list[Literal["bend", "bend-release", "pre-bend-release"]]
    least_beats: dict[Size, float]
    most_per_lick: int = Field(ge=0, le=6)
    most_per_study: int = Field(ge=0, le=30)
    least_per_study: int = Field(default=0, ge=0, le=6)
    cost: dict[Literal["quarter", "half", "whole", "bend-release", "pre-bend-release"], Points]
    held: Points = 0


class TechniquesTable(Table):
    """[lead.techniques]: what each way of sounding a note costs, and its limits."""

    pluck: Points
    hammer: Points
    pull: Points
    slide: Points
    double_stop: Points
    grace_hammer: Points
    grace_slide: Points
    legato_frets: int = Field(ge=1, le=5)
    slide_frets: int = Field(ge=1, le=5)
    vibrato_beats: float = Field(gt=0)
    double_stops_per_lick: int = Field(ge=0, le=8)
    double_stop_strings: list[StringNumber]
    double_stop_intervals: list[Annotated[int, Field(ge=3, le=9)]]
    graces: list[str]
    grace_beats: float = Field(ge=0)
    graces_per_study: int = Field(ge=0, le=12)


class ShapeTable(Table):
    """[lead.shape]: the line of a lick."""

    notes: tuple[int, int]
    short_notes: int = Field(default=3, ge=1, le=8)
    close_notes: int = Field(default=8, ge=1, le=16)
    long_notes: int = Field(default=14, ge=1, le=24)
    most_leap: int = Field(ge=3, le=24)
    most_run: int = Field(ge=2, le=12)
    most_repeats: int = Field(ge=1, le=8)
    trills: bool = False
    least_distinct: float = Field(ge=0, le=1)
    most_of_one: float = Field(gt=0, le=1)
    least_range: int = Field(ge=0, le=24)
    held_beats: float = Field(gt=0)
    passing: list[Degree] = Field(default=[])
    passing_beats: float = Field(default=0.7, gt=0)


class MelodyTable(Table):
    """[lead.melody]: preferences for the line, in points."""

    skip: Points
    leap: Points
    unanswered_leap: Points
    turn: Points
    run3: Points
    run4: Points
    zigzag: Points
    repeat: Points
    string_skip: Points
    string: dict[Literal["1", "2", "3", "4", "5", "6", "7"], Points]
    finger: dict[Literal["1", "2", "3", "4"], Points]
    stretched: Points
    same_finger: Points
    other_finger: Points
    hand_fret: Points
    wide_semitone: Points
    very_wide: Points
    unresolved_release: Points
    pairs: dict[str, Points]
    up_after_peak: dict[Role, Points]
    down_before_peak: Points
    off_chord_strong: Points
    landing_step: int = Field(ge=1, le=12)
    landing_leap: Points
    same_landing: Points


class QuoteTable(Table):
    """[lead.quote]: how closely a restatement follows its figure."""

    band: int = Field(ge=0, le=12)
    semitone: Points
    exact_semitone: Points
    wrong_direction: Points
    move_up_a_fourth: float = Field(ge=0, le=1)
    climb: list[Annotated[int, Field(ge=-12, le=12)]] = Field(min_length=1)
    within_phrase: list[Annotated[int, Field(ge=-12, le=12)]] = Field(min_length=1)


class FigureTable(Table):
    """[lead.figure]: what the opening figure must be so that it bears repeating."""

    fits: dict[Degree, Points]
    other: Points
    hook: bool


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

    longest: int = Field(default=4, ge=1, le=16)
    lines: list[Annotated[str, AfterValidator(_moves)]] = Field(default=[])


class LeadTable(Table):
    """[lead]: everything about the licks."""

    palette: dict[str, Palette]
    landing: dict[str, dict[str, Palette]]
    windows: WindowsTable
    downbeats: DownbeatsTable
    sounded: dict[str, list[Degree]] = Field(default={})
    bends: BendsTable
    techniques: TechniquesTable
    shape: ShapeTable
    melody: MelodyTable
    quote: QuoteTable
    figure: FigureTable
    develop: float = Field(default=0.0, ge=0, le=1)
    develop_down: tuple[int, int] = (2, 5)
    develop_turned: float = Field(default=0.0, ge=0, le=1)
    role_points: dict[Role, dict[Literal["bend", "double-stop", "grace"], Points]] = Field(default={})
    peaks: dict[Role, tuple[int, int]]
    peak_place: dict[Role, Annotated[float, Field(ge=0, le=1)]]
    copying: CopyingTable = Field(default=CopyingTable())
    adventure: float = Field(default=12.0, gt=0, le=200)
    adventurous: float | None = Field(default=None, ge=0, le=1)
    draws: int = Field(default=80, ge=1, le=2000)
    best_share: float = Field(default=0.25, gt=0, le=1)


Sign = Annotated[str, Field(pattern=r"^[^\s.\-]$")]


class VoicesTable(Table):
    """[comping.voices.SIGN]: a grip with voices moved, by degree of the chord in semitones.

    ``voice`` says which voices: the top one alone, or every one whose degree is listed. One that ``resolves`` is
    followed by its grip.
    """

    about: str
    voice: Literal["top", "every"]
    major: dict[Degree, int]
    minor: dict[Degree, int] = Field(default={})
    resolves: bool = False


class PairTable(Table):
    """[comping.pairs.SIGN]: two notes of a chord, degrees from the lower string up, and their strings."""

    about: str
    major: tuple[Degree, Degree]
    minor: tuple[Degree, Degree]
    turned: bool = False
    strings: list[tuple[StringNumber, StringNumber]]


class BassTable(Table):
    """[comping.bass.SIGN]: a bass note: a degree of the chord, or steps off the next chord's root."""

    about: str
    major: Degree | None = None
    minor: Degree | None = None
    off_next: list[int] = Field(default=[])


class ColourTable(Table):
    """[comping.colours.SIGN]: a grip of the same root in another quality, for dominant and for minor chords."""

    about: str
    major: Quality
    minor: Quality


class CompingTable(Table):
    """[comping]: preferences between grips, and the chords that may lead into a change."""

    moved_string: Points
    semitone: Points
    far_position: Points
    hand_fret: Points
    five_strings: Points
    rootless_close: Points
    rootless_lead: Points = 0
    stretch: Points = 0
    high: Points
    low: Points
    noise: Points
    leads: dict[str, list[Roman]]
    least_bass: int = Field(default=0, ge=0, le=6)
    least_moving: int = Field(default=0, ge=0, le=6)
    bass_under_lick: float = Field(default=0.0, ge=0, le=1)
    pair_way: int = Field(default=24, ge=1, le=24)
    same_pattern: int = Field(ge=1, le=12)
    highest_fret: Fret = 14
    voices: dict[Sign, VoicesTable] = Field(default={})
    pairs: dict[Sign, PairTable] = Field(default={})
    bass: dict[Sign, BassTable] = Field(default={})
    colours: dict[Sign, ColourTable] = Field(default={})
    barre: Points
    bass_apart: Points
    bass_semitone: Points
    other_grip: Points
    no_third: Points
    close_hands: int = Field(ge=1, le=20)
    grooves: dict[str, Annotated[int, Field(ge=1, le=100)]] = Field(default={})
    on_groove: float = Field(default=1.0, gt=0)
    off_groove: float = Field(default=1.0, gt=0)
    leading: float = Field(default=2.0, gt=0)
    root_first: float = Field(default=1.0, gt=0)
    grip_first: float = Field(default=1.0, gt=0)
    echo: float = Field(default=0.0, ge=0)
    riff: float = Field(default=0.0, ge=0)


class SeriesTable(Table):
    """[series]: what a number of a series may have in common with the numbers before it."""

    longest_shared: int = Field(default=4, ge=2, le=24)


class RuleFile(Table):
    """A whole rule file once its includes are merged into it."""

    title: str = ""
    about: str = ""
    include: list[str] = Field(default=[])
    study: StudyTable
    neck: NeckTable
    hand: HandTable
    level: LevelTable
    effort: EffortTable
    forms: dict[str, FormTable]
    figures: dict[str, CellFamily]
    tails: dict[str, CellFamily]
    layout: LayoutTable
    templates: dict[str, TemplateTable]
    schemes: dict[str, SchemeTable]
    lead: LeadTable
    grips: dict[str, GripTable]
    comping: CompingTable
    answers: dict[str, AnswerFamily]
    endings: dict[str, EndingTable]
    music: MusicTable = MusicTable()
    vary: VaryTable = VaryTable()
    series: SeriesTable = SeriesTable()
    practice: PracticeTable = PracticeTable()
