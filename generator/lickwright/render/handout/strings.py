"""Every English string of the page that does not come from ``words``: headings, buttons, labels."""

from __future__ import annotations

from collections.abc import Sequence

from lickwright.render.words import practice as words_practice
from lickwright.study.model import BendKind, Event, Note, SlotKind, Study, Technique
from lickwright.theory.rhythm import TICKS_PER_BAR, beat_text

#: For the template.
PAGE = {
    "lang": "en",
    "number": "No.",
    "key": "Key of",
    "beats": "beats a minute",
    "phrase": "Phrase",
    "bars": "bars",
    "bar": "bar",
    "neck": "On the neck",
    "neck_note": "Degrees of the key; the root is filled; the shaded frets lie under the hand.",
    "grips": "Grips",
    "before": "Before you play",
    "spoken": "The music in words",
    "made": "How this page was made",
    "seed": "seed",
    "rules": "rule files",
    "score": "Score: notation and tab",
    "score_help": "Press a note to play from it. Arrow keys move from note to note; Enter plays; "
    "Shift with an arrow key, or dragging, marks a stretch to repeat.",
    "score_help_silent": "Arrow keys move from note to note in the score.",
    "left": "Left-handed diagrams",
    "no_script": "This page draws its music with a script inside it. Scripts are switched off in this "
    "viewer: open the file in a web browser.",
    "fingers": "Small figures under the tab are fretting fingers, 1 (index) to 4 (little).",
    "player": "Player",
    "play": "Play",
    "pause": "Pause",
    "repeat": "Repeat",
    "speed": "Speed",
    "count_in": "Count in",
    "guitar": "Guitar",
    "band": "Band",
    "click": "Click",
    "whole": "The whole study",
    "whole_sheet": "All exercises",
    "once": "nothing, play to the end",
    "loading": "Getting the sound ready …",
}

#: For the script.
SCRIPT = {
    "play": "Play",
    "pause": "Pause",
    "loading": "Getting the sound ready …",
    "failed": "This browser cannot play the sound inside this page.",
    "marked": "Marked stretch",
    "stretch": "Repeating: {label}",
    "from": "Playing from {label}",
    "stopped": "Stopped",
    "hammer": "H",
    "pull": "P",
    "trill": "tr",
    "dead": "X",
}

#: For the page that holds studies side by side, besides those of the handout.
COMPARE = {
    "studies": "Studies side by side",
    "licks": "Licks side by side",
    "score": "Notation and tab",
    "untitled": "Untitled",
    "and": "and",
    "entries": "What is compared",
    "differ": "How they differ",
    "measures": "Measures",
    "measures_note": "A measure says how much there is of something, not whether it is good. "
    "Press one to put them in its order.",
    "measure": "Measure",
    "given": "The order given",
    "unusual": "! outside what is usual in its style",
    "alike": "Measures that are the same in all",
    "distances": "Distances",
    "distances_note": "0 is the same, 1 has nothing in common. Notes and places are seen from the root of the key.",
    "pair": "Pair",
    "index": "index finger at fret",
    "hardest": "hardest moment",
    "hear": "Hear",
    "heard": "Heard",
    "whole": "All of it",
    "digits": "Number keys choose who is heard",
    "same": "Bars in which nothing differs are not shown.",
    "marks": "A thick stroke on the tab's lowest line marks what differs from 1.",
    "score_help": "Press a note to play from it. Arrow keys move from note to note; Enter plays; "
    "Shift with an arrow key, or dragging, marks a stretch to repeat. A number before a system plays that one from there.",
}

#: For its script.
COMPARE_SCRIPT = {
    **SCRIPT,
    "hear": "Hear {number} from bar {bar}",
    "sorted": "In the order of: {label}, {way}",
    "most": "most first",
    "least": "least first",
    "given": "In the order given",
}

FINGERS = ("", "1", "2", "3", "4", "T")

