"""What is said of the hand: where it is in a phrase, where the root lies from there, and what is hard."""

from __future__ import annotations

from generator.render import words_facts as facts
from generator.render.words_facts import HandFacts, HardSpot
from generator.render.words_terms import FINGERS, Voice, bar_text, number, ordinal, signs
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
    "stretch": (
        "The grip in {bar} spans {frets} frets: outer fingers first, and leave it out if it hurts.",
        "Mind the stretch in {bar}, thumb low behind the neck.",
    ),
    "shift": (
        "Mind the jump of {frets} frets in {bar}: look at the new fret before you leave the old.",
        "Prepare the move of {frets} frets in {bar}; the eye goes first.",
    ),
    "fast": (
        "The quick notes in {bar} want half the tempo until they are even.",
        "Practise the quick notes in {bar} alone, slow and even.",
    ),
    "trill": ("Keep the trill in {bar} loose, and stop it in time.",),
    "grip in motion": (
        "The grip in {bar} moves as it sounds: keep the pressure on, or it dies.",
        "In {bar} one stroke must last through the change of fret.",
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


def watch_sentence(study: Study, phrase: Phrase, said: set[str], voice: Voice) -> tuple[str, str]:
    """The kind of the hard moment and its sentence; a kind already said gives way to a near second."""
    spots = facts.hard_spots(study, phrase)
    spots.sort(key=lambda s: (-(s.score - (1.5 if s.kind in said else 0.0)), s.event.onset))
    late = _late_lick(study, phrase)
    if (
        late is not None
        and "late" not in said
        and not any(s.kind not in said or s.score > 3 for s in spots[:1])
    ):
        return "late", voice.pick(WATCH["late"]).format(bar=bar_text(late.onset))
    if spots:
        return spots[0].kind, voice.pick(WATCH[spots[0].kind]).format(**_watch_words(spots[0]))
    return ("", "") if "plain" in said else ("plain", voice.pick(WATCH["plain"]))


def _watch_words(spot: HardSpot) -> dict[str, str]:
    words = {"bar": bar_text(spot.event.onset), "frets": number(round(spot.amount))}
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
