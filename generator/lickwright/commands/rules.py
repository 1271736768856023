"""lickwright rules: rule files listed, explained, checked."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import Unusable, plain

if TYPE_CHECKING:
    from lickwright.rulebook.costs import Cost

#: Longer values have a line of their own.
SHORT_VALUE = 6


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
    from lickwright.rulebook.load import shipped_titles

    for heading, rows in shipped_titles().items():
        click.echo(heading)
        for name, about in rows:
            click.echo(f"  {name:<22} {about}")


@rules.command("show")
@click.argument("name")
@click.option("--level", help="With this level's rules.")
@click.option("--key", default="A", show_default=True, help="The key, for --graph.")
@click.option(
    "--position",
    type=click.IntRange(1),
    help="The fret under the index finger, for --graph.",
)
@click.option(
    "--graph",
    "form",
    is_flag=False,
    flag_value="list",
    type=click.Choice(["list", "dot"]),
    help="Which touches there are in a position, what may follow what and how much each rule forbids: listed, or in DOT.",
)
@click.option("--costs", is_flag=True, help="What the style prefers instead: points, and how often.")
def rules_show(
    name: str, level: str | None, key: str, position: int | None, form: str | None, costs: bool
) -> None:
    """Say every rule of a style as a sentence, with the file and key that set it.

    With --graph, show what the rules leave in one position instead: the style's favourite, or --position. With --costs,
    show what is preferred instead: every number that weighs one thing against another.

    Example: lickwright rules show slow-shuffle
    """
    if form is not None and costs:
        raise Unusable(["--graph and --costs: one of the two"])
    if costs:
        _show_costs(name, level)
        return
    if form is not None:
        _show_graph(name, level, key, position, form)
        return
    from lickwright.rulebook.read import sentences

    for rule in sentences(name, level):
        click.echo(plain(f"{rule.name}\n    {rule.sentence}\n    [{rule.source}]"))


def _show_graph(name: str, level: str | None, key: str, position: int | None, form: str) -> None:
    from lickwright.compose.setting import setting_for
    from lickwright.solver.explain.graph import dot, listed, position_graph
    from lickwright.solver.plan.layout import home_positions
    from lickwright.study.model import Brief

    setting = setting_for(Brief(name, key, 1, level=level))
    homes = home_positions(setting.rules, setting.key, setting.neck)
    if position is None and not homes:
        raise Unusable(
            ["lead.windows: no place lies between its lowest and highest fret in this key: use --position"]
        )
    if position is not None and position > setting.neck.top_fret:
        raise Unusable([f"--position {position}: the neck ends at fret {setting.neck.top_fret}"])
    view = position_graph(setting.lead, homes[0] if position is None else position)
    for line in listed(view) if form == "list" else dot(view):
        click.echo(plain(line))


def _show_costs(name: str, level: str | None) -> None:
    """Prints what is charged, a heading for each table of the rule files and the file that set it."""
    from lickwright.rulebook.read import charges

    def where(cost: Cost) -> str:
        return f"{cost.source.key.rpartition('.')[0]}  [{cost.source.file}]"

    for heading, group in groupby(charges(name, level), where):
        rows = [(cost.source.key.rpartition(".")[2], cost.value, cost.sentence) for cost in group]
        widest = max(len(key) for key, _, _ in rows)
        click.echo(plain(heading))
        said = ""
        for key, value, sentence in rows:
            said, shown = sentence, "" if sentence == said else sentence
            short = len(value) <= SHORT_VALUE
            click.echo(plain(f"  {key:<{widest}}  {value:>{SHORT_VALUE}}  {shown if short else ''}").rstrip())
            if shown and not short:
                click.echo(plain(f"  {'':<{widest}}  {shown}"))


@rules.command("check")
@click.argument("file")
def rules_check(file: str) -> None:
    """Check a rule file: every mistake with its place and what would be right.

    Example: lickwright rules check slow-shuffle
    """
    from lickwright.rulebook.check import check_file

    problems = check_file(file)
    if problems:
        raise Unusable(problems)
    click.echo("no mistakes")


@rules.command("count")
@click.argument("style")
@click.option("--key", default="A", show_default=True, help="The key.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0), help="Whose plan is counted.")
@click.option("--level", help="With this level's rules.")
@click.option("--totals", is_flag=True, help="Only the totals, which is quicker.")
def rules_count(style: str, key: str, seed: int, level: str | None, totals: bool) -> None:
    """Count the licks that the rules allow in each place of a study, and the choruses: exact whole numbers.

    Example: lickwright rules count slow-shuffle --key A --totals
    """
    from lickwright.compose.count import allowed
    from lickwright.study.model import Brief

    found = allowed(Brief(style, key, seed, level=level), rules=not totals)
    click.echo(plain(f"scheme {found.scheme}"))
    for place in found.places:
        shape = f"{place.shapely:.0%} of them have the shape asked for"
        click.echo(plain(f"\n{place.where}, {place.notes} notes: {place.licks:,} licks; {shape}"))
        for rule, more in place.taken:
            click.echo(plain(f"  {rule.name} alone takes away {more:,}"))
    click.echo(f"\nthe study, before any lick quotes another: {found.choruses:,} choruses")
