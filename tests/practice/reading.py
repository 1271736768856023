"""What a lick trains, read off a study's JSON anew: nothing of the program's own table of goals is used here.

Twelve ticks to the beat; a strong place is a beat, a note of a beat or more, or the lick's last note.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from lickwright.study.json_text import to_json
from lickwright.study.model import Study

Events = list[dict[str, Any]]
DEGREES = {"1": 0, "b3": 3, "3": 4, "4": 5, "5": 7, "6": 9, "b7": 10}
PITCH_CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11, "b": -1, "#": 1}
NUMERALS = {"IV": 5, "V": 7, "I": 0}
SIZES = {"half-bend": 2, "whole-bend": 4, "quarter-bend": 1}


def counts(exercise: Study, goal: str) -> list[int]:
    """How often a goal stands on strong places, in each lick of an exercise."""
    data = json.loads(to_json(exercise))
    found = []
    for number, slot in enumerate(data["slots"]):
        if slot["kind"] == "lick":
            events = sorted((e for e in data["events"] if e["slot"] == number), key=lambda e: e["onset"])
            found.append(_count(data, events, goal))
    return found


def _count(data: dict[str, Any], events: Events, goal: str) -> int:
    name, _, value = goal.partition(":")
    if name in ("hammer-on", "pull-off", "slide"):
        return sum(_moves_strongly(events, k, name) for k in range(1, len(events)))
    if name == "cell":
        return RHYTHMS[value]([(e["onset"], e["duration"]) for e in events])
    if name == "window":
        return int({e["hand"] for e in events} == {int(value)})
    if name == "grip":
        comps = [e for e in data["events"] if data["slots"][e["slot"]]["kind"] == "comp"]
        return sum(e["grip"] == value and (e["onset"] % 12 == 0 or e["duration"] >= 12) for e in comps)
    return sum(_strong(events, k) and _is(data, events[k], name, value) for k in range(len(events)))


def _strong(events: Events, k: int) -> bool:
    return events[k]["onset"] % 12 == 0 or events[k]["duration"] >= 12 or k == len(events) - 1


def _moves_strongly(events: Events, k: int, technique: str) -> bool:
    upper = min(events[k]["notes"], key=lambda n: n["string"])
    return upper["technique"] == technique and (events[k - 1]["onset"] % 12 == 0 or _strong(events, k))


def _is(data: dict[str, Any], event: dict[str, Any], name: str, value: str) -> bool:
    notes = event["notes"]
    upper = min(notes, key=lambda n: n["string"])
    bends = [n["bend"] for n in notes if n["bend"]]
    if name in ("bend-release", "pre-bend-release"):
        return any(b["kind"] == name and b["size"] >= 2 for b in bends)
    if name in SIZES:
        return any(b["size"] == SIZES[name] for b in bends)
    if name == "bend":
        return any(b["size"] >= 2 for b in bends)
    if name == "grace":
        return any(n["grace"] for n in notes)
    if name == "vibrato":
        return any(n["vibrato"] for n in notes)
    if name == "double-stop":
        return len(notes) == 2
    if name == "string":
        return any(n["string"] == int(value) for n in notes)
    home = sum(PITCH_CLASSES[c] for c in data["key"])
    root = 0
    if name == "degree":
        root = next(up for numeral, up in NUMERALS.items() if event["chord"].startswith(numeral))
    arrival = upper["pitch"] + (upper["bend"]["size"] // 2 if upper["bend"] else 0)
    return (arrival - home - root) % 12 == DEGREES[value]


def _triplets(notes: list[tuple[int, int]]) -> int:
    onsets = [t for t, _ in notes]
    return sum(beat in onsets and beat + 4 in onsets and beat + 8 in onsets for beat in range(0, 2000, 12))


def _sixteenths(notes: list[tuple[int, int]]) -> int:
    onsets = [t for t, _ in notes]
    return sum(
        beat + place in onsets and beat + place + 2 in onsets
        for beat in range(0, 2000, 12)
        for place in (0, 8)
    )


def _syncopation(notes: list[tuple[int, int]]) -> int:
    return sum(any(t < beat < t + long for beat in range(0, 2000, 12)) for t, long in notes if t % 12)


def _pickup(notes: list[tuple[int, int]]) -> int:
    return int(36 <= notes[0][0] < 48 and 48 in [t for t, _ in notes])


def _xxx(notes: list[tuple[int, int]]) -> int:
    """``.xxx-x``: silence on the beat, eighths, then one held for two, and one more; wherever it stands."""
    lengths = dict(notes)
    found = 0
    for start in (t - 4 for t in lengths):
        struck = [t - start for t in sorted(lengths) if start <= t < start + 24]
        even = lengths.get(start + 8) == 4 == lengths[start + 4] and lengths.get(start + 12) == 8
        found += start % 12 == 0 and struck == [4, 8, 12, 20] and even
    return found


RHYTHMS: dict[str, Callable[[list[tuple[int, int]]], int]] = {
    "triplets": _triplets,
    "sixteenths": _sixteenths,
    "syncopation": _syncopation,
    "pickup": _pickup,
    ".xxx-x": _xxx,
}
