"""The command line: the group of all commands, and what its errors look like.

Exit status: 0 done, 1 the answer is no (rules that cannot be met, a check that found something), 2 the call or
a file is unusable.
"""

from __future__ import annotations

import sys
from typing import Any

import click

from lickwright import __version__
from lickwright.commands.candidates import candidates
from lickwright.commands.check import check
from lickwright.commands.compare import compare
from lickwright.commands.learn import learn
from lickwright.commands.practice import practice
from lickwright.commands.redo import redo
from lickwright.commands.render import render
from lickwright.commands.rules import rules
from lickwright.commands.series import series
from lickwright.commands.shared import Refused, Unusable
from lickwright.commands.vary import vary
from lickwright.commands.write import write


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
    from lickwright.problems import AnswerIsNoError, ProblemsError
    from lickwright.render.outputs import OutputError
    from lickwright.render.tab.layout import TooNarrowError

    if isinstance(error, AnswerIsNoError):
        return Refused(error.problems)
    if isinstance(error, ProblemsError):
        return Unusable(error.problems)
    if isinstance(error, (OutputError, TooNarrowError)):
        return Unusable([str(error)])
    if isinstance(error, OSError):
        return Unusable([f"{error.filename or 'a file'}: {error.strerror or error}"])
    return Unusable([f"internal error: {type(error).__name__}: {error} (run with --verbose for details)"])


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lickwright")
@click.option("--verbose", is_flag=True, help="Show the whole traceback of an error.")
@click.option(
    "--time-limit", type=click.FloatRange(0.1), help="Seconds after which a search ends without an answer."
)
@click.pass_context
def main(ctx: click.Context, verbose: bool, time_limit: float | None) -> None:
    """Writes short blues-guitar studies - licks answered by comping - from rule files.

    Example: lickwright write slow-shuffle --key A --seed 7 --out first
    """
    if time_limit is not None:
        from lickwright.solver.bounds import time_limit as limited

        ctx.with_resource(limited(time_limit))


for command in (write, vary, redo, candidates, compare, practice, learn, check, render, rules, series):
    main.add_command(command)

if __name__ == "__main__":
    main()
