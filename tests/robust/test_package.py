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


def pip(python: Path | str, *words: Path | str) -> None:
    """Runs pip; skips without a network for what it fetches, but not in CI."""
    call = [python, "-m", "pip", *words]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    if done.returncode and os.environ.get("CI") != "true":
        pytest.skip(f"pip {words[0]} does not work here: {done.stderr[-300:]}")
    assert done.returncode == 0, done.stderr


def built(source: Path, into: Path) -> Path:
    """The wheel of a source tree or archive."""
    pip(sys.executable, "wheel", "--quiet", "--no-deps", "--wheel-dir", into, source)
    (wheel,) = into.glob("*.whl")
    return wheel


def contents(wheel: Path) -> dict[str, bytes]:
    """The files of a wheel."""
    with zipfile.ZipFile(wheel) as file:
        return {name: file.read(name) for name in file.namelist() if not name.endswith("/")}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return built(ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def wheel_of_sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel that the source archive gives."""
    pytest.importorskip("hatchling")
    folder = tmp_path_factory.mktemp("sdist")
    script = "from hatchling.build import build_sdist; import sys; print(build_sdist(sys.argv[1]))"
    subprocess.run([sys.executable, "-c", script, folder], cwd=ROOT, check=True, capture_output=True)
    (archive,) = folder.glob("*.tar.gz")
    return built(archive, folder / "wheel")


@pytest.mark.long
def test_a_wheel_holds_what_it_may_and_all_it_must(wheel: Path) -> None:
    names = set(contents(wheel))
    assert [n for n in sorted(names) if not any(re.fullmatch(p, n) for p in ALLOWED)] == []
    rules = {
        PurePosixPath("lickwright/shipped_rules") / p.relative_to(ROOT / "rules")
        for p in (ROOT / "rules").rglob("*.toml")
    }
    package = {
        PurePosixPath(p.relative_to(ROOT / "generator"))
        for p in (ROOT / "generator" / "lickwright").rglob("*")
        if p.is_file() and p.suffix != ".pyc"
    }
    assert {"lickwright/py.typed", *(str(p) for p in rules | package)} <= names
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"lickwright"}


@pytest.mark.long
def test_the_source_archive_gives_the_same_wheel(wheel: Path, wheel_of_sdist: Path) -> None:
    assert contents(wheel_of_sdist) == contents(wheel)


#: What an installation must be able to do: be imported from where it was put, with its types, and by no other name.
IMPORTED = """
import importlib.util, lickwright, lickwright.cli
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
assert lickwright.__version__ == version("lickwright")
assert (files("lickwright") / "py.typed").is_file()
assert importlib.util.find_spec("generator") is None
print(Path(lickwright.__file__).resolve().parent)
"""


@pytest.mark.long
def test_wheel_and_checkout_install_in_an_empty_environment_and_write_a_study(
    wheel: Path, tmp_path: Path
) -> None:
    """The wheel with all that it depends on; then the checkout itself in its place, editable."""
    venv.create(tmp_path / "env", with_pip=True)
    program = tmp_path / "env" / ("Scripts" if os.name == "nt" else "bin")
    python = program / "python"
    alone = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    for form, words in (
        ("wheel", (wheel,)),
        ("editable", ("--no-deps", "--force-reinstall", "--editable", ROOT)),
    ):
        pip(python, "install", "--quiet", *words)
        call = [python, "-c", IMPORTED]
        done = subprocess.run(call, cwd=tmp_path, env=alone, check=True, capture_output=True, text=True)
        inside = ROOT / "generator" if form == "editable" else tmp_path / "env"
        assert Path(done.stdout.strip()).is_relative_to(inside.resolve()), form
        write = ["write", "slow-shuffle", "--format", "musicxml,midi,tab", "--out", form]
        subprocess.run(
            [program / "lickwright", *write], cwd=tmp_path, env=alone, check=True, capture_output=True
        )
        assert json.loads((tmp_path / form / "study.json").read_bytes())["key"] == "A"


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
