"""A Study as JSON text and back: what a study file holds, in which order, and what is said of one that cannot be read.

``python -m lickwright.study.json_text`` prints the JSON Schema that lies beside this module.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any

from lickwright.study.migrate import VersionError, migrated
from lickwright.study.model import Study, StudyFileError
from lickwright.study.validate import senseless

if TYPE_CHECKING:
    from pydantic import TypeAdapter

MOST_PROBLEMS = 20
MOST_BYTES = 20_000_000


@lru_cache(maxsize=1)
def _adapter() -> TypeAdapter[Study]:
    from pydantic import ConfigDict, TypeAdapter

    Study.__pydantic_config__ = ConfigDict(extra="forbid", strict=False)  # type: ignore[attr-defined]
    return TypeAdapter(Study)


def as_data(study: Study) -> dict[str, Any]:
    """The study as JSON values, keys in the order of the fields; ``drills`` only where there are some."""
    data = asdict(study)
    del data["brief"]["home"]
    if not study.drills:
        del data["drills"]
    return data


def to_json(study: Study) -> str:
    """The study as JSON text, keys in the order of the fields, ending in a newline."""
    return _text(as_data(study))


def digest(study: Study) -> str:
    """The SHA-256 of a study's text in the first form of study files, in hexadecimal digits.

    Hard moments are left out: they follow from the rest. So the digest of a study outlives changes of the form.
    """
    data = as_data(study)
    del data["hard_moments"]
    return hashlib.sha256(_text({**data, "schema_version": 1}).encode()).hexdigest()


def _text(data: dict[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def from_json(text: str | bytes) -> Study:
    """Reads a study, of an older version too; raises StudyFileError when it is none, or newer than this program."""
    from pydantic import ValidationError

    if len(text) > MOST_BYTES:
        raise StudyFileError([f"{len(text)} bytes; a study file has at most {MOST_BYTES}"])
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise StudyFileError(
            [f"not JSON: {error}; a study is the study.json of its folder, rule files are for `rules check`"]
        ) from None
    if not isinstance(data, dict) or "schema_version" not in data:
        raise StudyFileError(["not a study: no schema_version in it"])
    try:
        study = _adapter().validate_python(migrated(data))
    except VersionError as error:
        raise StudyFileError([str(error)]) from None
    except ValidationError as error:
        raise StudyFileError(
            [f"{'.'.join(str(p) for p in e['loc'])}: {e['msg']}" for e in error.errors()[:MOST_PROBLEMS]]
        ) from None
    problems = list(islice(senseless(study), MOST_PROBLEMS))
    if problems:
        raise StudyFileError(problems)
    return study


def json_schema() -> dict[str, Any]:
    """The JSON Schema of a study file."""
    schema = _adapter().json_schema()
    del schema["$defs"]["Brief"]["properties"]["home"]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


if __name__ == "__main__":
    print(json.dumps(json_schema(), indent=1))
