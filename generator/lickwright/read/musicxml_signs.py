"""One <note> of a MusicXML file: its pitch and the signs on it, read on its own.

Source of the meanings: W3C MusicXML 4.0: ``bend-alter`` in semitones, a release is a second bend or a
``release`` child, ``first-beat`` and ``last-beat`` are percentages of the note; string 1 is the highest;
hammer-on, pull-off and slide are start and stop; a wavy line without a trill mark is vibrato.
"""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from fractions import Fraction

from lickwright.guitar.strings import LARGEST_BEND
from lickwright.read.limits import UnreadableError
from lickwright.read.sounds import BendSign
from lickwright.study.model import BendKind, Technique
from lickwright.theory.harmony import LETTER_PITCH

_NUMBER = re.compile(r"\s*[+-]?\d{1,9}(\.\d{1,9})?\s*")
_INTO = (
    ("notations/technical/hammer-on", Technique.HAMMER_ON),
    ("notations/technical/pull-off", Technique.PULL_OFF),
    ("notations/slide", Technique.SLIDE),
    ("notations/glissando", Technique.SLIDE),
)
_TRILL_STEPS = {"half": 1, "whole": 2}


@dataclass(frozen=True)
class Signs:
    """The signs of a note. ``into`` is the technique by which it is reached; ``pitch2`` the written pitch,
    doubled, before any transposition; ``slurs`` are (number, start or stop); ``trill`` in semitones, 0 unknown.
    """

    pitch2: int | None
    string: int | None
    fret: int | None
    finger: int | None
    into: Technique | None
    bend: BendSign | None
    vibrato: bool
    trill: int | None
    muted: bool
    staccato: bool
    rings: bool
    slurs: tuple[tuple[str, str], ...]
    ties: frozenset[str]
    left_out: tuple[str, ...]


def number(text: str | None, what: str, where: str) -> Fraction:
    """A number of a file as an exact value; raises UnreadableError naming the bar."""
    if text is None or not _NUMBER.fullmatch(text):
        raise UnreadableError(f"{where}: {what} is {(text or 'missing')[:20]!r}, no number that can be read")
    return Fraction(text.strip())


def whole(text: str | None, what: str, where: str, least: int, most: int) -> int:
    """A whole number between limits; raises UnreadableError naming the bar."""
    value = number(text, what, where)
    if value.denominator != 1 or not least <= value <= most:
        raise UnreadableError(f"{where}: {what} is {(text or '').strip()}; it lies from {least} to {most}")
    return int(value)


def signs_of(note: ET.Element, where: str) -> Signs:
    """Reads one note; raises UnreadableError for numbers out of any range."""
    technical = "notations/technical/"
    string, fret, finger = (note.findtext(technical + tag) for tag in ("string", "fret", "fingering"))
    ornaments = note.find("notations/ornaments")
    trilled = ornaments.find("trill-mark") if ornaments is not None else None
    wavy = ornaments is not None and any(w.get("type") == "start" for w in ornaments.iter("wavy-line"))
    left_out = tuple(
        tag for tag in ("harmonic", "tap", "golpe") if note.find(technical + tag) is not None
    ) + (("tremolo",) if note.find("notations/ornaments/tremolo") is not None else ())
    return Signs(
        pitch2=_pitch2(note, where),
        string=None if string is None else whole(string, "string", where, 1, 12),
        fret=None if fret is None else whole(fret, "fret", where, 0, 36),
        finger=int(finger) if finger is not None and finger.strip() in ("0", "1", "2", "3", "4") else None,
        into=next((t for path, t in _INTO if any(e.get("type") == "stop" for e in note.findall(path))), None),
        bend=_bend(note, where),
        vibrato=wavy and trilled is None,
        trill=None if trilled is None else _TRILL_STEPS.get(trilled.get("trill-step", ""), 0),
        muted=note.findtext("notehead") == "x",
        staccato=any(note.find("notations/articulations/" + t) is not None for t in ("staccato", "staccatissimo")),
        rings=any(t.get("type") == "let-ring" for t in note.findall("notations/tied")),
        slurs=tuple((s.get("number", "1"), s.get("type", "")) for s in note.findall("notations/slur")),
        ties=_ties(note),
        left_out=left_out,
    )  # fmt: skip


def _ties(note: ET.Element) -> frozenset[str]:
    """Which of start and stop; the sound's <tie> first, the picture's <tied> where there is none."""
    ties = note.findall("tie") or note.findall("notations/tied")
    kinds = {t.get("type", "") for t in ties}
    if "continue" in kinds:
        kinds |= {"start", "stop"}
    return frozenset(kinds & {"start", "stop"})


def _pitch2(note: ET.Element, where: str) -> int | None:
    pitch = note.find("pitch")
    if pitch is None:
        return None
    step = (pitch.findtext("step") or "").strip()
    if step not in LETTER_PITCH:
        raise UnreadableError(f"{where}: {step[:8]!r} is no note's name")
    octave = whole(pitch.findtext("octave"), "octave", where, -1, 10)
    alter = number(pitch.findtext("alter") or "0", "alter", where)
    if abs(alter) > 3:
        raise UnreadableError(f"{where}: alter is {float(alter):g} semitones; an accidental has at most 3")
    return 2 * (12 * (octave + 1) + LETTER_PITCH[step]) + round(2 * alter)


def _bend(note: ET.Element, where: str) -> BendSign | None:
    bends = note.findall("notations/technical/bend")
    if not bends:
        return None
    alters = [number(b.findtext("bend-alter"), "bend-alter", where) for b in bends]
    size = round(2 * max(alters, key=abs))
    released = any(b.find("release") is not None for b in bends) or any(
        later < earlier for earlier, later in itertools.pairwise(alters)
    )
    if size == 0:
        return None
    if not 0 < size <= LARGEST_BEND:
        raise UnreadableError(
            f"{where}: a bend of {size / 2:g} semitones; strings are bent up, by {LARGEST_BEND / 2:g} at most"
        )
    pre = bends[0].find("pre-bend") is not None
    kind = {
        (False, False): BendKind.BEND,
        (False, True): BendKind.BEND_RELEASE,
        (True, False): BendKind.PRE_BEND,
        (True, True): BendKind.PRE_BEND_RELEASE,
    }[pre, released]
    return BendSign(kind, size, _turns(bends, kind, where))


def _turns(bends: list[ET.Element], kind: BendKind, where: str) -> tuple[float, ...]:
    """The shares of the note where each bend begins and ends to move, when all of them say so."""
    moving = bends if kind in (BendKind.BEND, BendKind.BEND_RELEASE) else bends[1:]
    found: list[float] = []
    for bend in moving:
        for name in ("first-beat", "last-beat"):
            if bend.get(name) is None:
                return ()
            found.append(float(number(bend.get(name), name, where)) / 100)
    good = all(0 <= a <= b <= 1 for a, b in itertools.pairwise(found))
    wanted = {BendKind.BEND: 2, BendKind.BEND_RELEASE: 4, BendKind.PRE_BEND: 0, BendKind.PRE_BEND_RELEASE: 2}
    return tuple(found) if good and len(found) == wanted[kind] else ()
