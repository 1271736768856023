"""Where a file does not say strings, frets, fingers or the position: the best fingering fills them in.

Licks are fingered by the solver with their notes fixed, by the rules if they keep them, else by the hand alone;
grips by the hand's geometry. What the file says is never changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice, product

from lickwright.guitar.fingering import fingerings as grip_fingerings
from lickwright.guitar.fingering import grip_cost, grip_position
from lickwright.guitar.neck import Neck
from lickwright.read.columns import Column
from lickwright.read.limits import Remarks, UnreadableError
from lickwright.read.sounds import Sound
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.touches import (
    GRACE_HAMMER,
    KIND_CODES,
    NO_BEND,
    NO_GRACE,
    PLUCK,
    PRE_BEND,
    WAY_CODES,
    WAYS,
    Touch,
)
from lickwright.solver.fixed import Fingering, GivenNote, fingerings
from lickwright.study.model import ChordSpan, Technique
from lickwright.theory.rhythm import Onset

#: Ways to lay the pitches of a grip on the strings that are looked at.
MOST_LAID = 2000
#: Fingerings looked at for one that gives every place one finger.
STEADY_TRIED = 30
#: A line of more onsets is no lick by any rule file: it is fingered by the hand alone.
LONGEST_BY_RULES = 20


@dataclass(frozen=True)
class Placed:
    """A column with a string, fret and finger for each sound (in their order), the position, techniques."""

    column: Column
    places: tuple[tuple[int, int, int], ...]
    position: int
    techniques: tuple[Technique, ...]


def missing(column: Column) -> bool:
    """Whether a string, fret or finger of a struck note is not in the file."""
    return any(s.string is None or s.fret is None or (s.finger is None and not s.tied) for s in column.sounds)


def as_written(column: Column, position: int | None, before: Placed | None) -> Placed | None:
    """A column whose file says everything; None when something is missing or the hand cannot be there."""
    if missing(column):
        return None
    places = tuple((s.string or 0, s.fret or 0, _finger(s, before)) for s in column.sounds)
    fretted = [(fret, finger) for _, fret, finger in places if fret]
    if any((fret == 0) != (finger == 0) for _, fret, finger in places):
        return None
    if position is None or any(not -1 <= fret - position <= 4 for fret, _ in fretted):
        return None
    return Placed(column, places, position, tuple(s.technique for s in column.sounds))


def _finger(sound: Sound, before: Placed | None) -> int:
    if sound.finger is not None:
        return sound.finger
    if before is not None:
        held = next((f for s, _, f in before.places if s == sound.string), None)
        if held is not None:
            return held
    return 1 if sound.fret else 0


# ------------------------------------------------------------------ licks


def lick_placed(
    columns: Sequence[Column],
    lead: Lead,
    form: tuple[ChordSpan, ...],
    tempo_bpm: int,
    role: str,
    free_ways: bool,
    remarks: Remarks,
) -> list[Placed]:
    """A lick with everything filled in; raises UnreadableError naming the bar of a note that is not on the neck."""
    wanted = [_wanted(c, columns[i - 1] if i else None, free_ways) for i, c in enumerate(columns)]
    found = _fingered(lead, wanted, form, tempo_bpm, role)
    if found is None:
        _all_there(columns, lead.neck)
        found = _rough(columns, lead.neck)
        remarks.add(f"{columns[0].where}: no hand plays this lick as it stands; its fingers are a guess")
    return [
        _lick_column(column, touch, way, lead)
        for column, touch, way in zip(columns, found.touches, (None, *found.ways), strict=True)
    ]


def _fingered(
    lead: Lead, wanted: list[GivenNote], form: tuple[ChordSpan, ...], tempo_bpm: int, role: str
) -> Fingering | None:
    """The best fingering: by the rules, by the hand in time, by the hand, and without what it has no touch for."""
    bare = [replace(w.plain, way=None) for w in wanted]
    for notes, free, hurried in (
        *(((wanted, False, False),) if len(wanted) <= LONGEST_BY_RULES else ()), (wanted, True, False),
        (wanted, True, True), (bare, True, True),
        ([replace(w, finger=None) for w in bare], True, True),
    ):  # fmt: skip
        found = fingerings(lead, notes, form, tempo_bpm, role, free=free, hurried=hurried)
        best = next(found, None)
        if best is not None:
            steady = (f for f in (best, *islice(found, STEADY_TRIED)) if _steady(f))
            return next(steady, best)
    return None


def _steady(found: Fingering) -> bool:
    """Whether every place is fretted by one finger all through."""
    fingers = {(t.string, t.fret): t.finger for t in found.touches}
    return all(fingers[t.string, t.fret] == t.finger for t in found.touches)


def _wanted(column: Column, before: Column | None, free_ways: bool) -> GivenNote:
    upper = column.sounds[-1]
    mate = column.sounds[-2] if len(column.sounds) == 2 else None
    if mate is not None and (
        mate.bend or upper.bend or mate.muted or mate.tied or not _neighbours(mate, upper)
    ):
        mate = None
    kind = KIND_CODES[upper.bend.kind] if upper.bend else NO_BEND
    if kind == PRE_BEND:
        kind = NO_BEND
    graced = mate if mate is not None and mate.grace else upper
    hammered = (
        graced.grace is not None
        and graced.grace.pitch == graced.pitch - 1
        and (graced is mate or mate is None)
    )
    return GivenNote(
        Onset(column.tick, column.end - column.tick),
        upper.pitch,
        upper.bend.size if upper.bend and kind != NO_BEND else 0,
        kind,
        mate.pitch if mate else 0,
        GRACE_HAMMER if hammered else NO_GRACE,
        1 if hammered else 0,
        upper.string,
        upper.fret,
        upper.finger,
        mate_string=mate.string if mate else None,
        mate_finger=mate.finger if mate else None,
        way=_way(column, before, free_ways),
    )


def _neighbours(low: Sound, high: Sound) -> bool:
    apart = high.string is None or low.string is None or low.string == high.string + 1
    return apart and 3 <= high.pitch - low.pitch <= 9


def _way(column: Column, before: Column | None, free_ways: bool) -> int | None:
    upper = column.sounds[-1]
    if before is None or before.end != column.tick:
        return PLUCK if before is not None else None
    if upper.technique is not Technique.PLUCK:
        return WAY_CODES[upper.technique]
    if upper.slurred or free_ways:
        return None
    return PLUCK


def _lick_column(column: Column, touch: Touch, way: int | None, lead: Lead) -> Placed:
    places: list[tuple[int, int, int]] = []
    for sound in column.sounds:
        if sound is column.sounds[-1]:
            places.append((touch.string, touch.fret, touch.finger if sound.finger is None else sound.finger))
        elif touch.mate_string and sound is column.sounds[-2]:
            places.append(
                (
                    touch.mate_string,
                    touch.mate_fret,
                    touch.mate_finger if sound.finger is None else sound.finger,
                )
            )
        else:
            places.append(_other(sound, touch, lead.neck, [s for s, _, _ in places]))
    upper = column.sounds[-1]
    technique = upper.technique
    if technique is Technique.PLUCK and way is not None:
        technique = WAYS[way]
    techniques = tuple(
        technique if s is upper or (s.technique is Technique.PLUCK and touch.mate_string) else s.technique
        for s in column.sounds
    )
    return Placed(column, tuple(places), touch.position, techniques)


def _other(sound: Sound, touch: Touch, neck: Neck, taken: list[int]) -> tuple[int, int, int]:
    """A note under the melody that the solver has no touch for: the nearest place to the hand on a free string."""
    if sound.string is not None and sound.fret is not None:
        string, fret = sound.string, sound.fret
    else:
        free = [(s, f) for s, f in neck.places(sound.pitch) if s not in taken and s != touch.string]
        if not free:
            raise UnreadableError(
                f"{Column(sound.tick, sound.end, ()).where}: no free string for MIDI pitch {sound.pitch}"
            )
        string, fret = min(free, key=lambda p: abs(p[1] - touch.position - 1))
    finger = (
        sound.finger
        if sound.finger is not None
        else 0
        if fret == 0
        else max(1, min(4, fret - touch.position + 1))
    )
    return string, fret, finger


def _all_there(columns: Sequence[Column], neck: Neck) -> None:
    for column in columns:
        for sound in column.sounds:
            if sound.string is None and not neck.places(sound.pitch):
                low, high = neck.pitch(neck.strings, 0), neck.pitch(1, neck.top_fret)
                raise UnreadableError(
                    f"{column.where}: MIDI pitch {sound.pitch} is not on the neck, which has {low} to {high}"
                )


def _rough(columns: Sequence[Column], neck: Neck) -> Fingering:
    """One finger a fret from the lowest fret of each note: what is left when no hand can."""
    touches = []
    for column in columns:
        s = column.sounds[-1]
        string, fret = (
            (s.string, s.fret) if s.string is not None else min(neck.places(s.pitch), key=lambda p: p[1])
        )
        assert string is not None
        assert fret is not None
        finger = s.finger if s.finger is not None else min(fret, 1)
        position = max(1, fret - max(0, finger - 1))
        touches.append(Touch(string, fret, finger, position, s.pitch))
    ways = tuple(WAY_CODES[c.sounds[-1].technique] for c in columns[1:])
    return Fingering(tuple(touches), ways, 0)


# ------------------------------------------------------------------ grips


def grip_placed(column: Column, lead: Lead, before: Placed | None, remarks: Remarks) -> Placed:
    """A grip, bass note or dead stroke with everything filled in; raises UnreadableError naming the bar."""
    places = _laid(column, lead, before)
    fingered = _grip_fingers(column, places, lead, before)
    if fingered is None:
        remarks.add(f"{column.where}: no hand holds this grip; its fingers are a guess")
        lowest = min((f for _, f in places if f), default=1)
        fingered = tuple((s, f, min(4, max(1, f - lowest + 1)) if f else 0) for s, f in places)
        fingered = tuple(
            (s, f, sound.finger if sound.finger is not None else g)
            for (s, f, g), sound in zip(fingered, column.sounds, strict=True)
        )
    position = grip_position(fingered)
    if position is None or not any(f for _, f, _ in fingered):
        position = before.position if before is not None else 1
    return Placed(column, fingered, max(1, position), tuple(s.technique for s in column.sounds))


def _grip_fingers(
    column: Column, places: tuple[tuple[int, int], ...], lead: Lead, before: Placed | None
) -> tuple[tuple[int, int, int], ...] | None:
    given = [s.finger if not s.tied else _finger(s, before) for s in column.sounds]
    if all(g is not None for g in given):
        return tuple((s, f, g or 0) for (s, f), g in zip(places, given, strict=True))
    for notes in grip_fingerings(lead.hand, lead.neck, places):
        if all(g is None or g == finger for g, (_, _, finger) in zip(given, notes, strict=True)):
            return notes
    return None


def _laid(column: Column, lead: Lead, before: Placed | None) -> tuple[tuple[int, int], ...]:
    """A place for each sound: the file's, or the grip that the hand holds best near where it is."""
    neck = lead.neck
    options = [
        ((s.string, s.fret),) if s.string is not None and s.fret is not None else neck.places(s.pitch)
        for s in column.sounds
    ]
    empty = next((s for s, o in zip(column.sounds, options, strict=True) if not o), None)
    if empty is not None:
        _all_there([column], neck)
    near = before.position if before is not None else 5
    best: tuple[float, tuple[tuple[int, int], ...]] | None = None
    for places in islice(product(*options), MOST_LAID):
        if len({s for s, _ in places}) < len(places):
            continue
        held = grip_fingerings(lead.hand, neck, tuple(places))
        frets = [f for _, f in places if f]
        away = abs(min(frets) - near) if frets else 0
        spread = max(frets) - min(frets) if frets else 0
        cost = (grip_cost(lead.hand, neck, held[0]) if held else 1000 + 50 * spread) + 2 * away
        if best is None or cost < best[0]:
            best = cost, tuple(places)
    if best is None:
        raise UnreadableError(
            f"{column.where}: {len(column.sounds)} notes that do not fit on {neck.strings} strings at once"
        )
    return best[1]
