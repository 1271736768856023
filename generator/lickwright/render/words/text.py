"""A study in words: what a teacher says while showing it, phrase by phrase, and a paragraph to open with.

Everything said is read off the Study (``words_facts``); nothing is decided here but the wording. The same
study always gets the same words: where there is a choice, the study's own content makes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lickwright.render.words import facts
from lickwright.render.words.comping import Shape, comp_sentence
from lickwright.render.words.facts import CompFacts
from lickwright.render.words.hand import hand_sentence, watch_sentence
from lickwright.render.words.licks import lick_sentence
from lickwright.render.words.practice import sheet_words
from lickwright.render.words.spoken import spoken
from lickwright.render.words.terms import Voice, counted, listed, number, ordinal, plain, signs
from lickwright.study.model import Phrase, Slot, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR

__all__ = [
    "CAUTIONS",
    "PhraseWords",
    "SlotWords",
    "feel_words",
    "key_words",
    "phrase_words",
    "spoken",
    "study_words",
    "tempo_words",
    "trained",
]

#: What every sheet, page and terminal says to a player. Common practice, no source; no medical advice.
CAUTIONS: tuple[str, ...] = (
    "Warm up first.",
    "Rest five minutes in every half hour.",
    "Stop at pain or numbness, and ask a doctor or a physiotherapist.",
    "Keep the amplifier at a level you can talk over.",
)

#: A phrase is said in this many words where its content can be.
MOST_WORDS = 130
#: Up to here a phrase rather names one technique of each lick than none.
MOST_WITH_TECHNIQUES = 145
#: How much to say, from much to little: techniques of the first lick and of the others, detail of comping.
_DETAILS = ((4, 4, 4), (3, 3, 3), (3, 2, 2), (2, 2, 2), (2, 2, 1), (2, 1, 1), (1, 1, 1), (1, 0, 1))

# --- wording; names in braces are filled in by the functions below

KEY, MINOR = "Key of {tonic}", "{tonic} minor"
TEMPO, BEAT_UNITS = "{unit} = {tempo}", {"12/8": "dotted quarter", "4/4": "quarter"}
SWUNG, IN_METER = "{feel}, eighths swung", "{feel} in {meter}"

OPENING = "{study} in {key}, {feel}, at {tempo} beats a minute: {bars}."
A_STUDY, NUMBERED = "A study", "Study {number}"
CHANGES = {
    "quick": "The changes are {chords}; {four} comes early, in bar 2.",
    "slow": "The changes are {chords}; {four} waits until bar {bar}.",
    "other": "The changes are {chords}.",
    "one": "It stays on {chords}.",
}
TURNS, CLOSES = "It ends on {chord}, open for another chorus.", "It closes on {chord}."
LAYOUT = {
    "lick": "Lead licks only, {licks} of them.",
    "comp": "It is comping throughout.",
    "both": "{licks_up} and the comping take turns",
}
SCHEME = ", the ideas in the order {names}."
RETURNS = "{names_up} {take} up what was said before."
TRAINS = "It trains {things}."
POSITIONS = {
    1: "All licks lie at one place, index finger at the {frets} fret.",
    2: "The licks lie at two places, index finger at the {frets} frets.",
}
MANY_POSITIONS = "The licks lie at {count} places, index finger at the {frets} frets."
TRAINED: dict[str, tuple[str, str]] = {
    "pre-bend": ("a bend made before the stroke", "bends made before the stroke"),
    "release": ("a bend and its release", "bends and their release"),
    "bend": ("a bend in tune", "bends in tune"),
    "trill": ("a trill", "trills"),
    "curl": ("a quarter-tone curl", "quarter-tone curls"),
    "double stop": ("a double stop", "double stops"),
    "slide": ("a slide", "slides"),
    "pull-off": ("a pull-off", "pull-offs"),
    "hammer-on": ("a hammer-on", "hammer-ons"),
    "vibrato": ("vibrato on a long note", "vibrato on long notes"),
}
TRAINED_GRIPS = "the way from single notes to grips and back"
TRAINED_NOTES = "single notes in time"
MOST_TRAINED = 4
LEVELS = {
    "first year": "It is meant for the first year of playing.",
    "growing": "It is meant for a player with the first year behind them.",
    "fluent": "It is meant for a fluent player.",
}
OTHER_LEVEL = "Level: {level}."


# --- short facts that other renderers print too


def key_words(study: Study) -> str:
    """The key, ``Key of A`` or ``Key of D minor``."""
    return KEY.format(tonic=MINOR.format(tonic=study.key) if study.minor else study.key)


def feel_words(study: Study) -> str:
    """The feel with the meter where the feel does not say it, ``shuffle in 4/4, eighths swung``."""
    feel = plain(study.feel)
    if study.meter not in feel:
        feel = IN_METER.format(feel=feel, meter=study.meter) if feel else study.meter
    return SWUNG.format(feel=feel) if study.swung and "swung" not in feel else feel


def tempo_words(study: Study) -> str:
    """The tempo as printed over a staff, ``dotted quarter = 60``."""
    return TEMPO.format(unit=BEAT_UNITS.get(study.meter, "beat"), tempo=study.tempo_bpm)


# --- phrases


@dataclass(frozen=True)
class SlotWords:
    """What is said of one lick, or of the comping in a bar: the numbers of its slots, and a sentence."""

    slots: tuple[int, ...]
    kind: SlotKind
    text: str


@dataclass(frozen=True)
class PhraseWords:
    """A phrase in words: where the hand is, the licks and the comping in order of time, the hard moment.

    ``number`` and bars count from 0, as in ``Phrase``. Any part may be empty.
    """

    number: int
    first_bar: int
    last_bar: int
    hand: str
    body: tuple[SlotWords, ...]
    watch: str

    @property
    def text(self) -> str:
        """All of it as one paragraph."""
        return " ".join(t for t in (self.hand, *(s.text for s in self.body), self.watch) if t)


def phrase_words(study: Study) -> tuple[PhraseWords, ...]:
    """Each phrase as a teacher would put it: 60 to 130 words where its content allows.

    Techniques and strokes are left out, least first, until the phrase is short enough; landings and new
    grips never are.
    """
    voice = Voice.of(study)
    said: set[str] = set()
    known: set[int] = set()
    spots = facts.hard_spots(study)
    found = []
    for phrase in study.phrases:
        for detail in _DETAILS:
            trial = voice.copy()
            positions = set(known)
            hand = hand_sentence(study, phrase, positions, trial)
            body = _body(study, phrase, trial, detail)
            kind, watch = watch_sentence(study, phrase, spots, said, trial) if body else ("", "")
            words = PhraseWords(phrase.number, phrase.first_bar, phrase.last_bar, hand, body, watch)
            most = MOST_WITH_TECHNIQUES if detail == _DETAILS[-2] else MOST_WORDS
            if len(words.text.split()) <= most:
                break
        voice, known = trial, positions
        said.add(kind)
        found.append(words)
    return tuple(found)


def _body(study: Study, phrase: Phrase, voice: Voice, detail: tuple[int, int, int]) -> tuple[SlotWords, ...]:
    known: set[Shape] = set()
    found: list[SlotWords] = []
    for group in _groups(study, phrase):
        kind = group[0].kind
        if kind is SlotKind.LICK:
            lick = facts.lick_facts(study, group[0])
            told = any(words.kind is SlotKind.LICK for words in found)
            text = lick_sentence(study, phrase, lick, detail[told], voice) if lick else ""
        else:
            made = [facts.comp_facts(study, slot) for slot in group]
            comps: list[CompFacts] = [comp for comp in made if comp is not None]
            told = any(words.kind is SlotKind.LICK for words in found)
            text = comp_sentence(study, comps, known, detail[2], voice, answers=told) if comps else ""
        if text:
            found.append(SlotWords(tuple(s.number for s in group), kind, text))
    return tuple(found)


def _groups(study: Study, phrase: Phrase) -> list[list[Slot]]:
    """The slots of a phrase that play, in order of their first event.

    Comping slots that follow each other in one bar are one group.
    """
    first = {e.slot: e.onset for e in reversed(study.events)}
    playing = [s for s in study.slots_of(phrase.number) if s.number in first]
    groups: list[list[Slot]] = []
    for slot in sorted(playing, key=lambda s: first[s.number]):
        before = groups[-1][-1] if groups else None
        if (
            before is not None
            and before.kind is slot.kind is SlotKind.COMP
            and first[before.number] // TICKS_PER_BAR == first[slot.number] // TICKS_PER_BAR
        ):
            groups[-1].append(slot)
        else:
            groups.append([slot])
    return groups


# --- the opening paragraph


def study_words(study: Study) -> str:
    """A paragraph to open with: key, feel, tempo, form, how the ideas are laid out, what it trains."""
    if study.drills:
        return sheet_words(study)
    sentences = [_opening(study), _changes(study), _ending(study), *_layout(study), _trains(study)]
    sentences += [_positions(study), _level(study)]
    return " ".join(s for s in sentences if s)


def _opening(study: Study) -> str:
    name = NUMBERED.format(number=study.number) if study.number is not None else A_STUDY
    tonic = signs(study.key)
    return OPENING.format(
        study=name,
        key=MINOR.format(tonic=tonic) if study.minor else tonic,
        feel=feel_words(study),
        tempo=study.tempo_bpm,
        bars=counted(study.bars, "bar"),
    )


def _changes(study: Study) -> str:
    by_root: dict[tuple[int, bool], str] = {}
    for span in study.form:
        chord = study.chord(span.roman)
        by_root.setdefault((chord.root_pc, chord.quality.startswith("m")), chord.symbol)
    symbols = list(by_root.values())
    four_pc = (study.home.pitch_class + 5) % 12
    fours = [s for s in study.form if study.chord(s.roman).root_pc == four_pc]
    words = {"chords": listed(symbols)}
    if len(symbols) == 1:
        return CHANGES["one"].format(**words)
    if not fours:
        return CHANGES["other"].format(**words)
    bar = fours[0].onset // TICKS_PER_BAR + 1
    kind = "quick" if bar == 2 and study.bars >= 8 else "slow" if bar >= 3 and study.bars >= 8 else "other"
    return CHANGES[kind].format(**words, four=study.chord(fours[0].roman).symbol, bar=bar)


def _ending(study: Study) -> str:
    grips = [e for e in study.events if len(facts.struck(e)) > 1]
    roman = grips[-1].chord if grips and grips[-1].end > study.ticks - TICKS_PER_BAR else study.form[-1].roman
    chord = study.chord(roman)
    form = CLOSES if chord.root_pc == study.home.pitch_class else TURNS
    return form.format(chord=chord.symbol)


def _layout(study: Study) -> list[str]:
    licks = [s for s in study.slots if s.kind is SlotKind.LICK and study.events_of(s.number)]
    comps = [s for s in study.slots if s.kind is SlotKind.COMP and study.events_of(s.number)]
    if not licks:
        return [LAYOUT["comp"]] if comps else []
    if not comps:
        return [LAYOUT["lick"].format(licks=number(len(licks)))]
    count = counted(len(licks), "lick")
    text = LAYOUT["both"].format(licks_up=count[0].upper() + count[1:])
    named = [plain(s.name) for s in licks if s.name]
    if len(named) == len(licks) > 1:
        return [text + SCHEME.format(names=listed(named)), *_returns(study, licks)]
    return [text + ".", *_returns(study, licks)]


def _returns(study: Study, licks: Sequence[Slot]) -> list[str]:
    numbers = {s.number for s in study.slots}
    names = list(dict.fromkeys(plain(s.name) for s in licks if s.quotes in numbers and s.name))
    if not names:
        return []
    return [RETURNS.format(names_up=listed(names), take="takes" if len(names) == 1 else "take")]


def trained(study: Study) -> tuple[str, ...]:
    """What a study trains, what wants most care first."""
    counts = facts.technique_counts(study)
    counts["bend"] = counts.get("bend", 0) - counts.get("release", 0) - counts.get("pre-bend", 0)
    things = [TRAINED[name][counts[name] > 1] for name in TRAINED if counts.get(name, 0) > 0]
    things = things[:MOST_TRAINED] or [TRAINED_NOTES]
    kinds = {s.kind for s in study.slots if study.events_of(s.number)}
    if len(kinds) == 2:
        things.append(TRAINED_GRIPS)
    return tuple(things)


def _trains(study: Study) -> str:
    return TRAINS.format(things=listed(trained(study)))


def _positions(study: Study) -> str:
    positions = (position for phrase in study.phrases for position in facts.hand_facts(study, phrase))
    frets = sorted({position.fret for position in positions})
    if not frets:
        return ""
    form = POSITIONS.get(len(frets), MANY_POSITIONS)
    return form.format(count=number(len(frets)), frets=listed([ordinal(f) for f in frets]))


def _level(study: Study) -> str:
    level = plain(study.level).replace("-", " ")
    return LEVELS.get(level, OTHER_LEVEL.format(level=level) if level else "")
