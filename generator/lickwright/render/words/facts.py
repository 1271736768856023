"""What there is to say about a study, as values: figures, techniques, landings, grips, hard moments.

It reads the Study and decides nothing about wording; the words are in ``words``. Slots may lack names,
positions and quotes: whatever can be seen in the notes is taken from the notes.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from lickwright.study.model import (
    Asks,
    BendKind,
    Event,
    Moment,
    Note,
    Phrase,
    Slot,
    SlotKind,
    Study,
    Technique,
)
from lickwright.theory.rhythm import TICKS_PER_BAR, bar_of

LEGATO = (Technique.HAMMER_ON, Technique.PULL_OFF, Technique.SLIDE)


class Gesture(StrEnum):
    """A thing the hand does in a lick that is worth a word."""

    LEGATO = "legato"
    BEND = "bend"
    RELEASE = "release"
    PRE_BEND = "pre-bend"
    CURL = "curl"
    UNISON = "unison bend"
    GRACE = "grace"
    DOUBLE_STOP = "double stop"
    TRILL = "trill"
    DEAD = "dead note"


#: How much a gesture wants to be mentioned when there is no room for all.
WEIGHT: dict[Gesture, int] = {
    Gesture.PRE_BEND: 9, Gesture.UNISON: 8, Gesture.RELEASE: 8, Gesture.BEND: 7, Gesture.TRILL: 6,
    Gesture.CURL: 6, Gesture.LEGATO: 4, Gesture.GRACE: 5, Gesture.DOUBLE_STOP: 4, Gesture.DEAD: 1,
}  # fmt: skip


@dataclass(frozen=True)
class Move:
    """One gesture: where it starts, the note that carries it, and for legato the frets it runs through.

    ``links`` are the techniques between ``frets``, one fewer than they.
    """

    gesture: Gesture
    event: Event
    note: Note
    frets: tuple[int, ...] = ()
    links: tuple[Technique, ...] = ()


class Again(StrEnum):
    """What is not the same where the highest notes of two figures are: the first of these that holds."""

    FULLER = "more double stops"
    SINGLE = "no double stops any more"
    THINNER = "fewer double stops"
    STOP_MOVED = "where the double stops are"
    UNDER = "notes under the highest"
    HAND = "the hand's place"
    STRINGS = "all strings"
    SOME_STRINGS = "some strings"
    ONE_STRING = "one string"
    BENDS = "what is bent"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Quote:
    """How a lick takes up another's figure. ``shift`` is in semitones when every note moved alike.

    ``whole`` says that the figure is all of both licks, ``again`` how it is played where the notes are the
    same; ``changed`` is the first note that differs, before and after, where at most half of them do.
    ``chord`` is the Roman numeral of the chord that this note, or else all notes that differ, were changed for:
    the model's chord was another, and the new ones are tones of it. ``over`` is the only chord under the figure
    where the model has none of it.
    """

    source: Slot
    same_rhythm: bool
    same_contour: bool
    whole: bool
    again: Again
    shift: int | None
    chord: str | None
    over: str | None
    changed: tuple[tuple[Event, Note], tuple[Event, Note]] | None


@dataclass(frozen=True)
class LickFacts:
    """A lick: its events, gestures in order, the highest note, where it lands."""

    slot: Slot
    events: tuple[Event, ...]
    moves: tuple[Move, ...]
    peak: tuple[Event, Note]
    landing: Event
    quote: Quote | None

    @property
    def landing_note(self) -> Note:
        """The note it lands on; of a double stop the upper one."""
        return top(self.landing)


@dataclass(frozen=True)
class Stroke:
    """One thing the comping does: a bass note, a walk of single notes, a grip, a dead stroke.

    ``moved`` is (string, degree before, degree after) when it is the grip before with one voice moved;
    ``shifted`` how many frets the whole grip before was moved; ``again`` that it is the grip before.
    ``leads`` is true when its chord is not the bar's.
    """

    kind: str
    events: tuple[Event, ...]
    again: bool = False
    moved: tuple[int, str, str] | None = None
    shifted: int = 0
    leads: bool = False

    @property
    def event(self) -> Event:
        """The first of its events."""
        return self.events[0]


@dataclass(frozen=True)
class CompFacts:
    """A comping slot: its strokes, and the earlier slot whose rhythm it repeats, if any."""

    slot: Slot
    strokes: tuple[Stroke, ...]
    rhythm_of: Slot | None


@dataclass(frozen=True)
class HandFacts:
    """A position that licks are played from: the fret under the index finger, the lowest tonic in reach (string, fret).

    ``event`` is the first one there, ``licks`` how many licks are played there at least in part. ``came_from``
    is the position of the lick event before, None before the first; ``way`` is 1 up or -1 down the neck from
    there, 0 when it is not so from what was played last; ``left`` tells that the comping in between was elsewhere.
    """

    fret: int
    root: tuple[int, int] | None
    event: Event
    licks: int
    came_from: int | None
    way: int
    left: bool


@dataclass(frozen=True)
class HardSpot:
    """A moment to practise: what makes it hard, at which event, the share of a limit it asks, its two frets."""

    kind: str
    event: Event
    score: float
    frets: tuple[int, int] = (0, 0)


def top(event: Event) -> Note:
    """The highest-sounding note of an event that is not dead, or its first note."""
    return max((n for n in event.notes if not n.muted), key=lambda n: n.sounding2, default=event.notes[0])


def struck(event: Event) -> tuple[Note, ...]:
    """The notes of an event with a pitch, lowest string first."""
    return tuple(sorted((n for n in event.notes if not n.muted), key=lambda n: -n.string))


# --- licks

CLIMAX = "climax"
CHORUS_BARS = 12


def role_of(study: Study, slot: Slot) -> str:
    """What a lick says in its chorus, as its plan has it, but that only one is the climax: the highest, the last such.

    A study of several times twelve bars has a chorus in each twelve; any other is one chorus.
    """
    if slot.role != CLIMAX:
        return slot.role
    chorus = _chorus_of(study, slot)
    rivals = [s for s in study.slots if s.role == CLIMAX and _chorus_of(study, s) == chorus]
    highest = max(rivals, key=lambda s: (_height(study, s), s.start))
    return slot.role if highest.number == slot.number else ""


def _chorus_of(study: Study, slot: Slot) -> int:
    """The chorus, from 0, of a slot's phrase."""
    first = next((p.first_bar for p in study.phrases if p.number == slot.phrase), bar_of(slot.start))
    return first // CHORUS_BARS if study.bars % CHORUS_BARS == 0 else 0


