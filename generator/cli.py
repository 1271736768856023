"""The command line: each command reads its words, makes one call, prints. No musical decision is made here.

Exit status: 0 done, 1 the answer is no (rules that cannot be met, a check that found something), 2 the call or
a file is unusable.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from generator import __version__

if TYPE_CHECKING:
    from generator.render.outputs import SoundOptions
    from generator.study import Study

F = TypeVar("F", bound=Callable[..., Any])


class Unusable(click.ClickException):
    """A call or file that cannot be used: one line a problem, status 2."""

    exit_code = 2

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems

    def show(self, file: Any = None) -> None:
        """Prints each problem on a line of its own."""
        for problem in self.problems:
            click.echo(f"lickwright: {_plain(problem)}", err=True)


class Refused(Unusable):
    """The answer is no, status 1."""

    exit_code = 1


def _plain(text: str) -> str:
    """Text without control characters, so that no file can send codes to the terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


class Group(click.Group):
    """Turns the errors that our own code raises into messages; anything else shows one line without --verbose."""

    def invoke(self, ctx: click.Context) -> Any:
        """Runs a command; see the class."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            sys.exit(0)
        except Exception as error:
            if ctx.params.get("verbose"):
                raise
            raise _said(error) from None


def _said(error: Exception) -> click.ClickException:
    from generator.compose import BriefError, CannotBeMet
    from generator.render.outputs import OutputError
    from generator.rulebook.load import RuleFileError
    from generator.study import StudyFileError

    if isinstance(error, CannotBeMet):
        return Refused([str(error)])
    if isinstance(error, (RuleFileError, BriefError, StudyFileError)):
        return Unusable(error.problems)
    if isinstance(error, OutputError):
        return Unusable([str(error)])
    if isinstance(error, OSError):
        return Unusable([f"{error.filename or 'a file'}: {error.strerror or error}"])
    return Unusable([f"internal error: {type(error).__name__}: {error} (run with --verbose for details)"])


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lickwright")
@click.option("--verbose", is_flag=True, help="Show the whole traceback of an error.")
def main(verbose: bool) -> None:
    """Writes short blues-guitar studies - licks answered by comping - from rule files.

    Example: lickwright write slow-shuffle --key A --seed 7 --out first
    """


def sound_options(command: F) -> F:
    """The options of everything that makes sound."""
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
    for option in reversed(options):
        command = option(command)
    return command


def _sound(speeds: str, band: bool, driven: bool, click_track: bool, exact: bool) -> SoundOptions:
    from generator.render.outputs import SoundOptions

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


def _formats(text: str) -> tuple[str, ...]:
    from generator.render.outputs import checked_formats

    return checked_formats([name.strip() for name in text.split(",") if name.strip()])


def _progress() -> Callable[[int, int, str], None] | None:
    if not sys.stderr.isatty():
        return None

    def show(done: int, of_all: int, name: str) -> None:
        click.echo(f"\r{done}/{of_all} {name:<24}\r", nl=False, err=True)

    return show


def _read_study(path: Path) -> Study:
    from generator.study import StudyFileError, from_json

    try:
        return from_json(path.read_bytes())
    except StudyFileError as error:
        raise Unusable([f"{path}: {problem}" for problem in error.problems]) from None


@main.command()
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
@click.option("--hand", help="Another hand: small, or a rule file.")
@click.option(
    "--strings", help="Other strings: extra-light, light, regular, heavy, wound-third, or a rule file."
)
@click.option("--neck", help="Another neck: short-scale, seven-strings, bass, or a rule file.")
@click.option("--tuning", help="A tuning by name (drop D, open G ...) or as notes from the lowest string up.")
@click.option("--capo", type=click.IntRange(0, 9), help="The fret of the capo; frets are counted from it.")
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

    wanted, sound = _formats(formats), _sound(speeds, band, driven, click, exact)
    given = {"neck": neck, "strings": strings, "hand": hand, "tuning": tuning, "capo": capo}
    options = tuple((kind, str(value)) for kind, value in given.items() if value is not None)
    brief = Brief(style, key, seed, tempo, level, title, number, options)
    if out is None:
        _echo(tab(compose.write(brief), fingers=fingers))
        return
    with new_folder(out, replace) as folder:
        study = compose.write(brief)
        write_formats(study, folder, ("json", *wanted), sound, _progress())
    _echo(tab(study, fingers=fingers))


def _echo(text: str) -> None:
    click.echo(text, nl=not text.endswith("\n"))


def _show_effort(study: Study, rules: str | None) -> None:
    from generator import compose
    from generator.judge.effort import EFFORT_COLUMNS, cells, report
    from generator.rulebook.effort import measurable

    if not measurable(study):
        raise Refused(["its effort cannot be measured: it has notes or hand places off its neck"])
    found = report(study, compose.lead_of(study, rules))
    _echo_table(EFFORT_COLUMNS, [cells(row) for row in (*found.rows, found.whole)])
    hardest = found.whole.hardest
    if hardest is not None:
        click.echo(f"hardest moment: {_plain(str(hardest))} ({hardest.share:.0%})")


def _echo_table(columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """Prints a table whose last row sums up; the cells are text, never markup."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, padding=(0, 0, 0, 1))
    for number, name in enumerate(columns):
        table.add_column(name, justify="left" if number == 0 else "right", no_wrap=True)
    for number, row in enumerate(rows):
        table.add_row(*(Text(_plain(cell)) for cell in row), end_section=number == len(rows) - 2)
    Console(file=sys.stdout, soft_wrap=False, width=None if sys.stdout.isatty() else 80).print(table)


