"""What can be measured in the licks of a passage. A value is None where there is nothing to measure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import combinations, pairwise
from statistics import fmean

from lickwright.judge.passage import Lick, Passage, Sounded
from lickwright.rulebook.development import Development, development
from lickwright.rulebook.rule import Line
from lickwright.study.distance import distance_of, line_distances, line_of
from lickwright.study.model import BendKind, Study, Technique
from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

#: Semitones: a neighbour in a pentatonic scale at most, and a leap at least (a fourth). Common practice, no source.
STEP, LEAP = 3, 5
STRONG_BEATS = (1, 3)
#: A lick with so many notes over V says something about it.
OVER_FIVE = 3
LEGATO = (Technique.HAMMER_ON, Technique.PULL_OFF, Technique.SLIDE)


def mean(values: Iterable[float | None]) -> float | None:
    """The mean of the values that there are, None when there are none."""
    found = [float(v) for v in values if v is not None]
    return fmean(found) if found else None


def each(value: Callable[[Lick], float | None]) -> Callable[[Passage], float | None]:
    """The mean over licks of what is measured in each."""
    return lambda passage: mean(map(value, passage.licks))


def most(value: Callable[[Lick], float]) -> Callable[[Passage], float | None]:
    """The largest of what is measured in each lick."""
    return lambda passage: max(map(value, passage.licks), default=None)


def _notes(passage: Passage) -> Iterator[Sounded]:
    for lick in passage.licks:
        yield from lick.notes


def _moves(passage: Passage) -> list[float]:
    return [move for lick in passage.licks for move in lick.moves if move]


# ---- time


def notes(lick: Lick) -> float:
    """How many notes a lick has."""
    return len(lick.notes)


def room(lick: Lick) -> float:
    """The share of a lick's slot that is silent or held for a beat or longer."""
    quick = sum(n.duration for n in lick.notes if n.duration < TICKS_PER_BEAT)
    return max(0.0, 1 - quick / max(1, lick.slot.end - lick.slot.start))


def off_the_beat(lick: Lick) -> float:
    """1 when the lick starts anywhere but on the bar's first beat."""
    return float(lick.notes[0].onset % TICKS_PER_BAR != 0)


def syncopation(passage: Passage) -> float | None:
    """The share of notes that start between the beats and sound on over the next one."""
    return mean(
        n.onset % TICKS_PER_BEAT > 0 and n.end > n.onset - n.onset % TICKS_PER_BEAT + TICKS_PER_BEAT
        for n in _notes(passage)
    )


def landing_beats(lick: Lick) -> float:
    """How many beats the last note lasts."""
    return lick.landing.duration / TICKS_PER_BEAT


def lead_share(passage: Passage) -> float | None:
    """The share of the study's time that the licks take, from first note to last."""
    return sum(x.landing.end - x.notes[0].onset for x in passage.licks) / passage.study.ticks


# ---- line


def steps(passage: Passage) -> float | None:
    """The share of moves to another pitch that are no wider than a minor third."""
    return mean(abs(move) <= STEP for move in _moves(passage))


def leaps(passage: Passage) -> float | None:
    """The share of moves to another pitch that are a fourth or wider."""
    return mean(abs(move) >= LEAP for move in _moves(passage))


def leaps_answered(passage: Passage) -> float | None:
    """The share of leaps, the last move of a lick apart, that a step back follows."""
    return mean(
        a * b < 0 and abs(b) <= STEP
        for lick in passage.licks
        for a, b in pairwise(lick.moves)
        if abs(a) >= LEAP
    )


def longest_run(lick: Lick) -> float:
    """How many notes go on by steps in one direction, at most."""
    longest = length = 1
    before = 0.0
    for move in lick.moves:
        steps_on = 0 < abs(move) <= STEP
        length = (length + 1 if move * before > 0 and length > 1 else 2) if steps_on else 1
        longest, before = max(longest, length), move
    return longest


def most_repeats(lick: Lick) -> float:
    """How often one pitch is struck in a row, at most."""
    longest = length = 1
    for move in lick.moves:
        length = 1 if move else length + 1
        longest = max(longest, length)
    return longest


def pitches(lick: Lick) -> float:
    """How many different pitches a lick has."""
    return len({n.pitch2 for n in lick.notes})


def compass(passage: Passage) -> float | None:
    """Semitones from the lowest note to the highest."""
    found = [n.pitch2 for n in _notes(passage)]
    return (max(found) - min(found)) / 2 if found else None


def one_peak(lick: Lick) -> float:
    """1 when the highest note comes once."""
    return float(sum(n.pitch2 == lick.peak.pitch2 for n in lick.notes) == 1)


def climax_on_top(passage: Passage) -> float | None:
    """1 when a climax has the highest note of all licks; None when none is meant as one."""
    climaxes = [lick.peak.pitch2 for lick in passage.licks if lick.slot.role == "climax"]
    return float(max(climaxes) == max(n.pitch2 for n in _notes(passage))) if climaxes else None


def peak_place(lick: Lick) -> float | None:
    """Where the highest note stands, 0 the first note's onset, 1 the last one's."""
    first, last = lick.notes[0].onset, lick.landing.onset
    return (lick.peak.onset - first) / (last - first) if last > first else None


def comes_down(lick: Lick) -> float | None:
    """1 when the last move to another pitch goes down."""
    moved = [move for move in lick.moves if move]
    return float(moved[-1] < 0) if moved else None


# ---- harmony


