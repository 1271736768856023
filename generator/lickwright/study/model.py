"""The Study: one finished chorus as a frozen value. Everything shown, printed or heard is made from it.

Conventions: times are ticks from the study's start (12 to the beat, see ``rhythm``); strings are numbered
from 1, the highest; frets from 0, the open string; fingers from 1 (index) to 4 (little), 0 for an open
string; pitches are MIDI numbers of what sounds, and bends are counted in quarter tones (a whole step is
4), so that every pitch is exact. Events are in order of onset, and one ends before the next begins: a
chord that is meant to ring on says so in ``ring``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property
from pathlib import Path

from lickwright.guitar.neck import Neck
from lickwright.problems import ProblemsError
from lickwright.study.migrate import SCHEMA_VERSION
from lickwright.theory.harmony import Chord, Key, chord_in_key
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT, beat_text


class Technique(StrEnum):
    """How a note is sounded, seen from the note before it on the same string."""

    PLUCK = "pluck"
    HAMMER_ON = "hammer-on"
    PULL_OFF = "pull-off"
    SLIDE = "slide"


class BendKind(StrEnum):
    """What a bent note does: goes up; goes up and comes back; starts bent; starts bent and comes back."""

    BEND = "bend"
    BEND_RELEASE = "bend-release"
    PRE_BEND = "pre-bend"
    PRE_BEND_RELEASE = "pre-bend-release"


@dataclass(frozen=True)
class Bend:
    """A bend of ``size`` quarter tones. ``curve`` is (tick after the onset, quarter tones), straight between."""

    kind: BendKind
    size: int
    curve: tuple[tuple[float, float], ...]


def bend_curve(kind: BendKind, size: int, ticks: int) -> tuple[tuple[float, float], ...]:
    """A bend's way in time: (tick after the onset, quarter tones). Up in the first third, at most half a beat."""
    rise = min(ticks / 3, TICKS_PER_BEAT / 2)
    if kind is BendKind.BEND:
        return ((0.0, 0.0), (rise, float(size)), (float(ticks), float(size)))
    if kind is BendKind.PRE_BEND:
        return ((0.0, float(size)), (float(ticks), float(size)))
    down, up = ticks * 0.55, min(ticks / 4, TICKS_PER_BEAT / 3)
    start = ((0.0, 0.0), (up, float(size))) if kind is BendKind.BEND_RELEASE else ((0.0, float(size)),)
    return (*start, (down, float(size)), (ticks * 0.8, 0.0), (float(ticks), 0.0))


@dataclass(frozen=True)
class Grace:
    """A note so short that it has no time of its own, sounded at the onset on the same string.

    It is struck at ``fret`` and the main note follows at once by ``technique`` (hammer-on, pull-off, slide).
    """

    fret: int
    finger: int
    technique: Technique


@dataclass(frozen=True)
class Note:
    """One string sounding. ``pitch`` is that of the fret alone; ``sounding2`` is where it goes, doubled.

    ``degree`` is what it is of the event's chord once it has arrived (the bend's target). ``tied`` is a note
    that rings on from the event before and is not struck again; ``muted`` is a dead note without pitch;
    ``trill`` is the fret of a trill's upper note.
    """

    string: int
    fret: int
    finger: int
    pitch: int
    degree: str
    technique: Technique = Technique.PLUCK
    bend: Bend | None = None
    grace: Grace | None = None
    vibrato: bool = False
    muted: bool = False
    tied: bool = False
    trill: int | None = None

    @property
    def sounding2(self) -> int:
        """The pitch the note arrives at, in half-units (twice the MIDI number)."""
        return 2 * self.pitch + (self.bend.size if self.bend else 0)


@dataclass(frozen=True)
class Event:
    """What happens at one onset: one note, a double stop, or a grip struck together.

    ``duration`` is what is written; a grip may ring ``ring`` ticks longer. ``chord`` is the Roman numeral
    of the chord that sounds (in comping it may lead ahead of the bar's), ``grip`` the grip's name.
    """

    id: str
    slot: int
    onset: int
    duration: int
    notes: tuple[Note, ...]
    chord: str
    hand: int
    grip: str | None = None
    staccato: bool = False
    ring: int = 0

    @property
    def end(self) -> int:
        """The tick at which the written duration is over."""
        return self.onset + self.duration

    @property
    def melody(self) -> Note:
        """The note that carries the melody: that of the highest string."""
        return min(self.notes, key=lambda n: n.string)


class SlotKind(StrEnum):
    """Whom a stretch of time belongs to."""

    LICK = "lick"
    COMP = "comp"


@dataclass(frozen=True)
class Slot:
    """A stretch of time given to the lead or to the comping, and what the plan put there.

    ``name`` is its letter in the scheme (A, A', B); ``role`` what it says (question, answer, climax, close);
    ``cells`` the rhythms by name; ``windows`` the frets under the index finger that its hand may take;
    ``quotes`` the number of the slot whose figure it takes up; ``figure_notes`` how many onsets the figure has.
    """

    number: int
    kind: SlotKind
    phrase: int
    start: int
    end: int
    name: str = ""
    role: str = ""
    cells: tuple[str, ...] = ()
    windows: tuple[int, ...] = ()
    quotes: int | None = None
    figure_notes: int = 0


@dataclass(frozen=True)
class Phrase:
    """Bars ``first_bar`` to ``last_bar`` (from 0, inclusive) and the template its slots were laid out by."""

    number: int
    first_bar: int
    last_bar: int
    template: str


@dataclass(frozen=True)
class ChordSpan:
    """A chord of the form: where it begins, how long it reigns (ticks), its Roman numeral."""

    onset: int
    duration: int
    roman: str


