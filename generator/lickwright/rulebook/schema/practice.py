"""What a rule file may say about practice: tempo steps, repetitions, rests, and what counts as new or harder."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.base import Table

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

    percent: int = Field(ge=25, le=120, description="How fast (hundredths of the tempo).")
    share: float = Field(gt=0, le=1, description="How much of a lick's time it takes (share).")


class ChoiceTable(Table):
    """[practice.choice]: from how many licks a sheet is chosen, and what harder means."""

    drawn: int = Field(default=3, ge=1, le=50, description="Licks drawn for each one asked (licks).")
    apart: float = Field(
        default=0.2, ge=0, le=1, description="How far two licks of a sheet are apart at least (0 to 1)."
    )
    harder: float = Field(
        default=0.1,
        ge=0,
        le=5,
        description="What was mastered comes back so much harder at least (of difficulty, 1 to 10).",
    )
    faster_percent: int = Field(
        default=6,
        ge=1,
        le=30,
        description="Where nothing is harder, so much faster (hundredths of the tempo).",
    )
    faster_times: int = Field(default=3, ge=0, le=10, description="How often that is done at most (times).")


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
        description="Steps from slow to fast, each with its share of a lick's time, one repetition at least.",
    )
    count_in_beats: int = Field(default=4, ge=0, le=8, description="The count before a lick (beats).")
    warm_up_s: Seconds = Field(default=60, description="To warm up at least (seconds).")
    rest_s: Seconds = Field(default=20, description="The rest between two licks (seconds).")
    break_s: Seconds = Field(default=300, description="The long rest after so much playing (seconds).")
    most_playing_s: Seconds = Field(
        default=1500, description="The most playing before a long rest (seconds)."
    )
    minutes_a_lick: float = Field(
        default=3.0,
        gt=0,
        le=25,
        description="For each lick, rests included, unless asked otherwise (minutes).",
    )
    most_minutes_a_lick: float = Field(
        default=6.0,
        gt=0,
        le=25,
        description="The most for one lick: more of the same wears out hand and ear (minutes).",
    )
    record_days: int = Field(
        default=30, ge=0, le=3650, description="A figure is new again after so long (days)."
    )
    times: dict[Counted, Annotated[int, Field(ge=1, le=8)]] = Field(
        default={
            "bend": 1, "vibrato": 1, "grace": 1, "double-stop": 2, "hammer-on": 2, "pull-off": 1, "slide": 1,
            "degree": 2, "string": 3, "cell": 1, "grip": 2,
        },
        description="How often what is trained stands in each lick, unless asked otherwise (times).",
    )  # fmt: skip
    choice: ChoiceTable = Field(
        default=ChoiceTable(), description="From how many licks a sheet is chosen, and what harder means."
    )
