"""What would keep the rules where a lick does not: the same notes fingered otherwise, else the nearest lick."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from lickwright.compose.to_study import lick_notes
from lickwright.judge.check import Violation, check
from lickwright.judge.effort import with_hard_moments
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.places import places
from lickwright.rulebook.touches import NO_BEND, PRE_BEND, WAYS, touch_of
from lickwright.solver.fixed import Fingering, GivenNote, fingerings, nearest
from lickwright.study.model import Event, Note, Slot, SlotKind, Study, Technique
from lickwright.theory.harmony import spell
from lickwright.theory.rhythm import Onset, beat_text

#: Fingerings of the same notes that are tried before other notes are.
FINGERINGS_TRIED = 8


@dataclass(frozen=True)
class Advice:
    """A lick that breaks rules, and a sentence about what would keep them; ``study`` has it put right.

    ``study`` is the one given where nothing was found.
    """

    slot: Slot
    sentences: tuple[str, ...]
    study: Study


def instead(
    study: Study, lead: Lead, broken: Sequence[Violation], *, whole: bool = True
) -> tuple[Advice, ...]:
    """Advice for every lick in which something is broken, each on top of the one before.

    Advice for licks alone need not keep what is asked of a ``whole`` study.
    """
    found = []
    for slot in study.slots:
        here = [v for v in broken if v.tick is not None and slot.start <= v.tick < slot.end]
        if slot.kind is SlotKind.LICK and here:
            advice = _advice(study, lead, slot, whole)
            found.append(advice)
            study = advice.study
    return tuple(found)


def _advice(study: Study, lead: Lead, slot: Slot, whole: bool) -> Advice:
    events = study.events_of(slot.number)
    wanted = [_wanted(e) for e in events]
    form, tempo = study.form, study.tempo_bpm
    for best in islice(fingerings(lead, wanted, form, tempo, slot.role), FINGERINGS_TRIED):
        mended = _with(study, lead, slot, events, best)
        broken = check(mended, lead, whole=whole)
        if not any(v.tick is not None and slot.start <= v.tick < slot.end for v in broken):
            return Advice(slot, tuple(_moved(events, mended.events_of(slot.number))), mended)
    found = nearest(lead, wanted, form, tempo, slot.role)
    if found is None:
        return Advice(slot, ("no lick in this rhythm keeps the rules, in any place on the neck",), study)
    mended = _with(study, lead, slot, events, found.fingering)
    after = mended.events_of(slot.number)
    sentences = tuple(_changed(study, events, after, found.changed))
    same = ("the same notes keep the rules, sounded otherwise", *_differences(events, after))
    return Advice(slot, sentences or same, mended)


def _wanted(event: Event) -> GivenNote:
    touch = touch_of(event)
    onset = Onset(event.onset, event.duration)
    if touch.kind == PRE_BEND:
        touch = touch._replace(kind=NO_BEND, bend=0)
    return GivenNote.of(onset, touch)


def _with(study: Study, lead: Lead, slot: Slot, events: Sequence[Event], found: Fingering) -> Study:
    onsets = [Onset(e.onset, e.duration) for e in events]
    seen = places(onsets, study.form, study.home, study.grid, study.tempo_bpm, slot.role, slot.figure_notes)
    made = {}
    for k, (event, touch, at) in enumerate(zip(events, found.touches, seen, strict=True)):
        way = WAYS[found.ways[k - 1]] if k else Technique.PLUCK
        vibrato = any(n.vibrato for n in event.notes) and touch.fret > 0
        notes = tuple(lick_notes(touch, way, at, vibrato))
        made[event.id] = replace(event, notes=notes, hand=touch.position)
    mended = replace(study, events=tuple(made.get(e.id, e) for e in study.events))
    return with_hard_moments(mended, lead)


def _moved(before: Sequence[Event], after: Sequence[Event]) -> Iterator[str]:
    """What another fingering of the same notes does otherwise."""
    positions = sorted({e.hand for e in after})
    yield f"the same notes keep the rules with the index finger at fret {' and '.join(map(str, positions))}"
    yield from _differences(before, after)


def _differences(before: Sequence[Event], after: Sequence[Event]) -> Iterator[str]:
    for a, b in zip(before, after, strict=True):
        x, y = a.melody, b.melody
        told = []
        if (x.string, x.fret) != (y.string, y.fret):
            told.append(f"string {y.string} fret {y.fret} in place of string {x.string} fret {x.fret}")
        elif x.finger != y.finger:
            told.append(f"finger {y.finger} in place of {x.finger}")
        if x.technique != y.technique:
            told.append(f"{_said(y)} in place of {_said(x)}")
        if _bent(x) != _bent(y):
            told.append(f"{_bent(y)} in place of {_bent(x)}")
        if told:
            yield f"{beat_text(a.onset)}: {', '.join(told)}"


def _said(note: Note) -> str:
    names = {"pluck": "plucked", "slide": "slid", "hammer-on": "hammered", "pull-off": "pulled off"}
    return names[note.technique.value]


def _bent(note: Note) -> str:
    return f"a {note.bend.kind.value.replace('-', ' ')}" if note.bend else "no bend"


def _changed(
    study: Study, before: Sequence[Event], after: Sequence[Event], changed: Sequence[int]
) -> Iterator[str]:
    """Which notes the nearest lick changes."""
    if changed:
        notes = "one note" if len(changed) == 1 else f"{len(changed)} notes"
        yield f"nearest that keeps the rules: {notes} of {len(before)} changed"
    for k in changed:
        a, b = before[k], after[k]
        chord = study.chord(a.chord)
        old, new = (spell(e.melody.sounding2 // 2, study.home, chord) for e in (a, b))
        note = b.melody
        bent = f", bent {note.bend.size / 2:g} semitones" if note.bend else ""
        yield f"{beat_text(a.onset)}: {new} for {old} (string {note.string} fret {note.fret}{bent})"