def _height(study: Study, slot: Slot) -> int:
    return max((top(e).sounding2 for e in study.events_of(slot.number) if struck(e)), default=0)


def lick_facts(study: Study, slot: Slot) -> LickFacts | None:
    """The facts of a lick, or None when nothing is played in it."""
    events = study.events_of(slot.number)
    sounding = [e for e in events if struck(e)]
    if not sounding:
        return None
    peak = max(sounding, key=lambda e: (top(e).sounding2, -e.onset))
    moves = tuple(_moves(study, events))
    return LickFacts(slot, events, moves, (peak, top(peak)), sounding[-1], _quote(study, slot))


def _moves(study: Study, events: tuple[Event, ...]) -> list[Move]:
    found: list[Move] = []
    runs: dict[int, Move] = {}
    for event in events:
        before = _note_before(study, event)
        for note in event.notes:
            run = runs.get(note.string)
            if note.technique in LEGATO and note.string in before:
                frets = run.frets if run else (before[note.string].fret,)
                links = run.links if run else ()
                first = run.event if run else event
                runs[note.string] = Move(
                    Gesture.LEGATO, first, note, (*frets, note.fret), (*links, note.technique)
                )
            elif run:
                found.append(runs.pop(note.string))
        for string in [s for s in runs if s not in {n.string for n in event.notes}]:
            found.append(runs.pop(string))
        found += _special(event)
    found += runs.values()
    return sorted(found, key=lambda m: m.event.onset)


def _note_before(study: Study, event: Event) -> dict[int, Note]:
    """The last note on each string before an event."""
    found: dict[int, Note] = {}
    for earlier in study.events:
        if earlier.onset >= event.onset:
            break
        found.update({n.string: n for n in earlier.notes if not n.muted})
    return found


