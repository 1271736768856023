"""A learned style as the text of a rule file over its base, with counts in comments; and in words."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping

from lickwright.learn.rhythms import grade_of
from lickwright.learn.style import Learned, Prediction
from lickwright.learn.weights import Path

#: Weights of the families of cells: heard again and again, heard once, and the base file's own.
OFTEN, ONCE, OTHERS = 40, 15, 3
#: Differences of fewer points, or of fewer standard errors, are not spoken of.
LEAST_POINTS, LEAST_ERRORS = 3, 1.5
MOST_SENTENCES = 16

_WORDS = {
    "pluck": "plucked notes", "hammer": "hammer-ons", "pull": "pull-offs", "slide": "slides",
    "double_stop": "double stops", "grace_hammer": "hammered grace notes", "quarter": "quarter-tone bends",
    "half": "half-step bends", "whole": "whole-step bends", "bend-release": "bends let down again",
    "pre-bend-release": "bends struck when bent and let down", "skip": "skips of a third or more",
    "leap": "leaps of a fourth or more", "unanswered_leap": "leaps with more the same way",
    "turn": "turns of the line", "run3": "three steps one way", "run4": "four steps one way and more",
    "zigzag": "zigzags", "repeat": "repeated notes", "off_chord_strong": "notes outside the chord on a beat",
}  # fmt: skip


def rule_text(learned: Learned, base: str, title: str, level: str, longest: int) -> str:
    """The rule file; ``base`` is what it includes, ``longest`` the moves of a figure that may be copied."""
    licks = len(learned.examples)
    lines = [
        f"# Learned from {licks} licks with {learned.notes} notes, over {base}.",
        "# Points as in the base file; the numbers in comments say how often each was played.",
        f"title = {json.dumps(title, ensure_ascii=False)}",
        f"about = {json.dumps(f'The accent of {licks} licks over {base}.', ensure_ascii=False)}",
        f"include = [{json.dumps(base)}]",
        "",
        "[study]",
        f"level = {json.dumps(level)}",
    ]
    lines += _weights(learned)
    lines += ["", "# Lines that were learned from: of no lick more than these many moves are played again."]
    lines += ["[lead.copying]", f"longest = {longest}", "lines = ["]
    lines += [f"  {json.dumps(line)}," for line in learned.lines] + ["]"]
    lines += _cells("figures", learned.rhythms[0], learned)
    lines += _cells("tails", learned.rhythms[1], learned)
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    return name if name.replace("-", "").replace("_", "").isalnum() and name.isascii() else json.dumps(name)


def _weights(learned: Learned) -> Iterator[str]:
    paths = learned.weights.paths
    rows = dict(zip(paths, zip(learned.values, learned.counts, strict=True), strict=True))
    tables: dict[Path, dict[str, tuple[int, int]]] = {}
    for path, row in rows.items():
        tables.setdefault(path[:-1], {})[path[-1]] = row
    heading: Path = ()
    for table, entries in tables.items():
        inline = table[1] in ("palette", "landing")
        if (table[:-1] if inline else table) != heading:
            heading = table[:-1] if inline else table
            yield from ("", f"[{'.'.join(map(_key, heading))}]")
        if inline:
            inside = ", ".join(f"{_key(d)} = {points}" for d, (points, _) in entries.items())
            played = ", ".join(f"{d}: {count}" for d, (_, count) in entries.items())
            yield f"{_key(table[-1])} = {{ {inside} }}  # {played}"
        else:
            for name, (points, count) in entries.items():
                yield f"{_key(name)} = {points}  # {count}"


def _cells(table: str, heard: Counter[str], learned: Learned) -> Iterator[str]:
    """The heard cells in families by how often and how hard, and the base's own made rarer."""
    if not heard:
        return
    grid = learned.examples[0].grid
    families: dict[tuple[bool, int], list[str]] = {}
    for cell, count in sorted(heard.items(), key=lambda x: (-x[1], x[0])):
        families.setdefault((count > 1, grade_of(cell)), []).append(cell)
    for (often, grade), cells in sorted(families.items(), reverse=True):
        name = f"heard {'often' if often else 'once'}, grade {grade}"
        counts = ", ".join(str(heard[c]) for c in cells)
        yield from ("", f"# heard {counts} times", f"[{table}.{json.dumps(name)}]", f"grade = {grade}")
        yield from (f'grid = "{grid}"', f"weight = {OFTEN if often else ONCE}")
        yield f"cells = [{', '.join(json.dumps(c) for c in cells)}]"
    for name, family in learned.weights.data[table].items():
        if family.get("grid", "triplet") == grid:
            yield from ("", f"[{table}.{_key(name)}]", f"weight = {min(OTHERS, family.get('weight', 10))}")


