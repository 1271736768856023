"""Other Pythons and the lowest versions of all dependencies: the same studies, and every output."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.robust.golden import GOLDEN

ROOT = Path(__file__).resolve().parents[2]
LOCK = ROOT / ".ci" / "requirements.lock"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def lowest() -> list[str]:
    """Every dependency at its lower bound."""
    return [re.sub(r">=([\d.]+),.*", r"==\1", wanted) for wanted in PROJECT["dependencies"]]


def starts(python: str) -> bool:
    """True for an interpreter that is here and runs: a name on the path may be no more than a signpost."""
    if shutil.which(python) is None:
        return False
    return subprocess.run([python, "--version"], capture_output=True, check=False).returncode == 0


@pytest.mark.long
@pytest.mark.parametrize(
    ("python", "wanted"),
    [
        pytest.param("python3.12", ["-c", str(LOCK), *PROJECT["dependencies"]], id="3.12"),
        pytest.param("python3.13", ["-c", str(LOCK), *PROJECT["dependencies"]], id="3.13"),
        pytest.param(sys.executable, lowest(), id="lowest versions"),
    ],
)
def test_the_same_studies_and_every_output(python: str, wanted: list[str], tmp_path: Path) -> None:
    if not starts(python):
        pytest.skip(f"no {python} on the path")
    subprocess.run([python, "-m", "venv", tmp_path / "env"], check=True, capture_output=True)
    inside = str(tmp_path / "env" / "bin" / "python")
    pip = [inside, "-m", "pip", "install", "--quiet", *wanted]
    done = subprocess.run(pip, capture_output=True, text=True, check=False)
    if done.returncode and os.environ.get("CI") != "true":
        pytest.skip(f"pip cannot install here: {done.stderr[-300:]}")
    assert done.returncode == 0, done.stderr
    here = {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT / "generator"), str(ROOT)))}
    code = "import json; from tests.robust.golden import digests; print(json.dumps(digests()))"
    said = subprocess.run([inside, "-c", code], env=here, check=True, capture_output=True, text=True).stdout
    assert json.loads(said) == json.loads(GOLDEN.read_text(encoding="utf-8"))
    words = ["write", "slow-shuffle", "--format", "musicxml,midi,tab,html,wav,mp3", "--out", "all"]
    whole = [inside, "-m", "lickwright.cli", *words]
    done = subprocess.run(whole, cwd=tmp_path, env=here, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    kinds = {path.suffix for path in (tmp_path / "all").rglob("*")}
    assert {".json", ".musicxml", ".mid", ".txt", ".html", ".wav", ".mp3"} <= kinds
