"""Diagrams as SVG: the stretch of neck that a phrase lives on, and each grip with fingers and degrees.

A neck lies as tab does, the first string on top, the nut to the left; a grip stands, the lowest string to the
left. For a left-handed player both are mirrored, never their text. Colours and line widths belong to whoever
shows them: elements carry classes (``dot``, ``root``, ``hand``, ``barre`` ...) and every sounding place its
``data-string`` and ``data-fret``. Lengths are in SVG user units.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from html import escape

from lickwright.study.model import Event, Note, Phrase, SlotKind, Study
from lickwright.theory.harmony import DEGREES

#: Frets with a mark on the fingerboard. Common practice, no source.
INLAYS = frozenset({3, 5, 7, 9, 12, 15, 17, 19, 21, 24})
#: Frets that a hand covers from the fret under its index finger, one finger a fret.
FRETS_UNDER_HAND = 4
LEAST_NECK_FRETS, LEAST_GRIP_FRETS = 5, 4

_FRET, _STRING, _DOT = 40, 21, 9.2
_GRIP_FRET, _GRIP_STRING, _GRIP_DOT = 22, 17, 7.6


@dataclass(frozen=True)
class Place:
    """A string stopped at a fret, and the degree that it sounds; ``root`` says that the degree is 1."""

    string: int
    fret: int
    degree: str

    @property
    def root(self) -> bool:
        """True on the root."""
        return self.degree == "1"


@dataclass(frozen=True)
class Diagram:
    """One drawing in both hands, a caption, and what it shows in words; ``key`` names the grip it is of."""

    kind: str
    key: str
    caption: str
    right: str
    left: str


def phrase_neck(study: Study, phrase: Phrase) -> Diagram | None:
    """The neck under a phrase's licks: the frets under the hand and every note used; None without a lick."""
    events = _lick_events(study, phrase)
    places = neck_places(study, events)
    if not places:
        return None
    positions = sorted({e.hand for e in events})
    frets = [p.fret for p in places]
    caption = f"Frets {min(frets)}–{max(frets)}" if min(frets) != max(frets) else f"Fret {frets[0]}"
    right, left = (_neck(study, places, positions, left_handed=hand) for hand in (False, True))
    return Diagram("neck", "", caption, right, left)


def phrase_grips(study: Study, phrase: Phrase) -> tuple[Diagram, ...]:
    """Each different grip of a phrase, in order of its first stroke."""
    seen: dict[str, Event] = {}
    slots = {s.number for s in study.slots_of(phrase.number)}
    for event in study.events:
        if event.slot in slots and event.grip and not all(n.muted for n in event.notes):
            key = grip_key(event)
            if key not in seen:
                seen[key] = event
    return tuple(
        Diagram("grip", key, study.chord(e.chord).symbol, grip(study, e), grip(study, e, left_handed=True))
        for key, e in _widest(seen).items()
    )


def grip_key(event: Event) -> str:
    """A grip's places as text, ``4.5 3.6 2.5``: equal for equal shapes on the same frets."""
    return " ".join(f"{n.string}.{n.fret}" for n in sorted(event.notes, key=lambda n: -n.string))


def _widest(seen: dict[str, Event]) -> dict[str, Event]:
    """Leaves out a shape that is part of another of the same chord."""
    shapes = {key: set(key.split()) for key in seen}
    return {
        key: e
        for key, e in seen.items()
        if not any(shapes[key] < shapes[o] and seen[o].chord == e.chord for o in seen)
    }


def _lick_events(study: Study, phrase: Phrase) -> list[Event]:
    licks = {s.number for s in study.slots_of(phrase.number) if s.kind is SlotKind.LICK}
    return [e for e in study.events if e.slot in licks]


def neck_places(study: Study, events: Iterable[Event]) -> tuple[Place, ...]:
    """Every place that is fretted, grace notes and trills included, with its degree of the key."""
    found: set[tuple[int, int]] = set()
    for event in events:
        for note in event.notes:
            if note.muted:
                continue
            found.add((note.string, note.fret))
            if note.grace:
                found.add((note.string, note.grace.fret))
            if note.trill is not None:
                found.add((note.string, note.trill))
    return tuple(
        Place(s, f, DEGREES[(study.neck.pitch(s, f) - study.home.pitch_class) % 12]) for s, f in sorted(found)
    )


