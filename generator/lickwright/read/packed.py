"""Packed scores (.mxl): a zip file whose META-INF/container.xml names the score in it.

Nothing is written to disk. Source: W3C MusicXML 4.0, "Compressed .mxl files".
"""

from __future__ import annotations

import io
import zipfile
import zlib

from lickwright.read.limits import MAX_BYTES, MAX_MEMBERS, UnreadableError
from lickwright.read.safe_xml import parse

CONTAINER = "META-INF/container.xml"


def unpacked(data: bytes) -> bytes:
    """The score in a packed file; raises UnreadableError."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return _score(packed)
    except UnreadableError:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError, ValueError) as error:
        raise UnreadableError(f"not a packed score: {error}") from None


def _score(packed: zipfile.ZipFile) -> bytes:
    names = packed.namelist()
    if len(names) > MAX_MEMBERS:
        raise UnreadableError(f"not read: {len(names)} files packed in it; a score has at most {MAX_MEMBERS}")
    for name in names:
        if name.startswith(("/", "\\")) or ".." in name.replace("\\", "/").split("/") or ":" in name:
            raise UnreadableError(f"not read: a file in it is named {name[:60]!r}, outside its folder")
    if CONTAINER not in names:
        raise UnreadableError(f"not a packed score: {CONTAINER} is missing in it")
    root = next(parse(_member(packed, CONTAINER)).iter("rootfile"), None)
    path = root.get("full-path", "") if root is not None else ""
    if path not in names:
        raise UnreadableError(f"not a packed score: it names {path[:60]!r} as its score, which is not in it")
    return _member(packed, path)


def _member(packed: zipfile.ZipFile, name: str) -> bytes:
    with packed.open(name) as member:
        data = member.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise UnreadableError(f"not read: {name[:60]!r} in it unpacks to more than {MAX_BYTES} bytes")
    return data
