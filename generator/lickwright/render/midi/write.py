"""A Study as a Standard MIDI File: one track and one channel a string, so that each string bends by itself.

Conventions: type 1, 480 ticks to the quarter; channels and programs are counted from 0 here. The wheel spans
``BEND_RANGE`` semitones each way (set by RPN 0,0 at the start of every track). Each struck note of the Study
is one note-on at its tick and its fretted pitch; everything that moves its pitch (bend, release, grace note,
trill, vibrato, the way a slide takes) is wheel. Swing needs nothing: ticks are sounding time.

Bytes are mido's; what is said and when is decided here.
Sources: MIDI 1.0 Detailed Specification 4.2 (channel messages, RPN 0,0, All Sound Off) and Standard MIDI
Files 1.0 (chunks, meta events), MIDI Association; General MIDI program 27 is the clean electric guitar.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from mido import Message, MetaMessage, MidiFile, MidiTrack

from lickwright.render.midi.wheel import Glide, glides_of, slide_away
from lickwright.render.score.text import heading, open_strings
from lickwright.study.model import Event, Note, SlotKind, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BEAT, seconds

PER_QUARTER = 480
BEND_RANGE = 12
CLEAN_GUITAR = 27
DRUM_CHANNEL = 9
ALL_SOUND_OFF = 120

#: How often a moving wheel is written, in MIDI ticks: about a hundredth of a second.
WHEEL_STEP = 6

#: Velocities; common practice, no source: the lead before the comping, a pick before a finger.
VELOCITY = {SlotKind.LICK: 96, SlotKind.COMP: 80}
LEGATO_VELOCITY = 0.75
DEAD_VELOCITY = 0.5
DEAD_S = 0.06

#: The slowest tempo that the format has: 2**24 - 1 microseconds a quarter, about 3.6 quarters a minute.
MOST_TEMPO_US = 0xFFFFFF
#: Tonics along the circle of fifths: C stands at its eighth place, A (of A minor) at its eleventh.
_TONICS = (
    "Cb",
    "Gb",
    "Db",
    "Ab",
    "Eb",
    "Bb",
    "F",
    "C",
    "G",
    "D",
    "A",
    "E",
    "B",
    "F#",
    "C#",
    "G#",
    "D#",
    "A#",
)

#: (tick, order within the tick, the message).
_Timed = tuple[int, int, Message | MetaMessage]
_OFF, _SILENCE, _WHEEL, _ON = range(4)


@dataclass
class _Sound:
    """One note-on and what becomes of it; times in ticks of the Study."""

    note: Note
    start: float
    end: float
    velocity: int
    glides: list[Glide] = field(default_factory=list)

    def bend(self, tick: float) -> float:
        """Semitones away from the fretted pitch at a tick."""
        return sum(glide.at(tick) for glide in self.glides)


def midi(study: Study) -> bytes:
    """The study as a Standard MIDI File, the same bytes for the same study."""
    scale = PER_QUARTER * (3 if study.meter == "12/8" else 2) // (2 * TICKS_PER_BEAT)
    sounds = _sounds(study)
    tracks = [_conductor(study, scale)]
    for string in range(1, study.neck.strings + 1):
        tracks.append(_string_track(study, string, sounds.get(string, []), scale))
    written = io.BytesIO()
    MidiFile(type=1, ticks_per_beat=PER_QUARTER, charset="utf-8", tracks=tracks).save(file=written)
    return written.getvalue()


def channel_of(string: int) -> int:
    """The channel of a string, from 0: the drums' channel is left out.

    >>> [channel_of(s) for s in (1, 6, 9, 10)]
    [0, 5, 8, 10]
    """
    return string - 1 if string - 1 < DRUM_CHANNEL else string


# What each string sounds.


def _sounds(study: Study) -> dict[int, list[_Sound]]:
    """The note-ons of each string in order, none beginning before the last one ends."""
    found: dict[int, list[_Sound]] = {}
    kinds = {slot.number: slot.kind for slot in study.slots}
    for event in study.events:
        for note in event.notes:
            line = found.setdefault(note.string, [])
            last = line[-1] if line else None
            end = _end(study, event, note)
            if last and note.tied and last.end >= event.onset:
                last.end = end
                last.glides += glides_of(study, event, note, standing=last.bend(event.onset))
                continue
            if last:
                if note.technique is Technique.SLIDE and not last.note.muted and last.end >= event.onset:
                    last.glides.append(
                        slide_away(study, last.start, event.onset, last.bend, note.pitch - last.note.pitch)
                    )
                last.end = min(last.end, event.onset)
            velocity = _velocity(kinds.get(event.slot, SlotKind.LICK), note)
            line.append(_Sound(note, event.onset, end, velocity, glides_of(study, event, note)))
    return found


def _end(study: Study, event: Event, note: Note) -> float:
    if note.muted:
        return event.onset + min(event.duration / 2, DEAD_S / seconds(1, study.tempo_bpm))
    if event.staccato:
        return event.onset + event.duration / 2
    return event.end + event.ring


def _velocity(kind: SlotKind, note: Note) -> int:
    share = DEAD_VELOCITY if note.muted else 1.0 if note.technique is Technique.PLUCK else LEGATO_VELOCITY
    return round(VELOCITY[kind] * share)


# Tracks.


def _conductor(study: Study, scale: int) -> MidiTrack:
    """Title, tempo, meter and key."""
    per_beat = scale * TICKS_PER_BEAT
    tempo_us = min(round(60e6 / study.tempo_bpm * PER_QUARTER / per_beat), MOST_TEMPO_US)
    beats, unit = (12, 8) if study.meter == "12/8" else (4, 4)
    clocks = 24 * per_beat // PER_QUARTER
    key = _TONICS[study.home.fifths + 10] + "m" if study.minor else _TONICS[study.home.fifths + 7]
    messages = (
        MetaMessage("track_name", name=heading(study)),
        MetaMessage("set_tempo", tempo=tempo_us),
        MetaMessage("time_signature", numerator=beats, denominator=unit, clocks_per_click=clocks),
        MetaMessage("key_signature", key=key),
    )
    return _track([(0, 0, message) for message in messages], study.ticks * scale)


def _string_track(study: Study, string: int, sounds: list[_Sound], scale: int) -> MidiTrack:
    channel = channel_of(string)
    name = f"Guitar, string {string} ({open_strings(study.neck)[string - 1]})"
    messages: list[_Timed] = [
        (0, 0, MetaMessage("track_name", name=name)),
        (0, 0, Message("program_change", channel=channel, program=CLEAN_GUITAR)),
    ]
    for controller, value in ((101, 0), (100, 0), (6, BEND_RANGE), (38, 0), (101, 127), (100, 127)):
        messages.append((0, 0, _control(channel, controller, value)))
    wheel = 0
    messages.append((0, 0, Message("pitchwheel", channel=channel, pitch=wheel)))
    for number, sound in enumerate(sounds):
        first, last = round(sound.start * scale), round(sound.end * scale)
        for tick in _wheel_ticks(sound, first, last, scale):
            value = wheel_value(sound.bend(tick / scale))
            if value == wheel:
                continue
            if tick == first and number:
                # The tail of the last note would be bent with the wheel; its string is struck, so it stops.
                messages.append((tick, _SILENCE, _control(channel, ALL_SOUND_OFF, 0)))
            messages.append((tick, _WHEEL, Message("pitchwheel", channel=channel, pitch=value)))
            wheel = value
        on, off = (Message(kind, channel=channel, note=sound.note.pitch) for kind in ("note_on", "note_off"))
        messages.append((first, _ON, on.copy(velocity=sound.velocity)))
        messages.append((last, _OFF, off))
    return _track(messages, study.ticks * scale)


def _wheel_ticks(sound: _Sound, first: int, last: int, scale: int) -> Iterable[int]:
    """The MIDI ticks at which the wheel is looked at: its start, and while it moves small steps and corners.

    Nothing after the note's end: its tail rings on where the wheel stands.
    """
    if not sound.glides:
        return [first]
    # A corner between two ticks is looked at from the later one, or a jump would be missed.
    corners = {math.ceil(t * scale - 1e-6) for glide in sound.glides for t in glide.corners()}
    steps = {t for t in range(first, last, WHEEL_STEP) if any(g.moves(t / scale) for g in sound.glides)}
    return sorted({first} | steps | {t for t in corners if first <= t < last})


def wheel_value(semitones: float) -> int:
    """The wheel for a bend, -8192..8191, held at its end where the bend goes beyond the range.

    >>> wheel_value(2), wheel_value(0), wheel_value(-13)
    (1365, 0, -8192)
    """
    return max(-8192, min(8191, round(semitones * 8192 / BEND_RANGE)))


def _control(channel: int, controller: int, value: int) -> Message:
    return Message("control_change", channel=channel, control=controller, value=value)


def _track(messages: Iterable[_Timed], end: int) -> MidiTrack:
    """A track with times as differences; messages of one tick keep the order off, silence, wheel, on."""
    track = MidiTrack()
    at = 0
    for tick, _, message in sorted(messages, key=lambda m: m[:2]):
        track.append(message.copy(time=tick - at))
        at = tick
    track.append(MetaMessage("end_of_track", time=max(0, end - at)))
    return track
