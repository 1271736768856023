"""MusicXML (partwise or timewise, plain or packed) into what it says: sounds in ticks, chords, tuning, tempo.

One part is read. Its staff with strings and frets is believed for pitches, places and techniques; another staff
over it, with the same onsets, gives fingers, staccato and ringing. Durations count, not note values. Pitches are
written pitches moved by <transpose> (W3C MusicXML 4.0); a clef moves nothing.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from fractions import Fraction

from lickwright.read.limits import Remarks, UnreadableError
from lickwright.read.musicxml_bars import Clock
from lickwright.read.musicxml_chords import chord_signs
from lickwright.read.musicxml_parts import Head, Measure, Part, walk
from lickwright.read.musicxml_signs import Signs, whole
from lickwright.read.safe_xml import parse
from lickwright.read.sounds import BendSign, GraceSign, Score, Sound
from lickwright.study.model import BendKind, Technique
from lickwright.study.score_fields import from_texts
from lickwright.theory.harmony import LETTER_PITCH

_WHOLE_STEP = 2


def read_musicxml(data: bytes, part: str | None = None) -> Score:
    """What a score says; ``part`` names one of several. Raises UnreadableError naming the bar."""
    root = parse(data)
    if root.tag == "score-timewise":
        root = _partwise(root)
    if root.tag != "score-partwise":
        raise UnreadableError(f"not a MusicXML score: its root is <{root.tag[:40]}>")
    remarks = Remarks()
    parts = _parts(root, remarks)
    chosen, staff = _choose(parts, part, remarks)
    score = Score(remarks=remarks)
    _head(root, score)
    clock = Clock(chosen, remarks)
    score.meter, score.bars, score.swung = clock.meter, clock.bars, clock.swung
    beat = Fraction(3, 2) if score.meter == "12/8" else Fraction(1)
    tempo = chosen.tempo or next((p.tempo for p in parts if p.tempo), Fraction(0))
    score.tempo_bpm = round(tempo / beat)
    score.feel = chosen.feel
    score.fifths, score.minor = chosen.fifths, chosen.mode == "minor"
    _strings(chosen, staff, score)
    score.sounds = list(_Sounds(chosen, staff, _companion(chosen, staff, parts), clock, score).read())
    with_chords = next((p for p in (chosen, *parts) if any(m.harmonies for m in p.measures)), chosen)
    score.chords = (
        chord_signs(with_chords, clock, remarks) if len(with_chords.measures) == len(chosen.measures) else []
    )
    return score


def _partwise(root: ET.Element) -> ET.Element:
    """The same score part by part."""
    made = ET.Element("score-partwise")
    parts: dict[str, ET.Element] = {}
    for child in root:
        if child.tag != "measure":
            made.append(child)
            continue
        for part in child.findall("part"):
            name = part.get("id", "")
            if name not in parts:
                parts[name] = ET.SubElement(made, "part", {"id": name})
            measure = ET.SubElement(parts[name], "measure", dict(child.attrib))
            measure.extend(list(part))
    return made


def _parts(root: ET.Element, remarks: Remarks) -> list[Part]:
    names = {
        p.get("id", ""): " ".join((p.findtext("part-name") or "").split()) for p in root.iter("score-part")
    }
    found = root.findall("part")
    if not found:
        raise UnreadableError("not read: the score has no part")
    if len(found) > 64:
        raise UnreadableError(f"not read: {len(found)} parts; a score has at most 64")
    walked, faults = [], []
    for element in found:
        key = element.get("id", "")
        try:
            walked.append(walk(element, names.get(key) or key, remarks))
        except UnreadableError as error:
            faults.append(error)
    if faults and (len(found) == 1 or not walked):
        raise faults[0]
    return walked


def _tab_notes(part: Part) -> dict[int, int]:
    counts: dict[int, int] = {}
    for head in part.heads:
        if head.signs.string is not None and head.signs.fret is not None:
            counts[head.staff] = counts.get(head.staff, 0) + 1
    return counts


def _choose(parts: list[Part], name: str | None, remarks: Remarks) -> tuple[Part, int]:
    """The part to read and its staff: where strings and frets stand, else a guitar, else the first with notes."""
    sounding = [p for p in parts if any(h.signs.pitch2 is not None or h.signs.string for h in p.heads)]
    names = ", ".join(repr(p.name) for p in sounding[:12])
    if name is not None:
        sounding = [p for p in sounding if p.name.lower() == name.lower()]
        if not sounding:
            raise UnreadableError(f"no part {name!r} with notes in it; there are {names}")
    if not sounding:
        raise UnreadableError("not read: no part has notes with pitches")
    tabs = sorted(
        ((count, p, staff) for p in sounding for staff, count in _tab_notes(p).items()), key=lambda x: -x[0]
    )
    if tabs:
        return tabs[0][1], tabs[0][2]
    guitars = [p for p in sounding if "guitar" in p.name.lower()]
    chosen = (guitars or sounding)[0]
    if len(sounding) > 1:
        remarks.add(f"part {chosen.name!r} of {len(sounding)} was read; the parts are {names}")
    staves = sorted({h.staff for h in chosen.heads})
    if len(staves) > 1:
        remarks.add(f"staff {staves[0]} of {len(staves)} was read")
    return chosen, staves[0]


def _companion(chosen: Part, staff: int, parts: list[Part]) -> tuple[Part, int] | None:
    """Another staff with the same onsets, in this part or another one."""

    def onsets(part: Part, number: int) -> set[tuple[int, Fraction]]:
        return {(k, h.at) for k, m in enumerate(part.measures) for h in m.heads if h.staff == number}

    mine = onsets(chosen, staff)
    for part in (chosen, *(p for p in parts if p is not chosen)):
        for number in sorted({h.staff for h in part.heads}):
            theirs = onsets(part, number)
            if (part, number) != (chosen, staff) and len(mine & theirs) >= 0.9 * len(mine | theirs):
                return part, number
    return None


def _head(root: ET.Element, score: Score) -> None:
    title = root.findtext("work/work-title") or root.findtext("movement-title") or ""
    score.title = " ".join(title.split())[:120]
    number = (root.findtext("work/work-number") or root.findtext("movement-number") or "").strip()
    score.number = int(number) if number.isascii() and number.isdecimal() and len(number) < 7 else None
    texts = {
        f.get("name", ""): f.text or ""
        for f in root.findall("identification/miscellaneous/miscellaneous-field")
    }
    score.fields, fault = from_texts(texts)
    if fault:
        score.remarks.add(f"{fault}: slots, hands and what was asked are worked out anew")


def _strings(part: Part, staff: int, score: Score) -> None:
    """The tuning and the capo of a staff, where the file says them."""
    details = part.details.get(staff)
    if details is None:
        return
    where = "staff-details"
    lines: dict[int, int] = {}
    for tuning in details.findall("staff-tuning"):
        step = (tuning.findtext("tuning-step") or "").strip()
        if step not in LETTER_PITCH:
            raise UnreadableError(f"{where}: {step[:8]!r} is no note's name")
        octave = whole(tuning.findtext("tuning-octave"), "tuning-octave", where, -1, 9)
        alter = whole(tuning.findtext("tuning-alter") or "0", "tuning-alter", where, -2, 2)
        line = whole(tuning.get("line"), "line", where, 1, 12)
        lines[line] = 12 * (octave + 1) + LETTER_PITCH[step] + alter
    if lines and sorted(lines) == list(range(1, len(lines) + 1)):
        score.tuning = tuple(lines[n] for n in sorted(lines, reverse=True))
    elif lines:
        score.remarks.add("the tuning names some lines only; it is worked out from the notes")
    if details.find("capo") is not None:
        score.capo = whole(details.findtext("capo"), "capo", where, 0, 12)


@dataclass(eq=False)
class _Open:
    """A sound that a tie may lengthen: its place in the list and the quarter at which it ends."""

    index: int
    end: Fraction


class _Sounds:
    """Heads of one staff in playing order, tied ones joined."""

    def __init__(self, part: Part, staff: int, over: tuple[Part, int] | None, clock: Clock, score: Score):
        self.part, self.staff, self.over, self.clock, self.score = part, staff, over, clock, score
        self.found: list[Sound] = []
        self.open: dict[tuple[int, int | None], _Open] = {}
        self.slurs: set[tuple[str, str]] = set()
        self.starts = {e.onset for e in score.fields.events}
        self.techniques = any(h.signs.into is not None for h in part.heads)

    def read(self) -> list[Sound]:
        for visit, number in enumerate(self.clock.order):
            measure = self.part.measures[number]
            beside = _beside(measure, self.staff, self._other(number))
            for head in sorted((h for h in measure.heads if h.staff == self.staff), key=lambda h: h.at):
                self._add(head, beside.get(id(head)), measure, visit)
        return self.found

    def _other(self, number: int) -> list[Head]:
        if self.over is None:
            return []
        part, staff = self.over
        return (
            [h for h in part.measures[number].heads if h.staff == staff]
            if number < len(part.measures)
            else []
        )

    def _add(self, head: Head, other: Head | None, measure: Measure, visit: int) -> None:
        signs = head.signs
        begin = self.clock.starts[visit] + head.at
        tick, end = self.clock.tick(begin), self.clock.tick(begin + head.length)
        pitch, curl = self._pitch(signs, measure)
        slurred = self._slurred(head)
        before = self.open.get((pitch, signs.string))
        going_on = "stop" in signs.ties and before is not None and before.end == begin
        if "stop" in signs.ties and not going_on:
            self.score.remarks.add(f"{measure.where}: a tie comes from nowhere; its note is struck")
        anew = signs.bend is not None or signs.vibrato or tick in self.starts
        if going_on and before is not None and not anew:
            joined = self.found[before.index]
            self.found[before.index] = replace(
                joined, end=max(end, joined.end), rings=joined.rings or _rings(signs, other)
            )
            before.end = begin + head.length
        else:
            sound = self._sound(head, other, tick, max(end, tick + 1), pitch, measure)
            sound = replace(sound, tied=going_on, slurred=slurred, bend=sound.bend or curl)
            self.found.append(sound)
            self.open[pitch, signs.string] = _Open(len(self.found) - 1, begin + head.length)
        if "start" not in signs.ties:
            self.open.pop((pitch, signs.string), None)

    def _pitch(self, signs: Signs, measure: Measure) -> tuple[int, BendSign | None]:
        """The sounding pitch; a quarter tone above it is read as a curl."""
        if signs.pitch2 is None:
            if signs.string is None or signs.fret is None or self.score.tuning is None:
                raise UnreadableError(f"{measure.where}: a note without a pitch")
            if signs.string > len(self.score.tuning):
                raise UnreadableError(
                    f"{measure.where}: string {signs.string}; the tuning has {len(self.score.tuning)}"
                )
            return self.score.tuning[signs.string - 1] + self.score.capo + signs.fret, None
        pitch, half = divmod(signs.pitch2, 2)
        pitch += self.part.shift
        if not 0 <= pitch <= 127:
            raise UnreadableError(f"{measure.where}: a pitch outside all instruments (MIDI {pitch})")
        return pitch, BendSign(BendKind.BEND, 1) if half else None

    def _slurred(self, head: Head) -> bool:
        """Whether a slur comes from the note before; files that say hammer-ons themselves have no need of it."""
        inside = any(voice == head.voice for voice, _ in self.slurs)
        for number, kind in head.signs.slurs:
            if kind == "start":
                self.slurs.add((head.voice, number))
            elif kind == "stop":
                self.slurs.discard((head.voice, number))
        return inside and not self.techniques

    def _sound(
        self, head: Head, other: Head | None, tick: int, end: int, pitch: int, measure: Measure
    ) -> Sound:
        signs, above = head.signs, other.signs if other is not None else None
        for sign in signs.left_out:
            self.score.remarks.add(f"{measure.where}: a {sign} is left out, its note kept")
        grace, into = self._grace(head, other, measure)
        return Sound(
            tick=tick,
            end=end,
            pitch=pitch,
            voice=head.voice,
            string=signs.string if signs.fret is not None else None,
            fret=signs.fret if signs.string is not None else None,
            finger=signs.finger if signs.finger is not None else above.finger if above else None,
            technique=into or Technique.PLUCK,
            bend=signs.bend,
            grace=grace,
            vibrato=signs.vibrato,
            muted=signs.muted or bool(above and above.muted),
            trill=self._trill(head, measure),
            staccato=signs.staccato or bool(above and above.staccato),
            rings=_rings(signs, above),
        )

    def _trill(self, head: Head, measure: Measure) -> int | None:
        signs = head.signs
        if signs.trill is None:
            return None
        if head.trill_fret is not None and signs.fret is not None and head.trill_fret > signs.fret:
            return head.trill_fret - signs.fret
        if not signs.trill:
            self.score.remarks.add(f"{measure.where}: a trill is read as one of a whole step")
        return signs.trill or _WHOLE_STEP

    def _grace(
        self, head: Head, other: Head | None, measure: Measure
    ) -> tuple[GraceSign | None, Technique | None]:
        """The small note before a head, and the technique by which the first of the two is reached."""
        signs = head.signs
        mine = _own_graces(head, measure, self.staff)
        if not mine:
            return None, signs.into
        if len(mine) > 1:
            self.score.remarks.add(f"{measure.where}: of {len(mine)} grace notes the last one is kept")
        small = mine[-1]
        pitch, _ = self._pitch(small, measure)
        finger = small.finger
        if finger is None and other is not None:
            finger = next(
                (g.finger for g in other.graces if g.pitch2 == small.pitch2 and g.finger is not None), None
            )
        return GraceSign(pitch, small.fret, finger, signs.into), small.into


def _rings(signs: Signs, above: Signs | Head | None) -> bool:
    over = above.signs if isinstance(above, Head) else above
    return signs.rings or bool(over and over.rings)


def _own_graces(head: Head, measure: Measure, staff: int) -> list[Signs]:
    """The small notes before a column that belong to this head: those on its string, or nearest to it."""
    if not head.graces:
        return []
    if head.signs.string is not None and all(g.string is not None for g in head.graces):
        return [g for g in head.graces if g.string == head.signs.string]
    column = [h for h in measure.heads if h.staff == staff and h.at == head.at and h.graces is head.graces]

    def away(of: Head, small: Signs) -> int:
        return abs((of.signs.pitch2 or 0) - (small.pitch2 or 0))

    return [g for g in head.graces if min(column, key=lambda h: away(h, g)) is head]


def _beside(measure: Measure, staff: int, others: list[Head]) -> dict[int, Head]:
    """For each head of a measure the one that stands for the same note on the other staff."""
    if not others:
        return {}
    found: dict[int, Head] = {}
    columns: dict[Fraction, list[Head]] = {}
    for head in (h for h in measure.heads if h.staff == staff):
        columns.setdefault(head.at, []).append(head)
    for at, column in columns.items():
        over = [h for h in others if h.at == at]
        if len(over) == len(column):
            found |= {id(a): b for a, b in zip(column, over, strict=True)}
        else:
            pitches = {h.signs.pitch2: h for h in over}
            found |= {id(a): pitches[a.signs.pitch2] for a in column if a.signs.pitch2 in pitches}
    return found
