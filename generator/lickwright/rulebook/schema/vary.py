"""What a rule file may say about variations and candidates: how far apart is how far."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from lickwright.rulebook.schema.player import Table

Share = Annotated[float, Field(ge=0, le=1)]
Range = tuple[Share, Share]


class CourseTable(Table):
    """Points for each semitone beside a model's course and for each move against it."""

    semitone: int = Field(ge=0, le=1000)
    wrong_direction: int = Field(ge=0, le=1000)


class VaryTable(Table):
    """[vary]: see ``rules/parts/vary.toml``, whose values are those that stand here.

    The range of the distance to the model for each name, and the least between two variations.

    Distances are those of ``lickwright.study.distance``: 0 for the same, 1 for nothing in common. ``candidates_apart``
    is the least distance between two candidates for one place, ``studies_apart`` that between two whole studies.
    """

    near: Range = (0.08, 0.3)
    cousin: Range = (0.32, 0.45)
    far: Range = (0.47, 0.8)
    apart: Share = 0.1
    candidates_apart: Share = 0.2
    studies_apart: Share = 0.4
    new_rhythm: Share = 0.6
    quote_shifts: tuple[Annotated[int, Field(ge=-24, le=24)], ...] = Field(
        default=(0, 5, -2, 7, -5, 3, -12, 12), min_length=1
    )
    course: dict[Literal["near", "cousin", "far"], CourseTable] = Field(
        default={
            "near": CourseTable(semitone=14, wrong_direction=60),
            "cousin": CourseTable(semitone=1, wrong_direction=10),
        }
    )
