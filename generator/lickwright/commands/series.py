"""lickwright series: numbered studies in a folder, none of which repeats an earlier one."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import (
    Unusable,
    echo_table,
    format_option,
    formats_of,
    instrument_options,
    level_option,
    plain,
    progress,
    sound_options,
)

if TYPE_CHECKING:
    from lickwright.render.outputs import SoundOptions
    from lickwright.series.add import Added

FOLDER = click.Path(path_type=Path)


@click.group()
def series() -> None:
    """Write numbered studies, none of which repeats a figure of an earlier one.

    Example: lickwright series new porch-blues --style slow-shuffle
    """


@series.command("new")
@click.argument("folder", type=FOLDER)
@click.option("--style", required=True, help="A shipped style or a path to a rule file.")
@click.option("--name", help="What the series is called; the folder's name unless given.")
@click.option("--key", help="The key, or the first of the cycle; A unless given.")
@click.option(
    "--keys", help="cycle for all twelve in fourths from --key, or keys with commas, taken in turn."
)
@level_option()
@click.option(
    "--longest-shared",
    type=click.IntRange(2, 24),
    help="The most notes running that a number may share with an earlier one; the style's own unless given.",
)
@instrument_options
def series_new(
    folder: Path,
    style: str,
    name: str | None,
    key: str | None,
    keys: str | None,
    level: str | None,
    longest_shared: int | None,
    instrument: tuple[tuple[str, str], ...],
) -> None:
    """Make the folder of a series, with its style and keys in it.

    Example: lickwright series new ferry-tunes --style quick-shuffle --key E --keys cycle
    """
    from lickwright.series import add as series
    from lickwright.series.file import Choices

    options = tuple((kind, _from(folder, value)) for kind, value in instrument)
    called = name or folder.resolve().name
    chosen = Choices(called, _from(folder, style), _keys(key, keys), level, longest_shared, options)
    series.new(folder, chosen)
    click.echo(plain(f"{folder} is ready: write its first number with lickwright series add {folder}"))


def _keys(key: str | None, keys: str | None) -> tuple[str, ...]:
    from lickwright.series.file import through_all_keys

    first = "A" if key is None else key
    if keys is None:
        return (first,)
    if keys == "cycle":
        try:
            return through_all_keys(first)
        except ValueError as error:
            raise Unusable([f"--key: {error}"]) from None
    if key is not None:
        raise Unusable([f"--key {key} --keys {keys}: give one of them, or --key with --keys cycle"])
    return tuple(word.strip() for word in keys.split(","))


def _from(folder: Path, reference: str) -> str:
    """A rule file of the user's own as named from the series' folder, so that both can be moved together."""
    own = reference.endswith(".toml") and Path(reference).is_file()
    return Path(os.path.relpath(reference, folder)).as_posix() if own else reference


@series.command("add")
@click.argument("folder", type=FOLDER)
@click.option("--key", help="The key; the next of the series' own unless given.")
@click.option(
    "--seed", type=click.IntRange(0), help="A seed; one from the series and the number unless given."
)
@level_option("the series' own")
@click.option("--tempo", type=click.IntRange(1), help="Beats a minute, within the style's range.")
@click.option("--title", help="The title; the style's least used one unless given.")
@format_option("musicxml,midi,tab,html")
@sound_options
def series_add(
    folder: Path,
    key: str | None,
    seed: int | None,
    level: str | None,
    tempo: int | None,
    title: str | None,
    formats: str,
    sound: SoundOptions,
) -> None:
    """Write the next number of a series, unlike all before it.

    Example: lickwright series add porch-blues --format tab,midi
    """
    from lickwright.series import add as series

    wanted = series.Wanted(key, seed, level, tempo, title)
    _say(folder, series.add(folder, wanted, formats_of(formats), sound, progress(), _waiting))


def _waiting() -> None:
    click.echo("another number is being written: waiting for it", err=True)


def _say(folder: Path, added: Added) -> None:
    study, written = added.written.study, added.written
    for name in added.swept:
        click.echo(plain(f"{folder / name}: left unfinished by an interrupted run, removed"), err=True)
    _say_foreign(folder, added.foreign)
    click.echo(
        plain(
            f"number {written.number}, {study.title}, in {study.home.name} at {study.tempo_bpm}: {written.folder}"
        )
    )
    click.echo(plain(novelty_words(added)))


def novelty_words(added: Added) -> str:
    """How new a number is and which earlier one it is closest to, as a sentence or two."""
    from lickwright.theory.rhythm import beat_text

    notes, share = added.novelty.order + 1, added.novelty.share
    if added.written.number == 1:
        return "It is the first of the series."
    if added.closest is None:
        return f"It shares no {notes} notes running with an earlier number."
    text = f"{share:.0%} of its figures of {notes} notes are new, and all of {notes + 1}."
    text += f" It is closest to number {added.closest.number}, {added.closest.title}"
    if added.shared is None:
        return text + "."
    here, there = beat_text(added.shared.here.onset), beat_text(added.shared.there.onset)
    return f"{text}: {added.shared.order + 1} notes from {here}, there from {there}."


def _say_foreign(folder: Path, names: tuple[str, ...]) -> None:
    for name in names:
        click.echo(plain(f"{folder / name}: not part of the series, left as it is"), err=True)


@series.command("list")
@click.argument("folder", type=FOLDER)
def series_list(folder: Path) -> None:
    """List the numbers of a series, how hard each is and what it trains.

    Example: lickwright series list porch-blues
    """
    from lickwright.render.handout.series_page import COLUMNS, WORDS, cells
    from lickwright.series import add as series
    from lickwright.series import index as series_index

    read = series.read(folder)
    if read.numbers:
        rows = series_index.rows(read)
        echo_table(COLUMNS, [cells(row) for row in rows], sums=False, words=WORDS)
        for row in rows:
            if row.unmeasured:
                click.echo(
                    plain(f"number {row.number}: how hard it is is not known: {row.unmeasured}"), err=True
                )
    else:
        click.echo("no numbers yet")
    _say_foreign(folder, read.foreign)
    if read.damaged:
        raise Unusable(list(read.damaged))


@series.command("index")
@click.argument("folder", type=FOLDER)
def series_index(folder: Path) -> None:
    """Write a page over all numbers of a series, index.html, with links to each.

    Example: lickwright series index porch-blues
    """
    from lickwright.series import index as series_index

    click.echo(plain(str(series_index.write_index(folder))))
