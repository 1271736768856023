"""Adds numbers to a series until the series has enough, telling each when it is written. A process for the tests.

``python -m tests.series.writer FOLDER NUMBERS drawn|composed``
"""

from __future__ import annotations

import sys
from pathlib import Path

from lickwright.render.outputs import SoundOptions
from lickwright.series import add as series

from tests.lines import drawn


def main(folder: Path, numbers: int, how: str) -> None:
    if how == "drawn":
        series.compose.write = drawn  # type: ignore[attr-defined]
    number = 0
    while number < numbers:
        number = series.add(folder, series.Wanted(), (), SoundOptions()).written.number
        print(number, flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
