"""lickwright write: a study by the rules of a style."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import (
    Unusable,
    echo,
    format_option,
    formats_of,
    instrument_options,
    level_option,
    progress,
    read_study,
    sound_options,
    written,
)

if TYPE_CHECKING:
    from lickwright.render.outputs import SoundOptions
    from lickwright.study.model import Brief, Study


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
@level_option()
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
@click.option(
    "--pin-file",
    help="A lick of your own to build round, its notes kept, its fingering not: FILE@slot=N puts the file's first "
    "lick where the study has its N-th lick, FILE@lick=M@slot=N its M-th.",
)
@click.option("--title", help="The title; one of the style's unless given.")
@click.option("--number", type=click.IntRange(0), help="Its number in a series.")
@format_option()
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
    instrument: tuple[tuple[str, str], ...],
    adventurous: float | None,
    candidates: int | None,
    pin_file: str | None,
    title: str | None,
    number: int | None,
    formats: str,
    replace: bool,
    fingers: bool,
    sound: SoundOptions,
) -> None:
    """Write a study by the rules of STYLE, a shipped style or a path to a rule file.

    Example: lickwright write slow-shuffle --key A --seed 7 --out first
    """
    from lickwright.compose import write as compose
    from lickwright.render.tab.text import tab
    from lickwright.study.model import Brief

    wanted = formats_of(formats)
    calm = () if adventurous is None else (("adventurous", f"{adventurous:g}"),)
    brief = Brief(style, key, seed, tempo, level, title, number, (*instrument, *calm))
    if candidates is not None:
        if pin_file is not None:
            raise Unusable(
                [
                    "--candidates and --pin-file do not go together: for several studies round a lick, "
                    "write each with another --seed"
                ]
            )
        found = _several(brief, candidates, out, wanted, sound, replace)
        for n, study in enumerate(found, 1):
            echo(f"candidate {n}\n\n{tab(study, fingers=fingers)}")
        if len(found) < candidates:
            echo(f"{len(found)} of {candidates}: no more were found far enough apart")
        return
    made = _round(brief, pin_file) if pin_file is not None else partial(compose.write, brief)
    echo(tab(written(out, replace, wanted, sound, made), fingers=fingers))


def _several(
    brief: Brief, count: int, out: Path | None, formats: tuple[str, ...], sound: SoundOptions, replace: bool
) -> tuple[Study, ...]:
    """Several studies of one brief, written into a folder each inside ``out``."""
    from lickwright.compose import choose
    from lickwright.render.outputs import STUDY, new_folder, write_formats

    if out is None:
        raise Unusable(["--candidates: give --out, the folder for them"])
    with new_folder(out, replace, f"candidate-*/{STUDY}") as folder:
        found = choose.studies(brief, count)
        for n, study in enumerate(found, 1):
            inside = folder / f"candidate-{n}"
            inside.mkdir()
            write_formats(study, inside, ("json", *formats), sound, progress())
    return found


def _round(brief: Brief, pin_file: str) -> Callable[[], Study]:
    """What writes a study round the lick that ``--pin-file`` names."""
    from lickwright.compose.round_lick import place_of, write_round

    name, *wanted = pin_file.split("@")
    words = dict(word.partition("=")[::2] for word in wanted)
    if not Path(name).is_file():
        raise Unusable([f"--pin-file {pin_file}: {name} is no file"])
    if set(words) - {"slot", "lick"} or not words.get("slot", "").isdecimal():
        raise Unusable([f"--pin-file {pin_file}: write a file and a place, as in mylick.musicxml@slot=1"])
    source = read_study(Path(name), brief.style)
    try:
        slot = place_of(words.get("lick", "1"), source)
    except ValueError as error:
        raise Unusable([f"--pin-file {pin_file}: lick {error}"]) from None
    if words["slot"] == "0":
        raise Unusable([f"--pin-file {pin_file}: the study's licks are counted from 1"])
    return partial(write_round, brief, source, slot, int(words["slot"]) - 1)
