"""lickwright check: whether a study keeps its rules, and what it asks of the hands."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from generator.commands.shared import Refused, echo_table, plain, read_study

if TYPE_CHECKING:
    from generator.study import Study


def _show_effort(study: Study, rules: str | None) -> None:
    from generator import compose
    from generator.judge.effort import EFFORT_COLUMNS, cells, report
    from generator.rulebook.effort import measurable

    if not measurable(study):
        raise Refused(["its effort cannot be measured: it has notes or hand places off its neck"])
    found = report(study, compose.lead_of(study, rules))
    echo_table(EFFORT_COLUMNS, [cells(row) for row in (*found.rows, found.whole)])
    hardest = found.whole.hardest
    if hardest is not None:
        click.echo(f"hardest moment: {plain(str(hardest))} ({hardest.share:.0%})")


@click.command()
@click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--rules", help="Check by another style's rules than the study's own.")
@click.option(
    "--effort", is_flag=True, help="Say what it asks of the hands, slot by slot, and its hardest moment."
)
def check(study: Path, rules: str | None, effort: bool) -> None:
    """Say whether a study keeps its rules, and where it does not.

    Example: lickwright check first/study.json
    """
    from generator import compose

    read = read_study(study)
    if effort:
        _show_effort(read, rules)
    found = compose.checked(read, rules)
    for violation in found:
        click.echo(plain(str(violation)))
    if found:
        click.echo(f"{len(found)} broken rule{'s' if len(found) > 1 else ''}", err=True)
        sys.exit(1)
    click.echo("keeps every rule")
