"""What a rule file may say of the player: the instrument, the hand, the level, and how effort is weighed.

The base of all tables is here too; ``schema`` has the rest of a rule file.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from lickwright.guitar.hand import HAND_SHAPES
from lickwright.guitar.neck import Neck, parse_tuning
from lickwright.guitar.strings import STRING_SETS, StringSet, string_set, tensions_n


class Table(BaseModel):
    """A table of a rule file: unknown keys are mistakes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


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
StringNumber = Annotated[int, Field(ge=1, le=7)]
Fret = Annotated[int, Field(ge=0, le=24)]
Pair = Literal["12", "13", "14", "23", "24", "34"]


class NeckTable(Table):
    """[neck]: the instrument; ``tuning`` by name or as notes, ``strings`` by name or as gauges."""

    tuning: Tuning = "standard"
    frets: int = Field(default=20, ge=12, le=27)
    scale_mm: float = Field(default=648.0, ge=300, le=900)
    capo: int = Field(default=0, ge=0, le=9)
    strings: Strings = "light"
    nut_spacing_mm: float = Field(default=7.0, ge=4, le=25)
    bridge_spacing_mm: float = Field(default=10.4, ge=4, le=30)
    edge_mm: float = Field(default=3.5, ge=0, le=15)

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


class HandTable(Table):
    """[hand]: what the fretting hand can do; see ``lickwright.guitar.hand.Hand`` for what each value means.

    Spans go by finger pair ("12" is index and middle); four numbers go from the index to the little finger.
    """

    shape: HandShapeName = "one finger a fret"
    size: float = Field(default=1.0, ge=0.6, le=1.4)
    spread_deg: tuple[float, float, float] = (19.8, 16.6, 39.1)
    span_frets: dict[Pair, Annotated[int, Field(ge=0, le=7)]]
    span_mm: dict[Pair, Annotated[float, Field(gt=0, le=250)]] = Field(default={})
    travel_mm: float = Field(default=40.0, ge=0, le=150)
    bend_force_n: FourNumbers
    helper_force_n: float = Field(ge=0, le=20)
    bend_distance_mm: float = Field(gt=0, le=60)
    bend_size: tuple[QuarterTones, QuarterTones, QuarterTones, QuarterTones] = (1, 2, 6, 4)
    bend_wound: QuarterTones = 2
    bend_runs_into: int = Field(default=2, ge=0, le=6)
    barre_strings: tuple[StringNumber, StringNumber, StringNumber, StringNumber] = (7, 3, 4, 3)
    bend_start_s: float = Field(ge=0, le=1)
    bend_mm_per_s: float = Field(gt=0)
    shift_start_s: float = Field(ge=0, le=1)
    shift_mm_per_s: float = Field(gt=0)
    plucks_per_s: float = Field(gt=0, le=30)
    hammer_ons_per_s: float = Field(gt=0, le=30)
    pull_offs_per_s: float = Field(gt=0, le=30)
    slides_per_s: float = Field(gt=0, le=30)
    strums_per_s: float = Field(gt=0, le=30)
    stretch: bool = False


class LevelTable(Table):
    """[level]: how much a level asks of the player."""

    name: str
    grade: int = Field(ge=1, le=3)
    notes_per_second: float = Field(gt=0, le=20)
    windows: int = Field(ge=1, le=6)
    comping_grade: int = Field(ge=1, le=3)
    difficulty: tuple[Difficulty, Difficulty] = (1.0, 10.0)


class Weight(Table):
    """Points of difficulty for each unit of a measure above the amount that is free."""

    points: float = Field(ge=0, le=10)
    free: float = Field(default=0.0, ge=0)


class EffortTable(Table):
    """[effort]: what each measure of a study adds to its difficulty; see ``lickwright.rulebook.effort``."""

    notes_per_s: Weight
    strokes_per_s: Weight
    bend_work_nmm_s: Weight
    reach_mm: Weight
    shift_mm_s: Weight
    crossings: Weight
    grip_points: Weight
