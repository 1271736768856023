"""XML from anywhere into a tree: no entities, no files or networks, nothing endless.

Expat reads a document type without fetching it; here a document that declares an entity is refused as such, so
that no entity can be expanded, and size, depth and counts have limits (see ``limits``).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from xml.parsers import expat

from lickwright.read.limits import MAX_ATTRIBUTES, MAX_BYTES, MAX_DEPTH, MAX_ELEMENTS, UnreadableError


class _Builder:
    def __init__(self) -> None:
        self.tree = ET.TreeBuilder()
        self.depth = self.count = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.count += 1
        if self.depth > MAX_DEPTH:
            raise UnreadableError(f"not read: its elements nest deeper than {MAX_DEPTH}")
        if self.count > MAX_ELEMENTS:
            raise UnreadableError(f"not read: it has more than {MAX_ELEMENTS} elements")
        if len(attributes) > MAX_ATTRIBUTES:
            raise UnreadableError(f"not read: an element has more than {MAX_ATTRIBUTES} attributes")
        self.tree.start(tag, attributes)

    def end(self, tag: str) -> None:
        self.depth -= 1
        self.tree.end(tag)


def _refuse_entity(*_: object) -> None:
    raise UnreadableError("not read: it declares entities; a score needs none")


def _refuse_outside(*_: object) -> int:
    raise UnreadableError("not read: it asks for another file")


def parse(data: bytes) -> ET.Element:
    """The root of a document; raises UnreadableError in one line for anything else."""
    if len(data) > MAX_BYTES:
        raise UnreadableError(f"not read: {len(data)} bytes; a score has at most {MAX_BYTES}")
    builder = _Builder()
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.tree.data
    parser.EntityDeclHandler = _refuse_entity
    parser.UnparsedEntityDeclHandler = _refuse_entity
    parser.ExternalEntityRefHandler = _refuse_outside
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        what = expat.ErrorString(error.code)
        raise UnreadableError(f"not XML: {what} in line {error.lineno}, column {error.offset + 1}") from None
    except (LookupError, UnicodeError, ValueError) as error:
        if isinstance(error, UnreadableError):
            raise
        raise UnreadableError(f"not XML: {error}") from None
    return builder.tree.close()
