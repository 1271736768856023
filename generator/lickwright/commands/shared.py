"""What the commands share: errors as messages, options of sound, formats, reading a study, tables."""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

if TYPE_CHECKING:
    from lickwright.render.outputs import SoundOptions
    from lickwright.study.model import Study

F = TypeVar("F", bound=Callable[..., Any])

# What the help says there is: written down, as reading it off the tables would make the help slow. A test holds each
# list to its table.
LEVELS = ("first-year", "growing", "fluent")
HANDS = ("small", "three-fingers")
STRINGS = ("extra-light", "light", "regular", "heavy", "wound-third")
NECKS = ("short-scale", "seven-strings", "bass")
FORMATS = ("json", "musicxml", "midi", "tab", "html", "pdf", "mp3", "flac", "wav")
#: What is written beside study.json by commands that were not told.
USUAL_FORMATS = "musicxml,midi,tab,html,mp3"


class Unusable(click.ClickException):
    """A call or file that cannot be used: one line a problem, status 2."""

    exit_code = 2

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems

    def show(self, file: Any = None) -> None:
        """Prints each problem on a line of its own."""
        for problem in self.problems:
            click.echo(f"lickwright: {plain(problem)}", err=True)


class Refused(Unusable):
    """The answer is no, status 1."""

    exit_code = 1


def plain(text: str) -> str:
    """Text without control characters, so that no file can send codes to the terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def instrument_options(command: F) -> F:
    """The options that name another player or instrument; the command gets them as a brief's, ``instrument``."""

    @wraps(command)
    def called(**given: Any) -> Any:
        kinds = ((kind, given.pop(kind)) for kind in ("neck", "strings", "hand", "tuning", "capo"))
        instrument = tuple((kind, str(value)) for kind, value in kinds if value is not None)
        return command(instrument=instrument, **given)

    options = [
        click.option("--hand", help=f"Another hand: {', '.join(HANDS)}, or a rule file."),
        click.option("--strings", help=f"Other strings: {', '.join(STRINGS)}, or a rule file."),
        click.option("--neck", help=f"Another neck: {', '.join(NECKS)}, or a rule file."),
        click.option(
            "--tuning", help="A tuning by name (drop D, open G ...) or as notes from the lowest string up."
        ),
        click.option(
            "--capo", type=click.IntRange(0, 9), help="The fret of the capo; frets are counted from it."
        ),
    ]
    made: Any = called
    for option in reversed(options):
        made = option(made)
    return cast(F, made)


def level_option(unless: str = "the style's own") -> Callable[[F], F]:
    """The option that names a level, and says what it is unless given."""
    return click.option("--level", help=f"{', '.join(LEVELS[:-1])} or {LEVELS[-1]}; {unless} unless given.")


def format_option(usual: str = USUAL_FORMATS) -> Callable[[F], F]:
    """The option that names the formats to write; the command gets them as ``formats``, a text with commas."""
    words = f"What to write besides study.json: some of {', '.join(FORMATS[1:])}, with commas."
    return click.option("--format", "formats", default=usual, show_default=True, help=words)


def sound_options(command: F) -> F:
    """The options of everything that makes sound; the command gets them as ``sound``."""

    @wraps(command)
    def called(**given: Any) -> Any:
        speeds, flags = (
            given.pop("speeds"),
            [given.pop(name) for name in ("band", "driven", "click", "exact")],
        )
        return command(sound=_sound(speeds, *flags), **given)

    options = [
        click.option(
            "--speed",
            "speeds",
            default="0.5,0.75",
            show_default=True,
            help="Slow versions besides the tempo itself, 0.25 to 2, with commas; none for no slow ones.",
        ),
        click.option("--band", is_flag=True, help="Sound with bass and drums too, and the band alone."),
        click.option("--driven", is_flag=True, help="A driven tone instead of a clean one."),
        click.option("--click", is_flag=True, help="A click in place of the drums."),
        click.option("--exact", is_flag=True, help="No small differences of timing, as from a machine."),
    ]
    made: Any = called
    for option in reversed(options):
        made = option(made)
    return cast(F, made)


