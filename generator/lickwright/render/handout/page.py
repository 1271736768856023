"""The handout as one HTML file: template, style, engraver, script, music and sound, all inside it.

What its parts are put together with is in ``inline``. The same study and sound give the same bytes.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from lickwright.render.handout import strings
from lickwright.render.handout.diagrams import Diagram, phrase_grips, phrase_neck
from lickwright.render.handout.inline import SCORE, filled, sound_element
from lickwright.render.handout.model import page_model
from lickwright.render.words.practice import drill_words
from lickwright.render.words.spoken import spoken
from lickwright.render.words.terms import plain
from lickwright.render.words.text import (
    CAUTIONS,
    feel_words,
    key_words,
    phrase_words,
    study_words,
    tempo_words,
)
from lickwright.study.model import Study

if TYPE_CHECKING:
    from lickwright.render.sound.page import PageSound

#: The script's modules, in the order in which they need one another.
MODULES = (*SCORE, "page")


def handout(study: Study, *, sound: PageSound | None = None) -> str:
    """The page as HTML text; with ``sound`` it has a player, without it is a sheet to read and print."""
    data = page_model(study)
    if sound is not None:
        data["sound"] = json.loads(sound.time_map.to_json())
    return filled(
        "page.html.j2",
        modules=MODULES,
        styles=("page.css",),
        model=data,
        text=strings.PAGE,
        study=study,
        heading=_heading(study),
        title=plain(study.title),
        facts=(key_words(study), feel_words(study), tempo_words(study)),
        opening=(study_words(study),),
        cautions=CAUTIONS,
        phrases=_phrases(study),
        spoken=spoken(study),
        made=strings.made_with(study),
        ranges=list(enumerate(data["ranges"])),
        speeds=strings.SPEEDS,
        voices=[],
        sounds=[] if sound is None else _sounds(sound),
    )


def _heading(study: Study) -> str:
    number = f"{strings.PAGE['number']} {study.number}: " if study.number is not None else ""
    return number + plain(study.title)


def _phrases(study: Study) -> list[dict[str, Any]]:
    said = {words.number: words for words in phrase_words(study)}
    found = []
    for phrase in study.phrases:
        words = said.get(phrase.number)
        drill = drill_words(study, phrase.number)
        parts = [] if words is None else [words.hand, *(s.text for s in words.body), words.watch]
        neck = phrase_neck(study, phrase)
        diagrams = [*([neck] if neck else []), *phrase_grips(study, phrase)]
        found.append(
            {
                "bars": strings.phrase_heading(study, phrase.number),
                "words": [*([drill] if drill else []), " ".join(p for p in parts if p)],
                "name": strings.phrase_name(study, phrase.number),
                "diagrams": [_diagram(d) for d in diagrams],
            }
        )
    return found


def _diagram(diagram: Diagram) -> dict[str, Any]:
    return {
        "kind": diagram.kind,
        "key": diagram.key,
        "caption": diagram.caption,
        "right": Markup(diagram.right),
        "left": Markup(diagram.left),
    }


def _sounds(sound: PageSound) -> list[tuple[str, str]]:
    parts = {"guitar": sound.guitar_mp3, "band": sound.band_mp3, "click": sound.click_mp3}
    return [sound_element(name, data) for name, data in parts.items()]