def _special(event: Event) -> list[Move]:
    moves = []
    for note in event.notes:
        gesture = _gesture(event, note)
        if gesture:
            frets = (note.grace.fret, note.fret) if note.grace else (note.fret,)
            links = (note.grace.technique,) if note.grace else ()
            moves.append(Move(gesture, event, note, frets, links))
    if len(struck(event)) == 2 and not moves:
        moves.append(Move(Gesture.DOUBLE_STOP, event, top(event)))
    return moves


def _gesture(event: Event, note: Note) -> Gesture | None:
    if note.muted:
        return Gesture.DEAD
    if note.bend:
        if any(o is not note and not o.muted and 2 * o.pitch == note.sounding2 for o in event.notes):
            return Gesture.UNISON
        if note.bend.size == 1:
            return Gesture.CURL
        return {
            BendKind.BEND: Gesture.BEND,
            BendKind.BEND_RELEASE: Gesture.RELEASE,
            BendKind.PRE_BEND: Gesture.PRE_BEND,
            BendKind.PRE_BEND_RELEASE: Gesture.PRE_BEND,
        }[note.bend.kind]
    if note.trill is not None:
        return Gesture.TRILL
    return Gesture.GRACE if note.grace else None


def _quote(study: Study, slot: Slot) -> Quote | None:
    source = next((s for s in study.slots if s.number == slot.quotes), None)
    if source is None or source.number == slot.number or source.kind is not SlotKind.LICK:
        return None
    length = slot.figure_notes or source.figure_notes
    ours, theirs = study.events_of(slot.number), study.events_of(source.number)
    whole = len(ours) == len(theirs)
    length = min(length or max(len(ours), len(theirs)), len(ours), len(theirs))
    if not length:
        return None
    whole = whole and _sounds(ours) == _sounds(theirs) and _relative(ours) == _relative(theirs)
    length = len(ours) if whole else length
    ours, theirs = ours[:length], theirs[:length]
    pairs = list(zip(theirs, ours, strict=True))
    ups = [top(new).sounding2 - top(old).sounding2 for old, new in pairs]
    alike = len(set(ups)) == 1 and ups[0] % 2 == 0
    differ = [(old, new) for (old, new), up in zip(pairs, ups, strict=True) if up]
    few = 0 < len(differ) <= length / 2
    return Quote(
        source,
        same_rhythm=_relative(ours) == _relative(theirs),
        same_contour=_contour(ours) == _contour(theirs),
        whole=whole,
        again=_again(pairs),
        shift=ups[0] // 2 if alike else None,
        chord=_reason(study, differ[:1], lone=True) if few else _reason(study, differ, lone=False),
        over=_new_chord(study, pairs),
        changed=((differ[0][0], top(differ[0][0])), (differ[0][1], top(differ[0][1]))) if few else None,
    )


def _new_chord(study: Study, pairs: list[tuple[Event, Event]]) -> str | None:
    """The chord under all of the new events, unless one of the old ones has it too."""
    symbols = {study.chord(new.chord).symbol for _, new in pairs}
    if len(symbols) != 1 or symbols & {study.chord(old.chord).symbol for old, _ in pairs}:
        return None
    return pairs[0][1].chord


