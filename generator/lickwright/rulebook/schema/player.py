"""What a rule file may say of the player: the instrument, the hand, the level, and how effort is weighed."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field, model_validator

from lickwright.guitar.hand import HAND_SHAPES, GripPoints
from lickwright.guitar.neck import Neck, parse_tuning
from lickwright.guitar.strings import STRING_SETS, StringSet, string_set, tensions_n
from lickwright.rulebook.schema.base import Pair, Points, StringNumber, Table


def _tuning(text: str) -> str:
    parse_tuning(text)
    return text


def _strings(text: str) -> str:
    if text not in STRING_SETS and not text[:1].isdigit():
        raise ValueError(
            f"unknown string set {text!r}: use one of {', '.join(STRING_SETS)}, or thousandths of an inch from "
            "the first string on, w for wound, as in 9 11 16 24w 32w 42w"
        )
    if text not in STRING_SETS:
        string_set(text, text)
    return text


def _hand_shape(text: str) -> str:
    if text not in HAND_SHAPES:
        raise ValueError(f"unknown hand shape {text!r}: use one of {', '.join(HAND_SHAPES)}")
    return text


Tuning = Annotated[str, AfterValidator(_tuning)]
#: Slacker strings rattle on the frets, tighter ones break or bend the neck. Common practice, no source.
LEAST_TENSION_N, MOST_TENSION_N = 25.0, 300.0
Strings = Annotated[str, AfterValidator(_strings)]
HandShapeName = Annotated[str, AfterValidator(_hand_shape)]


class NeckTable(Table):
    """[neck]: the instrument; ``tuning`` by name or as notes, ``strings`` by name or as gauges."""

    tuning: Tuning = Field(
        default="standard", description="The tuning, by name or as notes from the lowest string up."
    )
    frets: int = Field(default=20, ge=12, le=27, description="How many frets there are (frets).")
    scale_mm: float = Field(default=648.0, ge=300, le=900, description="From the nut to the bridge (mm).")
    capo: int = Field(default=0, ge=0, le=9, description="Where a capo lies; 0 for none (fret).")
    strings: Strings = Field(
        default="light",
        description="The strings, by name or as gauges from the first on (thousandths of an inch).",
    )
    nut_spacing_mm: float = Field(
        default=7.0, ge=4, le=25, description="From string to string at the nut (mm)."
    )
    bridge_spacing_mm: float = Field(
        default=10.4, ge=4, le=30, description="From string to string at the bridge (mm)."
    )
    edge_mm: float = Field(
        default=3.5, ge=0, le=15, description="From the outer strings to the edge of the board (mm)."
    )

    def neck(self) -> Neck:
        """The neck it describes."""
        return Neck(
            parse_tuning(self.tuning), self.frets, self.scale_mm, self.capo, self.nut_spacing_mm,
            self.bridge_spacing_mm, self.edge_mm,
        )  # fmt: skip

    def string_set(self) -> StringSet:
        """The strings on it."""
        return STRING_SETS.get(self.strings) or string_set(self.strings, self.strings)

    @model_validator(mode="after")
    def _strings_fit(self) -> NeckTable:
        neck, strings = self.neck(), self.string_set()
        for number, tension in enumerate(tensions_n(neck, strings), 1):
            if not LEAST_TENSION_N <= tension <= MOST_TENSION_N:
                raise ValueError(
                    f"string {number} of {self.strings!r} would be at {tension:.0f} N in this tuning; a string plays "
                    f"from {LEAST_TENSION_N:g} to {MOST_TENSION_N:g} N: take another tuning, strings or neck"
                )
        return self


Difficulty = Annotated[float, Field(ge=1, le=10)]
FourNumbers = tuple[float, float, float, float]
QuarterTones = Annotated[int, Field(ge=0, le=6)]


class HandPointsTable(Table):
    """[hand.points]: what a grip asks of the hand, in points; four numbers go from the index to the little finger."""

    stretch_mm: float = Field(
        default=6.0, gt=0, le=100, description="How far two fingers spread beyond rest for a point (mm)."
    )
    crowded: Points = Field(
        default=2, description="Each fret by which two fingers stand nearer than one finger a fret (points)."
    )
    fingers: tuple[Points, Points, Points, Points] = Field(
        default=(0, 0, 1, 2), description="A finger that holds anything, index to little (points)."
    )
    barre_string: Points = Field(default=1, description="Each string that a finger lies across (points).")
    barre_fingers: tuple[Points, Points, Points, Points] = Field(
        default=(0, 5, 2, 4), description="A finger that lies across strings, index to little (points)."
    )
    barre_nut: Points = Field(
        default=2, description="A barre on frets 1 to 3, where strings are stiff (points)."
    )
    barre_low: Points = Field(default=1, description="A barre on frets 4 and 5 (points).")
    lean: Points = Field(default=1, description="A string muted by the finger on its neighbour (points).")
    lift: Points = Field(default=3, description="A string muted by lifting part of a barre (points).")
    touch: Points = Field(default=4, description="A string muted by a free finger (points).")

    def points(self) -> GripPoints:
        """The points as the hand's model takes them."""
        return GripPoints(**self.model_dump())


