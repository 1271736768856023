"""What is in the wheel, and that it and the source archive install and write a study with nothing else at hand."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
import venv
import zipfile
from pathlib import Path, PurePosixPath

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: Everything a wheel may hold; a name that none of these knows is a file that has slipped in.
ALLOWED = (
    r"lickwright/(?!shipped_rules/)(\w+/)*\w+\.py",
    r"lickwright/study/study\.schema\.json",
    r"lickwright/render/(\w+/)*[\w-]+\.(html\.j2|css)",
    r"lickwright/render/handout/js/\w+\.js",
    r"lickwright/render/handout/vendor/[\w-]+(\.js|-LICENSE\.txt|-AUTHORS\.md)",
    r"lickwright/shipped_rules/([\w-]+/)?[\w-]+\.toml",
    r"lickwright/py\.typed",
    r"lickwright-[\w.]+\.dist-info/(METADATA|WHEEL|RECORD|entry_points\.txt|licenses/LICENSE)",
)


def built(source: Path, into: Path) -> Path:
    """The wheel of a source tree or archive; skips without a network for the build's own tools, but not in CI."""
    words = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--wheel-dir",
        str(into),
        str(source),
    ]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode and os.environ.get("CI") != "true":
        pytest.skip(f"pip cannot build here: {done.stderr[-300:]}")
    assert done.returncode == 0, done.stderr
    (wheel,) = into.glob("*.whl")
    return wheel


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return built(ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.mark.long
def test_a_wheel_holds_what_it_may_and_all_it_must(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as file:
        names = {name for name in file.namelist() if not name.endswith("/")}
    assert [n for n in sorted(names) if not any(re.fullmatch(p, n) for p in ALLOWED)] == []
    rules = {
        PurePosixPath("lickwright/shipped_rules") / p.relative_to(ROOT / "rules")
        for p in (ROOT / "rules").rglob("*.toml")
    }
    code = {PurePosixPath(p.relative_to(ROOT / "generator")) for p in (ROOT / "generator").rglob("*.py")}
    vendored = {
        PurePosixPath(p.relative_to(ROOT / "generator"))
        for p in (ROOT / "generator/lickwright/render/handout/vendor").iterdir()
    }
    assert {str(p) for p in rules | code | vendored} <= names


@pytest.mark.long
@pytest.mark.parametrize("form", ["wheel", "sdist"])
def test_it_installs_and_writes_a_study_in_an_empty_environment(
    form: str, wheel: Path, tmp_path: Path
) -> None:
    if form == "sdist":
        script = "from hatchling.build import build_sdist; import sys; print(build_sdist(sys.argv[1]))"
        pytest.importorskip("hatchling")
        subprocess.run(
            [sys.executable, "-c", script, str(tmp_path)], cwd=ROOT, check=True, capture_output=True
        )
        (archive,) = tmp_path.glob("*.tar.gz")
        wheel = built(archive, tmp_path / "again")
    venv.create(tmp_path / "env", with_pip=True)
    program = tmp_path / "env" / ("Scripts" if os.name == "nt" else "bin")
    done = subprocess.run(
        [program / "python", "-m", "pip", "install", "--quiet", wheel],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode and os.environ.get("CI") != "true":
        pytest.skip(f"pip cannot install here: {done.stderr[-300:]}")
    assert done.returncode == 0, done.stderr
    alone = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    words = ["write", "slow-shuffle", "--format", "musicxml,midi,tab", "--out", "first"]
    subprocess.run([program / "lickwright", *words], cwd=tmp_path, env=alone, check=True, capture_output=True)
    assert json.loads((tmp_path / "first" / "study.json").read_bytes())["key"] == "A"


def test_every_dependency_has_a_lower_and_an_upper_bound() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for wanted in project["dependencies"]:
        assert re.fullmatch(r"[\w-]+>=[\d.]+,<\d+", wanted), wanted


def test_what_ci_installs_lies_within_the_bounds() -> None:
    lines = (ROOT / ".ci" / "requirements.lock").read_text(encoding="utf-8").splitlines()
    locked = dict(line.lower().split("==") for line in lines if "==" in line)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for wanted in project["dependencies"]:
        name, least, most = re.fullmatch(r"([\w-]+)>=([\d.]+),<(\d+)", wanted).groups()  # type: ignore[union-attr]
        there = [int(n) for n in re.findall(r"\d+", locked[name])]
        assert [int(n) for n in least.split(".")] <= there
        assert there[0] < int(most)


def test_every_vendored_file_has_its_licence_beside_it() -> None:
    vendor = ROOT / "generator/lickwright/render/handout/vendor"
    licences = {p.name.removesuffix("-LICENSE.txt") for p in vendor.glob("*-LICENSE.txt")}
    for path in vendor.iterdir():
        assert path.name.split("-")[0].split(".")[0] in licences, path.name
    assert licences >= {"vexflow", "bravura", "academico"}
