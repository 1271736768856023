"""How long a bass note or a grip rings on under the lick that follows it: as long as hand and strings allow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from lickwright.study.model import Event, Slot, SlotKind
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

#: A shorter ring is not worth a sign.
LEAST_RING = TICKS_PER_BEAT // 2


def let_ring(events: Sequence[Event], slots: Sequence[Slot]) -> Iterator[Event]:
    """The events in order of onset, comping that runs into a lick ringing on where it can.

    It rings until its string is needed, one of its fingers is, the hand leaves, a string is bent, or the chord
    changes: open strings a bar at most, fretted ones a beat, since the hand that plays on lets go of them.
    """
    for k, event in enumerate(events):
        following = events[k + 1] if k + 1 < len(events) else None
        comping = slots[event.slot].kind is SlotKind.COMP
        joins = following is not None and following.onset == event.end
        into_lick = following is not None and slots[following.slot].kind is SlotKind.LICK
        if not (comping and joins and into_lick) or event.staccato or any(n.muted for n in event.notes):
            yield event
            continue
        end = next(
            (other.onset for other in events[k + 1 :] if not _rings_under(event, other)), events[-1].end
        )
        held = any(n.fret for n in event.notes)
        ring = min(end - event.end, TICKS_PER_BEAT if held else TICKS_PER_BAR)
        yield replace(event, ring=ring if ring >= LEAST_RING else 0)


def _rings_under(held: Event, other: Event) -> bool:
    """True when another event can be played while what is held rings on."""
    strings = {n.string for n in held.notes}
    fingers = {n.finger for n in held.notes if n.finger}
    free = not any(n.string in strings or n.finger in fingers or n.bend for n in other.notes)
    return free and held.chord == other.chord and (not fingers or held.hand == other.hand)
