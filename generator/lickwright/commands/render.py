"""lickwright render: other formats of a study."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import FORMATS, Unusable, formats_of, progress, read_study, sound_options

if TYPE_CHECKING:
    from lickwright.render.outputs import SoundOptions

#: Formats of others that are read too, and how their files end.
SUFFIXES = {"musicxml": ".musicxml", "midi": ".mid"}


@click.command()
@click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--format",
    "formats",
    default="tab",
    show_default=True,
    help=f"Some of {', '.join(FORMATS)}, with commas.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to write into; the study's own unless given."
)
@click.option("--rules", help="The style whose hand and forms a score or MIDI file is read with.")
@click.option("--key", help="The key of a score or MIDI file, in place of the one it says.")
@click.option("--form", help="The form of the style whose chords it is played over, when it does not say.")
@sound_options
def render(
    study: Path,
    formats: str,
    out: Path | None,
    rules: str | None,
    key: str | None,
    form: str | None,
    sound: SoundOptions,
) -> None:
    """Make other formats from a study file, a MusicXML score or a MIDI file.

    Example: lickwright render first/study.json --format musicxml,midi,tab
    """
    from lickwright.render.outputs import write_formats

    wanted = formats_of(formats)
    if not wanted:
        raise Unusable(["--format: name at least one format"])
    read, folder = read_study(study, rules, key, form), out or study.parent
    own = [
        name for name in wanted if (folder / f"study{SUFFIXES.get(name, '')}").resolve() == study.resolve()
    ]
    if own:
        raise Unusable([f"--format {own[0]} would write over {study}: name another folder with --out"])
    folder.mkdir(parents=True, exist_ok=True)
    write_formats(read, folder, wanted, sound, progress())
