"""What notation has no sign for, as named texts that travel in a score beside the notes.

A score says pitches, strings, fingers and signs. The rest of a Study (which stretch is a lick, where the hand
lies, what was asked) goes into fields of JSON text; MusicXML keeps them in ``miscellaneous-field`` elements.
Fields never repeat what the notes say, and where the two disagree the notes are believed.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from lickwright.guitar.neck import Neck
from lickwright.study.model import Brief, ChordSpan, Phrase, Slot, Study

if TYPE_CHECKING:
    from pydantic import TypeAdapter

#: How the names of the fields begin.
PREFIX = "lickwright:"
#: More text than this is not read.
MOST_CHARACTERS = 1_000_000


class EventField(NamedTuple):
    """An event's onset in ticks and what its notes do not show; ``ring`` as in ``study.Event``."""

    onset: int
    slot: int
    hand: int
    chord: str
    grip: str | None = None
    ring: int = 0


@dataclass(frozen=True)
class General:
    """What holds for a whole study."""

    grid: str
    feel: str
    level: str
    scheme: str
    cost: int
    title: str
    number: int | None
    origin: str = ""


@dataclass(frozen=True)
class Fields:
    """All fields of a study; each may be missing from a file."""

    study: General | None = None
    brief: Brief | None = None
    neck: Neck | None = None
    form: tuple[ChordSpan, ...] = ()
    phrases: tuple[Phrase, ...] = ()
    slots: tuple[Slot, ...] = ()
    events: tuple[EventField, ...] = ()


NAMES = tuple(Fields.__dataclass_fields__)


def fields_of(study: Study) -> Fields:
    """The fields of a study."""
    events = tuple(EventField(e.onset, e.slot, e.hand, e.chord, e.grip, e.ring) for e in study.events)
    general = General(
        study.grid, study.feel, study.level, study.scheme, study.cost, study.title, study.number, study.origin
    )
    return Fields(general, study.brief, study.neck, study.form, study.phrases, study.slots, events)


def to_texts(fields: Fields) -> dict[str, str]:
    """Name (with its prefix) to JSON text, in a fixed order."""
    plain: dict[str, Any] = asdict(fields)
    if plain["brief"] is not None:
        del plain["brief"]["home"]
    return {PREFIX + name: json.dumps(plain[name], separators=(",", ":")) for name in NAMES}


@lru_cache(maxsize=1)
def _adapter() -> TypeAdapter[Fields]:
    from pydantic import ConfigDict, TypeAdapter

    Fields.__pydantic_config__ = ConfigDict(extra="forbid", strict=False)  # type: ignore[attr-defined]
    return TypeAdapter(Fields)


def from_texts(texts: dict[str, str]) -> tuple[Fields, str]:
    """The fields in a file's texts, and what was wrong with them ("" when nothing was).

    Fields that cannot be read are left out as a whole: a study is then read from its notes alone.
    """
    found = {name: texts[PREFIX + name] for name in NAMES if PREFIX + name in texts}
    if not found:
        return Fields(), ""
    if sum(map(len, found.values())) > MOST_CHARACTERS:
        return Fields(), "its fields are too long"
    try:
        return _adapter().validate_python({name: json.loads(text) for name, text in found.items()}), ""
    except (ValueError, RecursionError) as error:
        return Fields(), f"its fields cannot be read ({type(error).__name__})"
