"""lickwright redo: part of a study solved anew, the rest as it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import (
    Unusable,
    echo,
    format_option,
    formats_of,
    read_chorus,
    sound_options,
    written,
)

if TYPE_CHECKING:
    from lickwright.render.outputs import SoundOptions


@click.command()
@click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--slot",
    "slots",
    multiple=True,
    type=click.IntRange(1),
    help="A place to solve anew, by its number over the tab.",
)
@click.option("--pin", "pins", multiple=True, help="What stays while all else is written anew: bars=1-4, "
              "phrases=1, slots=2, notes=e12,e13, grips=e20, cells=3.")  # fmt: skip
@click.option(
    "--seed", default=1, show_default=True, type=click.IntRange(0), help="Another seed, another solution."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to make. Without it the tab is shown."
)
@format_option()
@click.option("--replace", is_flag=True, help="Replace the folder if it exists.")
@sound_options
def redo(
    study: Path,
    slots: tuple[int, ...],
    pins: tuple[str, ...],
    seed: int,
    out: Path | None,
    formats: str,
    replace: bool,
    sound: SoundOptions,
) -> None:
    """Solve one slot of a study anew and keep the rest, or keep what is pinned and solve the rest.

    Example: lickwright redo first/study.json --slot 2 --seed 3
    """
    from lickwright.compose import write as compose
    from lickwright.render.tab.text import tab
    from lickwright.study.pins import Pins, read_pins

    if bool(slots) == bool(pins):
        raise Unusable(["redo: give --slot for what is to change, or --pin for what is to stay"])
    wanted = formats_of(formats)
    read = read_chorus(study)
    beyond = [slot for slot in slots if slot > len(read.slots)]
    if beyond:
        raise Unusable([f"--slot {beyond[0]}: the study has slots 1 to {len(read.slots)}"])
    if slots:
        chosen = Pins(read, frozenset(s.number for s in read.slots if s.number + 1 not in slots))
    else:
        chosen = read_pins(read, pins)
    echo(tab(written(out, replace, wanted, sound, lambda: compose.around(chosen, seed))))
