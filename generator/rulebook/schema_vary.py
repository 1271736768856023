"""What a rule file may say about variations and candidates: how far apart is how far."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from generator.rulebook.schema_player import Table

Share = Annotated[float, Field(ge=0, le=1)]
Range = tuple[Share, Share]


class VaryTable(Table):
    """[vary]: see ``rules/parts/vary.toml``, whose values are those that stand here.

    The range of the distance to the model for each name, and the least between two variations.

    Distances are those of ``generator.distance``: 0 for the same, 1 for nothing in common. ``candidates_apart``
    is the least distance between two candidates for one place, ``studies_apart`` that between two whole studies.
    """

    near: Range = (0.08, 0.3)
    cousin: Range = (0.32, 0.45)
    far: Range = (0.47, 0.8)
    apart: Share = 0.1
    candidates_apart: Share = 0.2
    studies_apart: Share = 0.4
