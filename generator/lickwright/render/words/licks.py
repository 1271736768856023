"""What is said of one lick: where it starts or what it takes up, its techniques in order, where it lands."""

from __future__ import annotations

from collections.abc import Sequence

from lickwright.render.words import facts
from lickwright.render.words.facts import Again, Gesture, LickFacts, Move, Quote
from lickwright.render.words.terms import (
    DEGREE_WORDS,
    INTERVALS,
    Voice,
    bar_text,
    counted,
    listed,
    near_beat,
    note_name,
    number,
    ordinal,
    plain,
    step_text,
)
from lickwright.study.model import BendKind, Event, Note, Phrase, Slot, SlotKind, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BAR

# --- wording; names in braces are filled in by the functions below

NAMED, NAMED_ROLE = "Lick {name}", "Lick {name}, the {role},"
ALONE, NTH = "The lick", "The {ordinal} lick"
NAMED_AGAIN, OF_BAR_AGAIN = "lick {name}", "the lick of {bar}"
STARTS = (
    "{lick} starts {when}: {moves}.",
    "{lick} enters {when}: {moves}.",
    "{lick} comes in {when}: {moves}.",
)
STARTS_SHORT = ("{bar_up}, {lick_low}, {count}: {moves}.", "{lick}, {count} in {bar}: {moves}.")
STARTS_SHORTEST = ("{bar_up}, {lick_low}: {moves}.", "{lick} in {bar}: {moves}.")
STARTS_EARLY = ("{lick} is picked up early, {when}: {moves}.",)
QUOTES = {
    "figure": (
        "{lick} opens with the figure of {source}{place}",
        "{lick} sets out as {source} did{place}",
    ),
    "exact": ("{lick} says {source} again{place}", "{lick} brings back {source}{place}"),
    "shift": ("{lick} is the figure of {source} moved {way} {interval}",),
    "bent": (
        "{lick} takes up {source}, and {old} becomes {new} over {chord}",
        "{lick} brings the figure of {source} with {new} for {old}, now that {chord} sounds",
    ),
    "changed": (
        "{lick} takes up {source}, with {new} in place of {old}",
        "{lick} brings the figure of {source} again, but {new} where {old} was",
    ),
    "shape": (
        "{lick} has the rhythm and the shape of {source}, fitted to {chord}",
        "{lick} is shaped like {source}, the changed notes taken from {chord}",
    ),
    "shape over": (
        "{lick} has the rhythm and the shape of {source}, now over {chord}",
        "{lick} is shaped like {source}, with changed notes over {chord}",
    ),
    "shape alone": (
        "{lick} has the rhythm and the shape of {source}, not note for note",
        "{lick} is shaped like {source}, with changed notes",
    ),
    "rhythm": (
        "{lick} keeps the rhythm of {source} and changes the notes",
        "{lick} has the rhythm of {source}, turned another way",
    ),
    "idea": ("{lick} picks up the idea of {source}", "{lick} goes on from {source}"),
}
QUOTE_THEN = "{quote}: {moves}."
#: What is said of the same notes again, and what is not the same about them.
AGAIN: dict[Again, tuple[str, ...]] = {
    Again.NOTHING: (", note for note",),
    Again.HAND: (
        ", the same notes played at the {fret} fret",
        ", the same notes with the hand at the {fret} fret",
    ),
    Again.STRINGS: (", the same notes on other strings",),
    Again.SOME_STRINGS: (", the same notes, some on other strings",),
    Again.ONE_STRING: (", the same notes, one on another string",),
    Again.BENDS: (", the same notes, but not the same bends",),
    Again.FULLER: (", the same line with more double stops",),
    Again.SINGLE: (", the same line in single notes",),
    Again.THINNER: (", the same line with fewer double stops",),
    Again.STOP_MOVED: (", the same line with the double stop elsewhere in it",),
    Again.UNDER: (", the same line with another note under it",),
}
PLAIN_MOVES = ("pick all {count} notes", "pick each of the {count} notes")
ONE_NOTE, NOTE_WORD = "one note", "note"
PEAK = "reach up to {note} on string {string}"
#: Techniques as a teacher calls them out; the keys beginning with "after" follow a bend on the same string.
MOVES: dict[str, tuple[str, ...]] = {
    "h": ("hammer {a}-{b} on string {string}",),
    "p": ("pull off {a}-{b} on string {string}",),
    "h open": ("hammer {b} on open string {string}",),
    "p open": ("pull off {a} to open string {string}",),
    "up": ("slide {a}-{b} up string {string}",),
    "down": ("slide {a}-{b} down string {string}",),
    "after p": ("pull off to {b}",),
    "after p open": ("pull off to the open string",),
    "after h": ("hammer to {b}",),
    "after up": ("slide up to {b}",),
    "after down": ("slide down to {b}",),
    "run": ("slur {frets} on string {string}", "run {frets} on string {string}"),
    "bend": (
        "bend string {string} at {a} {step} to the {degree}",
        "push string {string} at {a} {step} up to the {degree}",
    ),
    "bend home": ("bend string {string} at {a} {step}", "push string {string} up {step} at {a}"),
    "release": (
        "bend string {string} at {a} {step} and back",
        "push string {string} up {step} at {a}, let it down",
    ),
    "pre-bend": ("pre-bend string {string} at {a} {step}, then strike",),
    "pre-bend release": ("pre-bend string {string} at {a} {step}, strike, let it down",),
    "curl": (
        "curl the {degree} on string {string} a quarter tone sharp",
        "lean on the {degree} on string {string} with a quarter-tone curl",
    ),
    "unison bend": ("bend string {string} at {a} {step} to match its neighbour",),
    "grace h": ("flick {a} into {b} on string {string}",),
    "grace p": ("flick {a} off to {b} on string {string}",),
    "grace s": ("slip from {a} into {b} on string {string}",),
    "double stop": ("strike strings {strings} together", "take strings {strings} as a double stop"),
    "trill": ("trill {a} against {b} on string {string}",),
    "dead note": ("let one note be dead",),
}
OPEN_FRET = "open"
LANDS = (
    "come to rest on the {degree} of {chord}{note} {when}{shake}",
    "land on the {degree} of {chord}{note} {when}{shake}",
    "finish on the {degree} of {chord}{note} {when}{shake}",
    "settle on the {degree} of {chord}{note} {when}{shake}",
)
LANDS_AT_ONCE = "it is the {degree} of {chord}{note}{shake}"
NOTE = " ({note})"
SHAKE = (" with vibrato", ", held with vibrato")
JOIN, THEN, AND = ", ", "and {landing}", "then {landing}"
WAYS = ("up", "down")


