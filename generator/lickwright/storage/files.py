"""Writing files and folders whole or not at all, one writer at a time; it knows nothing of what is in them.

A reader finds the old or the new, never a part, also after a kill or a power cut: bytes go to a temporary name
beside, are flushed to the disk and take their name in one step, and the folder that holds the name is flushed too.
What is still being written is locked by its writer (``flock``, which ends with the process), so that what a killed
one has left can be told apart and removed. Where a system or a file system knows no such locks nothing is removed.
"""

from __future__ import annotations

import ctypes
import errno
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # no such locks on Windows
    fcntl = None  # type: ignore[assignment]

PART = ".part"


def write_whole(path: Path, data: bytes) -> None:
    """Puts ``data`` at ``path`` so that a reader finds the old file or the new one, never a part.

    A new file gets the rights that the process's umask gives, an old one's rights are kept. What a killed writer of
    the same file has left is removed. Raises OSError (no such folder, not writable, disk full) and then leaves
    nothing behind.
    """
    remove_abandoned(path.parent, re.escape(path.name))
    handle, temporary = _made(path)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            temporary.chmod(_rights(path))
            temporary.replace(path)
        sync_folder(path.parent)
    except BaseException as error:
        temporary.unlink(missing_ok=True)
        if isinstance(error, OSError):
            error.filename = str(path)  # a full disk is told without a name, or with the temporary one
        raise


def _made(path: Path) -> tuple[int, Path]:
    """A temporary file beside ``path``, open and locked."""
    while True:
        try:
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=PART, dir=path.parent)
        except OSError as error:
            error.filename = str(path)
            raise
        if _lock(handle) and not os.fstat(handle).st_nlink:
            os.close(handle)  # taken for an abandoned one before it was locked
            continue
        return handle, Path(name)


@contextmanager
def partial_folder(folder: Path) -> Iterator[Path]:
    """A folder beside ``folder`` to be filled and renamed: locked for as long as it is used, gone after an error.

    An OSError on the way names the file as it would have been called. Raises OSError when it cannot be made.
    """
    while True:
        partial = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", suffix=PART, dir=folder.parent))
        with _held(partial):
            if not partial.exists():
                continue  # taken for an abandoned one before it was locked
            try:
                yield partial
            except BaseException as error:
                shutil.rmtree(partial, ignore_errors=True)
                if isinstance(error, OSError) and error.filename:
                    error.filename = str(error.filename).replace(str(partial), str(folder))
                raise
            return


def remove_abandoned(parent: Path, name: str) -> tuple[str, ...]:
    """Removes what killed writers have left in a folder, files and folders, and gives their names.

    ``name`` is a regular expression for the names that these would have taken.
    """
    unfinished = re.compile(rf"\.{name}\.[^.]*{re.escape(PART)}")
    found = sorted(n for n in os.listdir(parent) if n.endswith(PART) and unfinished.fullmatch(n))
    return tuple(n for n in found if _removed(parent / n))


def _removed(path: Path) -> bool:
    try:
        kind = path.lstat().st_mode
        if not (stat.S_ISREG(kind) or stat.S_ISDIR(kind)):
            return False
        handle = os.open(path, os.O_RDONLY)
    except OSError:
        return False
    try:
        if not _lock(handle, wait=False):
            return False
        if stat.S_ISDIR(kind):
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
        return not path.exists()
    except OSError:
        return False
    finally:
        os.close(handle)


def exchange(one: Path, other: Path) -> bool:
    """Lets two names change places in one step; False where the system cannot (then nothing has changed).

    Linux's ``renameat2`` with RENAME_EXCHANGE. Raises OSError for a name that is not there or not to be changed.
    """
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    here, flag = -100, 2
    if rename(here, os.fsencode(one), here, os.fsencode(other), ctypes.c_uint(flag)) == 0:
        return True
    number = ctypes.get_errno()
    if number in (errno.EINVAL, errno.ENOSYS, errno.EOPNOTSUPP):
        return False
    raise OSError(number, os.strerror(number), str(one), None, str(other))


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
def turn(folder: Path, waiting: Callable[[], None] | None = None) -> Iterator[None]:
    """Waits until no other process has its turn at a folder, and keeps it until the end or the process's death.

    ``waiting`` is told once when another has it. Where the system or the folder's file system knows no such locks
    two may be at it at once, so what they do must be right without it too.
    """
    with _held(folder, waiting):
        yield


@contextmanager
def _held(folder: Path, waiting: Callable[[], None] | None = None) -> Iterator[None]:
    """A folder that is locked, where it can be."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except PermissionError:
        yield
        return
    _HELD.add(handle)
    try:
        if _lock(handle, wait=False) is False:
            if waiting is not None:
                waiting()
            _lock(handle)
        yield
    finally:
        _HELD.discard(handle)
        os.close(handle)


def _lock(handle: int, wait: bool = True) -> bool | None:
    """Locks an open file or folder: False when another has it, None where there are no locks."""
    if fcntl is None:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True


#: What this process holds locked for a while. A forked child lets go, or it would keep the locks of a dead parent.
_HELD: set[int] = set()


def _let_go() -> None:
    while _HELD:
        os.close(_HELD.pop())


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_let_go)
