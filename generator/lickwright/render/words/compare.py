"""How studies or licks held side by side differ, in words: facts only, never which is better.

Every sentence is about one entry and says up to three things in which it stands apart from the others; what is
said of one entry is not said of the next the other way round, unless there is nothing else to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import pstdev

from lickwright.judge.compare import Comparison, Entry, slot_name
from lickwright.judge.measure_lead import LEAP
from lickwright.judge.passage import Sounded
from lickwright.render.words.terms import DEGREE_WORDS, counted, listed, number, ordinal
from lickwright.study.distance import PARTS
from lickwright.study.excerpt import lick_bars
from lickwright.theory.rhythm import TICKS_PER_BAR

MOST_FACTS = 3
_IN = {"rhythm": "its rhythm", "contour": "its ups and downs", "notes": "its notes", "place": "where it lies"}
_TIMES = {1: "once", 2: "twice"}


@dataclass(frozen=True)
class Fact:
    """Something in which an entry stands apart: what it is about, the words, how far apart (in deviations)."""

    about: str
    words: str
    weight: float


#: (scale, least difference that is told, what the entry with the most does, what the one with the least does).
_EXTREMES: tuple[tuple[str, float, str, str], ...] = (
    ("notes", 1.0, "has the most notes ({value}{each})", "has the fewest notes ({value}{each})"),
    ("room", 0.1, "leaves the most room ({value} of the time)", "leaves the least room ({value})"),
    ("leaps", 0.1, "leaps the most", "moves by steps the most"),
    ("compass", 3.0, "has the widest compass ({value} semitones)", "has the narrowest compass ({value} semitones)"),
    ("syncopation", 0.12, "holds the most notes over a beat", "stays closest to the beat"),
    ("legato", 0.15, "slurs the most", "picks the most"),
    ("variety", 0.06, "has the least alike licks", "has the most alike licks"),
    ("hits", 0.7, "strikes the most in its answers ({value})", "strikes the least in its answers ({value})"),
    ("different_grips", 2.0, "has the most grips ({value})", "has the fewest grips ({value})"),
    ("difficulty", 0.7, "asks the most of the hands ({value} of 10)", "asks the least of the hands ({value} of 10)"),
    ("notes_per_s", 1.0, "is the quickest ({value} notes a second)", "is the calmest ({value} notes a second)"),
)  # fmt: skip


def compare_words(comparison: Comparison) -> tuple[str, ...]:
    """A sentence for each entry, in order, and one of how near they are to each other."""
    said: set[str] = set()
    sentences = []
    for entry in comparison.entries:
        found = sorted(_facts(comparison, entry), key=lambda fact: -fact.weight)
        chosen: list[Fact] = []
        for fact in found:
            about = {chosen_fact.about for chosen_fact in chosen}
            if fact.about not in said | about and len(chosen) < MOST_FACTS:
                chosen.append(fact)
        chosen = chosen or found[:1]
        said |= {fact.about for fact in chosen}
        if chosen:
            sentences.append(f"{entry.number} {listed([fact.words for fact in chosen])}.")
        else:
            sentences.append(_neighbour(comparison, entry))
    return (*sentences, *_nearness(comparison))


def _neighbour(comparison: Comparison, entry: Entry) -> str:
    """What is said of an entry that stands apart in nothing: whom it is near, and what parts the two."""
    row = comparison.distances[entry.number - 1]
    total, other = min((d.total, n) for n, d in enumerate(row, 1) if n != entry.number)
    if not total:
        return f"{entry.number} is the same as {other} in rhythm, contour, notes and place."
    apart = row[other - 1]
    part = max(PARTS, key=lambda name: getattr(apart, name))
    return (
        f"{entry.number} is nearest to {other} ({total:.2f} apart), and differs from it most in {_IN[part]}."
    )


def _facts(comparison: Comparison, entry: Entry) -> Iterator[Fact]:
    yield from _same_rhythm(comparison, entry)
    others = [other for other in comparison.entries if other is not entry]
    for facts in (_peak, _bends, _positions, _landing, _start, _alone_in, _leap):
        yield from facts(entry, others)
    yield from _extremes(comparison, entry)


def _same_rhythm(comparison: Comparison, entry: Entry) -> Iterator[Fact]:
    if entry.number == 1:
        return
    apart = comparison.distances[entry.number - 1][0]
    same = [
        word
        for word, part in (("rhythm", apart.rhythm), ("notes", apart.notes), ("places", apart.place))
        if part < 1e-9
    ]
    if same:
        which = listed([f"the {word}" if k == 0 else word for k, word in enumerate(same)])
        yield Fact("kept", f"keeps {which} of 1", 9.0)


def _extremes(comparison: Comparison, entry: Entry) -> Iterator[Fact]:
    shows = {scale.name: scale.show for scale in comparison.scales}
    for name, least, most_words, least_words in _EXTREMES:
        value = entry.values.get(name)
        rest = [e.values.get(name) for e in comparison.entries if e is not entry]
        others = [v for v in rest if v is not None]
        if value is None or not others:
            continue
        each = "" if comparison.of_licks else " a lick"
        spread = max(least, pstdev([value, *others]))
        if value >= max(others) + least:
            yield Fact(
                name, most_words.format(value=shows[name](value), each=each), (value - max(others)) / spread
            )
        elif value <= min(others) - least:
            yield Fact(
                name, least_words.format(value=shows[name](value), each=each), (min(others) - value) / spread
            )


def one_key(entry: Entry, others: list[Entry]) -> bool:
    """True when all are in the same key, so that pitches and frets can be compared."""
    return len({e.passage.study.home.pitch_class for e in (entry, *others)}) == 1


def _highest(entry: Entry) -> Sounded:
    return max((lick.peak for lick in entry.passage.licks), key=lambda n: n.pitch2)


def _height(entry: Entry) -> int:
    """The highest note in half-units above the lowest tonic of the neck's own range."""
    return _highest(entry).pitch2 - 2 * entry.passage.study.home.pitch_class