def _sound(speeds: str, band: bool, driven: bool, click_track: bool, exact: bool) -> SoundOptions:
    """The options of sound as one value; raises Unusable for a speed that cannot be."""
    from lickwright.render.outputs import SoundOptions

    try:
        slow = tuple(float(word) for word in speeds.split(",") if word.strip() and word.strip() != "none")
    except ValueError:
        raise Unusable(
            [f"--speed {speeds}: write numbers from 0.25 to 2 with commas, as in 0.5,0.75"]
        ) from None
    outside = [s for s in slow if not 0.25 <= s <= 2]
    if outside:
        raise Unusable([f"--speed {outside[0]:g}: a speed lies between 0.25 and 2"])
    return SoundOptions(slow, band, driven, click_track, not exact)


def formats_of(text: str) -> tuple[str, ...]:
    """The formats named in a text with commas; raises OutputError for one that is not known."""
    from lickwright.render.outputs import checked_formats

    return checked_formats([name.strip() for name in text.split(",") if name.strip()])


def written(
    out: Path | None, replace: bool, formats: tuple[str, ...], sound: SoundOptions, make: Callable[[], Study]
) -> Study:
    """The study that ``make`` gives, with its files in the folder ``out`` if there is to be one."""
    from lickwright.render.outputs import new_folder, write_formats

    if out is None:
        return make()
    with new_folder(out, replace) as folder:
        study = make()
        write_formats(study, folder, ("json", *formats), sound, progress())
    return study


def progress() -> Callable[[int, int, str], None] | None:
    """What shows how far the work is, on a terminal only."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, of_all: int, name: str) -> None:
        click.echo(f"\r{done}/{of_all} {name:<24}\r", nl=False, err=True)

    return show


def read_chorus(path: Path) -> Study:
    """A study to make another one from; raises Unusable as ``read_study`` does, and for a practice sheet."""
    study = read_study(path)
    if study.drills:
        raise Unusable(
            [f"{path}: is a practice sheet; give a study (lickwright practice writes fresh exercises)"]
        )
    return study


def read_study(
    path: Path, style: str | None = None, key: str | None = None, form: str | None = None
) -> Study:
    """The study in a file, or a score or MIDI file as one; raises Unusable with a line for each problem.

    What was moved or taken for granted in a score is said on the terminal's other channel; the rest is for it alone.
    """
    from lickwright.study.json_text import from_json
    from lickwright.study.model import StudyFileError, at_home

    if path.suffix.lower() != ".json":
        from lickwright.read.files import Asked, read_file, reads

        if reads(path):
            reading = read_file(path, Asked(style, key, form))
            for remark in reading.remarks:
                click.echo(plain(f"{path.name}: {remark}"), err=True)
            return at_home(reading.study, path.parent)
    if key is not None or form is not None:
        raise Unusable([f"{path}: --key and --form are for scores and MIDI files; a study has its own"])
    try:
        return at_home(from_json(path.read_bytes()), path.parent)
    except StudyFileError as error:
        raise Unusable([f"{path}: {problem}" for problem in error.problems]) from None


def echo(text: str) -> None:
    """Prints text with one newline at its end."""
    click.echo(text, nl=not text.endswith("\n"))


def echo_table(
    columns: tuple[str, ...], rows: list[tuple[str, ...]], *, sums: bool = True, words: Collection[str] = ()
) -> None:
    """Prints a table; the cells are text, never markup.

    With ``sums`` its last row sums up. The columns named in ``words`` hold words, which may go on below.
    """
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 0, 0, 1))
    for number, name in enumerate(columns):
        left = number == 0 or name in words
        table.add_column(Text(plain(name)), justify="left" if left else "right", no_wrap=name not in words)
    for number, row in enumerate(rows):
        table.add_row(*(Text(plain(cell)) for cell in row), end_section=sums and number == len(rows) - 2)
    Console(file=sys.stdout, soft_wrap=False, width=None if sys.stdout.isatty() else 80).print(table)
