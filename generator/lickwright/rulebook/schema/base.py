"""What all tables of a rule file are made from: the base of a table, and the kinds of values with their limits.

Costs are whole points: 10 points are about as bad as one plainly plucked note too many. A degree is written
``b3``; a chord of the form by its Roman numeral without quality (``IV``) where any quality is meant.

Every field has a description, a sentence with its unit: ``rules show --costs`` prints it, and it is the comment of
the key in the shipped files.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from lickwright.theory.harmony import QUALITIES, chord_in_key, semitones
from lickwright.theory.harmony import Key as HarmonyKey


class Table(BaseModel):
    """A table of a rule file: unknown keys are mistakes."""

    model_config = ConfigDict(extra="forbid", frozen=True)


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


def listed(value: object) -> object:
    """A text by itself as a list of one."""
    return [value] if isinstance(value, str) else value


@dataclass(frozen=True)
class Charge:
    """Marks numbers that weigh one thing against another: ``unit`` is what they count."""

    unit: Literal["points", "times", "weight"]


Degree = Annotated[str, AfterValidator(_degree)]
Roman = Annotated[str, AfterValidator(_roman)]
Quality = Annotated[str, AfterValidator(_quality)]
Grid = Literal["triplet", "straight"]
#: Points: what something costs, or with a minus sign what it is worth.
Points = Annotated[int, Field(ge=-1000, le=1000), Charge("points")]
#: How many times as dear or as often; 0 is never, or costs nothing.
Times = Annotated[float, Field(ge=0, le=1000), Charge("times")]
#: How many times as often, at most once.
Part = Annotated[float, Field(ge=0, le=1), Charge("times")]
#: How often something is taken, against the weights of the others; 0 is never.
Odds = Annotated[int, Field(ge=0, le=100), Charge("weight")]
Share = Annotated[float, Field(ge=0, le=1)]
Beats = Annotated[float, Field(ge=0, le=64)]
Palette = dict[Degree, Points]
Role = Literal["question", "answer", "climax", "close"]
#: What the band knows how to play.
Feel = Literal["slow 12/8", "shuffle", "straight", "rhumba"]
Size = Literal["quarter", "half", "whole"]
#: What a phrase is to the study: it opens, turns a chorus round, climbs in another chorus, closes.
PhraseKind = Literal["opening", "turning", "climbing", "closing"]
StringNumber = Annotated[int, Field(ge=1, le=7)]
Fret = Annotated[int, Field(ge=0, le=24)]
Pair = Literal["12", "13", "14", "23", "24", "34"]
