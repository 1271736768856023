"""What is said of the comping between licks: bass notes, grips with their degrees and strings, what moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby, pairwise, takewhile

from lickwright.render.words import facts
from lickwright.render.words.facts import CompFacts, Stroke
from lickwright.render.words.licks import sounding_name
from lickwright.render.words.terms import (
    DEGREE_WORDS,
    Voice,
    bar_text,
    degrees_text,
    listed,
    near_beat,
    number,
    signs,
)
from lickwright.study.model import Event, Slot, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BEAT, bar_of

# --- wording

COMPS = ("The comping in {bar}: {strokes}.", "Comp {bar} with {strokes}.", "{bar_up} answers with {strokes}.")
COMPS_FIRST = ("Comp {bar} with {strokes}.", "The comping in {bar}: {strokes}.")
COMPS_IN_RHYTHM = (
    "{bar_up} keeps the rhythm of {source}: {strokes}.",
    "Comp {bar} as you did {source}, now with {strokes}.",
)
COMPS_REPEAT = ("{bar_up} comps as {source} did.", "The comping in {bar} is that of {source}.")
BASS_ALONE = "{bar_up} has the {degree} on string {string} under it."
BASS = "the {degree} on string {string}"
WALK, WALK_TO = "a walk {notes}", "a walk {notes} into {chord}"
SINGLE_NOTES = "the single notes {notes}"
GRIP, GRIP_KNOWN = "{chord} ({degrees}, strings {strings})", "{chord} again"
SLID, SLID_SAME = "{grip} slid in from {frets} {side}", "the same slid in from {frets} {side}"
HAMMERED, HAMMERED_SAME = "{grip} with {a} hammered to {b}", "{a} hammered to {b}"
AGAIN = "the same again"
TIMES = {2: "{grip} twice", 3: "{grip} three times", 4: "{grip} four times"}
MANY_TIMES = "{grip} {count} times"
SHIFTED = "the same {frets} {way} for {chord}"
WAYS = ("lower", "higher")
MOVED = "{a} moving to {b} on string {string}"
RESOLVED = "{a} resolving to {b} on string {string}"
LINE = "string {string} moving {degrees}"
LEANING = "{degrees} leaning into {grip}"
APPROACHED = "{grip} from {frets} {side}"
PAIRS = "{chord} two notes at a time, {degrees} on top (strings {strings})"
EARLY, PASSING = "{grip} early, {when}", "{grip} in passing"
RINGING = "{stroke} left to ring"
DEAD = ("a dead stroke", "one choked stroke")
FRET_DISTANCE = {1: "a fret", 2: "two frets"}
SIDES = ("above", "below")

#: The largest step of a walk, in semitones.
WIDEST_WALK = 4

#: A grip as it is on the neck: chord and places. Those already named in a phrase are not spelled out again.
Shape = tuple[str, tuple[tuple[int, int], ...]]


def shape_of(event: Event) -> Shape:
    """The grip of an event as chord and places."""
    return event.chord, tuple((n.string, n.fret) for n in facts.struck(event))


def comp_sentence(
    study: Study, comps: Sequence[CompFacts], known: set[Shape], detail: int, voice: Voice, *, answers: bool
) -> str:
    """The comping that begins in one bar, a sentence for each bar it goes on in.

    The grips it spells out are added to ``known``. ``answers`` tells that a lick came before it. ``detail``
    runs from 4 down: below 3 dead strokes and repetitions are left out, below 2 single notes too.
    """
    strokes = [s for comp in comps for s in comp.strokes]
    bars = [list(bar) for _, bar in groupby(strokes, key=lambda s: bar_of(s.event.onset))]
    source = _source(study, comps) if len(bars) == 1 else None
    grips = any(s.kind == "grip" for s in strokes)
    told = [b for b in bars if detail > 1 or not grips or any(s.kind != "bass" for s in b)]
    return " ".join(
        filter(None, (_bar(study, b, source, known, detail, voice, answers=answers) for b in told))
    )


def _bar(
    study: Study,
    strokes: Sequence[Stroke],
    source: Slot | None,
    known: set[Shape],
    detail: int,
    voice: Voice,
    *,
    answers: bool,
) -> str:
    """What is struck in one bar, in a sentence; ``source`` is an earlier slot of the same rhythm, if any."""
    bar = bar_text(strokes[0].event.onset)
    words = {"bar": bar, "bar_up": bar[0].upper() + bar[1:]}
    if source is not None:
        earlier = study.events_of(source.number)
        words["source"] = bar_text(earlier[0].onset)
        shapes = [shape_of(s.event) for s in strokes if s.kind == "grip"]
        if shapes and known.issuperset(shapes) and shapes == [shape_of(e) for e in earlier if _is_grip(e)]:
            return voice.pick(COMPS_REPEAT).format(**words)
    if len(strokes) == 1 and strokes[0].kind == "bass":
        return BASS_ALONE.format(**words, **_bass_words(strokes[0])) if detail > 2 else ""
    texts = _counted(study, _worth_saying(strokes, detail), known, detail, voice)
    said = [t for i, t in enumerate(texts) if t not in texts[:i]]
    form = voice.pick(COMPS_IN_RHYTHM if source else COMPS if answers else COMPS_FIRST)
    return form.format(**words, strokes=listed(said))


def _is_grip(event: Event) -> bool:
    return len(facts.struck(event)) > 1


def _counted(
    study: Study, strokes: Sequence[Stroke], known: set[Shape], detail: int, voice: Voice
) -> list[str]:
    """The strokes in words, a grip that is simply struck again counted instead of told."""
    texts: list[str] = []
    at = 0
    while at < len(strokes):
        told = (
            _line(strokes[at:])
            or _pairs(study, strokes[at:], known)
            or _resolution(study, strokes[at : at + 2], known)
        )
        if told is not None:
            texts.append(told[0])
            at += told[1]
            continue
        end = at + 1
        while end < len(strokes) and strokes[at].kind == "grip" and _plainly_again(strokes[end]):
            end += 1
        text = _stroke(study, strokes[at], known, detail, voice)
        form = TIMES.get(end - at, MANY_TIMES) if end - at > 1 else "{grip}"
        texts.append(form.format(grip=text, count=number(end - at)))
        at = end
    return texts


def _line(strokes: Sequence[Stroke]) -> tuple[str, int] | None:
    """A voice that moves on stroke by stroke on one string, and in how many strokes; None when it does not."""
    moved = [s.moved for s in takewhile(lambda s: s.moved and not _graced(s), strokes)]
    ways = [m for m in moved if m is not None]
    same = list(takewhile(lambda m: m[0] == ways[0][0], ways))
    if len(same) < 2:
        return None
    degrees = "-".join(signs(d) for d in (same[0][1], *(new for _, _, new in same)))
    return LINE.format(string=same[0][0], degrees=degrees), len(same)


def _pairs(study: Study, strokes: Sequence[Stroke], known: set[Shape]) -> tuple[str, int] | None:
    """Pairs of notes of one chord that go on from place to place, and how many strokes; None when there are none."""
    chord = strokes[0].event.chord
    line = list(
        takewhile(
            lambda s: s.kind == "grip" and len(facts.struck(s.event)) == 2 and s.event.chord == chord, strokes
        )
    )
    places = [tuple((n.string, n.fret) for n in facts.struck(s.event)) for s in line]
    if len(set(places)) < 2 or any(_graced(s) for s in line):
        return None
    known.update(shape_of(s.event) for s in line)
    tops = [facts.top(s.event).degree for s in line]
    degrees = "-".join(signs(d) for k, d in enumerate(tops) if not k or places[k] != places[k - 1])
    strings = list(dict.fromkeys("-".join(str(string) for string, _ in place) for place in places))
    named = study.chord(chord).symbol
    return PAIRS.format(chord=named, degrees=degrees, strings=listed(strings)), len(line)


def _resolution(study: Study, strokes: Sequence[Stroke], known: set[Shape]) -> tuple[str, int] | None:
    """A grip that leans on strange notes or lies a fret off until the next one, in words for both; else None."""
    if len(strokes) < 2 or any(s.kind != "grip" or _graced(s) for s in strokes):
        return None
    event, after = (s.event for s in strokes)
    now, then = (facts.struck(e) for e in (event, after))
    tones = study.chord(after.chord).degrees
    if event.chord != after.chord or [n.string for n in now] != [n.string for n in then]:
        return None
    if all(n.degree in tones for n in now) or any(n.degree not in tones for n in then):
        return None
    grip = _grip(study, replace(strokes[1], moved=None, shifted=0, again=False), known)
    ways = {b.fret - a.fret for a, b in zip(now, then, strict=True)}
    if len(ways) == 1:
        way = ways.pop()
        frets = FRET_DISTANCE.get(abs(way), f"{number(abs(way))} frets")
        return APPROACHED.format(grip=grip, frets=frets, side=SIDES[way > 0]), 2
    leaning = [signs(a.degree) for a, b in zip(now, then, strict=True) if a.fret != b.fret]
    return LEANING.format(degrees=listed(leaning), grip=grip), 2


def _plainly_again(stroke: Stroke) -> bool:
    return stroke.again and not _graced(stroke) and not stroke.event.ring


def _source(study: Study, comps: Sequence[CompFacts]) -> Slot | None:
    """The earlier slot, all in one bar, whose rhythm is repeated."""
    origin = comps[0].rhythm_of if len(comps) == 1 else None
    bars = {bar_of(e.onset) for e in study.events_of(origin.number)} if origin else set()
    return origin if len(bars) == 1 else None


def _worth_saying(strokes: Sequence[Stroke], detail: int) -> list[Stroke]:
    kept = list(strokes)
    if detail < 3:
        kept = [s for s in kept if s.kind != "dead" and (not s.again or _graced(s))]
    if detail < 2:
        kept = [s for s in kept if s.kind != "bass"]
    return kept or list(strokes[:1])


def _graced(stroke: Stroke) -> bool:
    return any(n.grace for n in stroke.event.notes)


def _bass_words(stroke: Stroke) -> dict[str, str]:
    note = facts.top(stroke.event)
    return {"degree": DEGREE_WORDS.get(note.degree, note.degree), "string": str(note.string)}


def _stroke(study: Study, stroke: Stroke, known: set[Shape], detail: int, voice: Voice) -> str:
    if stroke.kind == "dead":
        return voice.pick(DEAD)
    if stroke.kind == "walk":
        return _walk(study, stroke)
    if stroke.kind == "bass":
        return BASS.format(**_bass_words(stroke))
    text = _grip(study, stroke, known)
    return RINGING.format(stroke=text) if stroke.event.ring and detail > 1 else text


def _walk(study: Study, stroke: Stroke) -> str:
    pitches = [facts.top(e).pitch for e in stroke.events]
    names = [sounding_name(study, e, facts.top(e)) for e in stroke.events]
    if len(set(pitches)) == 1:
        return BASS.format(**_bass_words(stroke))
    notes = "-".join(name for k, name in enumerate(names) if not k or name != names[k - 1])
    steps = [abs(b - a) for a, b in pairwise(pitches)]
    if len(steps) < 2 or max(steps) > WIDEST_WALK or 0 in steps:
        return SINGLE_NOTES.format(notes=notes)
    target = study.chord_at(min(stroke.events[-1].end, study.ticks - 1))
    if (pitches[-1] - target.root_pc) % 12 in (1, 2, 10, 11):
        return WALK_TO.format(notes=notes, chord=target.symbol)
    return WALK.format(notes=notes)


def _grip(study: Study, stroke: Stroke, known: set[Shape]) -> str:
    event = stroke.event
    spoken_for = shape_of(event) in known
    if stroke.moved and not _graced(stroke):
        string, old, new = stroke.moved
        known.add(shape_of(event))
        tones = study.chord(event.chord).degrees
        form = RESOLVED if new in tones and old not in tones else MOVED
        return form.format(a=signs(old), b=signs(new), string=string)
    if stroke.shifted and not _graced(stroke):
        known.add(shape_of(event))
        frets = FRET_DISTANCE[abs(stroke.shifted)]
        chord = study.chord(event.chord).symbol
        return SHIFTED.format(frets=frets, way=WAYS[stroke.shifted > 0], chord=chord)
    if stroke.again:
        return _with_grace(study, event) if _graced(stroke) else AGAIN
    known.add(shape_of(event))
    chord = study.chord(event.chord).symbol
    grip = (GRIP_KNOWN if spoken_for else GRIP).format(
        chord=chord,
        degrees=degrees_text(n.degree for n in facts.struck(event)),
        strings="-".join(str(n.string) for n in facts.struck(event)),
    )
    if _graced(stroke):
        grip = _with_grace(study, event, grip)
    return _ahead(study, event, grip) if stroke.leads else grip


def _with_grace(study: Study, event: Event, grip: str = "") -> str:
    """The grip with its grace notes; without a name it is the one before, played again."""
    note = next(n for n in event.notes if n.grace)
    assert note.grace is not None
    rise = note.fret - note.grace.fret
    if note.grace.technique is Technique.SLIDE:
        frets = FRET_DISTANCE.get(abs(rise), f"{number(abs(rise))} frets")
        return (SLID if grip else SLID_SAME).format(grip=grip, frets=frets, side=SIDES[rise > 0])
    below = study.chord(event.chord).degree(study.neck.pitch(note.string, note.grace.fret))
    return (HAMMERED if grip else HAMMERED_SAME).format(grip=grip, a=signs(below), b=signs(note.degree))


def _ahead(study: Study, event: Event, grip: str) -> str:
    """A grip of another chord than the bar's: the next chord early, or a chord passed through."""
    coming = study.chord_at(min(event.onset + TICKS_PER_BEAT, study.ticks - 1))
    if coming.root_pc == study.chord(event.chord).root_pc:
        return EARLY.format(grip=grip, when=near_beat(study, event.onset))
    return PASSING.format(grip=grip)
