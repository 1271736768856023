"""The measures of a MusicXML file walked in order: which note stands where, and what holds for all of them.

Times within a measure are exact quarters. A part is walked once; repeats are written out afterwards.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from lickwright.read.limits import MAX_BARS, MAX_SOUNDS, Remarks, UnreadableError
from lickwright.read.musicxml_signs import Signs, number, signs_of, whole

_JUMPS = ("dacapo", "dalsegno", "tocoda", "fine")
_TRILL_WORDS = re.compile(r"\s*\((\d{1,2})\)\s*")
_BEATS = {
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
}


@dataclass(eq=False)
class Head:
    """A note that takes time: quarters from its measure's start, its signs, the small notes before it."""

    at: Fraction
    length: Fraction
    staff: int
    voice: str
    signs: Signs
    tuplet: bool
    graces: list[Signs] = field(default_factory=list)
    trill_fret: int | None = None


@dataclass
class Measure:
    """One measure: its heads in the order of the file, and what stands over it."""

    label: str
    element: ET.Element
    heads: list[Head] = field(default_factory=list)
    length: Fraction = Fraction(0)
    nominal: Fraction = Fraction(4)
    time: tuple[int, int] = (4, 4)
    harmonies: list[tuple[Fraction, ET.Element]] = field(default_factory=list)
    forward: bool = False
    backward: int = 0
    ending: frozenset[int] = frozenset()
    ending_stops: bool = False

    @property
    def where(self) -> str:
        """The measure for a message."""
        return f"bar {self.label}"


@dataclass
class Part:
    """A part of the file: its measures, and what its first attributes say (``shift`` in semitones)."""

    name: str
    measures: list[Measure] = field(default_factory=list)
    fifths: int | None = None
    mode: str | None = None
    shift: int = 0
    details: dict[int, ET.Element] = field(default_factory=dict)
    tempo: Fraction = Fraction(0)
    feel: str = ""
    swung: bool | None = None
    swing_words: str = ""

    @property
    def heads(self) -> Iterator[Head]:
        """Every head in the order of the file."""
        for measure in self.measures:
            yield from measure.heads


def walk(element: ET.Element, name: str, remarks: Remarks) -> Part:
    """Reads one part; raises UnreadableError naming the bar."""
    measures = element.findall("measure")
    if len(measures) > MAX_BARS:
        raise UnreadableError(f"not read: {len(measures)} bars; a score has at most {MAX_BARS}")
    walker = _Walker(Part(name), remarks)
    for index, measure in enumerate(measures, start=1):
        walker.measure(measure, index)
    return walker.part


