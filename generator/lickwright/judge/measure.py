"""Music measures of a study or of one lick: each with a name, a unit, a sentence for a teacher and a function.

A measure says how much there is of something, not whether it is good: the bands a style expects stand in its
rule files (``[music.bands]``) and are what its own studies show. Measures of this kind agree poorly with
listeners when used alone (Kader and Karmaker, arXiv 2509.00051 [abstract seen]): they show what is unusual.
What is worth measuring is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lickwright.judge import measure_comping as comping
from lickwright.judge import measure_lead as lead
from lickwright.judge.measure_lead import each, most
from lickwright.judge.passage import Passage, single, whole
from lickwright.rulebook.schema.music import Band, MusicTable
from lickwright.study.model import Study

Value: TypeAlias = float | None


@dataclass(frozen=True)
class Measure:
    """``name`` is its key in rule files; ``unit`` is "share" for parts of a whole, else what is counted.

    ``of_lick`` says whether it means anything for one lick by itself.
    """

    name: str
    label: str
    unit: str
    sentence: str
    value: Callable[[Passage], Value]
    of_lick: bool = True

    def show(self, value: Value) -> str:
        """A value as text, a dash when there is none."""
        if value is None:
            return "-"
        if self.unit == "share":
            return f"{value:.0%}"
        return f"{value:.1f}".removesuffix(".0")


SHARE = "share"
MEASURES: tuple[Measure, ...] = (
    # ---- what a lick says, and when
    Measure("notes", "notes in a lick", "notes",
            "How many notes a lick has; one idea is said in five to eleven.", each(lead.notes)),
    Measure("room", "room in a lick", SHARE,
            "How much of the lick's time is silent or held for a beat or longer: where the listener takes it in.",
            each(lead.room)),
    Measure("off_the_beat", "starts off beat one", SHARE,
            "How many licks start anywhere but on the first beat of a bar.", each(lead.off_the_beat)),
    Measure("syncopation", "syncopation", SHARE,
            "How many notes start between the beats and sound on over the next beat.", lead.syncopation),
    Measure("landing_beats", "last note held", "beats", "How long a lick's last note lasts.", each(lead.landing_beats)),
    Measure("lead_share", "lead's share of the time", SHARE,
            "How much of the chorus passes while a lick is being played.", lead.lead_share, of_lick=False),
    # ---- the line
    Measure("steps", "moves by step", SHARE,
            "How many moves to another note go to a neighbour, a minor third away at most.", lead.steps),
    Measure("leaps", "leaps", SHARE, "How many moves to another note are a fourth or wider.", lead.leaps),
    Measure("leaps_answered", "leaps answered by a step", SHARE,
            "How many leaps turn back by a step; a leap left hanging wants an answer.", lead.leaps_answered),
    Measure("longest_run", "longest run", "notes",
            "How many notes go on by steps in one direction; long runs sound like scales.", most(lead.longest_run)),
    Measure("most_repeats", "one pitch in a row", "times",
            "How often one pitch is struck again and again without another between.", most(lead.most_repeats)),
    Measure("pitches", "pitches in a lick", "pitches", "How many different pitches a lick has.", each(lead.pitches)),
    Measure("compass", "compass", "semitones",
            "How far the highest note lies above the lowest.", lead.compass),
    Measure("one_peak", "one highest note", SHARE,
            "How many licks reach their highest note once only.", each(lead.one_peak)),
    Measure("peak_place", "place of the peak", SHARE,
            "Where the highest note stands: 0 % at a lick's first note, 100 % at its last.", each(lead.peak_place)),
    Measure("climax_on_top", "climax on top", SHARE,
            "Whether the highest note of all is in the climax.", lead.climax_on_top, of_lick=False),
    Measure("comes_down", "comes down at the end", SHARE,
            "How many licks go down to their last note.", each(lead.comes_down)),
    # ---- the chords
    Measure("strong_tones", "chord tones on beats 1, 3", SHARE,
            "How many notes on the strong beats belong to the chord under them.", lead.strong_tones),
    Measure("long_tones", "chord tones held", SHARE,
            "How many notes of a beat or longer belong to the chord under them.", lead.long_tones),
    Measure("landings_in_chord", "landings on chord tones", SHARE,
            "How many licks end on a note of the chord under it.", lead.landings_in_chord),
    Measure("landing_degrees", "different landings", "degrees",
            "On how many different degrees of the key the licks end.", lead.landing_degrees, of_lick=False),
    Measure("third_of_five", "V's third over V", SHARE,
            "How many licks that dwell on V sound its third, which no other chord has.", lead.third_of_five),
    # ---- the hand
    Measure("techniques", "techniques in a lick", "kinds",
            "How many techniques a lick has besides plucking: slurs, slides, bends, graces, double stops, vibrato.",
            each(lead.techniques)),
    Measure("bends", "bends", "bends", "How many notes are bent by a half step or more.", lead.bends),
    Measure("pre_bends", "pre-bends", "bends", "How many notes are bent before they are struck.", lead.pre_bends),
    Measure("legato", "legato", SHARE, "How many notes are hammered, pulled off or slid to.", lead.legato),
    Measure("windows", "hand positions", "places",
            "How many places the index finger takes in the licks.", lead.positions),
    # ---- the ideas
    Measure("quoting", "figures taken up", SHARE,
            "How many licks take up the figure of an earlier one.", lead.quoting, of_lick=False),
    Measure("fidelity", "figure's ways kept", SHARE,
            "How many of a figure's ups and downs are kept where it is taken up.", lead.fidelity, of_lick=False),
    Measure("develops", "way home from the figure", SHARE,
            "How many licks take up their own figure on the way home: again, cut or upside down.", each(lead.develops)),
    Measure("rhythms", "different rhythms", SHARE,
            "How many different rhythms the licks open with, as a share of the licks.", lead.rhythms, of_lick=False),
    Measure("variety", "distance between licks", SHARE,
            "How far two licks are apart on average: rhythm, contour, notes and place together.",
            lead.variety, of_lick=False),
    # ---- the answers
    Measure("hits", "strokes in an answer", "strokes",
            "How often an answer strikes; small answers leave room.", comping.hits, of_lick=False),
    Measure("hits_off_the_beat", "strokes off the beat", SHARE,
            "How many strokes of the comping fall between the beats.", comping.hits_off_the_beat, of_lick=False),
    Measure("riff", "answers keep a rhythm", SHARE,
            "How far two answers strike at the same places in their bars, where both have time there.",
            comping.riff, of_lick=False),
    Measure("comping_room", "room in an answer", SHARE,
            "How much of an answer's time nothing is struck or held.", comping.comping_room, of_lick=False),
    Measure("strings_a_grip", "strings in a grip", "strings",
            "How many strings a grip sounds; two to four are usual.", comping.strings_a_grip, of_lick=False),
    Measure("different_grips", "different grips", "grips",
            "How many grips there are to learn.", comping.different_grips, of_lick=False),
    Measure("moved_strings", "strings moved by a change", "strings",
            "How many strings change from one grip to the next that differs; few make smooth comping.",
            comping.moved_strings, of_lick=False),
    Measure("hand_moves", "hand from lick to grip", "frets",
            "How many frets the hand goes from a lick's last note to the answer's first grip.",
            comping.hand_moves, of_lick=False),
    Measure("breath", "breath before an answer", "beats",
            "How long it is silent between a lick's last note and the answer.", comping.breath, of_lick=False),
    Measure("shared_places", "answer echoes the lick", SHARE,
            "How many strokes of an answer stand where the lick before has a note, counted in the bar.",
            comping.shared_places, of_lick=False),
    Measure("silence", "silence", SHARE, "How much of the chorus nothing sounds.", comping.silence, of_lick=False),
)  # fmt: skip


#: Steps of the search for how much is cut off.
HALVINGS = 20


@dataclass(frozen=True)
class Measured:
    """A measure of a study: its value, each lick's in order, the band its style expects (None: no band)."""

    measure: Measure
    value: Value
    licks: tuple[Value, ...]
    band: Band | None = None

    @property
    def outside(self) -> bool:
        """True when there is a value and it lies outside the band, as both are shown."""
        if self.value is None or self.band is None:
            return False
        low, high = self.band
        shown = round(self.value, 2 if self.measure.unit == SHARE else 1)
        return not low <= shown <= high

    def show_band(self) -> str:
        """The band as text, a dash when there is none."""
        if self.band is None:
            return "-"
        low, high = map(self.measure.show, self.band)
        return low if low == high else f"{low.removesuffix('%')}-{high}"


