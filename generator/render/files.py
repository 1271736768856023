"""Writing files and folders whole or not at all, one writer at a time; it knows nothing of what is in them.

A reader finds the old or the new, never a part, also after a kill or a power cut: bytes go to a temporary name
beside, are flushed to the disk and take their name in one step, and the folder that holds the name is flushed too.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

PART = ".part"


def write_whole(path: Path, data: bytes) -> None:
    """Puts ``data`` at ``path`` so that a reader finds the old file or the new one, never a part.

    A new file gets the rights that the process's umask gives, an old one's rights are kept. Raises OSError (no
    such folder, not writable, disk full) and then leaves nothing behind.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=PART, dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(_rights(path))
        temporary.replace(path)
        sync_folder(path.parent)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def _rights(path: Path) -> int:
    try:
        return path.stat().st_mode & 0o777
    except FileNotFoundError:
        return 0o666 & ~_umask()


def folder_rights() -> int:
    """The rights that the process's umask gives a new folder."""
    return 0o777 & ~_umask()


def _umask() -> int:
    umask = os.umask(0)
    os.umask(umask)
    return umask


def sync_folder(folder: Path) -> None:
    """Flushes the names in a folder to the disk, where the system can (Windows opens no folders)."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_tree(folder: Path) -> None:
    """Flushes the names in a folder and in those inside it."""
    for inner, _, _ in os.walk(folder):
        sync_folder(Path(inner))


@contextmanager
def turn(folder: Path, waiting: Callable[[], None] | None = None) -> Iterator[bool]:
    """Waits until no other process has its turn at a folder, and keeps it until the end or the process's death.

    ``waiting`` is told once when another has it. Gives False at once where the system or the folder's file system
    knows no such locks: two may then be at it, so what they do must be right without it too.
    """
    try:
        import fcntl
    except ImportError:
        yield False
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            held = True
        except BlockingIOError:
            if waiting is not None:
                waiting()
            fcntl.flock(handle, fcntl.LOCK_EX)
            held = True
        except OSError:
            held = False
        yield held
    finally:
        os.close(handle)
