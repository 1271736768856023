"""What a practice sheet says of itself and of each exercise: what it trains, tempo steps, repetitions, rests."""

from __future__ import annotations

from collections.abc import Sequence

from lickwright.render.words.terms import bar_text, counted, listed, near_beat
from lickwright.study.model import Before, Drill, Study
from lickwright.theory.rhythm import bar_of

EXERCISE = "Exercise {number}"
SHEET = (
    "{exercises_up}{order}, {minutes} in all. {each} trains {things}. Warm up for {warm_up} first, slowly "
    "and without force. Play every repetition in time, or take the slower tempo again: a mistake that is repeated "
    "is practised too."
)
GOES_ON = "The practice goes on in another key: {exercises}{order}, {minutes}."
ORDER = " from easy to hard"
EACH, ONLY = "Each", "It"
BEFORE = {
    Before.WARM_UP: "",
    Before.REST: "First rest {rest}.",
    Before.BREAK: "First put the guitar down for {rest}.",
}
STEP = "{times} at {tempo} ({percent}%)"
DRILL = "{things} Count a bar in, then play it {steps}, without a stop between. Difficulty {difficulty:.1f} of 10."
THING = "{thing_up}: {places}."


def drill_of(study: Study, phrase: int) -> Drill | None:
    """How a phrase (by number) is practised; None in a study that is no practice sheet."""
    return next((d for d in study.drills if d.phrase == phrase), None)


def phrase_name(study: Study, phrase: int, otherwise: str) -> str:
    """``Exercise 12`` for a phrase of a practice sheet, else what it is called otherwise."""
    drill = drill_of(study, phrase)
    return otherwise if drill is None else EXERCISE.format(number=drill.number)


def time_words(seconds: float) -> str:
    """A time in words.

    >>> time_words(74.3), time_words(300)
    ('1 minute 14 seconds', '5 minutes')
    """
    minutes, rest = divmod(round(seconds), 60)
    parts = [f"{n} {unit}{'s' if n != 1 else ''}" for n, unit in ((minutes, "minute"), (rest, "second")) if n]
    return " ".join(parts) or "0 seconds"


def drill_words(study: Study, phrase: int) -> str:
    """What is said of an exercise before it is played; empty in a study that is no practice sheet."""
    drill = drill_of(study, phrase)
    if drill is None:
        return ""
    steps = [
        STEP.format(times=_times(step.times), tempo=step.tempo_bpm, percent=step.percent)
        for step in drill.steps
    ]
    before = BEFORE[drill.before].format(rest=time_words(drill.before_s))
    things = [
        THING.format(thing_up=thing[0].upper() + thing[1:], places=_places(study, ticks))
        for thing, ticks in zip(drill.trains, drill.places, strict=True)
    ]
    said = DRILL.format(things=" ".join(things), difficulty=drill.difficulty, steps=listed(steps))
    return f"{before} {said}".strip()


def _places(study: Study, ticks: Sequence[int]) -> str:
    """``on beats 2 and 4 of bar 1, on the a of 3 in bar 2``."""
    said = []
    for bar in sorted({bar_of(tick) for tick in ticks}):
        mine = [tick for tick in ticks if bar_of(tick) == bar]
        said.append(f"{listed([near_beat(study, tick) for tick in mine])} ({bar_text(mine[0])})")
    return listed(said)


def _times(times: int) -> str:
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


def sheet_words(study: Study) -> str:
    """The paragraph that a practice sheet opens with; one that goes on in another key says no more than that."""
    exercises = counted(len(study.drills), "exercise")
    first, several = study.drills[0], len(study.drills) > 1
    begins = first.before is Before.WARM_UP
    return (SHEET if begins else GOES_ON).format(
        exercises=exercises,
        exercises_up=exercises[0].upper() + exercises[1:],
        order=ORDER if several else "",
        minutes=time_words(sum(d.before_s + d.lasts_s for d in study.drills)),
        each=EACH if several else ONLY,
        things=listed(first.trains),
        warm_up=time_words(first.before_s),
    )
