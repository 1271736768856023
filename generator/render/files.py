"""Writing a file whole or not at all; it knows nothing of what is in it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Puts ``data`` at ``path`` so that a reader finds the old file or the new one, never a part.

    The bytes go to a temporary file in the same folder, are flushed to the disk and take the name in one
    step; a new file gets the rights that the process's umask gives, an old one's rights are kept.
    Raises OSError (no such folder, not writable, disk full) and then leaves nothing behind.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(_rights(path))
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _rights(path: Path) -> int:
    try:
        return path.stat().st_mode & 0o777
    except FileNotFoundError:
        umask = os.umask(0)
        os.umask(umask)
        return 0o666 & ~umask
