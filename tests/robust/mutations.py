"""Damage to valid files: bytes, JSON and TOML values, XML elements. Everything is drawn from the given ``Random``."""

from __future__ import annotations

import copy
import json
import xml.etree.ElementTree as ET
from random import Random
from typing import Any

#: What no program expects: limits of types, other types, markup, codes, paths, very much of something.
HOSTILE: tuple[Any, ...] = (
    None, True, False, 0, 1, -1, 2, 7, 13, 127, 128, 255, -128, 2**31, 2**63, -(2**63), 10**30, 0.5, -0.0, 1e308, 1e-308,
    float("nan"), float("inf"), float("-inf"), "", " ", "0", "-1", "x", "I", "IV7", "A", "b3", "1", "nan", "1e999",
    "A" * 3000, "\x00", "\x1b[2J", "\u202etxt", "\ud800", "é", "日本", "🎸", "../../etc/passwd", "/dev/zero",
    "%s%n{0}{{7*7}}",
    "<script>alert(1)</script>", "]]>", "&amp;&lt;", "\n\r\t", [], {}, [[]], [None], {"": None}, [0] * 400,
    [[[[[[[[[[[[]]]]]]]]]]]], {"a": {"b": {"c": {}}}},
)  # fmt: skip
BYTES = (
    b"\x00",
    b"\xff",
    b"\x7f",
    b"\x80",
    b"<",
    b">",
    b"&",
    b'"',
    b"{",
    b"[",
    b"\n",
    b"9",
    b"-",
    b"\xed\xa0\x80",
    b"\x1b[",
)


def hurt_bytes(data: bytes, rng: Random) -> bytes:
    """A few bits flipped, bytes put in or taken out, stretches moved, doubled or cut off."""
    hurt = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 16))):
        at, long = rng.randrange(len(hurt) + 1), rng.choice((1, 1, 2, 4, 30, 400))
        match rng.randrange(7):
            case 0 if at < len(hurt):
                hurt[at] ^= 1 << rng.randrange(8)
            case 1:
                hurt[at : at + long] = rng.randbytes(long)
            case 2:
                del hurt[at : at + long]
            case 3:
                hurt[at:at] = rng.choice(BYTES) * rng.choice((1, 1, 3, 200))
            case 4:
                hurt[at:at] = hurt[at : at + long]
            case 5:
                start = rng.randrange(len(hurt) + 1)
                hurt[at : at + long] = hurt[start : start + long]
            case 6 if rng.random() < 0.2:
                del hurt[at:]
    return bytes(hurt)


def places(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The way to every value inside a tree of dicts and lists."""
    found = [at] if at else []
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, each in inner:
        found += places(each, (*at, key))
    return found


def _leaf(tree: Any, way: tuple[Any, ...]) -> bool:
    for key in way:
        tree = tree[key]
    return not isinstance(tree, dict | list)


def hurt_tree(value: Any, rng: Random) -> Any:
    """A copy of a tree of dicts and lists with one to three values changed, dropped, doubled or exchanged.

    Half of the time only numbers and texts change, by little, so that more of them are read.
    """
    tree = copy.deepcopy(value)
    gently = rng.random() < 0.5
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        ways = [way for way in places(tree) if not gently or _leaf(tree, way)]
        if not ways:
            break
        way = rng.choice(ways)
        holder = tree
        for key in way[:-1]:
            holder = holder[key]
        key = way[-1]
        match rng.randrange(4, 8) if gently else rng.randrange(10):
            case 0:
                del holder[key]
            case 1 if isinstance(holder, dict):
                holder[rng.choice(("x", "", "__proto__", str(key) + "s", "\x1b"))] = holder[key]
            case 1 | 2 if isinstance(holder, list):
                holder.insert(rng.randrange(len(holder) + 1), copy.deepcopy(holder[key]))
            case 3 if isinstance(holder, list):
                rng.shuffle(holder)
            case 4:
                other = tree
                for step in rng.choice(ways):
                    if isinstance(other, (dict, list)) and (
                        step in other if isinstance(other, dict) else step < len(other)
                    ):
                        other = other[step]
                holder[key] = copy.deepcopy(other)
            case 5 | 6 if isinstance(holder[key], int | float):
                holder[key] = holder[key] + rng.choice((1, -1, 2, -3, 4, 12, 48, 1000, -1000))
            case 7 if isinstance(holder[key], str) and holder[key]:
                text = list(holder[key])
                text[rng.randrange(len(text))] = rng.choice("bx#79IV-L>/ \x00é")
                holder[key] = "".join(text)
            case _ if not gently:
                holder[key] = copy.deepcopy(rng.choice(HOSTILE))
    return tree


def as_json(tree: Any) -> bytes:
    """A tree as JSON, with NaN and lone surrogates where they were drawn."""
    return json.dumps(tree).encode()


def as_toml(table: dict[str, Any]) -> bytes:
    """A tree as TOML, a line for each key of the top; nothing stands in place of None."""
    if not isinstance(table, dict):
        return _toml(table).encode("utf-8", "surrogatepass")
    lines = [f"{_toml(str(key))} = {_toml(value)}\n" for key, value in table.items() if value is not None]
    return "".join(lines).encode("utf-8", "surrogatepass")


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return (
            "{" + ", ".join(f"{_toml(str(k))} = {_toml(v)}" for k, v in value.items() if v is not None) + "}"
        )
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value if v is not None) + "]"
    if isinstance(value, float):
        return {"inf": "inf", "-inf": "-inf", "nan": "nan"}.get(repr(value), repr(value))
    return json.dumps(value, ensure_ascii=False)


def hurt_xml(data: bytes, rng: Random) -> bytes:
    """A document with a few elements dropped, doubled, moved, emptied, renamed or given other text and attributes."""
    root = ET.fromstring(data)
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        parents = [e for e in root.iter() if len(e)]
        parent = rng.choice(parents)
        child = rng.choice(list(parent))
        match rng.randrange(8):
            case 0:
                parent.remove(child)
            case 1:
                parent.insert(rng.randrange(len(parent) + 1), copy.deepcopy(child))
            case 2:
                rng.choice(parents).append(copy.deepcopy(child))
            case 3:
                child.clear()
            case 4:
                child.tag = rng.choice(list(root.iter())).tag
            case 5 if child.attrib:
                child.set(rng.choice(list(child.attrib)), _text(rng))
            case _:
                child.text = _text(rng) if rng.random() < 0.6 else rng.choice(list(root.iter())).text
    return ET.tostring(root, encoding="utf-8")


def _text(rng: Random) -> str:
    text = str(rng.choice(HOSTILE))
    return "".join(c for c in text if c in "\t\n\r" or (c >= " " and not "\ud800" <= c <= "\udfff"))
