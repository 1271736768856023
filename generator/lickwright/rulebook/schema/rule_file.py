"""A whole rule file, and the names that other rooms use of its tables."""

from __future__ import annotations

from pydantic import Field

from lickwright.rulebook.schema.base import (
    Degree,
    Feel,
    Grid,
    Palette,
    PhraseKind,
    Points,
    Quality,
    Role,
    Roman,
    Size,
    Table,
)
from lickwright.rulebook.schema.comping import (
    AnswerFamily,
    BassTable,
    ColourTable,
    CompingTable,
    EndingTable,
    GripTable,
    PairTable,
    VoicesTable,
)
from lickwright.rulebook.schema.lead import LeadTable, moves_of
from lickwright.rulebook.schema.licks import WrittenLick, WrittenPair
from lickwright.rulebook.schema.line import MelodyTable, ShapeTable, TechniquesTable
from lickwright.rulebook.schema.music import MusicTable
from lickwright.rulebook.schema.player import EffortTable, HandTable, LevelTable, NeckTable
from lickwright.rulebook.schema.practice import PracticeTable
from lickwright.rulebook.schema.study import (
    CellFamily,
    FormTable,
    LayoutTable,
    LickPlace,
    SchemeTable,
    StudyTable,
    TemplateTable,
)
from lickwright.rulebook.schema.vary import VaryTable

__all__ = [
    "AnswerFamily",
    "BassTable",
    "ColourTable",
    "CompingTable",
    "Degree",
    "Feel",
    "Grid",
    "GripTable",
    "LeadTable",
    "LickPlace",
    "MelodyTable",
    "PairTable",
    "Palette",
    "PhraseKind",
    "Points",
    "Quality",
    "Role",
    "Roman",
    "RuleFile",
    "ShapeTable",
    "Size",
    "TechniquesTable",
    "TemplateTable",
    "VoicesTable",
    "moves_of",
]


class SeriesTable(Table):
    """[series]: what a number of a series may have in common with the numbers before it."""

    longest_shared: int = Field(
        default=4,
        ge=2,
        le=24,
        description="The most notes running that a lick shares with an earlier number's, in any key (notes).",
    )


class RuleFile(Table):
    """A whole rule file once its includes are merged into it."""

    title: str = Field(default="", description="What the file is called.")
    about: str = Field(default="", description="What it is about; lists show the first sentence.")
    include: list[str] = Field(
        default=[], description="Files read before this one, which says only what differs (names)."
    )
    study: StudyTable = Field(description="How a study of this style is laid out.")
    neck: NeckTable = Field(description="The instrument.")
    hand: HandTable = Field(description="What the fretting hand can do.")
    level: LevelTable = Field(description="How much is asked of the player.")
    effort: EffortTable = Field(
        description="Difficulty, 1 to 10, is 1 and points for each unit of a measure above what is free."
    )
    forms: dict[str, FormTable] = Field(description="The chords of a chorus and its phrases, by name.")
    figures: dict[str, CellFamily] = Field(description="Rhythms that open a lick, by family.")
    tails: dict[str, CellFamily] = Field(description="Rhythms of its way home, by family.")
    layout: LayoutTable = Field(description="How often a plan takes what, and how long its licks are.")
    templates: dict[str, TemplateTable] = Field(description="Where the licks of a phrase stand, by name.")
    schemes: dict[str, SchemeTable] = Field(description="Which lick takes up which figure, by name.")
    lead: LeadTable = Field(description="Everything about the licks.")
    grips: dict[str, GripTable] = Field(description="Grips as recipes, by name.")
    comping: CompingTable = Field(description="What goes well together in the comping, and its signs.")
    answers: dict[str, AnswerFamily] = Field(description="Patterns of comping, by family.")
    endings: dict[str, EndingTable] = Field(description="How a chorus ends, by name.")
    music: MusicTable = Field(default=MusicTable(), description="What is usual in the music of a style.")
    vary: VaryTable = Field(default=VaryTable(), description="How far variations and candidates are apart.")
    series: SeriesTable = Field(
        default=SeriesTable(), description="What the numbers of a series may have in common."
    )
    practice: PracticeTable = Field(
        default=PracticeTable(), description="How a practice sheet is put together."
    )
    lick: dict[str, WrittenLick] = Field(default={}, description="Licks written by hand, by name.")
    pair: dict[str, WrittenPair] = Field(
        default={}, description="Questions and answers written by hand, by name."
    )
