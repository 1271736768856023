"""The handout as one HTML file: template, style, engraver, script, music and sound, all inside it.

The page needs nothing from outside and may run nothing but its own script: its policy names the scripts and
the style by their hashes. The same study and sound give the same bytes.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from generator.render.diagrams import Diagram, phrase_grips, phrase_neck
from generator.render.handout import strings
from generator.render.handout.model import page_model
from generator.render.words import CAUTIONS, feel_words, key_words, phrase_words, study_words, tempo_words
from generator.render.words_practice import drill_words
from generator.render.words_spoken import spoken
from generator.study import Study

if TYPE_CHECKING:
    from generator.render.sound.page import PageSound

#: The script's modules, in the order in which they need one another.
MODULES = ("svg", "spacing", "staff", "tab", "system", "stretch", "player", "reader", "controls", "page")
_LICENCES = ("vexflow", "bravura", "academico")


def handout(study: Study, *, sound: PageSound | None = None) -> str:
    """The page as HTML text; with ``sound`` it has a player, without it is a sheet to read and print."""
    engraver, script, style = _engraver(), _script(), _asset("page.css")
    data = page_model(study)
    if sound is not None:
        data["sound"] = json.loads(sound.time_map.to_json())
    return _template().render(
        text=strings.PAGE,
        study=study,
        heading=_heading(study),
        facts=(key_words(study), feel_words(study), tempo_words(study)),
        opening=(study_words(study),),
        cautions=CAUTIONS,
        phrases=_phrases(study),
        spoken=spoken(study),
        made=strings.made_with(study),
        policy=_policy([engraver, script], style),
        style=Markup(style),
        engraver=Markup(engraver),
        script=Markup(script),
        model=Markup(_inline_json(data)),
        ranges=list(enumerate(data["ranges"])),
        speeds=strings.SPEEDS,
        sounds=[] if sound is None else _sounds(sound),
    )


def _heading(study: Study) -> str:
    number = f"{strings.PAGE['number']} {study.number}: " if study.number is not None else ""
    return number + study.title


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
    return [(f"sound-{name}", base64.b64encode(data).decode("ascii")) for name, data in parts.items()]


def _inline_json(data: Any) -> str:
    """JSON that no HTML parser can mistake for the end of its element."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _policy(scripts: list[str], style: str) -> str:
    """Only what is inside: the two scripts and the style by their hashes, fonts and sound as data."""
    return "; ".join(
        (
            "default-src 'none'",
            "script-src " + " ".join(_hash(s) for s in scripts),
            f"style-src {_hash(style)}",
            "font-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _asset(*path: str) -> str:
    return files("generator.render.handout").joinpath(*path).read_text(encoding="utf-8")


@cache
def _engraver() -> str:
    """The vendored engraver, with the licences of what is in it."""
    notices = "\n\n".join(_asset("vendor", f"{name}-LICENSE.txt").strip() for name in _LICENCES)
    code = _asset("vendor", "vexflow-bravura.js")
    # The engraver clones two flat objects for every sign it draws: a plain copy takes a tenth of the time.
    wrapped = f"/*\n{notices}\n*/\n((structuredClone) => {{\n{code}\n}})((value) => ({{ ...value }}));"
    return re.sub("</(?=script)", r"<\\/", wrapped, flags=re.IGNORECASE)


@cache
def _script() -> str:
    """The page's own script: its modules one after another, in one closure."""
    modules = "\n".join(_asset("js", f"{name}.js") for name in MODULES)
    return "(() => {\n'use strict';\n" + modules + "})();"


@cache
def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_asset("page.html.j2"))
