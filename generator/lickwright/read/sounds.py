"""What a file says, whatever its format: sounds in ticks, chord symbols, tuning, tempo. No Study yet.

Conventions as in ``study``: ticks, 12 to the beat; strings from 1, the highest; pitches are MIDI numbers of what
sounds at the fretted place; None where the file does not say.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from lickwright.read.limits import Remarks
from lickwright.study.model import BendKind, Technique
from lickwright.study.score_fields import Fields


@dataclass(frozen=True)
class BendSign:
    """A bend of ``size`` quarter tones; ``turns`` are the shares of the note (0..1) at which it moves and rests:
    up from, up to, down from, down to, as many as its kind has, empty where the file does not say.
    """

    kind: BendKind
    size: int
    turns: tuple[float, ...] = ()


@dataclass(frozen=True)
class GraceSign:
    """A small note before: its pitch, and what is known of fret, finger and the way to the main note."""

    pitch: int
    fret: int | None = None
    finger: int | None = None
    technique: Technique | None = None


@dataclass(frozen=True)
class Sound:
    """One pitch from ``tick`` to ``end``. ``tied`` is one that rings on and is not struck again; ``slurred``
    says that it is slurred from the one before; ``trill`` is in semitones up; ``voice`` tells lines apart.
    """

    tick: int
    end: int
    pitch: int
    voice: str = ""
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    technique: Technique = Technique.PLUCK
    slurred: bool = False
    bend: BendSign | None = None
    grace: GraceSign | None = None
    vibrato: bool = False
    muted: bool = False
    trill: int | None = None
    staccato: bool = False
    rings: bool = False
    tied: bool = False


@dataclass(frozen=True)
class ChordSign:
    """A chord symbol: where it stands, its root as written (``Bb``), its quality as in ``harmony.QUALITIES``."""

    tick: int
    root: str
    quality: str


@dataclass
class Score:
    """A file's music. ``fifths`` and ``minor`` are its key signature, ``tuning`` the first string first."""

    sounds: list[Sound] = field(default_factory=list)
    bars: int = 0
    meter: str = "4/4"
    swung: bool = False
    tempo_bpm: int = 0
    feel: str = ""
    title: str = ""
    number: int | None = None
    fifths: int | None = None
    minor: bool = False
    chords: list[ChordSign] = field(default_factory=list)
    tuning: tuple[int, ...] | None = None
    capo: int = 0
    fields: Fields = field(default_factory=Fields)
    remarks: Remarks = field(default_factory=Remarks)
