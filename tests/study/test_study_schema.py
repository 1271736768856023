"""The JSON Schema that travels in the package is the one the Study has."""

from __future__ import annotations

import json
from importlib.resources import files

from lickwright.study.json_text import json_schema


def test_the_packaged_schema_is_current() -> None:
    packaged = json.loads(files("lickwright.study").joinpath("study.schema.json").read_text(encoding="utf-8"))
    assert packaged == json_schema(), (
        "write it anew: python -m lickwright.study.json_text > generator/lickwright/study/study.schema.json"
    )
