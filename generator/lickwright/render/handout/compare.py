"""Studies or licks side by side on one page: engraved with the same bars under one another, heard in turn at the
same place, measured in a table that sorts them. The handout's engraver, reader and player do the work.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from lickwright import __version__
from lickwright.judge.compare import Comparison, Entry, Scale, slot_name
from lickwright.render.handout import strings
from lickwright.render.handout.inline import SCORE, filled, sound_element
from lickwright.render.handout.model import page_model
from lickwright.render.words.compare import bars_text, compare_words
from lickwright.render.words.terms import plain
from lickwright.render.words.text import CAUTIONS
from lickwright.study.distance import PARTS
from lickwright.study.model import Study
from lickwright.theory.rhythm import TICKS_PER_BAR

if TYPE_CHECKING:
    from lickwright.render.sound.page import TogetherSound

MODULES = (*SCORE, "compare")


def compare_page(comparison: Comparison, *, sound: TogetherSound | None = None) -> str:
    """The page as HTML text; with ``sound`` it has a player, without it is a sheet to read and print."""
    entries = comparison.entries
    spans = _spans(comparison)
    ranges = [{"label": strings.COMPARE["whole"], "from": 0, "to": comparison.bars * TICKS_PER_BAR}]
    if len(spans) > 1 or len(spans) * 4 < comparison.bars:
        ranges += [
            {"label": _bars(a, b), "from": a * TICKS_PER_BAR, "to": (b + 1) * TICKS_PER_BAR} for a, b in spans
        ]
    return filled(
        "compare.html.j2",
        modules=MODULES,
        styles=("page.css", "compare.css"),
        model=_model(comparison, spans, ranges, sound),
        text={**strings.PAGE, **strings.COMPARE},
        heading=strings.COMPARE["licks" if comparison.of_licks else "studies"],
        entries=[_entry(entry) for entry in entries],
        words=compare_words(comparison),
        spans=[{"bars": _bars(a, b), "title": _heading(comparison, a, b)} for a, b in spans],
        same=_same(comparison, spans),
        rows=[_row(scale, entries) for scale in comparison.scales],
        unusual=any(entry.unusual for entry in entries),
        distances=_distances(comparison),
        parts=(*PARTS, "total"),
        cautions=CAUTIONS,
        tempo=strings.tempo_note([entry.asked.study.tempo_bpm for entry in entries]) if sound else "",
        made=f"lickwright {__version__}".strip(),
        ranges=list(enumerate(ranges)),
        speeds=strings.SPEEDS,
        voices=[entry.number for entry in entries],
        sounds=[] if sound is None else _sounds(sound),
    )


def _model(
    comparison: Comparison,
    spans: Sequence[tuple[int, int]],
    ranges: list[dict[str, Any]],
    sound: TogetherSound | None,
) -> dict[str, Any]:
    made = []
    for n, entry in enumerate(comparison.entries):
        data = _cut(page_model(entry.shown), comparison.bars)
        marked = comparison.differing(entry.number)
        data["mark"] = f"s{entry.number}-"
        data["number"] = entry.number
        data["ranges"] = ranges
        data["differs"] = [event.id for event in entry.shown.events if event.onset in marked]
        data["values"] = {scale.name: entry.values.get(scale.name) for scale in comparison.scales}
        if sound is not None:
            data["sound"] = json.loads(sound.time_maps[n].to_json())
        made.append(data)
    phrases = [{"number": n, "first_bar": a, "last_bar": b} for n, (a, b) in enumerate(spans)]
    return {"entries": made, "phrases": phrases, "strings": strings.COMPARE_SCRIPT}


def _cut(data: dict[str, Any], bars: int) -> dict[str, Any]:
    """A page's data with the bars that all studies have; they end there in every one."""
    data["bars"] = data["bars"][:bars]
    end = bars * TICKS_PER_BAR
    data["chords"] = [chord for chord in data["chords"] if chord["tick"] < end]
    return data


def _spans(comparison: Comparison) -> list[tuple[int, int]]:
    """First and last bar of what is shown: the first study's phrases in which something differs, or all of it."""
    first: Study = comparison.entries[0].shown
    last = comparison.bars - 1
    spans = [(p.first_bar, min(p.last_bar, last)) for p in first.phrases if p.first_bar <= last]
    if [bar for a, b in spans for bar in range(a, b + 1)] != list(range(last + 1)):
        spans = [(bar, min(bar + 3, last)) for bar in range(0, last + 1, 4)]
    differ = comparison.differing_bars()
    return [(a, b) for a, b in spans if any(a <= bar <= b for bar in differ)] or spans


def _same(comparison: Comparison, spans: Sequence[tuple[int, int]]) -> str:
    shown = sum(b - a + 1 for a, b in spans)
    return strings.COMPARE["same"] if shown < comparison.bars else ""


def _bars(first: int, last: int) -> str:
    return (
        f"{strings.PAGE['bars']} {first + 1}–{last + 1}"
        if last > first
        else f"{strings.PAGE['bar']} {first + 1}"
    )


def _heading(comparison: Comparison, first: int, last: int) -> str:
    return strings.COMPARE["score"] if comparison.of_licks else _bars(first, last).capitalize()


def _entry(entry: Entry) -> dict[str, Any]:
    study = entry.asked.study
    facts = [f"{strings.PAGE['key']} {study.home.name}", f"{study.tempo_bpm} {strings.PAGE['beats']}"]
    if entry.asked.slot is not None:
        facts = [slot_name(entry.asked), bars_text(entry), *facts]
    return {
        "number": entry.number,
        "title": plain(study.title) or strings.COMPARE["untitled"],
        "name": plain(entry.asked.name),
        "facts": [fact for fact in facts if fact],
        "windows": ", ".join(map(str, entry.positions)),
        "hardest": f"{entry.hardest}" if entry.hardest else "",
    }


def _row(scale: Scale, entries: Sequence[Entry]) -> dict[str, Any]:
    shown = [scale.show(entry.values.get(scale.name)) for entry in entries]
    return {
        "name": scale.name,
        "label": scale.label,
        "unit": "" if scale.unit == "share" else scale.unit,
        "sentence": scale.sentence,
        "same": len(set(shown)) == 1,
        "cells": [
            {"entry": entry.number, "text": text, "unusual": scale.name in entry.unusual}
            for entry, text in zip(entries, shown, strict=True)
        ],
    }


def _distances(comparison: Comparison) -> list[dict[str, Any]]:
    return [
        {
            "pair": f"{a.number} {strings.COMPARE['and']} {b.number}",
            "figures": [f"{value:.2f}" for value in (*apart.row, apart.total)],
        }
        for a in comparison.entries
        for b in comparison.entries
        if a.number < b.number
        for apart in (comparison.distances[a.number - 1][b.number - 1],)
    ]


def _sounds(sound: TogetherSound) -> list[tuple[str, str]]:
    guitars = [sound_element(f"guitar-{n}", data) for n, data in enumerate(sound.guitar_mp3s, 1)]
    return [*guitars, sound_element("band", sound.band_mp3), sound_element("click", sound.click_mp3)]
