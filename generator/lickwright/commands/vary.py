"""lickwright vary: a study again in another key, solved anew."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from lickwright.commands.shared import (
    echo,
    format_option,
    formats_of,
    read_chorus,
    read_study,
    sound_options,
    written,
)

if TYPE_CHECKING:
    from lickwright.render.outputs import SoundOptions
    from lickwright.study.model import Study

STUDY = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("study", type=STUDY)
@click.option("--key", help="The key; the study's own unless given.")
@click.option("--number", default=1, show_default=True, type=click.IntRange(1), help="Which variation it is.")
@click.option(
    "--distance",
    default="cousin",
    show_default=True,
    type=click.Choice(["near", "cousin", "far"]),
    help="How far it may be from the study: near keeps rhythms and courses, far the scheme alone.",
)
@click.option(
    "--same-notes", is_flag=True, help="The same notes in the key, with the best fingering and octave."
)
@click.option(
    "--pin", "pins", multiple=True, help="What stays, moved to the key: slots=2, bars=1-4, phrases=1."
)
@click.option(
    "--against",
    multiple=True,
    type=STUDY,
    help="Another variation to differ from, besides those found beside.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to make. Without it the tab is shown."
)
@format_option()
@click.option("--replace", is_flag=True, help="Replace the folder if it exists.")
@sound_options
def vary(
    study: Path,
    key: str | None,
    number: int,
    distance: str,
    same_notes: bool,
    pins: tuple[str, ...],
    against: tuple[Path, ...],
    out: Path | None,
    formats: str,
    replace: bool,
    sound: SoundOptions,
) -> None:
    """Write a study again, solved anew: other frets and shapes, as far from it as asked.

    Variations of the same study that lie beside it or beside --out are kept away from.

    Example: lickwright vary first/study.json --key C --number 3 --distance cousin --out third
    """
    from lickwright.compose.vary import same_notes as moved
    from lickwright.compose.vary import vary as varied
    from lickwright.render.tab.text import tab
    from lickwright.render.words.vary import changes

    wanted = formats_of(formats)
    model = read_chorus(study)

    home = key or model.brief.key
    others = () if same_notes else (*_beside(model, study, out), *(read_study(path) for path in against))

    def made() -> Study:
        return moved(model, home) if same_notes else varied(model, home, number, distance, others, pins).study

    new = written(out, replace, wanted, sound, made)
    echo(tab(new))
    echo(changes(new, model, others))


def _beside(model: Study, path: Path, out: Path | None) -> list[Study]:
    """The variations of a study that lie beside it or beside the folder to be made, in order of their folders."""
    from lickwright.compose.vary import origin_of
    from lickwright.study.json_text import from_json
    from lickwright.study.model import StudyFileError

    digest = origin_of(model)
    homes = dict.fromkeys(
        p.resolve() for p in (path.parent, path.parent.parent, *([out.parent] if out else []))
    )
    found: dict[Path, Study] = {}
    for file in sorted({f for home in homes for f in home.glob("*/study.json")}):
        if file == path.resolve() or (out is not None and file.parent == out.resolve()):
            continue
        try:
            text = file.read_text(encoding="utf-8")
            other = from_json(text) if digest in text else None
        except (OSError, UnicodeDecodeError, StudyFileError):
            continue
        if other is not None and other.origin.startswith("variation") and other.origin.endswith(digest):
            found[file] = other
    return list(found.values())
