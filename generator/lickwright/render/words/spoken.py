"""A study event by event, for a screen reader or to be read aloud: place, strings, frets, fingers, lengths.

A line for each event and each rest, a line where the chord or the player changes. No sign stands for a word:
sharps and flats are spelled out, so is every fraction of a beat.
"""

from __future__ import annotations

from itertools import pairwise

from lickwright.guitar.neck import TUNINGS
from lickwright.render.words.terms import FINGERS, bar_text, beat_text, beats, listed, plain, step_text
from lickwright.study.model import Bend, BendKind, Event, Grace, Note, Slot, SlotKind, Study, Technique
from lickwright.theory.harmony import Chord, spell
from lickwright.theory.rhythm import TICKS_PER_BAR

# --- wording

TITLE, UNTITLED, NUMBER = "{title}.", "A study.", "Number {number}."
HEADER = "Key of {key}. {feel}. {tempo} beats a minute, {bars} bars."
CAPO = "Capo at fret {capo}; frets are counted from it."
TUNING = "Tuned, from string 1: {strings}."
PHRASE = "Phrase {number}, bars {first} to {last}."
LICK, LICK_NAMED, COMPING = "Lick.", "Lick {name}.", "Comping."
CHORD = "{place}: the chord is {chord}."
PLACE = "{bar}, {beat}"
REST = "{place}: rest, {length}."
EVENT = "{place}: {what}, {length}{after}."
GRIP, DOUBLE, DEAD_STROKE = (
    "grip of {chord}; {notes}",
    "two strings; {notes}",
    "dead stroke on strings {strings}",
)
DEAD_NOTE = "string {string}, dead note"
STRING, OPEN, FRET = "string {string}", "open", "fret {fret}, {finger} finger"
STILL = "still ringing"
HAMMER, PULL, SLIDE = "hammer-on", "pull-off", "slide"
SLIDE_FROM = "slide {way} from fret {fret}"
UP, DOWN = "up", "down"
GRACE = "from fret {fret} at once by a {technique}"
BEND = {
    BendKind.BEND: "bend {step}",
    BendKind.BEND_RELEASE: "bend {step} and release",
    BendKind.PRE_BEND: "bent {step} before the stroke",
    BendKind.PRE_BEND_RELEASE: "bent {step} before the stroke, then release",
}
TRILL, VIBRATO = "trill with fret {fret}", "vibrato"
SHORT, RINGS = ", cut short", ", let it ring"
END = "End."
ACCIDENTALS = {"b": " flat", "#": " sharp"}
PRIME = {"'": " prime", "’": " prime", "′": " prime", '"': " double prime", "″": " double prime"}
QUALITY_WORDS: dict[str, str] = {
    "": "", "5": "5", "6": "6", "7": "7", "9": "9", "13": "13", "7#5": "7 sharp 5", "7b9": "7 flat 9",
    "7#9": "7 sharp 9", "m": "minor", "m6": "minor 6", "m7": "minor 7", "m9": "minor 9",
    "dim7": "diminished 7", "aug": "augmented",
}  # fmt: skip


def note_words(name: str) -> str:
    """A note's name to be read aloud.

    >>> note_words("Bb"), note_words("F#"), note_words("A")
    ('B flat', 'F sharp', 'A')
    """
    return name[0] + "".join(ACCIDENTALS[c] for c in name[1:])


def chord_words(chord: Chord) -> str:
    """A chord's name to be read aloud, ``B flat 7``."""
    return f"{note_words(chord.root)} {QUALITY_WORDS.get(chord.quality, chord.quality)}".strip()


def spoken(study: Study) -> str:
    """The whole study, a line for each event and rest, ending in a newline."""
    return "\n".join([*_header(study), *_lines(study), END]) + "\n"


def _header(study: Study) -> list[str]:
    title = plain(study.title)
    lines = [TITLE.format(title=title.rstrip(".")) if title else UNTITLED]
    if study.number is not None:
        lines.append(NUMBER.format(number=study.number))
    key = note_words(study.key) + (" minor" if study.minor else "")
    feel = plain(study.feel).rstrip(".") or study.meter
    lines.append(
        HEADER.format(key=key, feel=feel[0].upper() + feel[1:], tempo=study.tempo_bpm, bars=study.bars)
    )
    neck = study.neck
    if neck.tuning != TUNINGS["standard"]:
        names = [note_words(spell(pitch, study.home).name) for pitch in neck.tuning]
        lines.append(TUNING.format(strings=listed(names)))
    if neck.capo:
        lines.append(CAPO.format(capo=neck.capo))
    return lines


