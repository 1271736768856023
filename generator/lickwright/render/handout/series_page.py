"""A series at a glance: its numbers as rows of a table, and as one HTML page that links to each number's own.

The page needs nothing from outside and runs no script. The same numbers and files give the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from lickwright.render.handout.inline import asset, policy
from lickwright.render.words.terms import counted, listed, plain, signs
from lickwright.render.words.text import CAUTIONS, feel_words, trained
from lickwright.study.model import Study

#: What ``cells`` gives for each column, and which of them are words.
COLUMNS = ("no.", "title", "key", "tempo", "level", "of 10", "trains")
WORDS = ("title", "trains")
#: The files of a number that a page links to, and what the links say; the first there is stands behind the title.
FILES = {
    "study.html": "page",
    "study.pdf": "PDF",
    "study.txt": "tab",
    "study.musicxml": "MusicXML",
    "study.mid": "MIDI",
    "sound/study.mp3": "sound",
}
TEXT = {
    "lang": "en",
    "empty": "No number has been written yet.",
    "before": "Before you play",
    "number": "No.",
    "title": "Study",
    "key": "Key",
    "tempo": "Tempo",
    "difficulty": "Difficulty",
    "trains": "What it trains",
    "files": "Files",
    "of_ten": "of 10",
    "table": "The numbers of the series",
    "scale": "Tempo in beats a minute. Difficulty is counted on the program's scale from 1 to 10, by speed, stretches, "
    "bends and shifts.",
}


@dataclass(frozen=True)
class Row:
    """A number of a series: its study, its difficulty on the scale of 1 to 10 or why it cannot be measured, and its
    files as (what the link says, address from the series' folder).
    """

    number: int
    study: Study
    difficulty: float | None
    unmeasured: str = ""
    files: tuple[tuple[str, str], ...] = ()


def cells(row: Row) -> tuple[str, ...]:
    """A row as text, a cell for each of ``COLUMNS``."""
    study = row.study
    return (
        str(row.number),
        study.title,
        study.home.name,
        str(study.tempo_bpm),
        study.level,
        difficulty_text(row),
        listed(trained(study)),
    )


def difficulty_text(row: Row) -> str:
    """The difficulty with one decimal, a dash when it is not known."""
    return "-" if row.difficulty is None else f"{row.difficulty:.1f}"


def series_page(title: str, rows: Sequence[Row]) -> str:
    """The page of a series as HTML text, in the order of the rows."""
    style = asset("page.css") + _own("series_page.css")
    return _template().render(
        text=TEXT,
        title=plain(title),
        facts=_facts(rows),
        rows=[_shown(row) for row in rows],
        cautions=CAUTIONS,
        policy=policy([], style),
        style=Markup(style),
    )


def _facts(rows: Sequence[Row]) -> list[str]:
    keys = dict.fromkeys(signs(row.study.home.name) for row in rows)
    feels = dict.fromkeys(feel_words(row.study) for row in rows)
    return [counted(len(rows), "study", "studies"), ", ".join(keys), ", ".join(feels)] if rows else []


def _shown(row: Row) -> dict[str, object]:
    study = row.study
    return {
        "number": row.number,
        "title": plain(study.title),
        "key": signs(study.home.name),
        "tempo": study.tempo_bpm,
        "level": study.level.replace("-", " "),
        "difficulty": difficulty_text(row),
        "trains": listed(trained(study)),
        "files": row.files,
    }


def _own(name: str) -> str:
    return files("lickwright.render.handout").joinpath(name).read_text(encoding="utf-8")


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_own("series_page.html.j2"))
