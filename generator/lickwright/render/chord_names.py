"""Which chord's name stands where: the form's as they change, and in brackets the grips of other chords."""

from __future__ import annotations

from lickwright.study.model import Event, SlotKind, Study


def chord_names(study: Study) -> dict[int, str]:
    """The symbols to print, by tick, in order of time: ``B♭7`` for a chord of the form, ``(E7)`` for a grip of another.

    A grip of the form's own chord that follows one of another is named again, without brackets.
    """
    names: dict[int, str] = {}
    now = ""
    for span in study.form:
        symbol = study.chord(span.roman).symbol
        if symbol != now:
            names[span.onset] = now = symbol
    changes, shown = list(names), ""
    for event in study.events:
        while changes and changes[0] <= event.onset:
            shown = names[changes.pop(0)]
        own = study.chord(event.chord).symbol
        if not _is_grip(study, event) or own == shown:
            continue
        if own != study.chord_at(event.onset).symbol:
            names[event.onset] = f"({own})"
        elif event.onset not in names:
            names[event.onset] = own
        shown = own
    return dict(sorted(names.items()))


def _is_grip(study: Study, event: Event) -> bool:
    if len(event.notes) < 2 or all(n.muted for n in event.notes):
        return False
    slot = next((s for s in study.slots if s.number == event.slot), None)
    return event.grip is not None or (slot is not None and slot.kind is SlotKind.COMP)
