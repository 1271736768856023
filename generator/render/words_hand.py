"""What is said of the hand: where it is in a phrase, where the root lies from there, and what is hard."""

from __future__ import annotations

from collections.abc import Sequence

from generator.render import words_facts as facts
from generator.render.words_facts import HandFacts, HardSpot
from generator.render.words_terms import FINGERS, Voice, bar_text, ordinal, signs
from generator.rhythm import TICKS_PER_BEAT
from generator.study import Event, Phrase, SlotKind, Study

# --- wording; names in braces are filled in by the functions below

HAND_FIRST = (
    "Index finger at the {fret} fret, {root}.",
    "Put the index finger at the {fret} fret, {root}.",
)
HAND_SAME = (
    "The hand stays at the {fret} fret.",
    "Keep the index finger at the {fret} fret.",
    "Stay at the {fret} fret.",
)
HAND_NEW = (
    "Take the hand {way} to the {fret} fret, {root}.",
    "Now move {way} to the {fret} fret, {root}.",
)
HAND_ALSO = (
    "It goes {way} to the {fret} fret in {bar}.",
    "In {bar} it moves {way} to the {fret} fret.",
)
ROOT_UNDER = "with the root {note} under the {finger} finger on string {string}"
ROOT_UNDER_INDEX = "with the root {note} under it on string {string}"
ROOT_OPEN = "with the root {note} on open string {string}"
ROOT_NONE = "away from the root {note}"
WAYS = ("up", "down")

WATCH: dict[str, tuple[str, ...]] = {
    "bend": (
        "Check the bend in {bar} against fret {target}; {support}.",
        "The bend in {bar} has to sound like fret {target}; {support}.",
    ),
    "release": (
        "For the bend in {bar} {support}, and let it down without a new stroke.",
        "In {bar} hear fret {target} before you let the bend down; {support}.",
    ),
    "pre-bend": (
        "Hard in {bar}: the bend is made in silence, so learn how far fret {target} feels.",
        "Nobody hears the push in {bar}: practise it aloud first, against fret {target}.",
    ),
    "double bend": ("In {bar} only one of the two strings may move while you bend to fret {target}.",),
    "curl": ("The curl in {bar} is less than a half step.", "Do not turn the curl of {bar} into a bend."),
    "grip": (
        "The grip in {bar} goes from fret {from} to {to}: outer fingers first, and leave it out if it hurts.",
        "Mind the stretch in {bar}, frets {from} to {to}, thumb low behind the neck.",
    ),
    "moving grip": (
        "The grip in {bar} moves as it sounds: keep the pressure on, or it dies.",
        "In {bar} one stroke must last through the change of fret.",
    ),
    "double stop": (
        "Set both fingers of the double stop in {bar}, frets {from} and {to}, before you strike.",
        "Find the double stop of {bar} without the right hand first, frets {from} and {to}.",
    ),
    "reach": (
        "In {bar} the fingers part from fret {from} to {to}: thumb low behind the neck, and no force.",
        "Open the hand for the way from fret {from} to {to} in {bar}, and leave it out if it hurts.",
        "Put both fingers down together to learn the reach of {bar}, frets {from} and {to}.",
    ),
    "shift": (
        "The hand has little time from fret {from} to {to} in {bar}: look at the new fret before you leave the old.",
        "Prepare the hand's way from fret {from} to {to} in {bar}; the eye goes first.",
    ),
    "hop": (
        "In {bar} one finger goes from fret {from} to {to} by itself while the hand stays.",
        "Keep the finger light on its way from fret {from} to {to} in {bar}, and the hand where it is.",
    ),
    "fast": (
        "The quick notes in {bar} want half the tempo until they are even.",
        "Practise the quick notes in {bar} alone, slow and even.",
    ),
    "late": (
        "Count the silence: the lick in {bar} comes in off the beat.",
        "The lick in {bar} starts off the beat, so feel the beat before it.",
    ),
    "plain": ("Nothing here is hard for the fingers, so listen to how long each note lasts.",),
}
#: What helps a bend, by the finger that makes it.
SUPPORT = {
    1: "keep it small, the index finger is alone",
    2: "let the index finger push along",
    3: "put the middle finger behind the ring finger",
    4: "put the other fingers behind the little finger",
}
SUPPORT_OTHER = "push with more than one finger"