def _lines(study: Study) -> list[str]:
    """What is said, in order of time; at one tick the phrase, the chord, a rest, the player, the event."""
    said: list[tuple[int, int, str]] = []
    for phrase in study.phrases:
        text = PHRASE.format(number=phrase.number + 1, first=phrase.first_bar + 1, last=phrase.last_bar + 1)
        said.append((phrase.first_bar * TICKS_PER_BAR, 0, text))
    said += [(tick, 1, text) for tick, text in _chords(study).items()]
    said += [(start, 2, _rest(study, start, end)) for start, end in _rests(study)]
    slots = {slot.number: slot for slot in study.slots}
    frets: dict[int, int] = {}
    slot: int | None = None
    for event in study.events:
        if event.slot != slot and event.slot in slots:
            said.append((event.onset, 3, _speaker(slots[event.slot])))
        slot = event.slot
        said.append((event.onset, 4, _event(study, event, frets)))
        frets.update({n.string: n.fret for n in event.notes if not n.muted})
    return [text for _, _, text in sorted(said, key=lambda item: item[:2])]


def _chords(study: Study) -> dict[int, str]:
    """Tick and sentence of each chord of the form that differs from the one before."""
    found: dict[int, str] = {}
    now = ""
    for span in study.form:
        chord = chord_words(study.chord(span.roman))
        if chord != now:
            found[span.onset] = CHORD.format(place=_place(study, span.onset), chord=chord)
            now = chord
    return found


def _rests(study: Study) -> list[tuple[int, int]]:
    """The silences, cut where a phrase or a chord begins."""
    cuts = {p.first_bar * TICKS_PER_BAR for p in study.phrases} | {span.onset for span in study.form}
    found = []
    now = 0
    for onset, end in [*((e.onset, e.end) for e in study.events), (study.ticks, study.ticks)]:
        edges = [now, *sorted(t for t in cuts if now < t < onset), onset]
        found += [(a, b) for a, b in pairwise(edges) if a < b]
        now = max(now, end)
    return found


def _place(study: Study, tick: int) -> str:
    bar = bar_text(tick)
    return PLACE.format(bar=bar[0].upper() + bar[1:], beat=beat_text(study, tick))


def _rest(study: Study, start: int, end: int) -> str:
    return REST.format(place=_place(study, start), length=beats(end - start))


def _speaker(slot: Slot) -> str:
    if slot.kind is SlotKind.COMP:
        return COMPING
    if not slot.name:
        return LICK
    name = "".join(PRIME.get(c, c) for c in plain(slot.name))
    return LICK_NAMED.format(name=name)


def _event(study: Study, event: Event, frets: dict[int, int]) -> str:
    notes = sorted(event.notes, key=lambda n: -n.string)
    texts = [_note(note, frets.get(note.string)) for note in notes]
    if len(notes) == 1:
        what = texts[0]
    elif all(n.muted for n in notes):
        what = DEAD_STROKE.format(strings=listed([str(n.string) for n in notes]))
    elif len(notes) == 2:
        what = DOUBLE.format(notes="; ".join(texts))
    else:
        what = GRIP.format(chord=chord_words(study.chord(event.chord)), notes="; ".join(texts))
    after = (SHORT if event.staccato else "") + (RINGS if event.ring else "")
    return EVENT.format(
        place=_place(study, event.onset), what=what, length=beats(event.duration), after=after
    )


def _note(note: Note, last_fret: int | None) -> str:
    finger = FINGERS[note.finger]
    if note.muted:
        return DEAD_NOTE.format(string=note.string)
    parts = [STRING.format(string=note.string)]
    parts.append(OPEN if note.fret == 0 else FRET.format(fret=note.fret, finger=finger))
    if note.tied:
        parts.append(STILL)
    elif note.technique is not Technique.PLUCK:
        parts.append(_technique(note, last_fret))
    if note.grace:
        parts.append(_grace(note.grace))
    if note.bend:
        parts.append(_bend(note.bend))
    if note.trill is not None:
        parts.append(TRILL.format(fret=note.trill))
    if note.vibrato:
        parts.append(VIBRATO)
    return ", ".join(parts)


def _technique(note: Note, last_fret: int | None) -> str:
    if note.technique is Technique.HAMMER_ON:
        return HAMMER
    if note.technique is Technique.PULL_OFF:
        return PULL
    if last_fret is None:
        return SLIDE
    return SLIDE_FROM.format(way=UP if note.fret >= last_fret else DOWN, fret=last_fret)


def _grace(grace: Grace) -> str:
    name = {Technique.HAMMER_ON: HAMMER, Technique.PULL_OFF: PULL}.get(grace.technique, SLIDE)
    return GRACE.format(fret=grace.fret, technique=name)


def _bend(bend: Bend) -> str:
    return BEND[bend.kind].format(step=step_text(bend.size))
