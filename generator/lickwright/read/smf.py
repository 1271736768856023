"""Standard MIDI Files as messages: chunks, delta times, running status. It knows nothing of music.

The bytes are read here and not by mido, which writes ours: a file from elsewhere may be cut off, lie about its lengths or
hold millions of messages, and must be refused within known time and memory, with the place where it is wrong. mido reads
a whole file before it can be asked how much there is, and stops at a key signature that it does not know.

Source: Standard MIDI Files 1.0, MIDI Association (chunks, variable-length numbers, meta events).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from lickwright.read.limits import MAX_SOUNDS, UnreadableError

META, SYSEX, SYSEX_GOES_ON = 0xFF, 0xF0, 0xF7
_LENGTHS = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
MAX_TRACKS = 256
MAX_MESSAGES = 20 * MAX_SOUNDS


class Message(NamedTuple):
    """A message at a tick of the file; ``kind`` is the meta event's number, -1 for a channel message."""

    tick: int
    status: int
    kind: int
    data: bytes


def is_midi(data: bytes) -> bool:
    """Whether a file begins as a Standard MIDI File does."""
    return data[:4] == b"MThd"


def tracks_of(data: bytes) -> tuple[int, list[list[Message]]]:
    """(ticks to the quarter, the tracks' messages in order); raises UnreadableError saying where."""
    if len(data) < 14 or int.from_bytes(data[4:8], "big") < 6:
        raise UnreadableError("not MIDI: its head is cut off")
    kind, count, division = (int.from_bytes(data[n : n + 2], "big") for n in (8, 10, 12))
    if kind > 1:
        raise UnreadableError(f"MIDI of type {kind}: type 0 and 1 are read")
    if division & 0x8000 or not division:
        raise UnreadableError("MIDI timed in film frames; a file timed in ticks to the quarter is read")
    if count > MAX_TRACKS:
        raise UnreadableError(f"not read: {count} tracks; a file has at most {MAX_TRACKS}")
    at = 8 + int.from_bytes(data[4:8], "big")
    tracks: list[list[Message]] = []
    messages = 0
    while at + 8 <= len(data) and len(tracks) < count:
        length = int.from_bytes(data[at + 4 : at + 8], "big")
        if data[at : at + 4] == b"MTrk":
            body = data[at + 8 : at + 8 + length]
            if len(body) < length:
                raise UnreadableError(f"MIDI track {len(tracks) + 1} is cut off")
            tracks.append(list(_messages(body, len(tracks) + 1)))
            messages += len(tracks[-1])
            if messages > MAX_MESSAGES:
                raise UnreadableError(f"not read: more than {MAX_MESSAGES} messages")
        at += 8 + length
    if not tracks:
        raise UnreadableError("not MIDI: there is no track in it")
    return division, tracks


def _messages(body: bytes, track: int) -> Iterator[Message]:
    at = tick = status = 0
    try:
        while at < len(body):
            delta, at = _number(body, at)
            tick += delta
            if tick > 1 << 31:
                raise UnreadableError(f"MIDI track {track} is endless")
            if body[at] & 0x80:
                status = body[at]
                at += 1
            if status in (META, SYSEX, SYSEX_GOES_ON):
                kind = body[at] if status == META else -1
                length, at = _number(body, at + (status == META))
                if at + length > len(body):
                    raise IndexError
                if status == META:
                    yield Message(tick, META, kind, body[at : at + length])
                at += length
                status = 0
                continue
            length = _LENGTHS.get(status >> 4, 0)
            if not length:
                raise UnreadableError(f"MIDI track {track}: no message at byte {at}")
            if at + length > len(body):
                raise IndexError
            yield Message(tick, status, -1, body[at : at + length])
            at += length
    except IndexError:
        raise UnreadableError(f"MIDI track {track} is cut off inside a message") from None


def _number(body: bytes, at: int) -> tuple[int, int]:
    """A variable-length number and the place after it."""
    value = 0
    for _ in range(4):
        byte = body[at]
        at += 1
        value = value << 7 | byte & 0x7F
        if not byte & 0x80:
            return value, at
    raise UnreadableError("not MIDI: a number longer than four bytes")
