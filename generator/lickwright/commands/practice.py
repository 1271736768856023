"""lickwright practice: fresh licks for what a student cannot do yet, and the record of what was mastered."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lickwright.commands.shared import (
    Unusable,
    echo,
    format_option,
    formats_of,
    instrument_options,
    level_option,
    progress,
    sound_options,
)

if TYPE_CHECKING:
    from lickwright.practice.record import Record
    from lickwright.practice.write import Practice, Request
    from lickwright.render.outputs import SoundOptions

RECORD = "practice.json"
_DAY = click.DateTime(["%Y-%m-%d"])


class _WithoutName(click.Group):
    """A group whose command ``sheet`` may be left out: ``practice --style slow-shuffle ...``."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Puts ``sheet`` before what is no command of the group."""
        return super().resolve_command(ctx, args if args[0] in self.commands else ["sheet", *args])

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The options of a sheet too, since its name may be left out."""
        super().format_options(ctx, formatter)
        records = [param.get_help_record(ctx) for param in self.commands["sheet"].get_params(ctx)]
        with formatter.section("Options of a sheet"):
            formatter.write_dl([record for record in records[:-1] if record])


@click.group(cls=_WithoutName, context_settings={"ignore_unknown_options": True})
def practice() -> None:
    """Write a practice sheet, or say what was mastered.

    Example: lickwright practice --style slow-shuffle --key E --train slide --count 5 --minutes 15 --out tuesday
    """


@practice.command()
@click.option("--style", required=True, help="The style of the licks; see rules list.")
@click.option(
    "--train",
    "goals",
    required=True,
    multiple=True,
    help="What to train, several with commas: all of them in each lick. See: practice goals.",
)
@click.option("--key", default="A", show_default=True, help="The key, or the first one of a cycle.")
@click.option("--keys", help="Several keys with commas, in the order of the sheet, in place of --key.")
@click.option("--cycle", is_flag=True, help="Each lick a fourth higher than the one before, from --key on.")
@level_option()
@click.option("--count", default=5, show_default=True, type=click.IntRange(1, 40), help="How many licks.")
@click.option(
    "--minutes",
    type=click.IntRange(1, 240),
    help="How long it all takes, rests included; by the count unless given.",
)
@click.option("--times", type=click.IntRange(1, 8), help="How often the thing is in each lick at least.")
@click.option(
    "--over",
    default="I",
    show_default=True,
    help="The chords the licks go over: I, or I,IV for both in turn.",
)
@click.option("--tempo", type=click.IntRange(1), help="Beats a minute, within the style's range.")
@click.option(
    "--seed", default=1, show_default=True, type=click.IntRange(0), help="Another seed, other licks."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to make. Without it only the tab is shown."
)
@click.option(
    "--record",
    type=click.Path(path_type=Path, dir_okay=False),
    help=f"The record of what was given; {RECORD} beside the folder unless given.",
)
@click.option("--date", "day", type=_DAY, help="The day it is for, as 2026-11-24; today unless given.")
@instrument_options
@format_option("tab,html")
@click.option("--replace", is_flag=True, help="Replace the folder if it exists.")
@click.option("--fingers", is_flag=True, help="Show the fingers under the tab.")
@sound_options
def sheet(**given: Any) -> None:
    """Write fresh licks that train what is named, from easy to hard, and keep a record of them.

    What was given of late (record_days) is not given again; what was marked with practice got comes back harder.

    Example: lickwright practice sheet --style slow-shuffle --key E --train slide,degree:b3 --out wednesday
    """
    from lickwright.practice.record import Record, keeping, read_record
    from lickwright.practice.write import practice as made_for
    from lickwright.render.tab.text import tab

    formats = formats_of(given["formats"])
    sound: SoundOptions = given["sound"]
    out: Path | None = given["out"]
    path: Path | None = given["record"] or (out.resolve().parent / RECORD if out else None)
    day = _day(given["day"])
    request = _request(given)
    if out is not None and path is not None:
        with keeping(path) as record:
            made = _write(request, record, day, path, out, given["replace"], formats, sound)
    else:
        made = made_for(request, read_record(path) if path else Record(), day)
    for study in made.studies:
        echo(tab(study, fingers=given["fingers"]))
    if out is not None:
        numbers = [g.number for g in made.given]
        click.echo(f"recorded in {path}; when one goes well: lickwright practice got {path} {numbers[0]}")


def _request(given: dict[str, Any]) -> Request:
    from lickwright.practice.write import Request, keys_in_fourths

    def words(text: str) -> tuple[str, ...]:
        return tuple(word.strip() for word in text.split(",") if word.strip())

    keys = words(given["keys"]) if given["keys"] else (given["key"],)
    if given["cycle"]:
        if given["keys"]:
            raise Unusable(["--cycle goes on from --key by itself: leave out --keys"])
        try:
            keys = keys_in_fourths(given["key"], min(given["count"], 12))
        except ValueError as error:
            raise Unusable([f"--key: {error}"]) from None
    return Request(
        given["style"],
        tuple(goal for text in given["goals"] for goal in words(text)),
        keys or ("A",),
        given["level"],
        given["count"],
        given["minutes"],
        given["seed"],
        given["tempo"],
        given["times"],
        words(given["over"]) or ("I",),
        given["instrument"],
    )


def _day(given: datetime | None) -> date:
    return given.date() if given else date.today()


def _write(
    request: Request,
    record: Record,
    day: date,
    path: Path,
    out: Path,
    replace: bool,
    formats: tuple[str, ...],
    sound: SoundOptions,
) -> Practice:
    """Makes the folder, one inside it for each key when there are several, and adds to the record: both or neither."""
    from lickwright.practice.record import Record, intend, settle
    from lickwright.practice.write import practice as made_for
    from lickwright.render.outputs import STUDY, new_folder, write_formats

    try:
        with new_folder(out, replace) as folder:
            made = made_for(request, record, day)
            inside = [f"{n}-{s.key}" if len(made.studies) > 1 else "" for n, s in enumerate(made.studies, 1)]
            for study, name in zip(made.studies, inside, strict=True):
                (folder / name).mkdir(exist_ok=True)
                write_formats(study, folder / name, ("json", *formats), sound, progress())
            shown = Path(inside[0], STUDY)
            intend(path, Record((*record.given, *made.given)), out / shown, (folder / shown).read_bytes())
    finally:
        settle(path)
    return made


@practice.command()
@click.argument("record", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("numbers", nargs=-1, required=True, type=click.IntRange(1))
@click.option("--date", "day", type=_DAY, help="The day, as 2026-11-24; today unless given.")
def got(record: Path, numbers: tuple[int, ...], day: datetime | None) -> None:
    """Mark exercises by their NUMBERS as mastered: the next sheet for the same goals is harder.

    Example: lickwright practice got practice.json 3
    """
    from lickwright.practice.record import keeping, write_record

    with keeping(record) as marked:
        for number in numbers:
            marked = marked.with_got(number, _day(day))
        write_record(record, marked)
    click.echo(f"mastered: {', '.join(map(str, numbers))}")


@practice.command()
def goals() -> None:
    """List what can be trained, and what counts as training it.

    Example: lickwright practice goals
    """
    from textwrap import fill

    from lickwright.practice.goals import KINDS, STRONG

    for name, kind in KINDS.items():
        written = f"{name}:{kind.values}" if kind.values else name
        echo(fill(f"{written:<18}{kind.sentence}", 80, subsequent_indent=" " * 18))
    echo(fill(STRONG, 80))