# ------------------------------------------------------------------ in words


def report(learned: Learned, prediction: Prediction | None) -> Iterator[str]:
    """What was learned, a sentence each, the clearest first; and how well held-out licks are told."""
    yield f"{len(learned.examples)} licks, {learned.notes} notes"
    if learned.unusable:
        yield f"{learned.unusable} notes stand where the base's rules allow none such; nothing was learned from them"
    told = sorted(_differences(learned), key=lambda x: -x[0])
    yield from (sentence for _, sentence in told[:MOST_SENTENCES])
    if not told:
        yield "nothing differs clearly from the base file"
    for name, heard in zip(("figure", "way home"), learned.rhythms, strict=True):
        most = [
            f"{cell} {count} times" for cell, count in sorted(heard.items(), key=lambda x: (-x[1], x[0]))[:3]
        ]
        if most:
            yield f"{name}s heard most: {', '.join(most)}"
    if prediction is not None:
        yield from _prediction(prediction)


def _differences(learned: Learned) -> Iterator[tuple[float, str]]:
    level = _levels(learned)
    rows = zip(
        learned.weights.paths, learned.values, learned.base, learned.counts, learned.fit.error, strict=True
    )
    for path, value, before, count, error in rows:
        moved = value - before - level.get(path[:-1], 0)
        errors = abs(moved) / max(float(error), 0.5)
        if abs(moved) >= LEAST_POINTS and errors >= LEAST_ERRORS:
            more = "more often" if moved < 0 else "more seldom"
            yield (
                errors,
                f"{_said(path)}: {more} than in the base file, {value} points for {before} (played {count} times)",
            )


def _levels(learned: Learned) -> Mapping[Path, float]:
    """For each table of degrees by how much all of it moved, weighted by use: that says nothing."""
    found: dict[Path, tuple[float, float]] = {}
    rows = zip(learned.weights.paths, learned.values, learned.base, learned.counts, strict=True)
    for path, value, before, count in rows:
        if path[1] in ("palette", "landing"):
            total, weight = found.get(path[:-1], (0.0, 0.0))
            found[path[:-1]] = total + (value - before) * (count + 1), weight + count + 1
    return {table: total / weight for table, (total, weight) in found.items()}


def _said(path: Path) -> str:
    if path[1] == "palette":
        return f"{path[3]} of the key over {path[2]}"
    if path[1] == "landing":
        return f"coming home on {path[4]} of the key over {path[3]} ({path[2]})"
    return _WORDS.get(path[-1], path[-1])


def _prediction(p: Prediction) -> Iterator[str]:
    if not p.licks:
        yield "no held-out lick keeps the base's rules, so none can be told"
        return
    gain = p.base - p.learned
    yield (
        f"held-out licks ({p.licks}) take {p.learned:.2f} bits a note, {p.base:.2f} by the base file: "
        f"{abs(gain):.2f} {'better' if gain >= 0 else 'worse'}"
    )
    if p.left_out:
        yield f"{p.left_out} held-out licks break the base's rules and are not counted"
