"""A file of MusicXML or MIDI as a Study: the way in for commands.

Above compose: it reads rule files for the hand and the forms, and the solver fingers what the file leaves open. A file
written by this program comes back as it was.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lickwright import __version__
from lickwright.judge.effort import with_hard_moments
from lickwright.read.chords import form_of, key_of
from lickwright.read.columns import Column, columns_of
from lickwright.read.limits import MAX_BYTES, MAX_SOUNDS, UnreadableError
from lickwright.read.midi import read_midi
from lickwright.read.musicxml import read_musicxml
from lickwright.read.packed import unpacked
from lickwright.read.placing import Placed, as_written, grip_placed, lick_placed
from lickwright.read.player import player_rules
from lickwright.read.slots import slots_of
from lickwright.read.smf import is_midi
from lickwright.read.sounds import BendSign, Score, Sound
from lickwright.read.tuning import corrected, neck_of
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import style_names
from lickwright.study.model import (
    Bend,
    BendKind,
    Brief,
    ChordSpan,
    Event,
    Grace,
    Note,
    Phrase,
    Slot,
    SlotKind,
    Study,
    Technique,
    bend_curve,
)
from lickwright.theory.harmony import chord_in_key
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

#: Files that are read, by the end of their name.
SUFFIXES = (".musicxml", ".xml", ".mxl", ".mid", ".midi", ".smf")
#: Whose hand, neck and forms are used when no style is named, by meter and mode.
USUAL_STYLE = {("12/8", False): "slow-shuffle", ("4/4", False): "quick-shuffle"}
USUAL_MINOR = "minor-slow"


@dataclass(frozen=True)
class Reading:
    """A file as a Study; ``remarks`` say what was moved, left out or taken for granted, a sentence each."""

    study: Study
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class Asked:
    """What a caller knows better than the file: a style (name or path) for its hand and forms, a key, one of the
    style's forms, the part to read.
    """

    style: str | None = None
    key: str | None = None
    form: str | None = None
    part: str | None = None


#: The file is taken at its word.
NOTHING = Asked()


def reads(path: Path) -> bool:
    """Whether a file's name is one of those read here (else it may be a study file)."""
    return path.suffix.lower() in SUFFIXES


def read_file(path: Path, asked: Asked = NOTHING) -> Reading:
    """Reads a score or MIDI file; raises UnreadableError with a line for each problem, naming file and bar."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
        return read_bytes(data, asked, path.stem)
    except UnreadableError as error:
        raise UnreadableError(*(f"{path}: {problem}" for problem in error.problems)) from None


def read_bytes(data: bytes, asked: Asked = NOTHING, name: str = "") -> Reading:
    """As ``read_file``, from a file's bytes; ``name`` is the title of one that has none."""
    score = _score(data, asked.part)
    if len(data) > MAX_BYTES:
        raise UnreadableError(f"not read: more than {MAX_BYTES} bytes")
    if not score.sounds:
        raise UnreadableError("not read: there are no notes in it")
    if len(score.sounds) > MAX_SOUNDS:
        raise UnreadableError(f"not read: more than {MAX_SOUNDS} notes")
    return _Assembly(score, asked, name).reading()


def _score(data: bytes, part: str | None) -> Score:
    if len(data) > MAX_BYTES:
        raise UnreadableError(f"not read: a score has at most {MAX_BYTES} bytes")
    if is_midi(data):
        return read_midi(data)
    if data[:2] == b"PK":
        data = unpacked(data)
        if is_midi(data) or data[:2] == b"PK":
            raise UnreadableError("not a packed score: there is no MusicXML in it")
    return read_musicxml(data, part)


