"""From a Study to what each string does in seconds: the player's hands, without a sound yet.

Every note either strikes a string anew (a new Voice) or goes on with the one that sounds: a hammer-on, a
pull-off, a slide or a tie. A string stops where its note ends, where its grip's ringing ends, or where it
is struck again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

from lickwright.render.sound.expression import (
    bend_semitones,
    event_seed,
    feeling,
    is_comping,
    strum_delays,
    velocity,
)
from lickwright.render.sound.timemap import Clock
from lickwright.render.sound.voice import (
    COMPING,
    LEAD,
    Damping,
    Move,
    MoveShape,
    Strike,
    StrikeKind,
    Touch,
    Vibrato,
    Voice,
)
from lickwright.study.model import BendKind, Event, Note, Study, Technique

#: Seconds at the study's tempo; a slow version stretches them, as it stretches everything else.
GRACE_S = 0.055
SLIDE_S = 0.085
BEND_AT_MOST_S = 0.32
TRILL_NOTE_S = 0.075
STACCATO_S = 0.13
#: Seconds at any tempo: a finger's way to the string and off it.
FINGER_S = 0.006
RELEASE_T60_S = 0.09
STAB_T60_S = 0.07
DEAD_T60_S = 0.055

VIBRATO_CENTS = 42.0
VIBRATO_HZ = 5.4
VIBRATO_AFTER_S = 0.18
#: A legato note is this loud beside a picked one (common practice, no source: each a little weaker).
LEGATO_LOUDNESS = 0.72


@dataclass
class _Sounding:
    """A string while it sounds: what has been gathered for its Voice, and the tick up to which it is
    written.
    """

    string: int
    fret: int
    first_pitch: float
    start_s: float
    end_s: float
    end_tick: int
    touch: Touch
    seed: int
    pitch: float
    moved_s: float
    strikes: list[Strike] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    vibratos: list[Vibrato] = field(default_factory=list)
    dampings: list[Damping] = field(default_factory=list)
    release_t60_s: float = RELEASE_T60_S

    def move(self, start_s: float, end_s: float, target: float, shape: MoveShape, fret_pitch: float) -> None:
        """The pitch goes on to ``target``; a move never begins before the one ahead of it is over."""
        start_s = max(start_s, self.moved_s)
        end_s = max(end_s, start_s + 0.001)
        if target != self.pitch:
            self.moves.append(Move(start_s, end_s, self.pitch, target, shape, fret_pitch))
            self.pitch, self.moved_s = target, end_s

    def finished(self) -> Voice:
        """The Voice, its end being the finger's leaving."""
        moves = tuple(m for m in self.moves if m.start_s < self.end_s)
        strikes = tuple(s for s in self.strikes if s.at_s < self.end_s)
        return Voice(
            self.string, self.fret, self.first_pitch, self.start_s, self.end_s, strikes, moves,
            tuple(self.vibratos), (*self.dampings, Damping(self.end_s, self.release_t60_s)), self.touch,
            self.seed,
        )  # fmt: skip


def perform(
    study: Study, clock: Clock, events: Iterable[Event] | None = None, human: bool = True
) -> tuple[Voice, ...]:
    """What the guitar's strings do, in order of their start.

    Parameters
    ----------
    clock : where in the recording each tick falls.
    events : those to play, in order of onset; all of the study's unless given.
    human : small timing and loudness deviations, the same every time; off, every onset is the score's.
    """
    player = _Player(study, clock, human)
    for event in study.events if events is None else events:
        player.play(event)
    return player.voices()


def _still_sounds(before: _Sounding, event: Event, start_s: float) -> bool:
    """True when nothing lies between a string's last note and this event, neither a rest nor a stopped
    string.
    """
    return before.end_tick >= event.onset and before.end_s > start_s - 0.03


