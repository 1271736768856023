"""lickwright write: a study by the rules of a style."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from generator.commands.shared import (
    Unusable,
    echo,
    formats_of,
    instrument_of,
    instrument_options,
    progress,
    sound_of,
    sound_options,
)

if TYPE_CHECKING:
    from generator.render.outputs import SoundOptions
    from generator.study import Brief


@click.command()
@click.argument("style")
@click.option("--key", default="A", show_default=True, help="The key: C Db D Eb E F F# G Ab A Bb B.")
@click.option(
    "--seed", default=1, show_default=True, type=click.IntRange(0), help="Another seed, another study."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to make. Without it only the tab is shown."
)
@click.option("--tempo", type=click.IntRange(1), help="Beats a minute, within the style's range.")
@click.option("--level", help="first-year, growing or fluent; the style's own unless given.")
@instrument_options
@click.option(
    "--adventurous",
    type=click.FloatRange(0, 1),
    help="How far from the cheapest lick the rules allow: 0 the cheapest, 1 whatever they allow.",
)
@click.option(
    "--candidates",
    type=click.IntRange(1, 50),
    help="Write so many studies, far from each other, as candidate-1 and so on inside --out.",
)
@click.option("--title", help="The title; one of the style's unless given.")
@click.option("--number", type=click.IntRange(0), help="Its number in a series.")
@click.option(
    "--format",
    "formats",
    default="musicxml,midi,tab,html,mp3",
    show_default=True,
    help="What to write besides study.json.",
)
@click.option("--replace", is_flag=True, help="Replace the folder if it exists.")
@click.option("--fingers", is_flag=True, help="Show the fingers under the tab.")
@sound_options
def write(
    style: str,
    key: str,
    seed: int,
    out: Path | None,
    tempo: int | None,
    level: str | None,
    hand: str | None,
    strings: str | None,
    neck: str | None,
    tuning: str | None,
    capo: int | None,
    adventurous: float | None,
    candidates: int | None,
    title: str | None,
    number: int | None,
    formats: str,
    replace: bool,
    fingers: bool,
    speeds: str,
    band: bool,
    driven: bool,
    click: bool,
    exact: bool,
) -> None:
    """Write a study by the rules of STYLE, a shipped style or a path to a rule file.

    Example: lickwright write slow-shuffle --key A --seed 7 --out first
    """
    from generator import compose
    from generator.render.outputs import new_folder, write_formats
    from generator.render.tabtext import tab
    from generator.study import Brief

    wanted, sound = formats_of(formats), sound_of(speeds, band, driven, click, exact)
    options = instrument_of(neck, strings, hand, tuning, capo)
    if adventurous is not None:
        options = (*options, ("adventurous", f"{adventurous:g}"))
    brief = Brief(style, key, seed, tempo, level, title, number, options)
    if candidates is not None:
        _write_several(brief, candidates, out, wanted, sound, replace)
        return
    if out is None:
        echo(tab(compose.write(brief), fingers=fingers))
        return
    with new_folder(out, replace) as folder:
        study = compose.write(brief)
        write_formats(study, folder, ("json", *wanted), sound, progress())
    echo(tab(study, fingers=fingers))


def _write_several(
    brief: Brief, count: int, out: Path | None, formats: tuple[str, ...], sound: SoundOptions, replace: bool
) -> None:
    """Several studies of one brief, a folder each inside ``out``."""
    from generator import choose
    from generator.render.outputs import new_folder, write_formats
    from generator.render.tabtext import tab

    if out is None:
        raise Unusable(["--candidates: give --out, the folder for them"])
    with new_folder(out, replace) as folder:
        found = choose.studies(brief, count)
        for n, study in enumerate(found, 1):
            inside = folder / f"candidate-{n}"
            inside.mkdir()
            write_formats(study, inside, ("json", *formats), sound, progress())
    for n, study in enumerate(found, 1):
        echo(f"candidate {n}\n\n{tab(study)}")
    if len(found) < count:
        echo(f"{len(found)} of {count}: no more were found far enough apart")
