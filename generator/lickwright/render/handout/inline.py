"""What every page is put together with: assets, script and data inside one HTML file, and a policy for them.

A page needs nothing from outside and may run nothing but its own script: its policy names the scripts and the
style by their hashes.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

#: The modules that draw scores and play them, in the order in which they need one another.
SCORE = ("svg", "spacing", "staff", "tab", "system", "sheet", "stretch", "player", "reader", "controls")
_LICENCES = ("vexflow", "bravura", "academico")


def filled(
    template: str, *, modules: Sequence[str], styles: Sequence[str], model: Any, **values: object
) -> str:
    """A template of a page with its engraver, script modules, styles and data inside it."""
    script, style = _script(tuple(modules)), "".join(asset(name) for name in styles)
    return (
        _environment()
        .get_template(template)
        .render(
            policy=policy([_engraver(), script], style),
            style=Markup(style),
            engraver=Markup(_engraver()),
            script=Markup(script),
            model=Markup(_inline_json(model)),
            **values,
        )
    )


def sound_element(name: str, mp3: bytes) -> tuple[str, str]:
    """The id and the text of the element that holds a part's sound."""
    return f"sound-{name}", base64.b64encode(mp3).decode("ascii")


def _inline_json(data: Any) -> str:
    """JSON that no HTML parser can mistake for the end of its element."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    text = re.sub("[\x7f-\x9f]", lambda match: f"\\u{ord(match[0]):04x}", text)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def policy(scripts: list[str], style: str) -> str:
    """A page's policy. Only what is inside: scripts and the style by their hashes, fonts and sound as data."""
    return "; ".join(
        (
            "default-src 'none'",
            "script-src " + (" ".join(_hash(s) for s in scripts) or "'none'"),
            f"style-src {_hash(style)}",
            "font-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def asset(*path: str) -> str:
    """A file of this package as text."""
    return files("lickwright.render.handout").joinpath(*path).read_text(encoding="utf-8")


@cache
def _engraver() -> str:
    """The vendored engraver, with the licences of what is in it."""
    notices = "\n\n".join(asset("vendor", f"{name}-LICENSE.txt").strip() for name in _LICENCES)
    code = asset("vendor", "vexflow-bravura.js")
    # The engraver clones two flat objects for every sign it draws: a plain copy takes a tenth of the time.
    wrapped = f"/*\n{notices}\n*/\n((structuredClone) => {{\n{code}\n}})((value) => ({{ ...value }}));"
    return re.sub("</(?=script)", r"<\\/", wrapped, flags=re.IGNORECASE)


@cache
def _script(names: tuple[str, ...]) -> str:
    """A page's own script: its modules one after another, in one closure."""
    modules = "\n".join(asset("js", f"{name}.js") for name in names)
    return "(() => {\n'use strict';\n" + modules + "})();"


@cache
def _environment() -> Environment:
    return Environment(
        loader=FunctionLoader(asset),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