def lick_sentence(study: Study, phrase: Phrase, lick: LickFacts, limit: int, voice: Voice) -> str:
    """A lick in one sentence that calls out at most ``limit`` techniques, and always the landing."""
    name = _name(study, lick.slot)
    moves = _moves(study, lick, limit, voice)
    if lick.quote is not None:
        quote = _quote(study, lick.quote, lick.events[0], name, voice)
        return QUOTE_THEN.format(quote=quote, moves=moves)
    first = lick.events[0].onset
    bar = bar_text(first)
    words = {
        "lick": name.rstrip(","),
        "lick_low": name[0].lower() + name[1:].rstrip(","),
        "bar": bar,
        "bar_up": bar[0].upper() + bar[1:],
        "count": counted(len(lick.events), NOTE_WORD),
        "moves": moves,
    }
    if limit < 3:
        return voice.pick(STARTS_SHORT if limit > 1 else STARTS_SHORTEST).format(**words)
    early = first < phrase.first_bar * TICKS_PER_BAR
    words |= {"lick": name, "when": near_beat(study, first, bar=True)}
    return voice.pick(STARTS_EARLY if early else STARTS).format(**words)


def _name(study: Study, slot: Slot) -> str:
    if slot.name:
        role = plain(facts.role_of(study, slot))
        return (NAMED_ROLE if role else NAMED).format(name=plain(slot.name), role=role)
    licks = [s for s in study.slots_of(slot.phrase) if s.kind is SlotKind.LICK and study.events_of(s.number)]
    if len(licks) <= 1:
        return ALONE
    return NTH.format(ordinal=ordinal(1 + [s.number for s in licks].index(slot.number)))