@dataclass(frozen=True)
class Brief:
    """What was asked: enough to write the same study again."""

    style: str
    key: str
    seed: int
    tempo_bpm: int | None = None
    level: str | None = None
    title: str | None = None
    number: int | None = None
    options: tuple[tuple[str, str], ...] = ()
    #: The folder of the file that says all this, where rule files of the user's own are looked for; in no file itself.
    home: str = field(default="", compare=False)


@dataclass(frozen=True)
class RuleDigest:
    """A rule file that was read: its name and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True)
class Step:
    """A tempo at which a phrase is practised: hundredths of the study's tempo, beats a minute, how many times."""

    percent: int
    tempo_bpm: int
    times: int


class Before(StrEnum):
    """What the player does before an exercise."""

    WARM_UP = "warm-up"
    REST = "rest"
    BREAK = "break"


@dataclass(frozen=True)
class Drill:
    """How a phrase is practised: its number for the player, what it trains and at which ticks of the study each of
    these stands, how hard it is (1 to 10), the steps.

    ``before_s`` are the seconds ``before`` it, ``lasts_s`` how long its steps last together.
    """

    phrase: int
    number: int
    trains: tuple[str, ...]
    places: tuple[tuple[int, ...], ...]
    difficulty: float
    steps: tuple[Step, ...]
    before: Before
    before_s: float
    lasts_s: float


class Asks(StrEnum):
    """What a moment asks for: a bend, two fingers apart at once or one after the other, the hand or one finger
    going to another fret, notes in quick succession.
    """

    BEND = "bend"
    SPREAD = "spread"
    REACH = "reach"
    SHIFT = "shift"
    HOP = "hop"
    QUICK = "quick"


#: Moments that lead from the event before to theirs.
FROM_BEFORE = frozenset({Asks.REACH, Asks.SHIFT, Asks.HOP, Asks.QUICK})


@dataclass(frozen=True)
class Moment:
    """One thing the hands do: the tick, what it asks, in which words, how much, the player's limit and the unit of both.

    ``frets`` are the two frets it lies between, as they are come to, for a spread the lower first.
    """

    tick: int
    asks: Asks
    frets: tuple[int, int]
    what: str
    asked: float
    limit: float
    unit: str

    @property
    def share(self) -> float:
        """What is asked as a share of the limit: above 1 is beyond it."""
        return self.asked / self.limit if self.limit > 0 else float("inf")

    def __str__(self) -> str:
        return f"{beat_text(self.tick)}: {self.what}: {_figure(self.asked)} {self.unit}, limit {_figure(self.limit)}"


def _figure(value: float) -> str:
    if value < 1:
        return f"{value:.2f}"
    return f"{value:.0f}" if value >= 100 else f"{value:.1f}".removesuffix(".0")


@dataclass(frozen=True)
class Study:
    """One chorus. ``grid`` is "triplet" (12/8, or 4/4 swung) or "straight"; ``meter`` how it is written.

    ``origin`` says from what it was made when not from its brief alone: another study, pins. A study with
    ``drills`` is a practice sheet: each phrase is an exercise by itself. ``hard_moments`` are those that ask for much
    of what the player it was written for can do, in order of time; None when they were not measured.
    """

    title: str
    number: int | None
    brief: Brief
    key: str
    minor: bool
    meter: str
    grid: str
    feel: str
    tempo_bpm: int
    level: str
    neck: Neck
    bars: int
    form: tuple[ChordSpan, ...]
    phrases: tuple[Phrase, ...]
    slots: tuple[Slot, ...]
    events: tuple[Event, ...]
    rules: tuple[RuleDigest, ...] = ()
    tool_version: str = ""
    cost: int = 0
    scheme: str = ""
    origin: str = ""
    drills: tuple[Drill, ...] = ()
    hard_moments: tuple[Moment, ...] | None = None
    schema_version: int = field(default=SCHEMA_VERSION)

    @cached_property
    def home(self) -> Key:
        """The key as a value of ``harmony``."""
        return Key(self.key, self.minor)

    @property
    def ticks(self) -> int:
        """The study's length."""
        return self.bars * TICKS_PER_BAR

    @property
    def swung(self) -> bool:
        """True when 4/4 is written and the eighths are played long-short."""
        return self.meter == "4/4" and self.grid == "triplet"

    def chord(self, roman: str) -> Chord:
        """A Roman numeral as a chord of this study's key."""
        return chord_in_key(roman, self.home)

    def chord_at(self, tick: int) -> Chord:
        """The chord of the form at a tick (the last one at or beyond the end)."""
        roman = self.form[0].roman
        for span in self.form:
            if span.onset <= tick:
                roman = span.roman
        return self.chord(roman)

    def events_of(self, slot: int) -> tuple[Event, ...]:
        """The events of one slot, in order."""
        return tuple(e for e in self.events if e.slot == slot)

    def slots_of(self, phrase: int) -> tuple[Slot, ...]:
        """The slots of one phrase, in order of their start."""
        return tuple(s for s in self.slots if s.phrase == phrase)

    def notes(self) -> Iterator[tuple[Event, Note]]:
        """Every note with its event."""
        for event in self.events:
            for note in event.notes:
                yield event, note


class StudyFileError(ProblemsError):
    """A study file that cannot be read: ``problems`` says where and what would be right, a line each."""


def at_home(study: Study, folder: Path) -> Study:
    """A study that was read from a file in a folder, with the folder as its brief's ``home``."""
    return replace(study, brief=replace(study.brief, home=str(folder)))
