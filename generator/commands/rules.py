"""lickwright rules: rule files listed, explained, checked."""

from __future__ import annotations

import click

from generator.commands.shared import Unusable, plain


@click.group()
def rules() -> None:
    """Look at rule files and check them.

    Example: lickwright rules list
    """


@rules.command("list")
def rules_list() -> None:
    """List the shipped styles, levels and parts.

    Example: lickwright rules list
    """
    from generator.rulebook.load import shipped_titles

    for heading, rows in shipped_titles().items():
        click.echo(heading)
        for name, about in rows:
            click.echo(f"  {name:<18} {about}")


@rules.command("show")
@click.argument("name")
@click.option("--level", help="With this level's rules.")
def rules_show(name: str, level: str | None) -> None:
    """Say every rule of a style as a sentence, with the file and key that set it.

    Example: lickwright rules show slow-shuffle
    """
    from generator import compose

    for rule in compose.sentences(name, level):
        click.echo(plain(f"{rule.name}\n    {rule.sentence}\n    [{rule.source}]"))


@rules.command("check")
@click.argument("file")
def rules_check(file: str) -> None:
    """Check a rule file: every mistake with its place and what would be right.

    Example: lickwright rules check slow-shuffle
    """
    from generator.rulebook.load import check_file

    problems = check_file(file)
    if problems:
        raise Unusable(problems)
    click.echo("no mistakes")