class _Assembly:
    """From what a file says to a Study, step by step."""

    def __init__(self, score: Score, asked: Asked, name: str):
        self.score, self.name = score, name
        try:
            self.key = key_of(score, asked.key)
        except ValueError as error:
            raise UnreadableError(str(error)) from None
        own = score.fields.brief
        self.style = asked.style or (own.style if own else None)
        usual = USUAL_MINOR if self.key.minor else USUAL_STYLE[score.meter, False]
        shipped = self.style if self.style in style_names() else usual
        book, rules = player_rules(asked.style or shipped, own)
        self.rules = rules
        self.neck = neck_of(score, rules.neck.neck())
        self.lead = Lead(rules, book, self.key, self.neck)
        score.sounds = corrected(score, self.neck)
        self.form = self._form(asked.form)
        self.columns = columns_of(score.sounds, score.remarks)
        self.phrases, self.slots, self.belongs = self._slots()
        if not score.tempo_bpm:
            score.tempo_bpm = rules.study.tempo.usual
            score.remarks.add(f"no tempo in the file: {score.tempo_bpm} beats a minute")
        score.tempo_bpm = max(1, min(1000, score.tempo_bpm))

    def _form(self, name: str | None) -> tuple[ChordSpan, ...]:
        forms = {n: f.bars for n, f in self.rules.forms.items()}
        if name is not None and name not in forms:
            raise UnreadableError(f"no form {name!r}; there are {', '.join(map(repr, forms))}")
        ordered = {own: forms[own] for own in self.rules.study.form} | forms
        given = forms[name] if name is not None else None
        return form_of(self.score, self.score.sounds, self.key, given, ordered)

    def _slots(self) -> tuple[tuple[Phrase, ...], tuple[Slot, ...], tuple[int, ...]]:
        """The file's own slots where they still fit its notes, else stretches found anew."""
        fields = self.score.fields
        slot_at = {e.onset: e.slot for e in fields.events}
        numbers = [s.number for s in fields.slots]
        if fields.slots and numbers == list(range(len(numbers))):
            belongs = tuple(slot_at.get(c.tick, -1) for c in self.columns)
            if all(0 <= b < len(numbers) for b in belongs):
                counts = Counter(belongs)
                slots = [replace(s, figure_notes=min(s.figure_notes, counts[s.number])) for s in fields.slots]
                return fields.phrases, tuple(slots), belongs
            self.score.remarks.add("the notes are no longer those that its slots were written for")
        lowest = min(self.neck.pitch(s, 0) for s in range(1, self.neck.strings + 1))
        return slots_of(self.columns, self.form, self.key, self.score.bars, lowest)

    def reading(self) -> Reading:
        """The Study and what there is to say about it."""
        placed = self._placed()
        events = tuple(self._event(i, p) for i, p in enumerate(placed))
        study = with_hard_moments(self._study(events), self.lead)
        return Reading(study, tuple(self.score.remarks))

    # ------------------------------------------------------------------ places

    def _placed(self) -> list[Placed]:
        positions = {e.onset: e.hand for e in self.score.fields.events}
        placed: list[Placed | None] = []
        for column in self.columns:
            before = placed[-1] if placed else None
            placed.append(as_written(column, positions.get(column.tick), before))
        free = not any(
            s.technique is not Technique.PLUCK or s.slurred or s.string is not None for s in self.score.sounds
        )
        for slot in self.slots:
            mine = [i for i, b in enumerate(self.belongs) if b == slot.number]
            if all(placed[i] is not None for i in mine):
                continue
            if slot.kind is SlotKind.LICK:
                columns = [self.columns[i] for i in mine]
                tempo, remarks = self.score.tempo_bpm, self.score.remarks
                made = lick_placed(columns, self.lead, self.form, tempo, slot.role, free, remarks)
                for i, each in zip(mine, made, strict=True):
                    placed[i] = each
        for i, column in enumerate(self.columns):
            if placed[i] is None:
                before = next((p for p in reversed(placed[:i]) if p is not None), None)
                placed[i] = grip_placed(column, self.lead, before, self.score.remarks)
        return [p for p in placed if p is not None]

    # ------------------------------------------------------------------ writing down

    def _event(self, index: int, placed: Placed) -> Event:
        column = placed.column
        own = next((e for e in self.score.fields.events if e.onset == column.tick), None)
        span = next(s for s in reversed(self.form) if s.onset <= column.tick)
        roman = own.chord if own is not None else span.roman
        notes = tuple(
            self._note(s, place, technique, column, roman)
            for s, place, technique in zip(column.sounds, placed.places, placed.techniques, strict=True)
        )
        ring = own.ring if own is not None else column.ring
        if own is None and any(s.rings for s in column.sounds):
            ring = max(ring, min(TICKS_PER_BEAT, self._room(index)))
        return Event(
            f"e{index + 1}",
            self.belongs[index],
            column.tick,
            column.end - column.tick,
            notes,
            roman,
            placed.position,
            own.grip if own is not None else None,
            any(s.staccato for s in column.sounds),
            ring,
        )

    def _room(self, index: int) -> int:
        following = self.columns[index + 1] if index + 1 < len(self.columns) else None
        end = self.columns[index].end
        return (following.end if following is not None else self.score.bars * TICKS_PER_BAR) - end

    def _note(
        self, sound: Sound, place: tuple[int, int, int], technique: Technique, column: Column, roman: str
    ) -> Note:
        string, fret, finger = place
        ticks = column.end - column.tick
        bend = _bend(sound.bend, ticks) if sound.bend else None
        arrives = sound.pitch + (bend.size // 2 if bend else 0)
        grace = None
        if sound.grace is not None:
            grace = _grace(sound, fret, finger)
        trill = fret + sound.trill if sound.trill is not None else None
        return Note(
            string,
            fret,
            finger,
            sound.pitch,
            chord_in_key(roman, self.key).degree(arrives),
            technique,
            bend,
            grace,
            sound.vibrato,
            sound.muted,
            sound.tied,
            trill if trill is None or trill <= self.neck.top_fret else None,
        )

    def _study(self, events: tuple[Event, ...]) -> Study:
        score, fields = self.score, self.score.fields
        general, brief = fields.study, fields.brief
        title = score.title or self.name
        if general is not None and score.title in (general.title, f"No. {general.number}: {general.title}"):
            title = general.title
        brief = brief or Brief(self.style or "", self.key.name, 0)
        return Study(
            title=title,
            number=score.number if score.number is not None else general.number if general else None,
            brief=brief,
            key=self.key.tonic,
            minor=self.key.minor,
            meter=score.meter,
            grid=general.grid if general is not None else _grid(score, self.columns),
            feel=general.feel if general is not None else (score.feel or score.meter).lower(),
            tempo_bpm=score.tempo_bpm,
            level=general.level if general is not None else self.rules.level.name,
            neck=self.neck,
            bars=score.bars,
            form=self.form,
            phrases=self.phrases,
            slots=self.slots,
            events=events,
            tool_version=__version__,
            cost=general.cost if general is not None else 0,
            scheme=general.scheme if general is not None else "",
            origin=general.origin if general is not None else "",
        )


def _grace(sound: Sound, fret: int, finger: int) -> Grace | None:
    """The small note on the main note's string; None when its fret is not there."""
    sign = sound.grace
    assert sign is not None
    on = sign.fret if sign.fret is not None else fret + sign.pitch - sound.pitch
    if on < 0 or on == fret:
        return None
    up = on < fret
    technique = sign.technique or (Technique.HAMMER_ON if up else Technique.PULL_OFF)
    usual = finger if technique is Technique.SLIDE else max(1, finger - 1) if up else min(4, finger + 1)
    return Grace(on, sign.finger if sign.finger is not None else usual if on else 0, technique)


def _bend(sign: BendSign, ticks: int) -> Bend:
    """A bend with the curve that the file gives it, or the usual one where that is the same to a hair."""
    usual = bend_curve(sign.kind, sign.size, ticks)
    given = _curve(sign, ticks)
    if given is None or (
        len(given) == len(usual)
        and all(abs(a - c) < 0.01 and b == d for (a, b), (c, d) in zip(given, usual, strict=True))
    ):
        return Bend(sign.kind, sign.size, usual)
    return Bend(sign.kind, sign.size, given)


def _curve(sign: BendSign, ticks: int) -> tuple[tuple[float, float], ...] | None:
    if sign.kind is BendKind.PRE_BEND or not sign.turns:
        return None
    turns = [round(t * ticks, 3) for t in sign.turns]
    size, points = float(sign.size), []
    if sign.kind is BendKind.PRE_BEND_RELEASE:
        points.append((0.0, size))
    else:
        start, top, *turns = turns
        points += [(0.0, 0.0), (start, 0.0), (top, size)] if start else [(0.0, 0.0), (top, size)]
    if turns:
        points += [(turns[0], size), (turns[1], 0.0)]
    if points[-1][0] < ticks:
        points.append((float(ticks), points[-1][1]))
    return tuple(points)


def _grid(score: Score, columns: Sequence[Column]) -> str:
    """Thirds of a beat or halves and quarters: which of them more notes stand on."""
    if score.meter == "12/8" or score.swung:
        return "triplet"
    inside = [c.tick % TICKS_PER_BEAT for c in columns]
    thirds = sum(t in (4, 8) for t in inside)
    return "triplet" if thirds > sum(t in (3, 6, 9) for t in inside) else "straight"
