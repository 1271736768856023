"""A Standard MIDI File as sounds on the grid of twelve ticks to the beat.

Notes are moved to the nearest tick, and how far is said. Every channel has its wheel (range by RPN 0,0, two
semitones unless set), which ``wheel`` reads as bends and the like. Percussion is left out; where guitars are
among the programs only they are read. A track named "... string 3 ..." is a string. Source: MIDI 1.0 Detailed
Specification 4.2 and Standard MIDI Files 1.0, MIDI Association.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field, replace

from lickwright.guitar.neck import Neck, parse_tuning
from lickwright.read.limits import MAX_BARS, MAX_SOUNDS, UnreadableError
from lickwright.read.smf import META, Message, tracks_of
from lickwright.read.sounds import GraceSign, Score, Sound
from lickwright.read.wheel import Moved, meaning
from lickwright.study.model import Technique
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT, beat_text

DRUM_CHANNEL = 9
GUITARS = range(24, 32)
_STRING = re.compile(r"\bstring (\d{1,2})(?: \(([A-G][b#]?-?\d)\))?", re.IGNORECASE)
_METERS = {(12, 8): "12/8", (6, 8): "12/8", (4, 4): "4/4", (2, 4): "4/4", (2, 2): "4/4"}


@dataclass
class _Struck:
    """A note in ticks of the file; ``wheel`` is (tick, semitones), the first one where it stands at the start."""

    track: int
    channel: int
    program: int
    start: int
    pitch: int
    end: int = -1
    wheel: list[tuple[int, float]] = field(default_factory=list)


@dataclass
class _Channel:
    bend_range: float = 2.0
    wheel: int = 0
    parameter: tuple[int, int] = (127, 127)
    program: int = 0
    sounding: dict[int, list[_Struck]] = field(default_factory=dict)

    @property
    def semitones(self) -> float:
        return self.wheel * self.bend_range / 8192


@dataclass
class _Conductor:
    """Tempo, meter, key and names, as the first of their kind say them."""

    tempo_us: int = 500_000
    meter: tuple[int, int] | None = None
    key: tuple[int, bool] | None = None
    title: str = ""
    names: dict[int, str] = field(default_factory=dict)


def read_midi(data: bytes) -> Score:
    """What a MIDI file says; raises UnreadableError."""
    division, tracks = tracks_of(data)
    score, conductor = Score(), _Conductor()
    struck = _struck(tracks, conductor, score)
    if not struck:
        raise UnreadableError("not read: there are no notes in it")
    meter = conductor.meter or (4, 4)
    if meter not in _METERS:
        raise UnreadableError(
            f"bar 1: {meter[0]}/{meter[1]} time; studies are in 4/4 or 12/8 (2/4, 2/2, 6/8 are read too)"
        )
    score.meter = _METERS[meter]
    beat = division * (3 if score.meter == "12/8" else 2) / 2
    score.tempo_bpm = round(60e6 / conductor.tempo_us * division / beat)
    if conductor.key is not None:
        score.fifths, score.minor = conductor.key
    score.title = conductor.title
    _sounds(struck, conductor, score, beat)
    last = max(s.end for s in score.sounds)
    score.bars = max(1, -(-last // TICKS_PER_BAR))
    if score.bars > MAX_BARS:
        raise UnreadableError(f"not read: {score.bars} bars; a score has at most {MAX_BARS}")
    return score


# ------------------------------------------------------------------ messages to notes


def _struck(tracks: list[list[Message]], conductor: _Conductor, score: Score) -> list[_Struck]:
    """All notes in the order they begin, percussion left out, guitars alone where there are some."""
    merged = sorted(((m, t) for t, track in enumerate(tracks) for m in track), key=lambda x: x[0].tick)
    channels: dict[int, _Channel] = {}
    found: list[_Struck] = []
    for message, track in merged:
        if message.status == META:
            _meta(message, track, conductor, score)
        else:
            channel = channels.setdefault(message.status & 15, _Channel())
            _channel_message(message, track, channel, found)
            if len(found) > MAX_SOUNDS:
                raise UnreadableError(f"not read: more than {MAX_SOUNDS} notes")
    end = max((m.tick for m, _ in merged), default=0)
    for note in found:
        note.end = note.end if note.end > note.start else max(end, note.start + 1)
    drums = [n for n in found if n.channel == DRUM_CHANNEL]
    if drums:
        score.remarks.add(f"{len(drums)} notes of percussion are left out")
        found = [n for n in found if n.channel != DRUM_CHANNEL]
    guitars = [n for n in found if n.program in GUITARS]
    if guitars and len(guitars) < len(found):
        score.remarks.add(f"{len(found) - len(guitars)} notes of other instruments are left out")
        found = guitars
    return found


def _meta(message: Message, track: int, conductor: _Conductor, score: Score) -> None:
    kind, data = message.kind, message.data
    if kind == 0x03:
        text = " ".join(data.decode("utf-8", "replace").split())[:120]
        conductor.names.setdefault(track, text)
        if track == 0 and not conductor.title:
            conductor.title = text
    elif kind == 0x51 and len(data) == 3:
        value = int.from_bytes(data, "big")
        if message.tick and value != conductor.tempo_us:
            score.remarks.add("the tempo changes; the first one is kept")
        elif value:
            conductor.tempo_us = value
    elif kind == 0x58 and len(data) >= 2 and data[1] < 8:
        meter = data[0], 1 << data[1]
        if conductor.meter is None:
            conductor.meter = meter
        elif meter != conductor.meter and _METERS.get(meter) != _METERS.get(conductor.meter):
            raise UnreadableError(
                f"the time changes to {meter[0]}/{meter[1]} at tick {message.tick}; a study keeps one meter"
            )
    elif kind == 0x59 and len(data) == 2:
        fifths = data[0] - 256 if data[0] > 127 else data[0]
        if abs(fifths) <= 7 and conductor.key is None:
            conductor.key = fifths, bool(data[1])


def _channel_message(message: Message, track: int, channel: _Channel, found: list[_Struck]) -> None:
    what, number = message.status >> 4, message.status & 15
    a, b = message.data[0] & 0x7F, message.data[-1] & 0x7F
    if what == 0x9 and b:
        note = _Struck(
            track, number, channel.program, message.tick, a, wheel=[(message.tick, channel.semitones)]
        )
        channel.sounding.setdefault(a, []).append(note)
        found.append(note)
    elif what in (0x8, 0x9):
        notes = channel.sounding.get(a)
        if notes:
            notes.pop(0).end = message.tick
    elif what == 0xE:
        channel.wheel = (b << 7 | a) - 8192
        for notes in channel.sounding.values():
            for note in notes:
                note.wheel.append((message.tick, channel.semitones))
    elif what == 0xC:
        channel.program = a
    elif what == 0xB:
        _controller(a, b, message.tick, channel)


def _controller(number: int, value: int, tick: int, channel: _Channel) -> None:
    if number in (101, 100):
        most, least = channel.parameter
        channel.parameter = (value, least) if number == 101 else (most, value)
    elif number in (99, 98):
        channel.parameter = (127, 127)
    elif number == 6 and channel.parameter == (0, 0):
        channel.bend_range = value + channel.bend_range % 1
    elif number == 38 and channel.parameter == (0, 0):
        channel.bend_range = int(channel.bend_range) + min(value, 99) / 100
    elif number in (120, 123):
        for notes in channel.sounding.values():
            for note in notes:
                note.end = tick
        channel.sounding.clear()


# ------------------------------------------------------------------ notes to sounds


def _sounds(struck: list[_Struck], conductor: _Conductor, score: Score, beat: float) -> None:
    strings = _named_strings(conductor, score)
    seconds = conductor.tempo_us * 1e-6 * beat / TICKS_PER_BEAT
    seconds *= 1 if score.meter == "4/4" else 2 / 3
    lines: dict[tuple[int, int], list[_Struck]] = {}
    for note in struck:
        lines.setdefault((note.track, note.channel), []).append(note)
    moved, worst, where = 0, 0.0, 0
    second_per_tick = conductor.tempo_us * 1e-6 / (beat * (2 / 3 if score.meter == "12/8" else 1))
    for (track, channel), line in lines.items():
        string = strings.get(track)
        alone = all(a.end <= b.start or a.start == b.start for a, b in itertools.pairwise(line))
        slid = False
        for k, note in enumerate(line):
            exact, stops = (12 * t / beat for t in (note.start, note.end))
            tick = round(exact)
            off = abs(exact - tick)
            if off > 0.02:
                moved += 1
                if off > worst:
                    worst, where = off, tick
            following = next((n for n in line[k + 1 :] if n.start > note.start), None)
            means = _means(note, following, second_per_tick)
            voice = f"{track}/{channel}" if alone else f"{track}/{channel}/{tick}"
            sound = _sound(note, tick, max(tick + 1, round(stops)), voice, string, means, score)
            if slid and sound.technique is Technique.PLUCK:
                sound = replace(sound, technique=Technique.SLIDE)
            slid = means.slides_on and following is not None
            score.sounds.append(sound)
    if moved:
        score.remarks.add(
            f"{moved} of {len(struck)} notes were moved to the nearest twelfth of a beat, "
            f"at most by {worst / 12:.2f} of a beat ({beat_text(where)})"
        )


def _means(note: _Struck, following: _Struck | None, second_per_tick: float) -> Moved:
    length = max(1, note.end - note.start)
    at = {(t - note.start) / length: v for t, v in note.wheel if t < note.end or t == note.start}
    curve = sorted(at.items())
    to_next = (
        following.pitch - note.pitch if following is not None and following.start <= note.end + 2 else None
    )
    return meaning(curve, length * second_per_tick, to_next)


def _sound(
    note: _Struck, tick: int, end: int, voice: str, string: int | None, means: Moved, score: Score
) -> Sound:
    fret = None
    if string is not None and score.tuning is not None:
        fret = note.pitch - score.tuning[string - 1]
        if not 0 <= fret <= 36:
            string = fret = None
    grace = None
    if means.grace is not None:
        on = fret + means.grace if fret is not None else None
        grace = GraceSign(note.pitch + means.grace, on, None, means.grace_technique)
    return Sound(
        tick, end, note.pitch, voice, string, fret,
        bend=means.bend, grace=grace, vibrato=means.vibrato, trill=means.trill,
    )  # fmt: skip


def _named_strings(conductor: _Conductor, score: Score) -> dict[int, int]:
    """Track to string, for files that name their tracks by strings; sets the tuning when they say it."""
    found: dict[int, int] = {}
    opens: dict[int, int] = {}
    for track, name in conductor.names.items():
        match = _STRING.search(name)
        if match and 1 <= int(match[1]) <= 12:
            found[track] = int(match[1])
            if match[2]:
                opens[int(match[1])] = parse_tuning(f"{match[2]} E4")[1]
    if len(set(found.values())) < len(found) or not found:
        return {}
    if sorted(opens) == list(range(1, len(opens) + 1)):
        score.tuning = tuple(opens[n] for n in sorted(opens))
    elif max(found.values()) <= Neck().strings:
        score.tuning = Neck().tuning
    else:
        return {}
    return found
