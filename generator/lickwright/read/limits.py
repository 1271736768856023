"""What a file may hold at most, and the error for one that cannot be read."""

from __future__ import annotations

from lickwright.problems import ProblemsError

#: Bytes of a file, packed or not, and of the score in a packed one.
MAX_BYTES = 16 * 1024 * 1024
#: Elements of an XML file, how deep they nest, attributes of one element, files in a packed one.
MAX_ELEMENTS = 800_000
MAX_DEPTH = 48
MAX_ATTRIBUTES = 64
MAX_MEMBERS = 256
#: Bars once repeats are written out, and sounds.
MAX_BARS = 200
MAX_SOUNDS = 6_000
#: Remarks that are kept; a file that needs more is told so.
MAX_REMARKS = 40


class UnreadableError(ProblemsError):
    """A file that cannot be read as music: ``problems`` says where and what would be right, a line each."""

    def __init__(self, *problems: str):
        super().__init__(list(problems))


class Remarks(list[str]):
    """What was moved, left out or taken for granted, each sentence once."""

    def add(self, remark: str) -> None:
        """Notes a remark; after ``MAX_REMARKS`` only that there are more."""
        if remark in self or len(self) > MAX_REMARKS:
            return
        self.append(remark if len(self) < MAX_REMARKS else "and more of the kind")