def degree_text(degree: str) -> str:
    """A degree as printed, ``♭3``.

    >>> degree_text("b3"), degree_text("#5")
    ('♭3', '♯5')
    """
    return degree.replace("b", "♭").replace("#", "♯")


def neck_under(study: Study, events: Sequence[Event], *, left_handed: bool = False) -> str:
    """The neck under some events as SVG: frets under the hand shaded, notes with degrees, roots filled.

    Raises ValueError when nothing in the events is fretted.
    """
    places = neck_places(study, events)
    if not places:
        raise ValueError("a neck diagram needs at least one note that is not muted")
    return _neck(study, places, sorted({e.hand for e in events}), left_handed=left_handed)


def _neck(study: Study, places: Sequence[Place], positions: Sequence[int], *, left_handed: bool) -> str:
    strings, top = study.neck.strings, study.neck.top_fret
    fretted = [p.fret for p in places if p.fret]
    covered = [f for p in positions for f in (p, min(p + FRETS_UNDER_HAND - 1, top))]
    low = max(1, min([*fretted, *covered], default=1))
    high = max([*fretted, *covered], default=low)
    high = max(high, min(top, low + LEAST_NECK_FRETS - 1))
    opens = any(p.fret == 0 for p in places)
    nut = low == 1
    margin = 30 if opens else 16
    width = margin + (high - low + 1) * _FRET + 16
    height = (strings - 1) * _STRING + 44
    top_y = 14

    def x(value: float) -> float:
        return width - value if left_handed else value

    def wire(fret: int) -> float:
        return x(margin + (fret - low + 1) * _FRET)

    def middle(fret: int) -> float:
        return x(margin + (fret - low + 0.5) * _FRET) if fret else x(margin - 15)

    def y(string: int) -> float:
        return top_y + (string - 1) * _STRING

    parts = []
    for position in positions:
        a, b = wire(position - 1), wire(min(position + FRETS_UNDER_HAND - 1, high))
        parts.append(_rect(min(a, b), y(1) - 11, abs(b - a), y(strings) - y(1) + 22, "hand"))
    for fret in range(low, high + 1):
        at = fret + study.neck.capo
        if at in INLAYS:
            offsets = (-0.9, 0.9) if at % 12 == 0 else (0.0,)
            centre = (y(1) + y(strings)) / 2
            parts += [_circle(middle(fret), centre + o * _STRING, 4, "inlay") for o in offsets]
    for fret in range(low - 1, high + 1):
        cls = "nut" if nut and fret == 0 else "wood"
        parts.append(_line(wire(fret), y(1), wire(fret), y(strings), cls))
    ends = (wire(low - 1), wire(high))
    parts += [_line(min(ends), y(s), max(ends), y(s), "wood") for s in range(1, strings + 1)]
    for place in places:
        parts.append(_dot(middle(place.fret), y(place.string), _DOT, degree_text(place.degree), place))
    for fret in range(low, high + 1):
        if fret in positions or fret + study.neck.capo in INLAYS or fret in (low, high):
            parts.append(_text(middle(fret), height - 4, str(fret), 11, "quiet"))
    label = f"Neck, frets {low} to {high}: " + ", ".join(
        f"string {p.string} fret {p.fret} degree {p.degree}" for p in places
    )
    return _svg(width, height, label, parts)