def _degree(entry: Entry, note: Sounded) -> str:
    """A note's degree of its chord, in words; a second is a ninth where it is the line's top."""
    degree = entry.passage.study.chord_at(note.onset).degree(note.pitch2 // 2)
    return DEGREE_WORDS[degree]


def _peak(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    if not one_key(entry, others) or not all(e.passage.licks for e in (entry, *others)):
        return
    over = _height(entry) - max(map(_height, others))
    if over > 0:
        word = _degree(entry, _highest(entry)).replace("second", "ninth")
        yield Fact("peak", f"climbs the highest, to the {word}", 1.5 + over / 8)


def _bend_count(entry: Entry) -> int:
    return int(entry.values.get("bends") or 0)


def _bends(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    mine, theirs = _bend_count(entry), [_bend_count(e) for e in others]
    if mine > max(theirs):
        yield Fact(
            "bends", f"bends {_TIMES.get(mine) or number(mine) + ' times'}", 1.6 + (mine - max(theirs)) / 4
        )
    elif mine == 0 and min(theirs) > 0:
        yield Fact("bends", "bends nothing", 1.6)


def _positions(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    mine, theirs = len(entry.positions), [len(e.positions) for e in others]
    if mine == 1 and min(theirs) > 1:
        yield Fact("windows", f"stays in one position, at the {ordinal(entry.positions[0])} fret", 2.0)
    elif mine > max(theirs):
        yield Fact("windows", f"takes {number(mine)} hand positions", 1.8)
    elif (
        mine == 1
        and one_key(entry, others)
        and all(e.positions != entry.positions and len(e.positions) == 1 for e in others)
    ):
        yield Fact("place", f"lies at the {ordinal(entry.positions[0])} fret", 1.4)


def _landing(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    if any(len(e.passage.licks) != 1 for e in (entry, *others)):
        return
    mine = _degree(entry, entry.passage.licks[0].landing)
    if mine not in {_degree(e, e.passage.licks[0].landing) for e in others}:
        yield Fact("landing", f"lands on the {mine}", 2.2)


def _start(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    if any(len(e.passage.licks) != 1 for e in (entry, *others)):
        return
    first = entry.passage.licks[0].notes[0].onset % TICKS_PER_BAR
    if first == 0 and all(e.passage.licks[0].notes[0].onset % TICKS_PER_BAR for e in others):
        yield Fact("start", "is the one that starts on beat one", 1.3)


def _alone_in(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    """Techniques that no other entry has."""
    rest = set().union(*(e.techniques for e in others))
    named = {"bend", "vibrato"}  # bends have a fact of their own, and every landing sways
    own = [name for name in sorted(entry.techniques) if name not in rest | named]
    if own:
        yield Fact(
            "technique", f"alone has {listed([_article(name) for name in own[:2]])}", 1.5 + len(own) / 10
        )


def _article(name: str) -> str:
    return {"curl": "a quarter-tone bend", "legato": "slurs"}.get(name, f"a {name}")


def _leap(entry: Entry, others: list[Entry]) -> Iterator[Fact]:
    def count(e: Entry) -> int:
        return sum(abs(move) >= LEAP for lick in e.passage.licks for move in lick.moves)

    mine = count(entry)
    if not mine and min(map(count, others)) > 0:
        yield Fact("leaps", "does without leaps", 1.5)
    elif mine > max(map(count, others)) + 1:
        yield Fact("leaps", f"has {counted(mine, 'leap')}", 1.2)


def _nearness(comparison: Comparison) -> Iterator[str]:
    pairs = [
        (comparison.distances[a.number - 1][b.number - 1].total, a.number, b.number)
        for a in comparison.entries
        for b in comparison.entries
        if a.number < b.number
    ]
    near, far = min(pairs), max(pairs)
    if near[0] == far[0] == 0:
        yield "They are the same in rhythm, contour, notes and place."
    elif len(pairs) == 1:
        yield f"They are {near[0]:.2f} apart, on a scale from 0 (the same) to 1 (nothing in common)."
    else:
        yield (
            f"{near[1]} and {near[2]} are the nearest to each other ({near[0]:.2f} apart, from 0 to 1), "
            f"{far[1]} and {far[2]} the farthest ({far[0]:.2f})."
        )


def entry_line(entry: Entry) -> str:
    """An entry's number, file, title, key and lick on one line."""
    study = entry.asked.study
    title = study.title or "untitled"
    what = [title, f"in {study.home.name}", slot_name(entry.asked)]
    what.append(bars_text(entry))
    return f"{entry.number}  {entry.asked.name}: {', '.join(part for part in what if part)}"


def tab_label(entry: Entry) -> str:
    """What stands over an entry's tab: its number, and of a lick its name and bar in its study."""
    if entry.asked.slot is None:
        return str(entry.number)
    return f"{entry.number}: {slot_name(entry.asked)} ({bars_text(entry)})"


def bars_text(entry: Entry) -> str:
    """The bars of its study that a lick lies in: ``bar 5``, ``bars 5-6``; nothing for a whole study."""
    if entry.asked.slot is None:
        return ""
    first, last = lick_bars(entry.asked.study, entry.asked.slot)
    return f"bar {first + 1}" if first == last else f"bars {first + 1}-{last + 1}"