def _reason(study: Study, differ: list[tuple[Event, Event]], *, lone: bool) -> str | None:
    """The chord that the notes which differ, before and after, were changed for.

    The new ones are tones of it; a ``lone`` one comes in place of a note that is none.
    """
    roman = _new_chord(study, differ)
    if roman is None:
        return None
    chord = study.chord(roman)
    fits = all(top(new).degree in chord.degrees for _, new in differ)
    fitted = lone and any(top(old).sounding2 // 2 % 12 in chord.tones for old, _ in differ)
    return roman if fits and not fitted else None


def _sounds(events: tuple[Event, ...]) -> list[int]:
    return [top(e).sounding2 for e in events]


def _again(pairs: list[tuple[Event, Event]]) -> Again:
    """How figures differ whose highest notes are the same, event by event, before and after."""
    before, now = ([len(struck(event)) for event in events] for events in zip(*pairs, strict=True))
    if sum(now) != sum(before):
        thinner = Again.SINGLE if max(now) == 1 else Again.THINNER
        return Again.FULLER if sum(now) > sum(before) else thinner
    if now != before:
        return Again.STOP_MOVED
    if any(_under(old) != _under(new) for old, new in pairs):
        return Again.UNDER
    if all(_place_of(old) == _place_of(new) for old, new in pairs):
        return Again.NOTHING
    if all(old.hand != new.hand for old, new in pairs):
        return Again.HAND
    others = sum(top(old).string != top(new).string for old, new in pairs)
    if not others:
        return Again.BENDS
    if others == len(pairs):
        return Again.STRINGS
    return Again.SOME_STRINGS if others > 1 else Again.ONE_STRING


def _under(event: Event) -> list[int]:
    return sorted(n.sounding2 for n in struck(event) if n is not top(event))


def _place_of(event: Event) -> tuple[int, int]:
    return top(event).string, top(event).fret


def _relative(events: tuple[Event, ...]) -> list[int]:
    return [e.onset - events[0].onset for e in events] if events else []


def _contour(events: tuple[Event, ...]) -> list[int]:
    heights = [top(e).sounding2 for e in events]
    return [(b > a) - (b < a) for a, b in pairwise(heights)]


# --- comping


def comp_facts(study: Study, slot: Slot) -> CompFacts | None:
    """The facts of a comping slot, or None when nothing is played in it."""
    events = study.events_of(slot.number)
    if not events:
        return None
    strokes: list[Stroke] = []
    before: Event | None = None
    for event in events:
        notes = struck(event)
        if not notes:
            strokes.append(Stroke("dead", (event,)))
        elif len(notes) == 1:
            if strokes and strokes[-1].kind in ("bass", "walk") and _one_bar(strokes[-1].event, event):
                strokes[-1] = Stroke("walk", (*strokes[-1].events, event))
            else:
                strokes.append(Stroke("bass", (event,)))
        else:
            strokes.append(_grip(study, event, before))
            before = event
    return CompFacts(slot, tuple(strokes), _rhythm_source(study, slot, events))


def _one_bar(event: Event, other: Event) -> bool:
    return bar_of(event.onset) == bar_of(other.onset)


def _grip(study: Study, event: Event, before: Event | None) -> Stroke:
    bar_chord = study.chord_at(event.onset)
    leads = study.chord(event.chord).root_pc != bar_chord.root_pc
    if before is None:
        return Stroke("grip", (event,), leads=leads)
    old = {n.string: n for n in struck(before)}
    new = {n.string: n for n in struck(event)}
    if old.keys() == new.keys() and before.chord != event.chord:
        ways = {new[s].fret - old[s].fret for s in new}
        shifted = ways.pop() if len(ways) == 1 else 0
        return Stroke("grip", (event,), shifted=shifted if abs(shifted) in (1, 2) else 0, leads=leads)
    if before.chord != event.chord or not new.keys() <= old.keys():
        return Stroke("grip", (event,), leads=leads)
    moved = [s for s in new if new[s].pitch != old[s].pitch]
    if not moved and old.keys() == new.keys():
        return Stroke("grip", (event,), again=True, leads=leads)
    if len(moved) == 1:
        s = moved[0]
        return Stroke("grip", (event,), moved=(s, old[s].degree, new[s].degree), leads=leads)
    return Stroke("grip", (event,), leads=leads)


def _rhythm_source(study: Study, slot: Slot, events: tuple[Event, ...]) -> Slot | None:
    if len(events) < 2:
        return None
    shape = _shape(events)
    for other in study.slots:
        if other.start >= slot.start:
            break
        if other.kind is SlotKind.COMP and _shape(study.events_of(other.number)) == shape:
            return other
    return None


def _shape(events: tuple[Event, ...]) -> list[tuple[int, bool]]:
    return [(e.onset % TICKS_PER_BAR, len(e.notes) > 1) for e in events]


# --- hand


def hand_facts(study: Study, phrase: Phrase) -> tuple[HandFacts, ...]:
    """The positions from which the licks of a phrase are played, in order: a new one wherever it changes.

    The grips of the comping have positions of their own (``grip_frets``).
    """
    kinds = {s.number: s.kind for s in study.slots}
    mine = {s.number for s in study.slots_of(phrase.number)}
    found: list[HandFacts] = []
    slots: set[int] = set()
    last: Event | None = None
    between: list[int] = []
    for event in study.events:
        if kinds.get(event.slot) is not SlotKind.LICK:
            between += [event.hand] if any(n.fret for n in event.notes) else []
            continue
        if event.slot in mine:
            if not found or event.hand != found[-1].fret:
                slots = set()
                found.append(_position(study, event, last, between))
            slots.add(event.slot)
            found[-1] = replace(found[-1], licks=len(slots))
        last, between = event, []
    return tuple(found)


def _position(study: Study, event: Event, last: Event | None, between: list[int]) -> HandFacts:
    fret, root = event.hand, _root_near(study, event.hand)
    if last is None:
        return HandFacts(fret, root, event, 0, None, 0, left=False)
    ways = {(fret > position) - (fret < position) for position in (last.hand, *between[-1:])}
    way = ways.pop() if len(ways) == 1 else 0
    return HandFacts(fret, root, event, 0, last.hand, way, left=any(position != fret for position in between))


def grip_frets(study: Study, phrase: Phrase) -> tuple[int, int] | None:
    """The lowest and the highest position in a phrase's comping; None where no fret is pressed."""
    comps = {s.number for s in study.slots_of(phrase.number) if s.kind is SlotKind.COMP}
    positions = [e.hand for e in study.events if e.slot in comps and any(n.fret for n in e.notes)]
    return (min(positions), max(positions)) if positions else None


def _root_near(study: Study, position: int) -> tuple[int, int] | None:
    """The tonic under the hand on the lowest string that has one (an open string counts near the nut)."""
    reach = [0, *range(1, position + 4)] if position <= 2 else list(range(position, position + 4))
    for string in range(study.neck.strings, 0, -1):
        for fret in reach:
            if study.neck.pitch(string, fret) % 12 == study.home.pitch_class:
                return string, fret
    return None


# --- what is hard


def hard_spots(study: Study) -> tuple[HardSpot, ...] | None:
    """The hard moments that a study keeps, hardest first; None when it keeps none because they were not measured.

    A moment whose event is not there any more, as after editing by hand, is left out.
    """
    if study.hard_moments is None:
        return None
    at = {event.onset: event for event in study.events}
    there = (m for m in study.hard_moments if m.tick in at)
    found = (
        _spot(study, at[m.tick], m)
        for m in there
        if m.asks is not Asks.BEND or any(note.bend for note in at[m.tick].notes)
    )
    return tuple(sorted(found, key=lambda s: -s.score))


def _spot(study: Study, event: Event, moment: Moment) -> HardSpot:
    kind = _NAMES.get(moment.asks) or (_bend if moment.asks is Asks.BEND else _two_at_once)(study, event)
    return HardSpot(kind, event, moment.share, moment.frets)


_NAMES = {Asks.REACH: "reach", Asks.SHIFT: "shift", Asks.HOP: "hop", Asks.QUICK: "fast"}


def _two_at_once(study: Study, event: Event) -> str:
    if study.slots[event.slot].kind is SlotKind.LICK:
        return "double stop"
    return "moving grip" if any(n.grace for n in event.notes) else "grip"


def _bend(study: Study, event: Event) -> str:
    bend = next(n.bend for n in event.notes if n.bend)
    if bend.kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE):
        return "pre-bend"
    if len(struck(event)) > 1:
        return "double bend"
    if bend.size < 2:
        return "curl"
    return "release" if bend.kind is BendKind.BEND_RELEASE else "bend"


def technique_counts(study: Study) -> dict[str, int]:
    """How often each technique occurs in a study, by its name."""
    counts: dict[str, int] = defaultdict(int)
    for event, note in study.notes():
        for technique in (note.technique, note.grace.technique if note.grace else None):
            if technique in LEGATO:
                counts[str(technique)] += 1
        if note.bend:
            counts["curl" if note.bend.size == 1 else "bend"] += 1
            if note.bend.kind in (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE):
                counts["release"] += 1
            if note.bend.kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE):
                counts["pre-bend"] += 1
        counts["vibrato"] += note.vibrato
        counts["trill"] += note.trill is not None
        counts["double stop"] += len(struck(event)) == 2 and note is event.notes[0]
    return {name: n for name, n in counts.items() if n}
