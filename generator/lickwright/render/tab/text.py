"""A study as text tab for a terminal, a mail or a sheet of paper; it makes no musical decision.

A system reads from top to bottom: who speaks, the chords with the bar numbers, the strings, the fingers
on request, and the count. In the count a beat has its number, every other stroke the syllable that is said
for it, ``-`` means that something rings there, ``.`` that nothing does. Common practice, no source.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.render.chord_names import chord_names
from lickwright.render.tab.layout import System, TooNarrowError, lay_out
from lickwright.render.tab.signs import Ink, inks, legend
from lickwright.render.words.facts import role_of
from lickwright.render.words.practice import drill_words, phrase_name, sheet_words
from lickwright.render.words.terms import plain
from lickwright.render.words.text import CAUTIONS, feel_words, key_words, tempo_words
from lickwright.study.model import Slot, SlotKind, Study
from lickwright.theory.harmony import KEY_NAMES, Key, spell
from lickwright.theory.rhythm import BEATS_PER_BAR, GRIDS, TICKS_PER_BEAT

WIDTH = 80
LEAST_WIDTH = 36
UNTITLED = "Study in {key}"
NUMBER = "No. {number}"
TUNING = "Tuning: {name}{notes}, low to high"
CAPO = "capo at fret {capo}, frets counted from it"
NAME, PHRASE = "Phrase {number}", "{name}, {bars}"
BAR_RANGE = "bars {first}-{last}"
ONE_BAR = "bar {first}"
SIGNS = "Signs: "
COUNT = "Count: "
BEATS, STROKES, RINGS, SILENT = (
    "1 2 3 4 the beats",
    "{syllables} strokes between them",
    "- it rings",
    ". silence",
)
FINGERS = "Fingers: 1 index, 2 middle, 3 ring, 4 little, 0 open; in a chord the highest string on top."
LICK, COMP = "lick", "comp"
LONGEST_VIBRATO = 4

#: What is counted between the beats, by tick after the beat.
SYLLABLES: dict[str, dict[int, str]] = {
    "triplet": {4: "&", 8: "a"},
    "straight": {3: "e", 6: "&", 9: "a"},
}
BETWEEN = "'"


def plain_symbol(symbol: str) -> str:
    """A chord symbol in letters that every terminal has.

    >>> plain_symbol("B♭7♯9"), plain_symbol("C♯°7")
    ('Bb7#9', 'C#dim7')
    """
    return symbol.replace("♭", "b").replace("♯", "#").replace("°", "dim")


def string_names(neck: Neck) -> tuple[str, ...]:
    """The strings' letters from the first; that one is small where another string has its letter too.

    >>> string_names(Neck())
    ('e', 'B', 'G', 'D', 'A', 'E')
    """
    home = Key(KEY_NAMES[neck.tuning[-1] % 12])
    names = [spell(pitch, home).name for pitch in neck.tuning]
    if names[0] in names[1:]:
        names[0] = names[0][0].lower() + names[0][1:]
    return tuple(names)


# --- one row of text under construction


class _Row:
    """A line being filled; a label goes in only where it leaves a blank on both sides."""

    def __init__(self, columns: int, fill: str = " "):
        self.cells = [fill] * columns

    def write(self, column: int, text: str) -> None:
        if column < len(self.cells):
            text = text[: len(self.cells) - column]
            self.cells[column : column + len(text)] = list(text)

    def free(self, column: int, length: int) -> bool:
        if column < 0 or column + length > len(self.cells):
            return False
        return not "".join(self.cells[max(0, column - 1) : column + length + 1]).strip()

    def __str__(self) -> str:
        return "".join(self.cells).rstrip()


def _stack(labels: Iterable[tuple[int, str]], columns: int, bottom: _Row) -> list[str]:
    """Labels at their exact columns, in as many rows above ``bottom`` as they need."""
    rows = [bottom]
    for column, text in labels:
        at = max(0, min(column, columns - len(text)))
        row = next((r for r in rows if r.free(at, len(text))), None)
        if row is None:
            row = _Row(columns)
            rows.append(row)
        row.write(at, text)
    return [str(r) for r in reversed(rows)]


# --- the rows of a system


def _slot(study: Study, number: int) -> Slot | None:
    return next((s for s in study.slots if s.number == number), None)


def _top_rows(study: Study, system: System, names: bool) -> list[str]:
    columns = system.columns
    chords = {tick: plain_symbol(name) for tick, name in chord_names(study).items()}
    row = _Row(columns)
    for start, segment in zip(system.starts, system.segments, strict=True):
        if segment.opens:
            number = str(segment.first_beat // BEATS_PER_BAR + 1)
            row.write(max(0, start - len(number)), number)
    first = system.first_tick
    over = {t: text for t, text in chords.items() if first <= t < system.end_tick}
    if first not in over:
        over[first] = plain_symbol(study.chord_at(first).symbol)
    plain_first = sorted(over.items(), key=lambda item: (item[1].startswith("("), item[0]))
    rows = _stack(((system.column(t), text) for t, text in plain_first), columns, row)
    return ([_name_row(study, system)] if names else []) + rows


def slot_names(study: Study, slot: Slot) -> tuple[str, ...]:
    """How a slot is called over the strings, its number first, from the fullest form to the shortest."""
    number = slot.number + 1
    if slot.kind is SlotKind.COMP:
        return (f"{number} {COMP}", f"{number} {COMP[0]}", str(number))
    name, role = plain(slot.name), plain(role_of(study, slot))
    forms = [f"{LICK} {name}, {role}", f"{LICK} {name}", name] if name and role else []
    forms = forms or ([f"{LICK} {name}", name] if name else [f"{LICK}, {role}", LICK] if role else [LICK])
    return (*(f"{number} {form}" for form in (*forms, LICK[0])), str(number))


def _name_row(study: Study, system: System) -> str:
    inside = [e for e in study.events if system.first_tick <= e.onset < system.end_tick]
    marks: list[tuple[int, tuple[str, ...]]] = []
    before = [e for e in study.events if e.onset < system.first_tick]
    now = before[-1].slot if before else None
    for event in inside:
        slot = _slot(study, event.slot)
        if slot is not None and (event.slot != now or event is inside[0]):
            forms = slot_names(study, slot)
            if event.slot == now:
                forms = tuple(f"({form})" for form in forms[1:] or forms)
            marks.append((system.column(event.onset), forms))
        now = event.slot
    row = _Row(system.columns)
    ends = [column for column, _ in marks[1:]] + [system.columns + 1]
    for (column, forms), end in zip(marks, ends, strict=False):
        text = next((f for f in forms if column + len(f) < end), "")
        row.write(column, text)
    return str(row)


def _string_rows(neck: Neck, marks: Sequence[Ink], system: System) -> list[str]:
    rows = {}
    names = string_names(neck)
    for string, name in enumerate(names, 1):
        row = _Row(system.columns, "-")
        row.write(0, name.ljust(system.margin - 1))
        row.write(system.margin - 1, "|" if system.segments[0].opens else ":")
        for start, segment in zip(system.starts, system.segments, strict=True):
            row.write(start + segment.columns - 1, "|" if segment.closes else "-")
        rows[string] = row
    for mark in marks:
        if system.first_tick <= mark.tick < system.end_tick:
            column = system.column(mark.tick)
            rows[mark.string].write(column - len(mark.before), mark.text)
    for mark, extra in _vibrato_tails(marks, system, rows):
        rows[mark.string].write(system.column(mark.tick) + len(mark.body), "~" * extra)
    return [str(rows[s]) for s in sorted(rows)]


def _vibrato_tails(marks: Sequence[Ink], system: System, rows: dict[int, _Row]) -> Iterator[tuple[Ink, int]]:
    """How many signs longer each vibrato may be drawn: while it sounds, in its bar, off the next text."""
    for mark in marks:
        if not mark.sways or not system.first_tick <= mark.tick < system.end_tick:
            continue
        at = system.column(mark.tick) + len(mark.body)
        end = min(system.room(mark.tick), at + LONGEST_VIBRATO - 1)
        if mark.end < system.end_tick and system.room(mark.end) == system.room(mark.tick):
            end = min(end, system.column(mark.end) - 1)
        line = rows[mark.string].cells
        extra = 0
        while at + extra < end and line[at + extra] == "-" and line[at + extra + 1] in "-|":
            extra += 1
        yield mark, extra


def _finger_rows(marks: Sequence[Ink], system: System) -> list[str]:
    under: dict[int, list[Ink]] = {}
    for mark in marks:
        if system.first_tick <= mark.tick < system.end_tick:
            under.setdefault(mark.tick, []).append(mark)
    rows = [_Row(system.columns) for _ in range(max(map(len, under.values()), default=0))]
    for tick, chord in under.items():
        for row, mark in zip(rows, sorted(chord, key=lambda m: m.string), strict=False):
            row.write(system.column(tick), str(mark.finger))
    return [str(row) for row in rows]


def _count_row(study: Study, system: System) -> str:
    row = _Row(system.columns)
    onsets = {e.onset for e in study.events}
    step = GRIDS[study.grid]
    first, end = system.first_tick, system.end_tick
    for tick in sorted({t for t in onsets if first <= t < end} | set(range(first, end, step))
                       | set(range(first, end, TICKS_PER_BEAT))):  # fmt: skip
        beat, part = divmod(tick, TICKS_PER_BEAT)
        if part == 0:
            sign = str(beat % BEATS_PER_BAR + 1)
        elif tick in onsets:
            sign = SYLLABLES[study.grid].get(part, BETWEEN)
        else:
            sign = "-" if any(e.onset < tick < e.end + e.ring for e in study.events) else "."
        row.write(system.column(tick), sign)
    return str(row)


# --- systems, and the whole sheet


def margin_of(neck: Neck) -> int:
    """The columns before the first bar line."""
    return max(len(name) for name in string_names(neck)) + 1


def check_range(study: Study, first_bar: int, last_bar: int, width: int) -> None:
    """Raises ValueError for bars that are not there, TooNarrowError for a width that holds no tab."""
    if width < LEAST_WIDTH:
        raise TooNarrowError(f"a width of {width} columns is too narrow for tab: use {LEAST_WIDTH} or more")
    if not 0 <= first_bar <= last_bar < study.bars:
        raise ValueError(f"bars {first_bar + 1} to {last_bar + 1}: the study has bars 1 to {study.bars}")


def systems(study: Study, first_bar: int, last_bar: int, *, width: int = WIDTH) -> list[System]:
    """Where everything in bars ``first_bar`` to ``last_bar`` (from 0, inclusive) stands."""
    check_range(study, first_bar, last_bar, width)
    return lay_out(
        [inks(study)], first_bar, last_bar, grid=study.grid, margin=margin_of(study.neck), width=width
    )


def system_lines(
    study: Study, marks: Sequence[Ink], system: System, *, fingers: bool, names: bool
) -> list[str]:
    """The lines of one system, from the labels over it to the count under it."""
    return [
        *_top_rows(study, system, names),
        *_string_rows(study.neck, marks, system),
        *(_finger_rows(marks, system) if fingers else []),
        _count_row(study, system),
    ]


def tab_lines(
    study: Study,
    first_bar: int,
    last_bar: int,
    *,
    width: int = WIDTH,
    fingers: bool = False,
    names: bool = True,
) -> list[str]:
    """The systems of bars ``first_bar`` to ``last_bar`` (from 0, inclusive), an empty line between two.

    ``names`` tells who speaks above each slot. Raises ValueError for bars the study does not have and
    TooNarrowError when ``width`` columns cannot hold a beat.
    """
    marks = inks(study)
    lines: list[str] = []
    for system in systems(study, first_bar, last_bar, width=width):
        lines += [""] if lines else []
        lines += system_lines(study, marks, system, fingers=fingers, names=names)
    return lines


@dataclass(frozen=True)
class _Block:
    heading: str
    first_bar: int
    last_bar: int
    words: str


def _blocks(study: Study) -> list[_Block]:
    """The phrases with their bars, or groups of four bars where the phrases do not cover the study."""
    spans = [(p.first_bar, p.last_bar) for p in study.phrases]
    covered = [bar for first, last in spans for bar in range(first, last + 1)]
    if covered != list(range(study.bars)):
        spans = [(b, min(b + 3, study.bars - 1)) for b in range(0, study.bars, 4)]
    blocks = []
    for number, (first, last) in enumerate(spans, 1):
        bars = (BAR_RANGE if last > first else ONE_BAR).format(first=first + 1, last=last + 1)
        heading = PHRASE.format(name=phrase_name(study, number - 1, NAME.format(number=number)), bars=bars)
        blocks.append(_Block(heading, first, last, drill_words(study, number - 1)))
    return blocks


def _heading(study: Study, width: int) -> list[str]:
    title = plain(study.title) or UNTITLED.format(key=study.home.name)
    number = NUMBER.format(number=study.number) if study.number is not None else ""
    if number and len(title) + len(number) + 2 <= width:
        lines = [title + number.rjust(width - len(title))]
    else:
        lines = textwrap.wrap(title, width) + ([number] if number else [])
    facts = [key_words(study), feel_words(study), tempo_words(study), plain(study.level)]
    lines += textwrap.wrap(", ".join(f for f in facts if f), width)
    lines += textwrap.wrap(_tuning_text(study.neck), width)
    return lines


def _tuning_text(neck: Neck) -> str:
    parts = []
    if neck.tuning != TUNINGS["standard"]:
        name = next((n for n, pitches in TUNINGS.items() if pitches == neck.tuning), "")
        notes = " ".join(n[0].upper() + n[1:] for n in reversed(string_names(neck)))
        parts.append(TUNING.format(name=f"{name}, " if name else "", notes=notes))
    if neck.capo:
        parts.append(CAPO.format(capo=neck.capo))
    return "; ".join(parts)


def _signs_that_occur(study: Study, marks: Sequence[Ink]) -> set[str]:
    signs = {sign for mark in marks for sign in mark.signs}
    if any(name.startswith("(") for name in chord_names(study).values()):
        signs.add("lead")
    return signs


def _count_meanings(study: Study) -> list[str]:
    syllables = SYLLABLES[study.grid]
    parts = {e.onset % TICKS_PER_BEAT for e in study.events} - {0}
    used = [syllable for part, syllable in syllables.items() if part in parts]
    if parts - set(syllables):
        used.append(BETWEEN)
    return [BEATS, *([STROKES.format(syllables=" ".join(used))] if used else []), RINGS, SILENT]


def _packed(head: str, items: Sequence[str], width: int) -> list[str]:
    """A heading and items on as few lines as fit, broken between items; one that is too long is wrapped."""
    lines, line = [], head.rstrip()
    for k, item in enumerate(items):
        text = item + (";" if k < len(items) - 1 else ".")
        if len(line) + 1 + len(text) > width and line.strip():
            lines.append(line)
            line = " "
        line += " " + text
    lines.append(line)
    wrapped = [textwrap.wrap(x, width, subsequent_indent="    ", break_on_hyphens=False) for x in lines]
    return [part for parts in wrapped for part in parts]


def _foot(study: Study, marks: Sequence[Ink], width: int, fingers: bool) -> list[str]:
    meanings = legend(_signs_that_occur(study, marks))
    lines = _packed(SIGNS, meanings, width) if meanings else []
    lines += _packed(COUNT, _count_meanings(study), width)
    if fingers:
        lines += textwrap.wrap(FINGERS, width, subsequent_indent="  ")
    return [*lines, "", *textwrap.wrap(" ".join(CAUTIONS), width)]


def tab(study: Study, *, width: int = WIDTH, fingers: bool = False) -> str:
    """The whole study as text tab, a block for each phrase, no line longer than ``width``.

    ``fingers`` prints the finger numbers under every stroke. Ends in a newline. Raises TooNarrowError (a
    ValueError) when ``width`` columns cannot hold a beat.
    """
    marks = inks(study)
    lines = _heading(study, width)
    if study.drills:
        lines += ["", *textwrap.wrap(sheet_words(study), width)]
    for block in _blocks(study):
        lines += ["", block.heading, *textwrap.wrap(block.words, width), ""]
        lines += tab_lines(study, block.first_bar, block.last_bar, width=width, fingers=fingers)
    lines += ["", *_foot(study, marks, width, fingers)]
    return "\n".join(lines) + "\n"