# --- the hand


def _way(difference: int) -> str:
    return WAYS[difference < 0]


def _root(study: Study, place: HandFacts) -> str:
    note = signs(study.key)
    if place.root is None:
        return ROOT_NONE.format(note=note)
    string, fret = place.root
    if fret == 0:
        return ROOT_OPEN.format(string=string, note=note)
    finger = min(4, max(1, fret - place.fret + 1))
    form = ROOT_UNDER_INDEX if finger == 1 else ROOT_UNDER
    return form.format(note=note, finger=FINGERS[finger], string=string)


def hand_sentence(study: Study, phrase: Phrase, previous: int | None, voice: Voice, *, also: bool) -> str:
    """Where the hand is in a phrase; ``previous`` is its fret in the phrase before, None in the first.

    ``also`` allows a word on a second place that the phrase visits.
    """
    places = facts.hand_facts(study, phrase)
    if not places:
        return ""
    main = places[0]
    fret = ordinal(main.fret)
    if previous is None:
        texts = [voice.pick(HAND_FIRST).format(fret=fret, root=_root(study, main))]
    elif abs(previous - main.fret) <= 1:
        texts = [voice.pick(HAND_SAME).format(fret=fret)]
    else:
        way = _way(main.fret - previous)
        texts = [voice.pick(HAND_NEW).format(fret=fret, way=way, root=_root(study, main))]
    for other in places[1:2] if also else ():
        event = facts.first_event_at(study, phrase, other.fret)
        if event is not None:
            way = _way(other.fret - main.fret)
            goes = voice.pick(HAND_ALSO)
            texts.append(goes.format(bar=bar_text(event.onset), way=way, fret=ordinal(other.fret)))
    return " ".join(texts)


# --- what to watch


def watch_sentence(
    study: Study, phrase: Phrase, spots: Sequence[HardSpot] | None, said: set[str], voice: Voice
) -> tuple[str, str]:
    """The kind of the hard moment and its sentence, of a study's hard moments, hardest first.

    The hardest of the study is said in its phrase; elsewhere a kind that was not said, and is not its, goes first.
    """
    slots = {s.number for s in study.slots_of(phrase.number)}
    mine = [s for s in spots or () if s.event.slot in slots]
    hardest = spots[0] if spots else None
    known = said | ({hardest.kind} if hardest else set())
    fresh = mine if hardest in mine else [s for s in mine if s.kind not in known]
    late = _late_lick(study, phrase)
    if late is not None and "late" not in said and not fresh:
        return "late", voice.pick(WATCH["late"]).format(bar=bar_text(late.onset))
    if mine:
        spot = (fresh or mine)[0]
        return spot.kind, voice.pick(WATCH[spot.kind]).format(**_watch_words(spot))
    return ("", "") if spots is None or "plain" in said else ("plain", voice.pick(WATCH["plain"]))


def _watch_words(spot: HardSpot) -> dict[str, str]:
    words = {"bar": bar_text(spot.event.onset), "from": str(spot.frets[0]), "to": str(spot.frets[1])}
    bent = next((n for n in spot.event.notes if n.bend), None)
    if bent is not None and bent.bend is not None:
        words["target"] = str(bent.fret + bent.bend.size // 2)
        words["support"] = SUPPORT.get(bent.finger, SUPPORT_OTHER)
    return words


def _late_lick(study: Study, phrase: Phrase) -> Event | None:
    """The first event of the phrase's first lick that starts off the beat."""
    for slot in study.slots_of(phrase.number):
        events = study.events_of(slot.number)
        if slot.kind is SlotKind.LICK and events and events[0].onset % TICKS_PER_BEAT:
            return events[0]
    return None