class _Player:
    """Goes through the events once and keeps what each string is doing."""

    def __init__(self, study: Study, clock: Clock, human: bool):
        self.study, self.clock, self.human = study, clock, human
        self.sounding: dict[int, _Sounding] = {}
        self.done: list[Voice] = []

    def voices(self) -> tuple[Voice, ...]:
        """All voices, those that still sound included."""
        for sounding in self.sounding.values():
            self.done.append(sounding.finished())
        self.sounding.clear()
        return tuple(sorted(self.done, key=lambda v: (v.start_s, -v.string)))

    def play(self, event: Event) -> None:
        """Strikes or goes on with the string of each of the event's notes."""
        feel = feeling(self.study, event, self.human)
        onset = max(0.0, self.clock.at(event.onset) + feel.late_s)
        loud = min(1.0, velocity(self.study, event) * feel.loudness)
        delays = strum_delays(event)
        for note in event.notes:
            start = onset + delays[note.string]
            end = max(start + 0.03, self._end_s(event))
            before = self.sounding.get(note.string)
            if before is not None and not _still_sounds(before, event, start):
                before = None
            if before is not None and note.tied:
                self._go_on(before, event, end)
            elif (
                before is not None
                and not note.muted
                and note.technique is not Technique.PLUCK
                and not note.grace
            ):
                self._join(before, event, note, onset, end, loud)
            else:
                self._strike(event, note, start, end, loud)
            self._shape(self.sounding[note.string], event, note, start, end)

    def _end_s(self, event: Event) -> float:
        end = self.clock.at(event.end + event.ring)
        if event.staccato:
            start = self.clock.at(event.onset)
            return min(start + 0.5 * (end - start), start + STACCATO_S / self.clock.speed)
        return end

    def _strike(self, event: Event, note: Note, start: float, end: float, loud: float) -> None:
        """A new voice: whatever the string did ends here."""
        before = self.sounding.pop(note.string, None)
        if before is not None:
            before.end_s = max(min(before.end_s, start), before.start_s + FINGER_S)
            self.done.append(before.finished())
        open_pitch = note.pitch - note.fret
        from_nowhere = 2 if note.technique is Technique.SLIDE and note.fret > 2 and note.grace is None else 0
        fret = note.grace.fret if note.grace else note.fret - from_nowhere
        kind = StrikeKind.DEAD if note.muted else StrikeKind.PICK
        if note.technique is Technique.HAMMER_ON and note.grace is None and not note.muted:
            kind, loud = StrikeKind.HAMMER, loud * LEGATO_LOUDNESS
        bent = note.bend is not None and note.bend.kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE)
        pitch = (
            open_pitch
            + fret
            + (bend_semitones(self.study, note, note.bend.size) if bent and note.bend else 0.0)
        )
        touch = COMPING if is_comping(self.study, event) else LEAD
        sounding = _Sounding(
            note.string, fret, pitch, start, end, event.end + event.ring, touch,
            event_seed(self.study, event, str(note.string)), pitch, start, [Strike(start, kind, loud)],
        )  # fmt: skip
        if note.muted:
            sounding.dampings.append(Damping(start, DEAD_T60_S))
            sounding.end_s = min(end, start + 0.12)
        self.sounding[note.string] = sounding
        self._arrive(sounding, note, start, end, loud, from_nowhere)

    def _arrive(
        self, sounding: _Sounding, note: Note, start: float, end: float, loud: float, slid: int
    ) -> None:
        """From a grace note, or from a slide's start below, to the note itself."""
        if note.grace is None and not slid:
            return
        technique = note.grace.technique if note.grace else Technique.SLIDE
        there = start + min(GRACE_S / self.clock.speed, (end - start) / 3.0)
        if technique is Technique.SLIDE:
            sounding.move(start + (there - start) / 3.0, there, note.pitch, MoveShape.FRETS, note.pitch)
        else:
            self._finger(sounding, there, note.pitch, technique, loud)

    def _finger(
        self, sounding: _Sounding, at: float, pitch: float, technique: Technique, loud: float
    ) -> None:
        """A finger comes down on the string or plucks it in leaving."""
        kind = StrikeKind.HAMMER if technique is Technique.HAMMER_ON else StrikeKind.PULL
        sounding.strikes.append(Strike(at, kind, loud * LEGATO_LOUDNESS))
        sounding.move(at - FINGER_S / 2.0, at + FINGER_S / 2.0, pitch, MoveShape.STEP, pitch)

    def _go_on(self, sounding: _Sounding, event: Event, end: float) -> None:
        """A tied note: the string rings on."""
        sounding.end_s = max(end, sounding.end_s)
        sounding.end_tick = event.end + event.ring
        sounding.release_t60_s = STAB_T60_S if event.staccato else RELEASE_T60_S

    def _join(
        self, sounding: _Sounding, event: Event, note: Note, onset: float, end: float, loud: float
    ) -> None:
        """A hammer-on, pull-off or slide from the note that sounds."""
        if note.technique is Technique.SLIDE:
            since = sounding.strikes[-1].at_s
            way = min(SLIDE_S / self.clock.speed, 0.5 * (onset - since))
            sounding.move(onset - way, onset, note.pitch, MoveShape.FRETS, note.pitch)
        else:
            self._finger(sounding, onset, note.pitch, note.technique, loud)
        self._go_on(sounding, event, end)
        sounding.end_s = end

    def _shape(self, sounding: _Sounding, event: Event, note: Note, start: float, end: float) -> None:
        """Bend, trill and vibrato of the note that now sounds."""
        if note.muted:
            return
        if event.staccato:
            sounding.release_t60_s = STAB_T60_S
        if note.bend is not None:
            self._bend(sounding, note, start)
        if note.trill is not None:
            self._trill(sounding, note, start, end)
        if note.vibrato:
            begin = max(start + min(VIBRATO_AFTER_S, 0.25 * (end - start)), sounding.moved_s)
            bent = sounding.pitch > note.pitch + 0.3
            if end - begin > 1.0 / VIBRATO_HZ:
                sounding.vibratos.append(Vibrato(begin, end, VIBRATO_CENTS, VIBRATO_HZ, upward=not bent))

    def _bend(self, sounding: _Sounding, note: Note, start: float) -> None:
        """Follows the written curve; one way up or down takes no longer than a hand takes for it."""
        assert note.bend is not None
        at_most = BEND_AT_MOST_S / self.clock.speed
        points = note.bend.curve
        for (tick, before), (next_tick, after) in pairwise(points):
            if before == after:
                continue
            begin = start + self.clock.span(tick)
            arrive = min(start + self.clock.span(next_tick), begin + at_most)
            target = note.pitch + bend_semitones(self.study, note, after)
            sounding.move(begin, arrive, target, MoveShape.BEND, note.pitch)

    def _trill(self, sounding: _Sounding, note: Note, start: float, end: float) -> None:
        """Hammered and pulled in turn, an even number of times, so that it ends where it began."""
        assert note.trill is not None
        upper = note.pitch + note.trill - note.fret
        begin = max(start, sounding.moved_s)
        pairs = int((end - begin) / (2.0 * TRILL_NOTE_S / self.clock.speed))
        step = (end - begin) / (2 * pairs + 1)
        loud = sounding.strikes[-1].velocity
        for i in range(1, 2 * pairs + 1):
            technique = Technique.HAMMER_ON if i % 2 else Technique.PULL_OFF
            self._finger(sounding, begin + i * step, upper if i % 2 else note.pitch, technique, loud)
