"""[lick] and [pair]: what a player says, written by hand as rows of notes, for each chord it may be said over."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.base import Table

Mark = Annotated[int, Field(ge=1, le=10)]
Level = Literal["first-year", "growing", "fluent"]
#: The grade (``level.grade``) from which a lick of a level may be used.
GRADES: dict[Level, int] = {"first-year": 1, "growing": 2, "fluent": 3}


class Written(Table):
    """What every written lick says of itself."""

    level: Level = Field(description="The level from which it is used.")
    begins: str = Field(
        description="Where its first note stands: beat.eighth, or before 4.2 in the bar before."
    )
    marks: list[Mark] = Field(default=[], description="What readers gave it, judged alone (1 to 10).")

    @property
    def grade(self) -> int:
        """The level's grade, 1 to 3."""
        return GRADES[self.level]


class WrittenLick(Written):
    """[lick.NAME]: one idea, said over I, over IV, over V (and over bVI in minor) as each chord wants it."""

    does: Literal["call", "continuation", "fill", "pickup", "close", "tail"] = Field(
        description="What it is for: an idea, its second bar, a filler, a lead-in, bar 11, a way home."
    )
    bars: int = Field(default=1, ge=1, le=2, description="How long it is (bars).")
    over: dict[str, str] = Field(
        min_length=1, description="The row of notes over each chord, by its numeral."
    )


class WrittenPair(Written):
    """[pair.NAME]: a question that leaves the blue third open, and its answer, both over I."""

    question: str = Field(description="The row that is left open.")
    answer: str = Field(description="The row that ends it.")
