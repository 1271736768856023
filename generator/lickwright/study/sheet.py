"""Practice sheets as studies: exercises put one after another into one study, and taken out of it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lickwright.study.excerpt import moments_alone
from lickwright.study.model import ChordSpan, Drill, Event, Moment, Phrase, Slot, Study
from lickwright.theory.rhythm import TICKS_PER_BAR


def joined(exercises: Sequence[Study], drills: Sequence[Drill], title: str) -> Study:
    """One study with a phrase for each exercise, in order; all are of one key, tempo and style.

    ``drills`` says for each exercise how it is practised. Raises ValueError when the exercises do not go together.
    """
    first = exercises[0]
    if len({(e.key, e.minor, e.tempo_bpm, e.grid, e.meter, e.neck) for e in exercises}) > 1:
        raise ValueError("the exercises of a sheet share key, tempo, meter and neck")
    form: list[ChordSpan] = []
    phrases: list[Phrase] = []
    slots: list[Slot] = []
    events: list[Event] = []
    moved: list[Drill] = []
    hard: list[Moment] = []
    bar = 0
    for number, exercise in enumerate(exercises):
        tick, slot = bar * TICKS_PER_BAR, len(slots)
        form += [replace(span, onset=span.onset + tick) for span in exercise.form]
        phrases += [
            replace(p, number=number, first_bar=p.first_bar + bar, last_bar=p.last_bar + bar)
            for p in exercise.phrases
        ]
        slots += [
            replace(
                s,
                number=s.number + slot,
                phrase=number,
                start=s.start + tick,
                end=s.end + tick,
                name=_letter(number) if s.name else "",
            )
            for s in exercise.slots
        ]
        events += [replace(e, slot=e.slot + slot, onset=e.onset + tick) for e in exercise.events]
        hard += [replace(m, tick=m.tick + tick) for m in exercise.hard_moments or ()]
        drill = drills[number]
        places = tuple(tuple(t + tick for t in ticks) for ticks in drill.places)
        moved.append(replace(drill, phrase=number, places=places))
        bar += exercise.bars
    return replace(
        first,
        title=title,
        bars=bar,
        form=tuple(form),
        phrases=tuple(phrases),
        slots=tuple(slots),
        events=tuple(replace(e, id=f"e{k + 1}") for k, e in enumerate(events)),
        cost=sum(e.cost for e in exercises),
        drills=tuple(moved),
        hard_moments=None if any(e.hard_moments is None for e in exercises) else tuple(hard),
    )


def _letter(number: int) -> str:
    """A to Z, then AA and on."""
    more, rest = divmod(number, 26)
    return (_letter(more - 1) if more else "") + chr(ord("A") + rest)


def exercises(sheet: Study) -> tuple[Study, ...]:
    """The exercises of a practice sheet, each a study by itself that begins at tick 0; the whole when it is none."""
    return tuple(_cut(sheet, drill) for drill in sheet.drills) or (sheet,)


def _cut(sheet: Study, drill: Drill) -> Study:
    phrase = sheet.phrases[drill.phrase]
    tick, end = phrase.first_bar * TICKS_PER_BAR, (phrase.last_bar + 1) * TICKS_PER_BAR
    slots = [s for s in sheet.slots if s.phrase == phrase.number]
    number = {s.number: k for k, s in enumerate(slots)}
    events = [e for e in sheet.events if e.slot in number]
    return replace(
        sheet,
        bars=phrase.last_bar - phrase.first_bar + 1,
        form=tuple(replace(s, onset=s.onset - tick) for s in sheet.form if tick <= s.onset < end),
        phrases=(replace(phrase, number=0, first_bar=0, last_bar=phrase.last_bar - phrase.first_bar),),
        slots=tuple(
            replace(s, number=number[s.number], phrase=0, start=s.start - tick, end=s.end - tick)
            for s in slots
        ),
        events=tuple(replace(e, slot=number[e.slot], onset=e.onset - tick) for e in events),
        drills=(),
        hard_moments=moments_alone(sheet, events, tick),
    )
