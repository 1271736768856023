"""What a rule file may say about practice: tempo steps, repetitions, rests, and what counts as new or harder."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.player import Table

Seconds = Annotated[int, Field(ge=0, le=3600)]
#: What stands in a lick so many times, by the name under which goals look it up.
Counted = Literal[
    "bend",
    "vibrato",
    "grace",
    "double-stop",
    "hammer-on",
    "pull-off",
    "slide",
    "degree",
    "string",
    "cell",
    "grip",
]


class StepTable(Table):
    """A tempo step: hundredths of the tempo, and its share of a lick's time."""

    percent: int = Field(ge=25, le=120)
    share: float = Field(gt=0, le=1)


class ChoiceTable(Table):
    """[practice.choice]: from how many licks a sheet is chosen, and what harder means."""

    drawn: int = Field(default=3, ge=1, le=50)
    apart: float = Field(default=0.2, ge=0, le=1)
    harder: float = Field(default=0.1, ge=0, le=5)
    faster_percent: int = Field(default=6, ge=1, le=30)
    faster_times: int = Field(default=3, ge=0, le=10)


class PracticeTable(Table):
    """[practice]: see ``rules/parts/practice.toml``, whose values are those that stand here."""

    steps: tuple[StepTable, ...] = Field(
        default=(
            StepTable(percent=60, share=0.3),
            StepTable(percent=75, share=0.3),
            StepTable(percent=90, share=0.2),
            StepTable(percent=100, share=0.2),
        ),
        min_length=1,
    )
    count_in_beats: int = Field(default=4, ge=0, le=8)
    warm_up_s: Seconds = 60
    rest_s: Seconds = 20
    break_s: Seconds = 300
    most_playing_s: Seconds = 1500
    minutes_a_lick: float = Field(default=3.0, gt=0, le=25)
    most_minutes_a_lick: float = Field(default=6.0, gt=0, le=25)
    record_days: int = Field(default=30, ge=0, le=3650)
    times: dict[Counted, Annotated[int, Field(ge=1, le=8)]] = Field(
        default={
            "bend": 1, "vibrato": 1, "grace": 1, "double-stop": 2, "hammer-on": 2, "pull-off": 1, "slide": 1,
            "degree": 2, "string": 3, "cell": 1, "grip": 2,
        }
    )  # fmt: skip
    choice: ChoiceTable = ChoiceTable()