class HandTable(Table):
    """[hand]: what the fretting hand can do; see ``lickwright.guitar.hand.Hand`` for what each value means.

    Spans go by finger pair ("12" is index and middle); four numbers go from the index to the little finger.
    """

    shape: HandShapeName = Field(
        default="one finger a fret",
        description="Which finger takes which fret of a place: one finger a fret, or three fingers.",
    )
    size: float = Field(
        default=1.0, ge=0.6, le=1.4, description="Finger lengths against the published mean (times)."
    )
    spread_deg: tuple[float, float, float] = Field(
        default=(19.8, 16.6, 39.1),
        description="The widest angles between neighbouring fingers, from the index (degrees).",
    )
    span_frets: dict[Pair, Annotated[int, Field(ge=0, le=7)]] = Field(
        description="How far two fingers may lie apart; 12 is index and middle (frets)."
    )
    span_mm: dict[Pair, Annotated[float, Field(gt=0, le=250)]] = Field(
        default={},
        description="How far two fingers may lie apart from wire to wire; none is as far as they reach (mm).",
    )
    travel_mm: float = Field(
        default=40.0,
        ge=0,
        le=150,
        description="How far one finger goes to another fret while the hand stays (mm).",
    )
    bend_force_n: FourNumbers = Field(description="The force of a bend, index to little finger (newtons).")
    helper_force_n: float = Field(
        ge=0, le=20, description="What each finger behind the bending one adds (newtons)."
    )
    bend_distance_mm: float = Field(gt=0, le=60, description="How far a string is pushed aside at most (mm).")
    bend_size: tuple[QuarterTones, QuarterTones, QuarterTones, QuarterTones] = Field(
        default=(1, 2, 6, 4), description="The widest bend, index to little finger (quarter tones)."
    )
    bend_wound: QuarterTones = Field(
        default=2, description="The widest bend of a wound string (quarter tones)."
    )
    bend_runs_into: int = Field(
        default=2, ge=0, le=6, description="Over how many neighbouring strings a bend may run (strings)."
    )
    barre_strings: tuple[StringNumber, StringNumber, StringNumber, StringNumber] = Field(
        default=(7, 3, 4, 3),
        description="How many strings a finger may lie across, index to little (strings).",
    )
    bend_start_s: float = Field(ge=0, le=1, description="Before a bend gets going (seconds).")
    bend_mm_per_s: float = Field(gt=0, description="How fast a string is pushed aside (mm a second).")
    shift_start_s: float = Field(ge=0, le=1, description="Before a shift of the hand gets going (seconds).")
    shift_mm_per_s: float = Field(gt=0, description="How fast the hand shifts (mm a second).")
    plucks_per_s: float = Field(gt=0, le=30, description="The most plucked notes (a second).")
    hammer_ons_per_s: float = Field(gt=0, le=30, description="The most hammered notes (a second).")
    pull_offs_per_s: float = Field(gt=0, le=30, description="The most pulled-off notes (a second).")
    slides_per_s: float = Field(gt=0, le=30, description="The most notes slid to (a second).")
    strums_per_s: float = Field(gt=0, le=30, description="The most strokes of comping (a second).")
    points: HandPointsTable = Field(
        default=HandPointsTable(), description="What a grip asks of the hand (points)."
    )
    stretch: bool = Field(
        default=False,
        description="Whether fingers may leave the frets of the hand's place by one (true or false).",
    )


class LevelTable(Table):
    """[level]: how much a level asks of the player."""

    name: str = Field(description="What the level is called.")
    grade: int = Field(
        ge=1, le=3, description="How far on it is: rhythms up to this grade are used (1 to 3)."
    )
    notes_per_second: float = Field(
        gt=0, le=20, description="How fast the licks go at most (notes a second)."
    )
    windows: int = Field(
        ge=1, le=6, description="How many hand positions the licks of a study use at most (positions)."
    )
    comping_grade: int = Field(
        ge=1, le=3, description="Grips and patterns of comping up to this grade are used (1 to 3)."
    )
    difficulty: tuple[Difficulty, Difficulty] = Field(
        default=(1.0, 10.0), description="How difficult a study is, least and most (1 to 10)."
    )


class Weight(Table):
    """Points of difficulty for each unit of a measure above the amount that is free."""

    points: float = Field(
        ge=0, le=10, description="What each unit above what is free adds to the difficulty (of 1 to 10)."
    )
    free: float = Field(default=0.0, ge=0, description="How much is free, in the measure's own unit.")


class EffortTable(Table):
    """[effort]: what each measure of a study adds to its difficulty; see ``lickwright.rulebook.effort``."""

    notes_per_s: Weight = Field(description="The fastest four notes of a lick (notes a second).")
    strokes_per_s: Weight = Field(description="The fastest four strokes of comping (strokes a second).")
    bend_work_nmm_s: Weight = Field(description="The work of all bends (newton mm a second).")
    reach_mm: Weight = Field(description="How far fingers spread beyond the hand at rest, mean (mm).")
    shift_mm_s: Weight = Field(description="The fastest shift (mm a second).")
    crossings: Weight = Field(description="Strings crossed from note to note of a lick, mean (strings).")
    grip_points: Weight = Field(description="What the grips ask of the hand by hand.points, mean (points).")