def grip(study: Study, event: Event, *, left_handed: bool = False) -> str:
    """A grip as SVG: fingers in the dots, degrees of the chord underneath, roots filled, x where silent."""
    strings = study.neck.strings
    notes = {n.string: n for n in event.notes}
    fretted = [n.fret for n in event.notes if n.fret]
    high = max(fretted, default=LEAST_GRIP_FRETS)
    low = 1 if high <= LEAST_GRIP_FRETS else min(fretted)
    rows = max(LEAST_GRIP_FRETS, high - low + 1)
    side = 20
    width = 2 * side + (strings - 1) * _GRIP_STRING
    top_y, foot = 16, 16 + rows * _GRIP_FRET
    height = foot + 17

    def x(string: int) -> float:
        value = side + (strings - string) * _GRIP_STRING
        return width - value if left_handed else value

    def y(fret: int) -> float:
        return top_y + (fret - low + 0.5) * _GRIP_FRET

    parts = [_line(x(s), top_y, x(s), foot, "wood") for s in range(1, strings + 1)]
    ends = sorted((x(1), x(strings)))
    for row in range(rows + 1):
        cls = "nut" if row == 0 and low == 1 else "wood"
        parts.append(_line(ends[0], top_y + row * _GRIP_FRET, ends[1], top_y + row * _GRIP_FRET, cls))
    if low > 1:
        at = ends[1] + 9 if left_handed else ends[0] - 9
        anchor = "start" if left_handed else "end"
        parts.append(_text(at, y(low) + 4, str(low), 11, "quiet", anchor))
    parts += _barres(notes.values(), x, y)
    for string in range(1, strings + 1):
        note = notes.get(string)
        if note is None:
            parts.append(_text(x(string), top_y - 5, "×", 11, "quiet"))
            continue
        place = Place(string, note.fret, note.degree)
        finger = str(note.finger) if note.finger else ""
        at_y = y(note.fret) if note.fret else top_y - 8
        parts.append(
            _dot(x(string), at_y, _GRIP_DOT if note.fret else 4.5, finger if note.fret else "", place)
        )
        parts.append(_text(x(string), height - 4, degree_text(note.degree), 10.5, ""))
    symbol = study.chord(event.chord).symbol
    label = f"{symbol} grip: " + ", ".join(
        f"string {n.string} fret {n.fret} finger {n.finger} degree {n.degree}" for n in notes.values()
    )
    return _svg(width, height, label, parts)


def _barres(notes: Iterable[Note], x: Callable[[int], float], y: Callable[[int], float]) -> list[str]:
    """A bar for each finger that lies on two strings or more of one fret."""
    laid: dict[tuple[int, int], list[int]] = {}
    for note in notes:
        if note.finger and note.fret:
            laid.setdefault((note.finger, note.fret), []).append(note.string)
    return [
        _line(x(max(on)), y(fret), x(min(on)), y(fret), "barre")
        for (_, fret), on in laid.items()
        if len(on) > 1
    ]


def _number(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def _svg(width: float, height: float, label: str, parts: Sequence[str]) -> str:
    size = f'width="{_number(width)}" height="{_number(height)}"'
    box = f'viewBox="0 0 {_number(width)} {_number(height)}"'
    return f'<svg {size} {box} role="img" aria-label="{escape(label)}">{"".join(parts)}</svg>'


def _line(x1: float, y1: float, x2: float, y2: float, cls: str) -> str:
    ends = f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"'
    return f'<line {ends} class="{cls}"/>'


def _rect(x: float, y: float, width: float, height: float, cls: str) -> str:
    box = f'x="{_number(x)}" y="{_number(y)}" width="{_number(width)}" height="{_number(height)}"'
    return f'<rect {box} rx="3" class="{cls}"/>'


def _circle(x: float, y: float, radius: float, cls: str) -> str:
    return f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}" class="{cls}"/>'


def _text(x: float, y: float, text: str, size: float, cls: str, anchor: str = "middle") -> str:
    place = f'x="{_number(x)}" y="{_number(y)}" font-size="{_number(size)}" text-anchor="{anchor}"'
    return f'<text {place} class="{cls}">{escape(text)}</text>'


def _dot(x: float, y: float, radius: float, text: str, place: Place) -> str:
    root = " root" if place.root else ""
    dot = _circle(x, y, radius, f"dot{root}")
    size = 10.5 if len(text) < 2 else 9.5
    label = _text(x, y + size * 0.36, text, size, "on-root" if place.root else "") if text else ""
    return f'<g data-string="{place.string}" data-fret="{place.fret}">{dot}{label}</g>'
