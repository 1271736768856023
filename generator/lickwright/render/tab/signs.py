"""The signs of text tab: what stands on a string line for one note, and what each sign means.

It knows notes and techniques; it knows nothing of columns, bars or pages. A note is written as
``before`` + ``fret`` + ``after``, and only the fret's first digit has a place in time:

``h p / \\`` how the note before it is left for this one; ``7b9`` a bend that sounds like fret 9,
``r7`` its release, ``pb`` bent before it is struck, ``b¼`` a quarter tone; ``~`` vibrato; ``x`` a dead
note; ``(5)`` held over; ``4/5`` a grace note; ``5tr6`` a trill; ``5.`` short. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lickwright.study.model import Bend, BendKind, Event, Note, Study, Technique

#: Each sign and its line in the legend, in the order of the legend.
LEGEND: dict[str, str] = {
    "h": "h hammer-on",
    "p": "p pull-off",
    "/": "/ slide up",
    "\\": "\\ slide down",
    "b": "7b9 bend until it sounds like fret 9",
    "b¼": "b¼ bend a quarter tone",
    "pb": "7pb9 bend first, then strike",
    "r": "r let the bend down",
    "~": "~ vibrato",
    "tr": "5tr6 trill",
    "x": "x dead note",
    ".": "5. short",
    "()": "(5) held over, not struck",
    "grace": "4/5 or 5h6 from one stroke: the first has no time of its own",
    "lead": "(D7) over the strings: a grip of another chord than the bar's",
}

#: Signs that tie a note to the one before it on its string, so that no gap is needed between them.
LINKS = "hp/\\"


@dataclass(frozen=True)
class Ink:
    """What is written for one note: its tick and string, the text round the fret, the signs used.

    ``sways`` says that the text ends in a vibrato sign, which may be drawn longer where there is room.
    """

    tick: int
    string: int
    before: str
    fret: str
    after: str
    finger: int
    signs: frozenset[str]
    sways: bool = False
    end: int = 0

    @property
    def body(self) -> str:
        """The text from the fret on."""
        return self.fret + self.after

    @property
    def text(self) -> str:
        """The whole text, as it stands on the line."""
        return self.before + self.body


def bend_target(fret: int, size: int) -> str:
    """The fret that a bend of ``size`` quarter tones sounds like, half frets with ½.

    >>> bend_target(7, 4), bend_target(7, 3)
    ('9', '8½')
    """
    return f"{fret + size // 2}{'½' if size % 2 else ''}"


def _bend_text(fret: int, bend: Bend) -> tuple[str, set[str]]:
    pre = bend.kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE)
    text, signs = ("pb", {"pb"}) if pre else ("b", set())
    if bend.size == 1:
        text += "¼"
        signs.add("b¼")
    else:
        text += bend_target(fret, bend.size)
        if not pre:
            signs.add("b")
    if bend.kind in (BendKind.BEND_RELEASE, BendKind.PRE_BEND_RELEASE):
        text += f"r{fret}"
        signs.add("r")
    return text, signs


def _link(technique: Technique, fret: int, from_fret: int | None) -> str:
    if technique is Technique.SLIDE:
        return "\\" if from_fret is not None and from_fret > fret else "/"
    return {Technique.HAMMER_ON: "h", Technique.PULL_OFF: "p"}.get(technique, "")


def ink(event: Event, note: Note, last_fret: int | None) -> Ink:
    """The text of one note; ``last_fret`` is the fret sounded before it on its string, if any."""
    before, after, signs = "", "", set()
    link = _link(note.technique, note.grace.fret if note.grace else note.fret, last_fret)
    if link:
        before += link
        signs.add(link)
    if note.grace:
        joint = _link(note.grace.technique, note.fret, note.grace.fret)
        before += f"{note.grace.fret}{joint}"
        signs |= {joint, "grace"}
    if note.tied:
        before, after = before + "(", ")"
        signs.add("()")
    if note.bend and not note.muted:
        text, bend_signs = _bend_text(note.fret, note.bend)
        after += text
        signs |= bend_signs
    if note.trill is not None:
        after += f"tr{note.trill}"
        signs.add("tr")
    if note.muted:
        signs.add("x")
    if event.staccato:
        after += "."
        signs.add(".")
    if note.vibrato:
        after += "~"
        signs.add("~")
    fret = "x" if note.muted else str(note.fret)
    return Ink(
        event.onset, note.string, before, fret, after, note.finger,
        frozenset(signs - {""}), note.vibrato, event.end,
    )  # fmt: skip


def inks(study: Study) -> tuple[Ink, ...]:
    """The text of every note of a study, in order of onset, highest string first."""
    last: dict[int, int] = {}
    found = []
    for event in study.events:
        for note in sorted(event.notes, key=lambda n: n.string):
            found.append(ink(event, note, last.get(note.string)))
        last.update({n.string: n.fret for n in event.notes if not n.muted})
    return tuple(found)


def legend(signs: Iterable[str]) -> list[str]:
    """The meaning of the signs that occur, in a fixed order."""
    present = set(signs)
    return [meaning for sign, meaning in LEGEND.items() if sign in present]
