"""What a variation kept and what it changed, phrase by phrase, in words and figures. Made from the two studies alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lickwright.study.distance import Distance, lick_slots, line_distance, lines_of, study_distance
from lickwright.study.model import Slot, Study

#: Up to here a part of the distance is called the same, close, loose; beyond it another.
_SAME, _CLOSE, _LOOSE = 0.02, 0.25, 0.5


def changes(study: Study, model: Study, others: Sequence[Study] = ()) -> str:
    """The lines of the report: the distance in all, then what each lick kept and changed."""
    whole = study_distance(study, model)
    lines = [f"Distance to the model: {_figures(whole)}"]
    for n, other in enumerate(others, 1):
        lines.append(f"Distance to the other variation {n}: {study_distance(study, other).total:.2f}")
    lines += _licks(study, model)
    lines.append(_grips(study, model))
    return "\n".join(lines) + "\n"


def _figures(d: Distance) -> str:
    parts = ", ".join(
        f"{name} {value:.2f}"
        for name, value in zip(("rhythm", "contour", "notes", "place"), d.row, strict=True)
    )
    return f"{d.total:.2f} ({parts}; 0 the same, 1 nothing in common)"


def _licks(study: Study, model: Study) -> Iterator[str]:
    phrase = -1
    pairs = zip(lick_slots(study), lick_slots(model), lines_of(study), lines_of(model), strict=False)
    for mine, theirs, line, old in pairs:
        if mine.phrase != phrase:
            phrase = mine.phrase
            yield f"Phrase {phrase + 1}"
        d = line_distance(line, old)
        words = ", ".join(
            (_rhythm(d.rhythm), _contour(d.contour), _notes(d.notes), _hand(mine, theirs, model, study))
        )
        yield f"  lick {mine.name or mine.number + 1}: {words} ({d.total:.2f})"


def _said(value: float, same: str, close: str, loose: str, other: str) -> str:
    return same if value <= _SAME else close if value <= _CLOSE else loose if value <= _LOOSE else other


def _rhythm(value: float) -> str:
    return _said(value, "same rhythm", "nearly the same rhythm", "a rhythm akin", "another rhythm")


def _contour(value: float) -> str:
    return _said(value, "same course", "nearly the same course", "a course akin", "another course")


def _notes(value: float) -> str:
    return _said(value, "same degrees", "most degrees the same", "some degrees the same", "other degrees")


def _hand(mine: Slot, theirs: Slot, model: Study, study: Study) -> str:
    before, now = (_index(s, slot) for s, slot in ((model, theirs), (study, mine)))
    return f"index finger at fret {now}" + ("" if now == before else f" in place of {before}")


def _index(study: Study, slot: Slot) -> int:
    return study.events_of(slot.number)[0].hand


def _grips(study: Study, model: Study) -> str:
    def shapes(s: Study) -> set[str]:
        return {e.grip for e in s.events if e.grip}

    new = sorted(shapes(study) - shapes(model))
    return f"Grips that the model has not: {', '.join(new)}" if new else "The grips are those of the model"