_BENDS = {1: "¼", 2: "½", 3: "¾", 4: "full"}
_TECHNIQUES = {
    Technique.HAMMER_ON: "hammer-on",
    Technique.PULL_OFF: "pull-off",
    Technique.SLIDE: "slide",
}
_BEND_KINDS = {
    BendKind.BEND: "bend",
    BendKind.BEND_RELEASE: "bend and release",
    BendKind.PRE_BEND: "pre-bend",
    BendKind.PRE_BEND_RELEASE: "pre-bend and release",
}


def bend_label(quarter_tones: int) -> str:
    """What stands over a bend's arrow.

    >>> [bend_label(n) for n in (1, 2, 4, 6, 8)]
    ['¼', '½', 'full', '1½', '2']
    """
    whole, rest = divmod(quarter_tones, 4)
    if quarter_tones in _BENDS:
        return _BENDS[quarter_tones]
    return f"{whole}{_BENDS.get(rest, '')}"


def note_label(study: Study, event: Event, note: Note) -> str:
    """One note in words: ``hammer-on to string 2 fret 8``."""
    where = f"string {note.string} fret {note.fret}"
    if note.muted:
        return f"{where} muted"
    words = [f"{_TECHNIQUES[note.technique]} to"] if note.technique in _TECHNIQUES else []
    words.append(where)
    if note.tied:
        words.append("held")
    if note.bend:
        words.append(f"{_BEND_KINDS[note.bend.kind]} {bend_label(note.bend.size)}")
    if note.vibrato:
        words.append("vibrato")
    if note.trill is not None:
        words.append(f"trill with fret {note.trill}")
    return " ".join(words)


def event_label(study: Study, event: Event) -> str:
    """What a screen reader says of an event: where it is in time, then its notes."""
    place = beat_text(event.onset)
    grip = f"{study.chord(event.chord).symbol} grip, " if event.grip else ""
    return f"{place}: {grip}" + ", ".join(note_label(study, event, n) for n in event.notes)


def phrase_name(study: Study, number: int) -> str:
    """``Phrase 1``, or ``Exercise 12`` on a practice sheet."""
    return words_practice.phrase_name(study, number, f"{PAGE['phrase']} {number + 1}")


def phrase_heading(study: Study, number: int) -> str:
    """``bars 1–4``."""
    p = study.phrases[number]
    return f"{PAGE['bars']} {p.first_bar + 1}–{p.last_bar + 1}"


def range_labels(study: Study) -> list[tuple[str, int, int]]:
    """What the player can repeat: (label, first tick, end tick): the study, each phrase, each lick."""
    found = [(PAGE["whole_sheet" if study.drills else "whole"], 0, study.ticks)]
    for p in study.phrases:
        label = f"{phrase_name(study, p.number)}, {phrase_heading(study, p.number)}"
        found.append((label, p.first_bar * TICKS_PER_BAR, (p.last_bar + 1) * TICKS_PER_BAR))
    count = 0
    for slot in study.slots:
        if slot.kind is SlotKind.LICK:
            count += 1
            name = f" ({slot.name})" if slot.name else ""
            found.append((f"Lick {count}{name}, from {beat_text(slot.start)}", slot.start, slot.end))
    return found


#: Speeds of the player, in hundredths of the tempo.
SPEEDS = (50, 60, 70, 75, 80, 85, 90, 95, 100, 105, 110)


def tempo_note(tempos: Sequence[int]) -> str:
    """What is said of the tempo where studies are heard in turn."""
    if len(set(tempos)) == 1:
        return ""
    return f"All are heard at {tempos[0]} {PAGE['beats']}, the tempo of 1, and with its band."


def made_with(study: Study) -> str:
    """One line that says how the study came about, so that it can be written again."""
    parts = [
        f"lickwright {study.tool_version}".strip(),
        f"style {study.brief.style}",
        f"seed {study.brief.seed}",
    ]
    if study.rules:
        parts.append("rules " + ", ".join(f"{r.name} {r.sha256[:8]}" for r in study.rules))
    return " · ".join(parts)
