"""lickwright check: whether a study keeps its rules, what it asks of the hands, what its music is like."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.check_music import show_bands, show_music, show_sets
from lickwright.commands.shared import Refused, Unusable, echo, echo_table, plain, read_study
from lickwright.theory.rhythm import beat_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lickwright.judge.check import Violation
    from lickwright.study.model import Study


def _show_effort(study: Study, rules: str | None) -> None:
    from lickwright.judge.effort import EFFORT_COLUMNS, cells, report
    from lickwright.rulebook.effort import measurable
    from lickwright.rulebook.read import lead_of

    if not measurable(study):
        raise Refused(["its effort cannot be measured: it has notes or hand places off its neck"])
    found = report(study, lead_of(study, rules))
    echo_table(EFFORT_COLUMNS, [cells(row) for row in (*found.rows, found.whole)])
    hardest = found.whole.hardest
    if hardest is not None:
        click.echo(f"hardest moment: {plain(str(hardest))} ({hardest.share:.0%})")


def _show_instead(study: Study, rules: str | None, broken: Sequence[Violation], *, whole: bool) -> None:
    from lickwright.read.instead import instead
    from lickwright.render.tab.text import tab
    from lickwright.rulebook.read import lead_of

    mended = study
    for advice in instead(study, lead_of(study, rules), broken, whole=whole):
        name = f"lick {advice.slot.name}".strip()
        click.echo(f"\n{name}, {beat_text(advice.slot.start)}, instead:")
        for sentence in advice.sentences:
            click.echo(plain(f"  {sentence}"))
        mended = advice.study
    if mended != study:
        click.echo()
        echo(tab(mended, fingers=True))


@click.command()
@click.argument("study", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--rules", help="Check by another style's rules than the study's own.")
@click.option(
    "--effort", is_flag=True, help="Say what it asks of the hands, slot by slot, and its hardest moment."
)
@click.option(
    "--music",
    is_flag=True,
    help="Measure its music, against what is usual in its style, and each lick's. "
    "With --set: what is usual in the folder, as a table for a rule file.",
)
@click.option(
    "--set",
    "sets",
    multiple=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Measure how the studies in a folder are spread; given twice, how two folders lie to each other.",
)
@click.option("--key", help="The key of a score or MIDI file, in place of the one it says.")
@click.option("--form", help="The form of the style whose chords it is played over, when it does not say.")
@click.option(
    "--rewrite", is_flag=True, help="Write it again from its brief and say whether it comes out the same."
)
@click.option("--instead", is_flag=True, help="Show what would keep the rules in the licks that break them.")
def check(
    study: Path | None,
    rules: str | None,
    effort: bool,
    music: bool,
    sets: tuple[Path, ...],
    key: str | None,
    form: str | None,
    rewrite: bool,
    instead: bool,
) -> None:
    """Say whether a study, a MusicXML score or a MIDI file keeps the rules, and where it does not.

    Example: lickwright check first/study.json
    """
    from lickwright.compose.rewrite import rewritten
    from lickwright.judge.check import checked

    if sets and music:
        show_bands(sets)
    elif sets:
        show_sets(sets)
    if study is None:
        if sets:
            return
        raise click.UsageError("name a study file, or folders of studies with --set")
    read = read_study(study, rules, key, form)
    if rules is None and not read.brief.style:
        raise Unusable([f"{study}: say by which style with --rules, as in --rules slow-shuffle"])
    if effort:
        _show_effort(read, rules)
    if music and not sets:
        show_music(read, rules)
    if rewrite:
        differs = rewritten(read)
        for line in differs:
            click.echo(plain(line))
        if differs:
            sys.exit(1)
        click.echo("comes out the same")
        return
    licks_alone = study.suffix.lower() != ".json" and not any(s.kind == "comp" for s in read.slots)
    found = checked(read, rules, whole=not licks_alone)
    for violation in found:
        click.echo(plain(str(violation)))
    if found and instead:
        _show_instead(read, rules, found, whole=not licks_alone)
    if found:
        click.echo(f"{len(found)} broken rule{'s' if len(found) > 1 else ''}", err=True)
        sys.exit(1)
    click.echo("keeps every rule")