@main.command()
@click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--rules", help="Check by another style's rules than the study's own.")
@click.option(
    "--effort", is_flag=True, help="Say what it asks of the hands, slot by slot, and its hardest moment."
)
def check(study: Path, rules: str | None, effort: bool) -> None:
    """Say whether a study keeps its rules, and where it does not.

    Example: lickwright check first/study.json
    """
    from generator import compose

    read = _read_study(study)
    if effort:
        _show_effort(read, rules)
    found = compose.checked(read, rules)
    for violation in found:
        click.echo(_plain(str(violation)))
    if found:
        click.echo(f"{len(found)} broken rule{'s' if len(found) > 1 else ''}", err=True)
        sys.exit(1)
    click.echo("keeps every rule")


@main.command()
@click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--format",
    "formats",
    default="tab",
    show_default=True,
    help="Some of json, musicxml, midi, tab, html, pdf, mp3, flac, wav, with commas.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The folder to write into; the study's own unless given."
)
@sound_options
def render(
    study: Path,
    formats: str,
    out: Path | None,
    speeds: str,
    band: bool,
    driven: bool,
    click: bool,
    exact: bool,
) -> None:
    """Make other formats from a study file.

    Example: lickwright render first/study.json --format musicxml,midi,tab
    """
    from generator.render.outputs import write_formats

    wanted, sound = _formats(formats), _sound(speeds, band, driven, click, exact)
    if not wanted:
        raise Unusable(["--format: name at least one format"])
    read, folder = _read_study(study), out or study.parent
    folder.mkdir(parents=True, exist_ok=True)
    write_formats(read, folder, wanted, sound, _progress())


@main.group()
def rules() -> None:
    """Look at rule files and check them.

    Example: lickwright rules list
    """


@rules.command("list")
def rules_list() -> None:
    """List the shipped styles, levels and parts.

    Example: lickwright rules list
    """
    from generator.rulebook.load import shipped_titles

    for heading, rows in shipped_titles().items():
        click.echo(heading)
        for name, about in rows:
            click.echo(f"  {name:<18} {about}")


@rules.command("show")
@click.argument("name")
@click.option("--level", help="With this level's rules.")
def rules_show(name: str, level: str | None) -> None:
    """Say every rule of a style as a sentence, with the file and key that set it.

    Example: lickwright rules show slow-shuffle
    """
    from generator import compose

    for rule in compose.sentences(name, level):
        click.echo(_plain(f"{rule.name}\n    {rule.sentence}\n    [{rule.source}]"))


@rules.command("check")
@click.argument("file")
def rules_check(file: str) -> None:
    """Check a rule file: every mistake with its place and what would be right.

    Example: lickwright rules check slow-shuffle
    """
    from generator.rulebook.load import check_file

    problems = check_file(file)
    if problems:
        raise Unusable(problems)
    click.echo("no mistakes")


if __name__ == "__main__":
    main()
