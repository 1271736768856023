"""Study files of every form there has been open; newer ones are refused in words."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.compose.rewrite import rewritten
from lickwright.compose.write import write
from lickwright.render.words.text import phrase_words
from lickwright.study import migrate as study_migrate
from lickwright.study.json_text import digest, from_json, to_json
from lickwright.study.migrate import SCHEMA_VERSION, migrated
from lickwright.study.model import StudyFileError

OLD = sorted((Path(__file__).parent / "studies").glob("*.json"))


@pytest.mark.parametrize("path", OLD, ids=lambda path: path.stem)
def test_a_file_of_every_form_opens_and_is_written_in_todays(path: Path) -> None:
    study = from_json(path.read_bytes())
    written = json.loads(to_json(study))
    assert written["schema_version"] == SCHEMA_VERSION
    assert from_json(to_json(study)) == study
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert {key: written[key] for key in kept if key != "schema_version"} == {
        key: value for key, value in kept.items() if key != "schema_version"
    }


def test_there_is_a_file_of_every_version() -> None:
    versions = {json.loads(path.read_text(encoding="utf-8"))["schema_version"] for path in OLD}
    assert versions == set(range(1, SCHEMA_VERSION + 1))
    assert sorted(study_migrate.STEPS) == list(range(1, SCHEMA_VERSION))


def test_a_file_from_before_studies_had_an_origin_was_made_from_its_brief() -> None:
    (path,) = (path for path in OLD if path.stem == "version-1-without-origin")
    assert "origin" not in json.loads(path.read_text(encoding="utf-8"))
    study = from_json(path.read_bytes())
    assert (study.origin, study.drills) == ("", ())


def test_a_file_from_before_hard_moments_were_kept_has_none_and_nothing_is_said_of_them() -> None:
    old = from_json((Path(__file__).parent / "studies" / "version-1.json").read_bytes())
    new = from_json((Path(__file__).parent / "studies" / "version-2.json").read_bytes())
    assert old.hard_moments is None
    assert new.hard_moments
    assert all(words.body and not words.watch.startswith("Nothing") for words in phrase_words(old))
    made = write(old.brief)
    assert made.hard_moments
    assert rewritten(replace(made, hard_moments=None)) == (), "having none is no difference"


def test_the_digest_of_a_study_outlives_its_form() -> None:
    """Variations name their model by it."""
    data = (Path(__file__).parent / "studies" / "version-1.json").read_bytes()
    assert digest(from_json(data)) == hashlib.sha256(data).hexdigest()
    study = from_json((Path(__file__).parent / "studies" / "version-2.json").read_bytes())
    assert digest(study) == digest(replace(study, hard_moments=None))
    assert digest(study) != digest(replace(study, tempo_bpm=61))


def test_steps_follow_one_another_up_to_todays_version(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study_migrate, "SCHEMA_VERSION", 3)
    monkeypatch.setattr(
        study_migrate,
        "STEPS",
        {n: lambda data: {**data, "schema_version": data["schema_version"] + 1, "new": "x"} for n in (1, 2)},
    )
    assert migrated({"schema_version": 1}) == {"schema_version": 3, "new": "x"}


@pytest.mark.parametrize(
    ("version", "said"),
    [
        (SCHEMA_VERSION + 1, "newer than this program"),
        (10**40, "newer"),
        (0, "is no version"),
        (-1, "is no version"),
        (True, "is no version"),
        (1.5, "is no version"),
        ("1", "is no version"),
        (None, "is no version"),
        ([1], "is no version"),
    ],
)
def test_another_version_is_refused_in_words(version: object, said: str, tmp_path: Path) -> None:
    data = json.loads(OLD[0].read_text(encoding="utf-8")) | {"schema_version": version}
    with pytest.raises(StudyFileError, match=said):
        from_json(json.dumps(data))
    path = tmp_path / "study.json"
    path.write_text(json.dumps(data))
    result = CliRunner().invoke(main, ["check", str(path)])
    assert result.exit_code == 2
    assert f"this program reads {' '.join(map(str, range(1, SCHEMA_VERSION + 1)))}" in result.output
