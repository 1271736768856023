"""A series at a glance: what each number is, how hard, what it trains, where its files are; as rows and as a page."""

from __future__ import annotations

from pathlib import Path

from lickwright.render.handout.series_page import FILES, Row, series_page
from lickwright.rulebook.effort import difficulty, effort, measurable
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import RuleFileError
from lickwright.rulebook.read import lead_of
from lickwright.series.add import INDEX, Numbered, Series, whole
from lickwright.series.file import SeriesError
from lickwright.storage.files import write_whole
from lickwright.study.model import Study

#: What tells a page of ours from another's.
MARK = b'<body class="series">'


def rows(series: Series[Numbered]) -> tuple[Row, ...]:
    """The numbers with their difficulty and files, for a list or a page."""
    leads: dict[tuple[object, ...], Lead | str] = {}
    return tuple(
        Row(n.number, n.study, *_difficulty(n.study, leads), files=_files(series.folder, n))
        for n in series.numbers
    )


def _difficulty(study: Study, leads: dict[tuple[object, ...], Lead | str]) -> tuple[float | None, str]:
    """The difficulty by the study's own rules, which are read once; without one, why there is none."""
    brief = study.brief
    rules = (brief.style, brief.level, brief.options, study.home, study.neck)
    if rules not in leads:
        try:
            leads[rules] = lead_of(study)
        except RuleFileError as error:
            leads[rules] = str(error)
    lead = leads[rules]
    if isinstance(lead, str):
        return None, lead
    if not measurable(study):
        return None, "it has notes or hand places off its neck"
    return difficulty(effort(study, lead), lead), ""


def _files(folder: Path, number: Numbered) -> tuple[tuple[str, str], ...]:
    there = (number.folder / name for name in FILES)
    return tuple(
        (says, path.relative_to(folder).as_posix())
        for path, says in zip(there, FILES.values(), strict=True)
        if path.is_file()
    )


def write_index(folder: Path) -> Path:
    """Writes the page of a series into its folder and gives its place.

    Raises SeriesError for a series that cannot be read whole or a page that is another's, and OSError.
    """
    series = whole(folder)
    path = folder / INDEX
    if path.exists() and MARK not in path.read_bytes():
        raise SeriesError([f"{path}: is not a page of a series, so it is not replaced: move it away first"])
    write_whole(path, series_page(series.choices.name, rows(series)).encode())
    return path