def _name_again(study: Study, slot: Slot) -> str:
    events = study.events_of(slot.number)
    bar = bar_text(events[0].onset if events else slot.start)
    return NAMED_AGAIN.format(name=plain(slot.name)) if slot.name else OF_BAR_AGAIN.format(bar=bar)


def _quote(study: Study, quote: Quote, first: Event, name: str, voice: Voice) -> str:
    words = {"lick": name, "source": _name_again(study, quote.source)}
    if not quote.same_rhythm:
        return voice.pick(QUOTES["idea"]).format(**words)
    if quote.shift == 0:
        words["place"] = voice.pick(AGAIN[quote.again]).format(fret=ordinal(first.hand))
        return voice.pick(QUOTES["exact" if quote.whole else "figure"]).format(**words)
    if quote.shift is not None and abs(quote.shift) in INTERVALS:
        way = WAYS[quote.shift < 0]
        return voice.pick(QUOTES["shift"]).format(**words, way=way, interval=INTERVALS[abs(quote.shift)])
    if not quote.same_contour:
        return voice.pick(QUOTES["rhythm"]).format(**words)
    if quote.changed is not None:
        old, new = (sounding_name(study, event, note) for event, note in quote.changed)
        if old != new:
            words |= {"old": old, "new": new}
            return _over(study, quote.chord, "bent", "changed", words, voice)
    if quote.chord is not None:
        return _over(study, quote.chord, "shape", "", words, voice)
    return _over(study, quote.over, "shape over", "shape alone", words, voice)


def _over(
    study: Study, roman: str | None, form: str, otherwise: str, words: dict[str, str], voice: Voice
) -> str:
    """One wording for a change that has to do with a chord, another for one that has not."""
    if roman is None:
        return voice.pick(QUOTES[otherwise]).format(**words)
    return voice.pick(QUOTES[form]).format(**words, chord=study.chord(roman).symbol)


