"""lickwright learn: a style with the accent of one's own licks."""

from __future__ import annotations

from pathlib import Path

import click

from lickwright.commands.shared import Refused, Unusable, plain, read_study

#: Licks below which nothing is held out: a fifth of them would be one or none.
LEAST_HELD = 10


@click.command()
@click.argument(
    "files", nargs=-1, required=True, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option("--base", default="slow-shuffle", show_default=True, help="The style to start from.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="The rule file to write.")
@click.option("--replace", is_flag=True, help="Replace the rule file if it exists.")
@click.option("--title", help="The style's title; its file's name unless given.")
@click.option("--key", help="The key of scores that do not say theirs.")
@click.option("--form", help="The form of the base style that scores without chords are played over.")
@click.option(
    "--longest",
    type=click.IntRange(1, 16),
    default=4,
    show_default=True,
    help="How many moves in a row of a lick may be played again.",
)
@click.option("--report", is_flag=True, help="Say what was learned, and how well held-out licks are told.")
def learn(
    files: tuple[Path, ...],
    base: str,
    out: Path | None,
    replace: bool,
    title: str | None,
    key: str | None,
    form: str | None,
    longest: int,
    report: bool,
) -> None:
    """Learn a style from licks: studies, MusicXML scores or MIDI FILES.

    Example: lickwright learn first/study.json --out my-style.toml --report
    """
    from lickwright.learn.examples import examples_of
    from lickwright.learn.rule_file import report as said
    from lickwright.learn.rule_file import rule_text
    from lickwright.learn.style import learn as learned_from
    from lickwright.learn.style import predicted
    from lickwright.rulebook.read import read_rules
    from lickwright.storage.files import write_whole

    if out is None and not report:
        raise Unusable(["name a rule file with --out, or ask for a --report"])
    if out is not None and out.exists() and not replace:
        raise Unusable([f"{out} exists: add --replace to write over it"])
    book, rules = read_rules(base)
    studies = [(path, read_study(path, base, key, form)) for path in files]
    examples = [
        e for path, study in studies for e in examples_of(study, path.name) if e.grid == rules.study.grid
    ]
    if not examples:
        raise Refused(
            [f"there are no licks of two notes or more on the {rules.study.grid} grid in these files"]
        )
    learned = learned_from(examples, book, rules.neck.neck())
    if report:
        held = predicted(examples, book, rules.neck.neck()) if len(examples) >= LEAST_HELD else None
        for sentence in said(learned, held):
            click.echo(plain(sentence))
        if held is None:
            click.echo(f"too few licks to hold some out: {len(examples)}, {LEAST_HELD} are needed")
    if out is not None:
        text = rule_text(learned, base, title or out.stem, rules.level.name, longest)
        write_whole(out, text.encode())
