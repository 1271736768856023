"""The tables of ``lickwright check --music`` and ``--set``."""

from __future__ import annotations

from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import Unusable, echo_table, plain, read_study

if TYPE_CHECKING:
    from lickwright.study.model import Study


def show_music(study: Study, rules: str | None) -> None:
    """Prints a study's music measures, with its style's bands and the sentences of those outside."""
    from lickwright.judge.measure import measured
    from lickwright.rulebook.read import lead_of
    from lickwright.study.distance import lick_slots

    rows = measured(study, lead_of(study, rules).rules.music)
    names = [slot.name or str(slot.number) for slot in lick_slots(study) if study.events_of(slot.number)]
    columns = ("measure", "study", "usual", "", *names)
    echo_table(
        columns,
        [
            (
                row.measure.label,
                row.measure.show(row.value),
                row.show_band(),
                "!" if row.outside else "",
                *(row.measure.show(value) if row.measure.of_lick else "" for value in row.licks),
            )
            for row in rows
        ],
        sums=False,
    )
    for row in rows:
        if row.outside:
            click.echo(
                plain(
                    f"! {row.measure.label}: {row.measure.show(row.value)}, usual {row.show_band()}. "
                    f"{row.measure.sentence}"
                )
            )


def show_bands(folders: tuple[Path, ...]) -> None:
    """Prints what is usual in folders of studies as a table for a rule file."""
    from lickwright.judge.measure import fitted_bands

    studies = [study for folder in folders for study in read_set(folder)]
    click.echo("[music.bands]")
    for name, (low, high) in fitted_bands(studies).items():
        click.echo(f"{name} = [{low:g}, {high:g}]")


def read_set(folder: Path) -> list[Study]:
    """The studies under a folder, in order of their paths; raises Unusable for fewer than two."""
    paths = sorted(path for path in folder.rglob("*.json") if path.is_file())
    if len(paths) < 2:
        raise Unusable([f"--set {folder}: a set has two study files (*.json) or more; found {len(paths)}"])
    return [read_study(path) for path in paths]


def show_sets(folders: tuple[Path, ...]) -> None:
    """Prints the published set measures of a folder of studies, or of two and how they lie to each other."""
    from lickwright.judge.sets import between, spreads

    if len(folders) > 2:
        raise Unusable([f"--set is given {len(folders)} times: give one folder, or two to compare"])
    sets = [read_set(folder) for folder in folders]
    for folder, studies in zip(folders, sets, strict=True):
        click.echo(plain(f"{folder}: {len(studies)} studies"))
        echo_table(
            ("feature of the licks", "mean", "+-", "", "distance inside"),
            [
                (
                    row.feature.name,
                    "" if row.mean is None else f"{row.mean:.2f}",
                    "" if row.deviation is None else f"{row.deviation:.2f}",
                    row.feature.unit,
                    f"{fmean(row.distances):.3f}",
                )
                for row in spreads(studies)
            ],
            sums=False,
        )
    if len(sets) == 2:
        click.echo(plain(f"{folders[0]} against {folders[1]}"))
        echo_table(
            ("feature of the licks", "distance between", "overlap", "divergence"),
            [
                (
                    row.feature.name,
                    f"{fmean(row.distances):.3f}",
                    "-" if row.overlap is None else f"{row.overlap:.0%}",
                    "-" if row.divergence is None else f"{row.divergence:.2f}",
                )
                for row in between(*sets)
            ],
            sums=False,
        )