def sounding_name(study: Study, event: Event, note: Note) -> str:
    """The name of the pitch a note arrives at, over its event's chord."""
    return note_name(study, note.sounding2 // 2, study.chord(event.chord))


# --- techniques


def _moves(study: Study, lick: LickFacts, limit: int, voice: Voice) -> str:
    """The techniques in order and the landing as the last of them."""
    landing = _landing(study, lick, limit, voice)
    if len(lick.events) == 1 and not lick.moves:
        return f"{ONE_NOTE}{JOIN}{landing}"
    chosen = _chosen(lick.moves, limit)
    texts: list[str] = []
    for move, before in chosen:
        text = _move(move, before, voice, lands=move.event is lick.landing)
        if text not in texts:
            texts.append(text)
    if not texts and lick.moves:
        return landing
    if not texts:
        texts = [voice.pick(PLAIN_MOVES).format(count=number(len(lick.events)))]
    peak_event, peak = lick.peak
    if len(texts) < limit and peak_event not in (lick.landing, *(m.event for m, _ in chosen)):
        later = sum(move.event.onset < peak_event.onset for move, _ in chosen)
        texts.insert(later, PEAK.format(note=sounding_name(study, peak_event, peak), string=peak.string))
    return JOIN.join(
        [*texts, THEN.format(landing=landing)] if len(texts) > 1 else [*texts, AND.format(landing=landing)]
    )


def _chosen(moves: Sequence[Move], limit: int) -> list[tuple[Move, Move | None]]:
    """The ``limit`` moves most worth saying, in order of time, no two that read alike.

    With each comes the bend it follows on the same string: that one pair counts as a single move.
    """
    order = sorted(range(len(moves)), key=lambda i: (-facts.WEIGHT[moves[i].gesture], i))
    kept: set[int] = set()
    seen: set[tuple[object, ...]] = set()
    counted = 0
    for i in order:
        like = (moves[i].gesture, moves[i].note.string, moves[i].frets)
        if like in seen or counted == limit or i in kept:
            continue
        seen.add(like)
        kept.add(i)
        counted += 1
        if i + 1 < len(moves) and _follows_bend(moves[i + 1], moves[i]):
            kept.add(i + 1)
    return [
        (moves[i], moves[i - 1] if i - 1 in kept and _follows_bend(moves[i], moves[i - 1]) else None)
        for i in sorted(kept)
    ]


def _follows_bend(move: Move, before: Move) -> bool:
    return (
        move.gesture is Gesture.LEGATO
        and len(move.links) == 1
        and before.note.bend is not None
        and before.note.string == move.note.string
        and before.event.end == move.event.onset
    )


def _move(move: Move, bend_before: Move | None, voice: Voice, *, lands: bool) -> str:
    note = move.note
    words = {"string": str(note.string), "degree": DEGREE_WORDS.get(note.degree, note.degree)}
    if move.frets:
        words |= {"a": _fret(move.frets[0]), "b": _fret(move.frets[-1])}
    if note.bend:
        words["step"] = step_text(note.bend.size)
    if note.trill is not None:
        words["b"] = _fret(note.trill)
    words["strings"] = listed([str(n.string) for n in facts.struck(move.event)])
    words["frets"] = "-".join(map(_fret, move.frets))
    key = _key(move, bend_before)
    return voice.pick(MOVES["bend home" if lands and key == "bend" else key]).format(**words)


def _key(move: Move, bend_before: Move | None) -> str:
    """Which wording of ``MOVES`` fits."""
    bend = move.note.bend
    if move.gesture is Gesture.GRACE:
        return f"grace {move.links[0].value[0]}"
    if move.gesture is Gesture.PRE_BEND and bend and bend.kind is BendKind.PRE_BEND_RELEASE:
        return "pre-bend release"
    if move.gesture is not Gesture.LEGATO:
        return move.gesture.value
    if len(move.links) > 1:
        return "run"
    link = {Technique.HAMMER_ON: "h", Technique.PULL_OFF: "p"}.get(move.links[0])
    link = link or ("up" if move.frets[-1] >= move.frets[0] else "down")
    key = f"after {link}" if bend_before else link
    to_open = link == "p" and move.frets[-1] == 0
    from_open = link == "h" and move.frets[0] == 0
    return f"{key} open" if to_open or from_open else key


def _fret(fret: int) -> str:
    return str(fret) if fret else OPEN_FRET


# --- landing


def _landing(study: Study, lick: LickFacts, limit: int, voice: Voice) -> str:
    event, note = lick.landing, lick.landing_note
    shake = voice.pick(SHAKE) if limit > 1 and any(n.vibrato for n in event.notes) else ""
    elsewhere = event.onset // TICKS_PER_BAR != lick.events[0].onset // TICKS_PER_BAR
    chord, degree, name = study.chord(event.chord), note.degree, sounding_name(study, event, note)
    if note.bend is not None and note.bend.kind in (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE):
        degree, name = chord.degree(note.pitch), note_name(study, note.pitch, chord)
    words = {
        "degree": DEGREE_WORDS.get(degree, degree),
        "chord": chord.symbol,
        "note": "" if degree == "1" else NOTE.format(note=name),
        "when": near_beat(study, event.onset, bar=elsewhere or lick.quote is not None),
        "shake": shake,
    }
    if len(lick.events) == 1 and not lick.moves:
        return LANDS_AT_ONCE.format(**words)
    return voice.pick(LANDS).format(**words)