def measured(study: Study, music: MusicTable | None = None) -> tuple[Measured, ...]:
    """Every measure of a study, with the bands of its rules when they are given."""
    passage = whole(study)
    alone = [single(study, lick) for lick in passage.licks]
    return tuple(
        Measured(
            measure,
            measure.value(passage),
            tuple(measure.value(lick) if measure.of_lick else None for lick in alone),
            getattr(music.bands, measure.name) if music else None,
        )
        for measure in MEASURES
    )


def fitted_bands(studies: Sequence[Study], share: float = 0.97) -> dict[str, Band]:
    """Bands by measure, so narrow that just ``share`` of some studies lie inside all of them.

    From every measure as much is cut off at either end, in parts of its studies. Shares are rounded outward to
    twentieths, the rest to tenths; a measure that no study has is left out.
    """
    rows = [measured(study) for study in studies]
    columns = [
        np.array([np.nan if r[n].value is None else r[n].value for r in rows]) for n in range(len(MEASURES))
    ]
    low, high = 0.0, 0.5
    for _ in range(HALVINGS):
        tail = (low + high) / 2
        kept = np.ones(len(rows), bool)
        for n, band in _cut(columns, tail):
            kept &= np.isnan(columns[n]) | ((columns[n] >= band[0] - 1e-9) & (columns[n] <= band[1] + 1e-9))
        low, high = (tail, high) if kept.mean() >= share else (low, tail)
    return {MEASURES[n].name: band for n, band in _cut(columns, low)}


def _cut(columns: Sequence[NDArray[np.float64]], tail: float) -> Iterator[tuple[int, Band]]:
    """Each measure's number and its band without a part of its values at either end."""
    for n, values in enumerate(columns):
        found = values[~np.isnan(values)]
        if len(found):
            parts = 20 if MEASURES[n].unit == SHARE else 10
            low, high = np.quantile(found, (tail, 1 - tail))
            yield n, (math.floor(round(low * parts, 6)) / parts, math.ceil(round(high * parts, 6)) / parts)


def measured_lick(study: Study, slot: int) -> tuple[tuple[Measure, Value], ...]:
    """The measures of one lick by itself; empty when nothing sounds in the slot."""
    licks = [lick for lick in whole(study).licks if lick.slot.number == slot]
    return tuple((m, m.value(single(study, lick))) for lick in licks for m in MEASURES if m.of_lick)
