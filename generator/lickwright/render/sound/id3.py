"""An ID3v2.4 tag for an MP3: the title, number, key and tempo in their own frames, any script in UTF-8.

The encoder's own tags are left unused: it declares UTF-8 text as Latin 1.
Reference: ID3 tag version 2.4.0, main structure and native frames (from memory): sizes in seven bits a byte,
text frames TIT2, TRCK, TKEY, TBPM, comment frame COMM, text encoding 3 for UTF-8.
"""

from __future__ import annotations

_UTF8 = b"\x03"


def id3_tag(title: str, number: int | None, key: str, tempo_bpm: float | None, comment: str) -> bytes:
    """The tag's bytes, to stand before the first frame of the MP3; what is empty or None is left out."""
    frames = b""
    texts = {
        b"TIT2": title,
        b"TRCK": "" if number is None else str(number),
        b"TKEY": key,
        b"TBPM": "" if tempo_bpm is None else str(round(tempo_bpm)),
    }
    for name, text in texts.items():
        if text:
            frames += _frame(name, _UTF8 + text.encode())
    if comment:
        frames += _frame(b"COMM", _UTF8 + b"eng" + b"\x00" + comment.encode())
    return b"ID3\x04\x00\x00" + _seven_bits(len(frames)) + frames


def _frame(name: bytes, body: bytes) -> bytes:
    return name + _seven_bits(len(body)) + b"\x00\x00" + body


def _seven_bits(size: int) -> bytes:
    """A length in four bytes of seven bits each.

    >>> _seven_bits(257)
    b'\\x00\\x00\\x02\\x01'
    """
    return bytes((size >> shift) & 0x7F for shift in (21, 14, 7, 0))
