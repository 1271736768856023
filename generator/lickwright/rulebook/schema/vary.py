"""What a rule file may say about variations and candidates: how far apart is how far."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.base import Points, Share, Table

Range = tuple[Share, Share]


class CourseTable(Table):
    """Points for each semitone beside a model's course and for each move against it."""

    semitone: Annotated[Points, Field(ge=0)] = Field(
        description="Each semitone beside the model's course (points)."
    )
    wrong_direction: Annotated[Points, Field(ge=0)] = Field(
        description="Each move against the model's direction (points)."
    )


class VaryTable(Table):
    """[vary]: how far is near; the values are those of ``rules/parts/vary.toml``.

    Distances are those of ``lickwright.study.distance``: 0 for the same, 1 for nothing in common.
    """

    near: Range = Field(
        default=(0.08, 0.3),
        description="How far a near variation is from its model, least and most (0 to 1).",
    )
    cousin: Range = Field(
        default=(0.32, 0.45), description="How far a cousin is from its model, least and most (0 to 1)."
    )
    far: Range = Field(
        default=(0.47, 0.8), description="How far a far variation is from its model, least and most (0 to 1)."
    )
    apart: Share = Field(default=0.1, description="How far two variations are apart at least (0 to 1).")
    candidates_apart: Share = Field(
        default=0.2, description="How far two candidates for one place are apart at least (0 to 1)."
    )
    studies_apart: Share = Field(
        default=0.4, description="How far two studies to choose from are apart at least (0 to 1)."
    )
    new_rhythm: Share = Field(
        default=0.6, description="How often a letter of a cousin takes a new rhythm (share)."
    )
    quote_shifts: tuple[Annotated[int, Field(ge=-24, le=24)], ...] = Field(
        default=(0, 5, -2, 7, -5, 3, -12, 12),
        min_length=1,
        description="Where a candidate may take the figure that it quotes, in an order the seed draws (semitones).",
    )
    course: dict[Literal["near", "cousin", "far"], CourseTable] = Field(
        default={
            "near": CourseTable(semitone=14, wrong_direction=60),
            "cousin": CourseTable(semitone=1, wrong_direction=10),
        },
        description="How closely a variation keeps to its model's course; one not named keeps to none (points).",
    )