def _in_chord(study: Study, note: Sounded) -> bool:
    """Whether a note belongs to the chord that it sounds over the longest: a note struck early to the next one.

    A quarter-tone curl leans towards the note above and counts as either.
    """
    tones = study.chord_at(note.onset + note.duration // 2).tones
    return any(pitch % 12 in tones for pitch in {note.pitch2 // 2, -(-note.pitch2 // 2)})


def strong_tones(passage: Passage) -> float | None:
    """The share of notes on beats 1 and 3 that are tones of the chord."""
    strong = [(beat - 1) * TICKS_PER_BEAT for beat in STRONG_BEATS]
    return mean(_in_chord(passage.study, n) for n in _notes(passage) if n.onset % TICKS_PER_BAR in strong)


def long_tones(passage: Passage) -> float | None:
    """The share of notes of a beat or longer that are tones of the chord."""
    return mean(_in_chord(passage.study, n) for n in _notes(passage) if n.duration >= TICKS_PER_BEAT)


def landings_in_chord(passage: Passage) -> float | None:
    """The share of last notes that are tones of the chord."""
    return mean(_in_chord(passage.study, lick.landing) for lick in passage.licks)


def landing_degrees(passage: Passage) -> float | None:
    """How many different degrees of the key the licks land on."""
    home = passage.study.home.pitch_class
    return len({(lick.landing.pitch2 // 2 - home) % 12 for lick in passage.licks}) or None


def third_of_five(passage: Passage) -> float | None:
    """The share of licks with three notes or more over V that sound V's third there."""
    study = passage.study
    five = (study.home.pitch_class + semitones("5")) % 12
    third = (five + semitones("3")) % 12
    found = []
    for lick in passage.licks:
        over = [n for n in lick.notes if study.chord_at(n.onset).root_pc == five]
        if len(over) >= OVER_FIVE:
            heard = {note.sounding2 for n in over for note in n.event.notes if not note.muted}
            found.append(any(p % 2 == 0 and p // 2 % 12 == third for p in heard))
    return mean(found)


# ---- hands


def gestures(lick: Lick) -> frozenset[str]:
    """The techniques of a lick by name, besides plain plucking."""
    return frozenset(name for sounded in lick.notes for name in _gestures(sounded))


def _gestures(sounded: Sounded) -> Iterator[str]:
    if sum(not note.muted for note in sounded.event.notes) > 1:
        yield "double stop"
    for note in sounded.event.notes:
        if note.technique in LEGATO:
            yield note.technique.value
        if note.bend:
            curl = note.bend.size == 1
            yield "curl" if curl else note.bend.kind.value.replace("bend-release", "bend and release")
        if note.grace:
            yield "grace note"
        if note.trill is not None:
            yield "trill"
        if note.vibrato:
            yield "vibrato"


def techniques(lick: Lick) -> float:
    """How many different techniques a lick has."""
    return len(gestures(lick))


def bends(passage: Passage) -> float | None:
    """How many notes are bent by a half step or more."""
    return sum(bool(note.bend and note.bend.size > 1) for n in _notes(passage) for note in n.event.notes)


def pre_bends(passage: Passage) -> float | None:
    """How many notes are bent before they are struck."""
    before = (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE)
    return sum(
        bool(note.bend and note.bend.kind in before) for n in _notes(passage) for note in n.event.notes
    )


def legato(passage: Passage) -> float | None:
    """The share of notes that are hammered, pulled off or slid to."""
    return mean(n.note.technique in LEGATO for n in _notes(passage))


def positions(passage: Passage) -> float | None:
    """How many positions the licks have."""
    return len({n.event.hand for n in _notes(passage)}) or None


# ---- ideas


def directions(sounded: Iterable[Sounded]) -> tuple[int, ...]:
    """1 for each move up, -1 down, 0 level."""
    return tuple((b.pitch2 > a.pitch2) - (b.pitch2 < a.pitch2) for a, b in pairwise(sounded))


def quoting(passage: Passage) -> float | None:
    """The share of licks that take up another's figure."""
    return mean(lick.slot.quotes is not None for lick in passage.licks)


def fidelity(passage: Passage) -> float | None:
    """The share of a figure's directions that are kept where it is taken up, mean over the licks that do."""
    models = {lick.slot.number: lick for lick in passage.licks}
    found = []
    for lick in passage.licks:
        model = models.get(-1 if lick.slot.quotes is None else lick.slot.quotes)
        count = lick.slot.figure_notes
        if model and count > 1:
            pairs = zip(directions(lick.notes[:count]), directions(model.notes[:count]), strict=False)
            found.append(sum(a == b for a, b in pairs) / (count - 1))
    return mean(found)


def develops(lick: Lick) -> float | None:
    """1 when the way home takes up the figure (see ``development``); None when one of the two is too short to."""
    pitches = tuple(note.pitch2 // 2 for note in lick.notes)
    ticks, durations = (tuple(getattr(note, name) for note in lick.notes) for name in ("onset", "duration"))
    found = development(Line(pitches, ticks, durations, figure=lick.slot.figure_notes))
    return None if found is None else float(found is not Development.NONE)


def rhythms(passage: Passage) -> float | None:
    """How many different rhythms the licks open with, their first two beats, as a share of the licks."""
    return len({lick.opening for lick in passage.licks}) / len(passage.licks) if passage.licks else None


def variety(passage: Passage) -> float | None:
    """How far two licks are apart on average, by ``distance``."""
    lines = [line_of(passage.study, lick.slot.number) for lick in passage.licks]
    rows = line_distances(list(combinations(lines, 2)))
    return mean(distance_of(row).total for row in rows)
