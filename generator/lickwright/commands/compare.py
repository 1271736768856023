"""lickwright compare: studies, or single licks, side by side."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import Refused, Unusable, echo, echo_table, plain, read_chorus, read_study

if TYPE_CHECKING:
    from lickwright.judge.compare import Asked, Comparison
    from lickwright.render.outputs import SoundOptions
    from lickwright.study.model import Study

_PLACE = re.compile(r"(?P<file>.+)@(?P<slot>\d+)")


@click.command()
@click.argument("studies", nargs=-1, required=True)
@click.option(
    "--all", "everything", is_flag=True, help="Show every bar and measure, also those that are the same."
)
@click.option("--no-tab", is_flag=True, help="Leave out the tabs.")
@click.option(
    "--html",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write one page to see and hear them side by side.",
)
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    help="Write that page as compare.html into a folder.",
)
@click.option("--replace", is_flag=True, help="Replace the page if it exists.")
@click.option("--silent", is_flag=True, help="A page without sound, which is made in no time.")
@click.option(
    "--take", type=click.IntRange(1), help="Put the lick of this number into the study named by --into."
)
@click.option(
    "--into", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="The study file for --take."
)
def compare(
    studies: tuple[str, ...],
    everything: bool,
    no_tab: bool,
    html: Path | None,
    out: Path | None,
    replace: bool,
    silent: bool,
    take: int | None,
    into: Path | None,
) -> None:
    """Hold STUDIES side by side: measures, tabs, distances, and how they differ in words.

    A study is a file; FILE@N is the lick in its slot N, counted from 1, and licks are compared with licks.

    Example: lickwright compare six/candidate-1.json six/candidate-2.json --silent --html two.html
    """
    from lickwright.judge.compare import compare as held
    from lickwright.judge.compare import focused
    from lickwright.render.outputs import SoundOptions

    page = _page_path(html, out, replace)
    if (take is None) != (into is None):
        raise Unusable(["--take N and --into STUDY go together: which lick, and the study it goes into"])
    try:
        comparison = held(focused([_asked(text) for text in studies]))
    except ValueError as error:
        raise Unusable([str(error)]) from None
    if take is not None and into is not None:
        _take(comparison, take, into)
        return
    _show(comparison, everything, with_tab=not no_tab)
    if page is not None:
        _write(comparison, page, None if silent else SoundOptions())


def _take(comparison: Comparison, number: int, into: Path) -> None:
    """Puts the lick of one entry into a study file; the other slots stay as they are."""
    from lickwright.compose import choose
    from lickwright.storage.files import write_whole
    from lickwright.study.json_text import to_json

    if number > len(comparison.entries):
        raise Unusable([f"--take {number}: there are 1 to {len(comparison.entries)}"])
    chosen = comparison.entries[number - 1].asked
    if chosen.slot is None:
        raise Unusable([f"--take {number}: it is a whole study; name its lick, as in {chosen.name}@3"])
    try:
        made = choose.taken(read_chorus(into), chosen.slot, chosen.study, chosen.slot)
    except ValueError as error:
        raise Refused([f"{into}: {chosen.name} does not go there: {error}"]) from None
    write_whole(into, to_json(made).encode())
    echo(
        f"{into}: slot {chosen.slot + 1} is now that of {chosen.name}; make its other files again with render"
    )


def _page_path(html: Path | None, out: Path | None, replace: bool) -> Path | None:
    if html is not None and out is not None:
        raise Unusable(["--html and --out both say where the page goes: give one of them"])
    page = out / "compare.html" if out is not None else html
    if page is not None and page.exists() and not replace:
        raise Unusable([f"{page} exists: choose another name, or add --replace"])
    if html is not None and not html.parent.is_dir():
        raise Unusable([f"{html.parent} is no folder: make it first, or choose another --html"])
    return page


def _asked(text: str) -> Asked:
    """What a word of the call means: a file, or a file and a slot after ``@``."""
    from lickwright.judge.compare import Asked
    from lickwright.rulebook.load import RuleFileError
    from lickwright.rulebook.read import lead_of

    match = None if Path(text).is_file() else _PLACE.fullmatch(text)
    path = Path(match["file"] if match else text)
    if not path.is_file():
        raise Unusable([f"{text}: no such study file; the lick in slot 3 of a.json is a.json@3"])
    study = read_study(path)
    try:
        lead = lead_of(study)
    except RuleFileError:
        lead = None
    return Asked(text, study, _slot(text, study, int(match["slot"])) if match else None, lead)


def _slot(text: str, study: Study, number: int) -> int:
    """The slot that a number counted from 1 means."""
    from lickwright.judge.compare import lick_numbers

    licks = lick_numbers(study)
    if number - 1 not in licks:
        there = ", ".join(str(slot + 1) for slot in licks) or "none"
        raise Unusable([f"{text}: slot {number} holds no lick; the licks of this study are in slots {there}"])
    return number - 1


def _show(comparison: Comparison, everything: bool, with_tab: bool) -> None:
    from lickwright.render.words.compare import compare_words, entry_line

    for entry in comparison.entries:
        click.echo(plain(entry_line(entry)))
    click.echo()
    for sentence in compare_words(comparison):
        click.echo(plain(sentence))
    click.echo()
    scales = comparison.scales if everything else comparison.telling
    heads = tuple(str(entry.number) for entry in comparison.entries)
    rows = [
        (
            scale.label,
            scale.unit,
            *(
                scale.show(entry.values.get(scale.name)) + ("!" if scale.name in entry.unusual else "")
                for entry in comparison.entries
            ),
        )
        for scale in scales
    ]
    positions = tuple(", ".join(map(str, entry.positions)) or "-" for entry in comparison.entries)
    echo_table(("measure", "", *heads), [*rows, ("index finger at", "frets", *positions)], sums=False)
    left = len(comparison.scales) - len(scales)
    if left:
        click.echo(f"{left} measures are the same (--all shows them)")
    if any(entry.unusual for entry in comparison.entries):
        click.echo("! outside what is usual in its style (check --music says more)")
    click.echo()
    parts = ("rhythm", "contour", "notes", "place", "total")
    distances = [
        (
            f"{a.number} and {b.number}",
            *(f"{getattr(comparison.distances[i][j], part):.2f}" for part in parts),
        )
        for i, a in enumerate(comparison.entries)
        for j, b in enumerate(comparison.entries)
        if i < j
    ]
    echo_table(("distance", *parts), distances, sums=False)
    if with_tab:
        _tabs(comparison, everything)


def _tabs(comparison: Comparison, everything: bool) -> None:
    from lickwright.render.tab.together import MARK, tab_together
    from lickwright.render.words.compare import tab_label

    bars = range(comparison.bars) if everything else comparison.differing_bars()
    shown = [entry.shown for entry in comparison.entries]
    click.echo()
    if not bars:
        click.echo("the tabs are the same (--all shows them)")
        return
    for first, last in _stretches(bars):
        try:
            lines = tab_together(
                shown,
                first,
                last,
                labels=[tab_label(entry) for entry in comparison.entries],
                marked=[comparison.differing(entry.number) for entry in comparison.entries],
            )
        except ValueError as error:
            click.echo(f"no tabs: {error}")
            return
        name = f"Bars {first + 1}-{last + 1}" if last > first else f"Bar {first + 1}"
        click.echo("\n".join([name, "", *lines, ""]))
    click.echo(f"{MARK} differs from 1, seen from the root of its key")


def _stretches(bars: range | tuple[int, ...]) -> list[tuple[int, int]]:
    """Bars next to each other as (first, last)."""
    found: list[tuple[int, int]] = []
    for bar in bars:
        if found and found[-1][1] == bar - 1:
            found[-1] = (found[-1][0], bar)
        else:
            found.append((bar, bar))
    return found


def _write(comparison: Comparison, page: Path, sound: SoundOptions | None) -> None:
    from lickwright.render.outputs import compare_page
    from lickwright.storage.files import write_whole

    page.parent.mkdir(parents=True, exist_ok=True)
    write_whole(page, compare_page(comparison, sound).encode("utf-8"))
    click.echo(f"{page} written")
