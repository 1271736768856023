"""What is said of the hand: where it is in a phrase, where the root lies from there, and what is hard."""

from __future__ import annotations

from collections.abc import Sequence

from lickwright.render.words import facts
from lickwright.render.words.facts import HandFacts, HardSpot
from lickwright.render.words.terms import FINGERS, Voice, bar_text, listed, number, ordinal, signs
from lickwright.study.model import Event, Phrase, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BEAT

# --- wording; names in braces are filled in by the functions below

HAND_FIRST = ("Index finger at the {fret} fret{root}", "Put the index finger at the {fret} fret{root}")
HAND_SAME = (
    "Keep the index finger at the {fret} fret for the {licks}",
    "The {licks} {stay} at the {fret} fret",
    "Stay at the {fret} fret for the {licks}",
)
#: The last lick lay there too, but the comping did not.
HAND_BACK = (
    "Come back to the {fret} fret for the {licks}",
    "The {licks} {lie} at the {fret} fret again",
    "For the {licks} the hand returns to the {fret} fret",
)
HAND_NEW = (
    "In {bar} take the hand {way}to the {fret} fret{root}",
    "Now move {way}to the {fret} fret in {bar}{root}",
)
#: The changes of position inside a phrase, after a semicolon.
HAND_GOES = ("in {bar} {way}to the {fret}", "then {way}to the {fret} in {bar}")
HAND_GOES_AGAIN = "{way}to the {fret}"
HAND_WANDERS = "then to and fro between the {low} and the {high}"
LICKS, FIRST_LICKS = ("lick", "licks"), ("first lick", "first {count} licks")
STAY, LIE = ("stays", "stay"), ("lies", "lie")
GRIPS_AT = "For the comping the index finger is at the {low} fret."
GRIPS_BETWEEN = "In the comping the index finger moves between the {low} and the {high} fret."
ROOT_UNDER = ", with the root {note} under the {finger} finger on string {string}"
ROOT_UNDER_INDEX = ", with the root {note} under it on string {string}"
ROOT_OPEN = ", with the root {note} on open string {string}"
ROOT_NONE = ", away from the root {note}"
WAYS = {1: "up ", -1: "down ", 0: ""}
ON, BACK = "on ", "back "
#: More changes of position than these in a phrase are not told one by one.
MOST_MOVES = 3

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


def _root(study: Study, position: HandFacts) -> str:
    note = signs(study.key)
    if position.root is None:
        return ROOT_NONE.format(note=note)
    string, fret = position.root
    if fret == 0:
        return ROOT_OPEN.format(string=string, note=note)
    finger = min(4, max(1, fret - position.fret + 1))
    form = ROOT_UNDER_INDEX if finger == 1 else ROOT_UNDER
    return form.format(note=note, finger=FINGERS[finger], string=string)


def hand_sentence(study: Study, phrase: Phrase, known: set[int], voice: Voice) -> str:
    """Where the hand is for the licks of a phrase, and in which bar it goes from one position to the next.

    The root is told at positions that are not ``known``; they are added to it.
    """
    positions = facts.hand_facts(study, phrase)
    if not positions:
        return _comping(study, phrase)
    first, *others = positions
    form: Sequence[str] = HAND_NEW
    if first.came_from is None:
        form = HAND_FIRST
    elif first.came_from == first.fret:
        form = HAND_BACK if first.left else HAND_SAME
    words = {
        "fret": ordinal(first.fret),
        "root": "" if first.fret in known else _root(study, first),
        "way": WAYS[first.way],
        "bar": bar_text(first.event.onset),
    }
    text = voice.pick(form).format(**words, **_licks_of(first, alone=not others))
    known.add(first.fret)
    return f"{text}; {_goes(positions, voice)}." if others else f"{text}."


def _goes(positions: Sequence[HandFacts], voice: Voice) -> str:
    """The changes of position inside a phrase."""
    frets = [position.fret for position in positions]
    if len(positions) > MOST_MOVES + 1:
        return HAND_WANDERS.format(low=ordinal(min(frets)), high=ordinal(max(frets)))
    form = voice.pick(HAND_GOES)
    steps: list[str] = []
    told = ""
    for k, position in enumerate(positions[1:], 1):
        way = BACK if position.fret in frets[:k] else WAYS[position.way] or ON
        bar = bar_text(position.event.onset)
        goes = HAND_GOES_AGAIN if bar == told else form
        steps.append(goes.format(way=way, fret=ordinal(position.fret), bar=bar))
        told = bar
    return listed(steps)


def _licks_of(position: HandFacts, *, alone: bool) -> dict[str, str]:
    """How the licks at the first position of a phrase are called: all of them, or the first ones."""
    many = position.licks > 1
    licks = LICKS[many] if alone else FIRST_LICKS[many].format(count=number(position.licks))
    return {"licks": licks, "stay": STAY[many], "lie": LIE[many]}


def _comping(study: Study, phrase: Phrase) -> str:
    """Where the hand is in a phrase without a lick."""
    frets = facts.grip_frets(study, phrase)
    if frets is None:
        return ""
    form = GRIPS_AT if frets[0] == frets[1] else GRIPS_BETWEEN
    return form.format(low=ordinal(frets[0]), high=ordinal(frets[1]))


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