class _Walker:
    """What holds from measure to measure while a part is walked."""

    def __init__(self, part: Part, remarks: Remarks):
        self.part, self.remarks = part, remarks
        self.divisions = Fraction(1)
        self.time = (4, 4)
        self.open_ending: frozenset[int] = frozenset()
        self.count = 0
        self.at = self.last = Fraction(0)
        self.pending: dict[tuple[int, str], list[Signs]] = {}
        self.trills: dict[int, int] = {}

    def measure(self, element: ET.Element, index: int) -> None:
        label = re.sub(r"\s+", " ", element.get("number") or str(index))[:12]
        made = Measure(label, element)
        made.ending = self.open_ending
        self.part.measures.append(made)
        self.at = Fraction(0)
        self.pending, self.trills = {}, {}
        for child in element:
            reader = getattr(self, "_" + child.tag.replace("-", "_"), None) if child.tag in _READ else None
            if reader is not None:
                reader(child, made)
            made.length = max(made.length, self.at)
            if self.at < 0:
                raise UnreadableError(f"{made.where}: a backup goes back before the bar begins")
        made.time = self.time
        made.nominal = Fraction(4 * self.time[0], self.time[1])

    # ------------------------------------------------------------------ attributes

    def _attributes(self, element: ET.Element, made: Measure) -> None:
        where, part = made.where, self.part
        if element.find("divisions") is not None:
            self.divisions = number(element.findtext("divisions"), "divisions", where)
            if not 0 < self.divisions <= 1_000_000:
                raise UnreadableError(f"{where}: divisions is {float(self.divisions):g}; it is above 0")
        for key in element.findall("key"):
            if key.find("fifths") is None:
                raise UnreadableError(f"{where}: a key signature that is not counted in fifths")
            fifths = whole(key.findtext("fifths"), "fifths", where, -7, 7)
            if part.fifths is None:
                part.fifths, part.mode = fifths, key.findtext("mode")
            elif fifths != part.fifths:
                self.remarks.add(f"{where}: the key signature changes; the first one is kept")
        for time in element.findall("time"):
            if time.find("senza-misura") is not None or len(time.findall("beats")) != 1:
                raise UnreadableError(f"{where}: no plain time signature; a study is in 12/8 or 4/4")
            beats, unit = (whole(time.findtext(t), t, where, 1, 64) for t in ("beats", "beat-type"))
            self.time = (beats, unit)
        for transpose in element.findall("transpose"):
            chromatic = whole(transpose.findtext("chromatic") or "0", "transpose", where, -48, 48)
            octaves = whole(transpose.findtext("octave-change") or "0", "octave-change", where, -4, 4)
            part.shift = chromatic + 12 * octaves
        for details in element.findall("staff-details"):
            part.details.setdefault(
                int(details.get("number", "1")) if details.get("number", "1").isdecimal() else 1, details
            )
        if element.find("measure-style/measure-repeat") is not None:
            raise UnreadableError(f"{where}: a sign that repeats bars; write the bars out")

    # ------------------------------------------------------------------ time

    def _backup(self, element: ET.Element, made: Measure) -> None:
        self.at -= self._duration(element, made)

    def _forward(self, element: ET.Element, made: Measure) -> None:
        self.at += self._duration(element, made)

    def _duration(self, element: ET.Element, made: Measure) -> Fraction:
        value = number(element.findtext("duration"), "duration", made.where) / self.divisions
        if not 0 <= value <= 1024:
            raise UnreadableError(f"{made.where}: a duration of {float(value):g} quarters")
        return value

    def _note(self, element: ET.Element, made: Measure) -> None:
        staff = whole(element.findtext("staff") or "1", "staff", made.where, 1, 16)
        voice = (element.findtext("voice") or "1")[:12]
        if element.find("cue") is not None:
            if element.find("chord") is None and element.find("grace") is None:
                self.at += self._duration(element, made)
            return
        if element.find("grace") is not None:
            if element.find("rest") is None and not element.find("grace").get("steal-time-previous"):  # type: ignore[union-attr]
                self.pending.setdefault((staff, voice), []).append(signs_of(element, made.where))
            return
        length = self._duration(element, made)
        chord = element.find("chord") is not None
        at = self.last if chord else self.at
        if not chord:
            self.last = self.at
            self.at += length
        if element.find("rest") is not None:
            return
        self.count += 1
        if self.count > MAX_SOUNDS:
            raise UnreadableError(f"not read: more than {MAX_SOUNDS} notes")
        if length == 0:
            raise UnreadableError(f"{made.where}: a note without a duration")
        head = Head(at, length, staff, voice, signs_of(element, made.where),
                    element.find("time-modification") is not None)  # fmt: skip
        if chord:
            head.graces = next((h.graces for h in reversed(made.heads) if h.staff == staff), [])
        else:
            head.graces = self.pending.pop((staff, voice), [])
        head.trill_fret = self.trills.pop(staff, None) if head.signs.trill is not None else None
        made.heads.append(head)

    # ------------------------------------------------------------------ what stands over the notes

    def _direction(self, element: ET.Element, made: Measure) -> None:
        part = self.part
        for words in element.iter("words"):
            text = " ".join((words.text or "").split())
            trill = _TRILL_WORDS.fullmatch(text)
            if trill:
                self.trills[whole(element.findtext("staff") or "1", "staff", made.where, 1, 16)] = int(
                    trill[1]
                )
            elif re.search(r"\b(swing|swung|shuffle)", text, re.IGNORECASE):
                part.swing_words = part.swing_words or text
        metronome = element.find(".//metronome")
        if metronome is not None and not part.tempo and metronome.findtext("per-minute"):
            text = metronome.findtext("per-minute") or ""
            unit = _BEATS.get(metronome.findtext("beat-unit") or "", Fraction(1))
            found = re.search(r"\d{1,4}(\.\d{1,4})?", text)
            if found:
                dotted = Fraction(3, 2) if metronome.find("beat-unit-dot") is not None else Fraction(1)
                part.tempo = Fraction(found[0]) * unit * dotted
                spoken = [" ".join((w.text or "").split()) for w in element.iter("words")]
                part.feel = next((w for w in spoken if w and not w.startswith("(")), "")
        for sound in element.findall("sound"):
            self._sound(sound, made)

    def _sound(self, element: ET.Element, made: Measure) -> None:
        jump = next((j for j in _JUMPS if element.get(j)), None)
        if jump:
            raise UnreadableError(f"{made.where}: a jump ({jump}); write the bars out as they are played")
        if element.get("tempo") and not self.part.tempo:
            self.part.tempo = number(element.get("tempo"), "tempo", made.where)
        swing = element.find("swing")
        if swing is not None:
            self.part.swung = swing.find("straight") is None
            if swing.findtext("swing-type") == "16th":
                self.part.swung = False
                self.remarks.add(f"{made.where}: swung sixteenths are read straight")

    def _harmony(self, element: ET.Element, made: Measure) -> None:
        offset = number(element.findtext("offset") or "0", "offset", made.where) / self.divisions
        made.harmonies.append((max(Fraction(0), self.at + offset), element))

    def _barline(self, element: ET.Element, made: Measure) -> None:
        repeat, ending = element.find("repeat"), element.find("ending")
        if repeat is not None and repeat.get("direction") == "forward":
            made.forward = True
        elif repeat is not None:
            made.backward = whole(repeat.get("times") or "2", "times", made.where, 1, 16)
        if ending is not None:
            numbers = frozenset(int(n) for n in re.findall(r"\d{1,2}", ending.get("number", "")))
            if ending.get("type") == "start":
                made.ending = self.open_ending = numbers or frozenset({1})
            else:
                made.ending_stops = True
                self.open_ending = frozenset()


