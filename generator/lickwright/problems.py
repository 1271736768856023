"""What a user can mend: the errors of files and calls, with a line for each thing that is wrong."""

from __future__ import annotations


class ProblemsError(ValueError):
    """A call or a file that cannot be used: ``problems`` says where and what would be right, a line each."""

    def __init__(self, problems: list[str]):
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "; ".join(self.problems)


class AnswerIsNoError(ValueError):
    """A call that was understood and has no answer: rules that leave nothing, time that is over."""

    @property
    def problems(self) -> list[str]:
        """The message, a line each."""
        return [str(self)]
