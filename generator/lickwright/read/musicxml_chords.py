"""Chord symbols: MusicXML's roots and kinds as written roots and the qualities that a study knows."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from lickwright.read.limits import Remarks
from lickwright.read.musicxml_bars import Clock
from lickwright.read.musicxml_parts import Measure, Part
from lickwright.read.musicxml_signs import whole
from lickwright.read.sounds import ChordSign
from lickwright.theory.harmony import LETTER_PITCH, QUALITIES

#: MusicXML's kinds (W3C MusicXML 4.0, kind-value) that are another name or stand near a quality of ours.
_SAME = {
    "dominant": "7", "dominant-seventh": "7", "dominant-ninth": "9", "dominant-13th": "13",
    **{kind: quality for quality, (_, _, kind) in QUALITIES.items() if kind != "dominant-seventh"},
}  # fmt: skip
_NEAR = {
    "dominant-11th": "9", "major-seventh": "", "major-ninth": "", "major-11th": "", "major-13th": "",
    "minor-11th": "m9", "minor-13th": "m9", "major-minor": "m", "half-diminished": "m7", "diminished": "dim7",
    "suspended-second": "", "suspended-fourth": "7", "Neapolitan": "", "Italian": "7", "French": "7", "German": "7",
    "pedal": "", "Tristan": "m7",
}  # fmt: skip
_ADDED = {("7", 9, -1): "7b9", ("7", 9, 1): "7#9", ("7", 5, 1): "7#5", ("7", 9, 0): "9", ("7", 13, 0): "13"}


def chord_signs(part: Part, clock: Clock, remarks: Remarks) -> list[ChordSign]:
    """The chord symbols of a part in the order they are played."""
    found = []
    for visit, number in enumerate(clock.order):
        measure = part.measures[number]
        for at, element in measure.harmonies:
            root = _root(element, measure, remarks)
            if root is not None:
                tick = clock.tick(clock.starts[visit] + at)
                found.append(ChordSign(tick, root, _quality(element, measure, remarks)))
    return found


def _root(element: ET.Element, measure: Measure, remarks: Remarks) -> str | None:
    step = (element.findtext("root/root-step") or "").strip()
    kind = (element.findtext("kind") or "").strip()
    if step not in LETTER_PITCH or kind == "none":
        if kind != "none":
            remarks.add(f"{measure.where}: a chord symbol without a root is left out")
        return None
    alter = whole(element.findtext("root/root-alter") or "0", "root-alter", measure.where, -2, 2)
    return step + ("#" * alter if alter > 0 else "b" * -alter)


def _quality(element: ET.Element, measure: Measure, remarks: Remarks) -> str:
    kind = (element.findtext("kind") or "").strip()
    quality = _SAME.get(kind)
    if quality is None:
        quality = _NEAR.get(kind, "7")
        remarks.add(f"{measure.where}: a chord of the kind {kind[:30]!r} is read as {quality or 'major'!r}")
    for degree in element.findall("degree"):
        if (degree.findtext("degree-type") or "add") == "subtract":
            continue
        value = whole(degree.findtext("degree-value"), "degree-value", measure.where, 1, 15)
        alter = whole(degree.findtext("degree-alter") or "0", "degree-alter", measure.where, -2, 2)
        quality = _ADDED.get((quality, value, alter), quality)
    return quality