_READ = frozenset({"attributes", "backup", "forward", "note", "direction", "sound", "harmony", "barline"})


def played_order(measures: list[Measure]) -> list[int]:
    """The measures' numbers (from 0) in the order they are played: repeats and their endings written out."""
    order: list[int] = []
    start = number_of_pass = 0
    at = 0
    while at < len(measures):
        measure = measures[at]
        if measure.forward and start != at:
            start, number_of_pass = at, 0
        if measure.ending and number_of_pass + 1 not in measure.ending:
            at += 1
            continue
        order.append(at)
        if len(order) > MAX_BARS:
            raise UnreadableError(
                f"{measure.where}: with repeats written out there are more than {MAX_BARS} bars"
            )
        if measure.backward:
            times = max(measure.backward, _last_ending(measures, at))
            if number_of_pass + 1 < times:
                number_of_pass += 1
                at = start
                continue
        if measure.backward or measure.ending_stops:
            start, number_of_pass = at + 1, 0
        at += 1
    return order


def _last_ending(measures: list[Measure], at: int) -> int:
    """The highest number of the endings that stand side by side from a measure on, 0 where there are none."""
    highest = 0
    while at < len(measures) and measures[at].ending:
        highest = max(highest, *measures[at].ending)
        at += 1
    return highest
