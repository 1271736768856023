"""What the types of a study file cannot say: names that must exist, numbers in reach, times inside the bars, in order.

Whether a study could be played, and keeps its rules, is for ``judge`` to say: here is only what could not be shown.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise

from lickwright.study.model import Bend, Event, Note, SlotKind, Study
from lickwright.theory.harmony import Key, chord_in_key
from lickwright.theory.rhythm import GRIDS, TICKS_PER_BAR, beat_text

MOST_BARS = 1000
MOST_EVENTS = 20_000
#: Frets on a neck and in a note, quarter tones of a bend, characters of a name.
MOST_FRETS = 36
LEAST_STRINGS, MOST_STRINGS = 2, 12
MOST_BEND = 24
MOST_CHARACTERS = 2000


def senseless(study: Study) -> Iterator[str]:
    """Everything in a study of the right types that still makes no sense: the keys down to it, what would be right."""
    wrong = list(_general(study))
    yield from wrong
    if wrong:
        return
    yield from _form(study)
    yield from _slots(study)
    yield from _phrases(study)
    yield from _drills(study)
    yield from _hard_moments(study)
    yield from _events(study)


def _general(study: Study) -> Iterator[str]:
    try:
        Key.parse(study.key, study.minor)
    except ValueError as error:
        yield f"key: {error}"
    if study.brief.home:
        yield "brief.home: is no key of a study file"
    if study.meter not in ("12/8", "4/4"):
        yield f"meter: {study.meter!r}: use 12/8 or 4/4"
    if study.grid not in GRIDS:
        yield f"grid: {study.grid!r}: use {' or '.join(GRIDS)}"
    if not 1 <= study.tempo_bpm <= 1000:
        yield f"tempo_bpm: {study.tempo_bpm} beats a minute; a study has 1 to 1000"
    if not 1 <= study.bars <= MOST_BARS:
        yield f"bars: {study.bars}; a study has 1 to {MOST_BARS}"
    if len(study.events) > MOST_EVENTS:
        yield f"events: {len(study.events)}; a study has at most {MOST_EVENTS}"
    texts = {"title": study.title, "feel": study.feel, "level": study.level, "scheme": study.scheme}
    for name, text in texts.items():
        if len(text) > MOST_CHARACTERS:
            yield f"{name}: {len(text)} characters; at most {MOST_CHARACTERS}"
    if not (study.number is None or 0 <= study.number <= 1_000_000):
        yield f"number: {study.number}; numbers go from 0 to 1000000"
    neck = study.neck
    if not LEAST_STRINGS <= neck.strings <= MOST_STRINGS or not all(
        0 <= pitch <= 127 for pitch in neck.tuning
    ):
        yield f"neck.tuning: a neck has {LEAST_STRINGS} to {MOST_STRINGS} strings with pitches from 0 to 127"
    if neck.frets > MOST_FRETS:
        yield f"neck.frets: {neck.frets}; a neck has at most {MOST_FRETS}"
    lengths = (neck.scale_mm, neck.nut_spacing_mm, neck.bridge_spacing_mm, neck.edge_mm)
    if not all(math.isfinite(mm) and mm <= 10_000 for mm in lengths):
        yield "neck: a length is above 10000 mm, or no number"


def _form(study: Study) -> Iterator[str]:
    if not study.form:
        yield "form: has no chord"
    for n, span in enumerate(study.form):
        yield from _roman(span.roman, f"form.{n}")
        if not (0 <= span.onset < study.ticks and 0 < span.duration <= study.ticks):
            last = span.onset + span.duration
            yield f"form.{n}: ticks {span.onset} to {last}, the study has 0 to {study.ticks}"
    if not _rising(span.onset for span in study.form):
        yield "form: its chords must be in order of their onsets"


def _roman(roman: str, where: str) -> Iterator[str]:
    try:
        chord_in_key(roman, Key("C"))
    except ValueError as error:
        yield f"{where}: {error}"


def _slots(study: Study) -> Iterator[str]:
    onsets = Counter(event.slot for event in study.events)
    licks = {slot.number for slot in study.slots if slot.kind is SlotKind.LICK}
    for n, slot in enumerate(study.slots):
        at = f"slots.{n}"
        if slot.number != n:
            yield f"{at}.number: {slot.number}; slots are numbered in order from 0"
        if not 0 <= slot.start <= slot.end <= study.ticks:
            yield f"{at}: ticks {slot.start} to {slot.end}, the study has 0 to {study.ticks}"
        if study.phrases and slot.phrase not in {phrase.number for phrase in study.phrases}:
            yield f"{at}.phrase: {slot.phrase}; there is no such phrase"
        if slot.quotes is not None and slot.quotes not in licks:
            yield f"{at}.quotes: {slot.quotes}; no lick has that slot"
        if not 0 <= slot.figure_notes <= onsets[n]:
            yield f"{at}.figure_notes: {slot.figure_notes}; a figure has onsets of its slot, which has {onsets[n]}"
        if not all(0 <= position <= MOST_FRETS for position in slot.windows):
            yield f"{at}.windows: a hand lies at a fret from 0 to {MOST_FRETS}"


def _phrases(study: Study) -> Iterator[str]:
    for n, phrase in enumerate(study.phrases):
        if phrase.number != n:
            yield f"phrases.{n}.number: {phrase.number}; phrases are numbered in order from 0"
        if not 0 <= phrase.first_bar <= phrase.last_bar < study.bars:
            bars = f"{phrase.first_bar} to {phrase.last_bar}"
            yield f"phrases.{n}: bars {bars} counted from 0; the study has 0 to {study.bars - 1}"


def _drills(study: Study) -> Iterator[str]:
    for n, drill in enumerate(study.drills):
        at = f"drills.{n}"
        if drill.phrase != n or n >= len(study.phrases):
            yield f"{at}.phrase: {drill.phrase}; each phrase has one drill, in order from 0"
        if not drill.steps:
            yield f"{at}.steps: there is none"
        for step in drill.steps:
            if not (1 <= step.percent <= 400 and 1 <= step.tempo_bpm <= 1000 and 1 <= step.times <= 1000):
                yield f"{at}.steps: {step.percent} %, {step.tempo_bpm} beats a minute, {step.times} times: out of reach"
        if len(drill.places) != len(drill.trains):
            yield f"{at}.places: {len(drill.places)} for {len(drill.trains)} things it trains; one list of ticks for each"
        if not all(0 <= tick < study.ticks for ticks in drill.places for tick in ticks):
            yield f"{at}.places: a tick lies outside 0 to {study.ticks}"
        numbers = (drill.difficulty, drill.before_s, drill.lasts_s)
        if not all(0 <= number <= 1_000_000 for number in numbers):
            yield f"{at}: difficulty, before_s and lasts_s are 0 or more"
    if study.drills and len(study.drills) != len(study.phrases):
        yield f"drills: {len(study.drills)} for {len(study.phrases)} phrases; each phrase has one"


def _hard_moments(study: Study) -> Iterator[str]:
    """What is wrong with the moments by themselves: one whose event was changed or taken out by hand may stay."""
    for n, moment in enumerate(study.hard_moments or ()):
        at = f"hard_moments.{n}"
        if not all(0 <= fret <= MOST_FRETS for fret in moment.frets):
            yield f"{at}.frets: a fret lies outside 0 to {MOST_FRETS}"
        if not all(0 <= number <= 1_000_000 for number in (moment.asked, moment.limit)):
            yield f"{at}: asked and limit are numbers from 0 to 1000000"
        if max(len(moment.what), len(moment.unit)) > MOST_CHARACTERS:
            yield f"{at}: what and unit have at most {MOST_CHARACTERS} characters"


def _events(study: Study) -> Iterator[str]:
    for n, event in enumerate(study.events):
        where = f"events.{n}"
        if not (0 <= event.onset < study.ticks and 0 < event.duration <= study.ticks):
            yield f"{where}: ticks {event.onset} to {event.end}, the study has {study.ticks}"
            continue
        if event.ring < 0 or event.end + event.ring > study.ticks + TICKS_PER_BAR:
            yield f"{where}.ring: {event.ring} ticks; it rings on past the end of the study, or not at all"
        yield from _roman(event.chord, f"{where}.chord ({beat_text(event.onset)})")
        if not event.notes or not 0 <= event.slot < len(study.slots):
            yield f"{where}: has no notes or no slot"
        if not 0 <= event.hand <= MOST_FRETS:
            yield f"{where}.hand: {event.hand}; it lies at a fret from 0 to {MOST_FRETS}"
        if len({note.string for note in event.notes}) < len(event.notes):
            yield f"{where}.notes ({beat_text(event.onset)}): two notes on one string"
        for note in event.notes:
            yield from _note(study, event, note, f"{where}.notes ({beat_text(event.onset)})")
    if not _rising(event.onset for event in study.events):
        yield "events: they must be in order of their onsets, one at each"
    for before, after in pairwise(study.events):
        if before.onset < after.onset < before.end:
            yield f"events ({beat_text(after.onset)}): {after.id} begins before {before.id} has ended; shorten {before.id}"
    if len({event.id for event in study.events}) < len(study.events):
        yield "events: two have one id"


def _note(study: Study, event: Event, note: Note, where: str) -> Iterator[str]:
    frets = [
        note.fret,
        *([note.grace.fret] if note.grace else []),
        *([note.trill] if note.trill is not None else []),
    ]
    if not 0 <= note.pitch <= 127:
        yield f"{where}: a pitch of {note.pitch} lies outside 0 to 127"
    if not 1 <= note.string <= study.neck.strings:
        yield f"{where}: string {note.string}; the neck has 1 to {study.neck.strings}"
    if not all(0 <= fret <= MOST_FRETS for fret in frets):
        yield f"{where}: a fret lies outside 0 to {MOST_FRETS}"
    strange = [f for f in (note.finger, *([note.grace.finger] if note.grace else [])) if not 0 <= f <= 4]
    if strange:
        yield f"{where}: finger {strange[0]}; fingers go from 1 to 4, 0 for an open string"
    if note.bend is not None:
        yield from _bend(note.bend, event, f"{where}.bend")


def _bend(bend: Bend, event: Event, where: str) -> Iterator[str]:
    ticks, heights = [tick for tick, _ in bend.curve], [height for _, height in bend.curve]
    if abs(bend.size) > MOST_BEND or not all(0 <= height <= MOST_BEND for height in heights):
        yield f"{where}: a bend goes up by 0 to {MOST_BEND} quarter tones"
    if not ticks or not all(0 <= tick <= event.duration + 1 for tick in ticks):
        yield f"{where}.curve: needs points, at ticks from 0 to the {event.duration} of its note"
    if any(a > b for a, b in pairwise(ticks)):
        yield f"{where}.curve: its points must be in order of time"


def _rising(numbers: Iterable[int]) -> bool:
    return all(a < b for a, b in pairwise(numbers))
