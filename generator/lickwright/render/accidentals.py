"""How every head of the notation staff is spelled and which of them print a sign: one answer for score and page.

The rules: a sign holds for its line until the bar line; a note tied over it prints none; a dead note has no pitch and
prints none. Beside those that are needed, a first note prints its sign as a courtesy when the same line stood otherwise
in the bar before, or the same letter stands otherwise in another octave. Common practice in engraving, no source.

Score and page show the same heads but for a few small ones (``Shown``); a sign that is needed in one of them is printed
in both. music21 decides this too, but takes a sign in one octave for enough in another, or else repeats signs that still
hold. It knows nothing of a file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Flag, auto

from lickwright.render.heads import Head, Heads, Layout, Role, grace_columns, low_string_first
from lickwright.study.model import BendKind, Event, Note, Study
from lickwright.theory.harmony import LETTER_PITCH, LETTERS, Spelled, spell

_SHARPS = "FCGDAEB"
#: The letters that stand for signs, by semitones.
SIGNS = {-1: "b", 0: "n", 1: "#"}


def signature(letter: str, fifths: int) -> int:
    """What a key signature does to a letter, in semitones.

    >>> signature("F", 1), signature("B", -1), signature("C", 1)
    (1, -1, 0)
    """
    if fifths >= 0:
        return int(letter in _SHARPS[:fifths])
    return -int(letter in _SHARPS[fifths:])


class Accidentals:
    """Follows one staff, note by note in the order of writing."""

    def __init__(self, fifths: int):
        self._fifths = fifths
        self._before: dict[tuple[str, int], int] = {}
        self._bar: dict[tuple[str, int], int] = {}

    def next_bar(self) -> None:
        """A bar line."""
        self._before, self._bar = self._bar, {}

    def prints(self, note: Spelled) -> bool:
        """Whether the next note, not one that is held from before, prints a sign; the sign holds from there."""
        wanted = self.wants(note)
        self._bar[note.letter, note.octave] = note.alter
        return wanted

    def wants(self, note: Spelled) -> bool:
        """Whether a note would need or deserve a sign here."""
        line = (note.letter, note.octave)
        needed = self._bar.get(line, signature(note.letter, self._fifths)) != note.alter
        elsewhere = [alter for (letter, _), alter in self._bar.items() if letter == note.letter]
        otherwise = [*elsewhere, self._before.get(line, note.alter)]
        courtesy = line not in self._bar and any(alter != note.alter for alter in otherwise)
        return needed or courtesy


class Shown(Flag):
    """Where a head is seen: in the score, on the page; in the score as a mark over a trill, which holds for no other."""

    SCORE = auto()
    PAGE = auto()
    OVER_TRILL = auto()


@dataclass(frozen=True)
class Sign:
    """A head's spelling, whether its sign is printed, and whether the score shows the head at all."""

    spelled: Spelled
    printed: bool
    in_score: bool = True

    @property
    def letter(self) -> str:
        """``b``, ``n`` or ``#`` where a sign is printed, else nothing."""
        return SIGNS[self.spelled.alter] if self.printed else ""


def signs_of(study: Study, layout: Layout) -> dict[str, Sign]:
    """The sign of every head of the notation staff by its id, and of the small heads that ``extra_id`` names."""
    views = {view: Accidentals(study.home.fifths) for view in (Shown.SCORE, Shown.PAGE)}
    found: dict[str, Sign] = {}
    for number in range(len(layout.bars)):
        for head, name, shown in _heads_of_bar(study, layout, number):
            # Each view is asked, for it takes note of the head.
            asks = [view.prints(name) for kind, view in views.items() if kind in shown and _sounds(head)]
            if Shown.OVER_TRILL in shown:
                asks.append(views[Shown.SCORE].wants(name))
            found[head.id] = Sign(name, any(asks), shown is not Shown.PAGE)
        for accidentals in views.values():
            accidentals.next_bar()
    return found


def _sounds(head: Head) -> bool:
    return not (head.tied or head.muted)


def extra_id(main: Head, what: str) -> str:
    """The id of a small head that is no head of the layout: ``trill`` or ``fretted``, of a note's first piece."""
    return f"{main.id}-{what}"


def _heads_of_bar(study: Study, layout: Layout, number: int) -> Iterator[tuple[Head, Spelled, Shown]]:
    """What is written in a bar, in the order of writing."""
    for written in layout.bars[number]:
        if written.event is None:
            continue
        event, piece = study.events[written.event], layout.piece(written)
        places = low_string_first(written.event, event)
        heads = [layout.heads[place] for place, _ in places]
        notes = [note for _, note in places]
        if piece == 0:
            yield from _before(study, event, heads, notes)
        for each in heads:
            yield each.pieces[piece], spelled(study, each.pieces[piece]), Shown.SCORE | Shown.PAGE
        if piece == 0:
            yield from _over_trills(study, event, heads, notes)
        if not written.ties:
            for head in (head for each in heads for head in each.after):
                yield head, spelled(study, head), Shown.SCORE | Shown.PAGE


def _before(
    study: Study, event: Event, heads: Sequence[Heads], notes: Sequence[Note]
) -> Iterator[tuple[Head, Spelled, Shown]]:
    """The small heads before an event's notes: graces, and the fretted pitch of a note that begins bent."""
    for head in (head for column in grace_columns(heads) for head in column):
        # The page has room for one small head before a note.
        hidden = head.role is Role.STRIKE and event.notes[head.place[1]].grace is not None
        yield head, spelled(study, head), Shown.SCORE if hidden else Shown.SCORE | Shown.PAGE
    for each, note in zip(heads, notes, strict=True):
        if note.bend and note.bend.size > 1 and not each.before and _held_before(note):
            small = replace(each.pieces[0], id=extra_id(each.pieces[0], "fretted"), pitch=note.pitch)
            yield small, spelled(study, small), Shown.PAGE


def _over_trills(
    study: Study, event: Event, heads: Sequence[Heads], notes: Sequence[Note]
) -> Iterator[tuple[Head, Spelled, Shown]]:
    """The upper notes of an event's trills."""
    for each, note in zip(heads, notes, strict=True):
        if note.trill is not None:
            small = replace(each.pieces[0], id=extra_id(each.pieces[0], "trill"), tied=False)
            upper, neighbour = _trilled(study, event, note)
            yield small, upper, Shown.OVER_TRILL | Shown.PAGE if neighbour else Shown.PAGE


def _held_before(note: Note) -> bool:
    """Whether a note begins bent, so that its fretted pitch is not heard."""
    return note.bend is not None and note.bend.kind in (BendKind.PRE_BEND, BendKind.PRE_BEND_RELEASE)


def spelled(study: Study, head: Head) -> Spelled:
    """How a head is spelled: by its chord."""
    return spell(head.pitch, study.home, study.chord(head.chord))


def _trilled(study: Study, event: Event, note: Note) -> tuple[Spelled, bool]:
    """A trill's upper note, and whether it is the neighbour of the lower one, as a trill sign is read.

    It is so for a trill of one or two semitones where one sign is enough for the next letter.
    """
    assert note.trill is not None
    chord, size = study.chord(event.chord), note.trill - note.fret
    lower = spell(note.pitch, study.home, chord)
    letter = LETTERS[(LETTERS.index(lower.letter) + 1) % 7]
    alter = (note.pitch + size - LETTER_PITCH[letter] + 6) % 12 - 6
    if size not in (1, 2) or alter not in SIGNS:
        return spell(note.pitch + size, study.home, chord), False
    return Spelled(letter, alter, (note.pitch + size - alter) // 12 - 1), True
