"""What is handed out: the built package, the locked versions, the bundled scores, and the log of commits."""

from __future__ import annotations

import csv
import email
import json
import os
import re
import subprocess
import sys
import tarfile
import tomllib
from email.message import Message
from hashlib import sha256
from pathlib import Path
from zipfile import ZipFile

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.utils import canonicalize_name

from pegwright import __version__
from places import BUNDLED_SCORES, ROOT
from thorough import cases

INFO = f"pegwright-{__version__}.dist-info"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LICENCES = ("docs/licence.md", "src/pegwright/fonts/LICENSE.txt")
LOCK = ROOT / "tests" / "lock" / "requirements-dev.txt"
LAST_UNCHECKED = "ec16fd52fa76bf71e5c8ddeb6e3e887f1576b295"  # commits up to this one were written before the rule


def build(target: str, checkout: Path, into: Path) -> Path:
    """The built archive, made by the installed builder, which needs no network."""
    command = [sys.executable, "-m", "hatchling", "build", "--target", target, "--directory", str(into)]
    done = subprocess.run(command, cwd=checkout, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (archive,) = into.glob("*.whl" if target == "wheel" else "*.tar.gz")
    return archive


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build("wheel", ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build("sdist", ROOT, tmp_path_factory.mktemp("sdist"))


def contents(wheel: Path) -> dict[str, bytes]:
    with ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def package_files() -> dict[str, bytes]:
    """What belongs in the package: all of src/pegwright, and the songs without the programs that make them."""
    code = [
        path for path in (ROOT / "src" / "pegwright").rglob("*") if path.is_file() and "__pycache__" not in path.parts
    ]
    songs = [path for path in (ROOT / "songs").iterdir() if path.is_file()]
    named = {str(path.relative_to(ROOT / "src")): path for path in code}
    named |= {f"pegwright/songs/{path.name}": path for path in songs}
    return {name: path.read_bytes() for name, path in named.items()}


def test_the_wheel_holds_the_package_and_nothing_else(wheel: Path) -> None:
    held = {name: data for name, data in contents(wheel).items() if not name.startswith(f"{INFO}/")}
    assert held.keys() == package_files().keys()
    assert held == package_files()
    kinds = ("schema/pin-map-1.json", "page/page.html", "starter/wheel.toml", "played/prior.json", "py.typed")
    assert {f"pegwright/{kind}" for kind in kinds} <= held.keys()
    assert not [name for name in held if name.startswith("pegwright/songs/") and name.endswith(".py")]


def test_the_wheel_holds_the_licences(wheel: Path) -> None:
    # The MIT licence: "this permission notice shall be included in all copies"; their place: PEP 639.
    held = contents(wheel)
    for licence in LICENCES:
        assert held[f"{INFO}/licenses/{licence}"] == (ROOT / licence).read_bytes()
    assert b"Permission is hereby granted, free of charge" in held[f"{INFO}/licenses/{LICENCES[0]}"]


def metadata(wheel: Path) -> Message:
    return email.message_from_bytes(contents(wheel)[f"{INFO}/METADATA"])


def test_the_wheel_says_what_it_is(wheel: Path) -> None:
    said = metadata(wheel)
    assert (said["Name"], said["Version"], said["License-Expression"]) == ("pegwright", __version__, "MIT")
    assert said.get_all("License-File") == list(LICENCES)
    assert said["Author"] == "The pegwright developers"
    assert "@" not in said["Author"]
    assert f">={tried_pythons()[0]}" == said["Requires-Python"]
    assert said["Summary"]
    assert said["Keywords"]


def test_an_unpacked_wheel_fits_its_songs(wheel: Path, tmp_path: Path) -> None:
    with ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "installed")  # noqa: S202  # built by the fixture
    songs = tmp_path / "installed" / "pegwright" / "songs"
    command = [sys.executable, "-m", "pegwright", "fit", str(songs / "shrimpers-jig.mid"), "--json"]
    done = subprocess.run(
        [*command, "--wheel", str(songs / "merrow-sands.toml")],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(tmp_path / "installed")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["count"]["read"] == report["count"]["sounding"] + len(report["left_out"]) > 0


def test_the_source_archive_holds_what_it_takes_to_build_the_same_wheel(
    sdist: Path, wheel: Path, tmp_path: Path
) -> None:
    with tarfile.open(sdist) as archive:
        archive.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.iterdir()
    held = {str(path.relative_to(unpacked)) for path in unpacked.rglob("*") if path.is_file()}
    assert {*LICENCES, "README.md", "pyproject.toml", "docs/changes.md"} <= held
    assert not [name for name in held if name.startswith(("tests/", "songs/source"))]
    assert contents(build("wheel", unpacked, tmp_path / "again")) == contents(wheel)


def tried_pythons() -> list[str]:
    """The Python versions that the package is said to run on, oldest first."""
    trove = "Programming Language :: Python :: "
    named = [line.removeprefix(trove) for line in PROJECT["classifiers"] if line.startswith(trove)]
    return [version for version in named if re.fullmatch(r"3\.\d+", version)]


def locked(python: str) -> dict[str, str]:
    """Package to version, as the lock has them for a Python version on this platform."""
    environment = {**default_environment(), "python_version": python, "python_full_version": f"{python}.0"}
    lines = LOCK.read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    versions: dict[str, str] = {}
    for line in lines:
        requirement = Requirement(line.split("--hash")[0])
        assert re.search(r"(--hash=sha256:[0-9a-f]{64}\s*)+$", line), f"{requirement.name} has no hash"
        if requirement.marker is None or requirement.marker.evaluate(
            {key: str(environment[key]) for key in environment}
        ):
            (pin,) = requirement.specifier
            assert pin.operator == "=="
            assert versions.setdefault(canonicalize_name(requirement.name), pin.version) == pin.version
    return versions


@pytest.mark.parametrize("python", tried_pythons())
def test_locked_versions_are_within_the_ranges(python: str) -> None:
    versions = locked(python)
    extras = PROJECT["optional-dependencies"]
    for line in [*PROJECT["dependencies"], *extras["dev"], *extras["notation"]]:
        requirement = Requirement(line)
        version = versions[canonicalize_name(requirement.name)]
        assert version in requirement.specifier, f"{line} is locked at {version}: lock anew, see DEVELOPERS.md"


def test_the_lock_names_no_place() -> None:
    assert not re.search(r"/|\\[A-Za-z]|index-url|find-links", LOCK.read_text(encoding="utf-8"))


def test_every_python_tried_is_one_that_the_package_allows() -> None:
    allowed = SpecifierSet(PROJECT["requires-python"])
    assert len(tried_pythons()) >= 3
    assert all(f"{version}.0" in allowed for version in tried_pythons())


def test_bundled_scores_are_the_listed_ones_unchanged() -> None:
    with (BUNDLED_SCORES / "MANIFEST.tsv").open(encoding="utf-8") as manifest:
        rows = {row["file"]: row for row in csv.DictReader(manifest, delimiter="\t")}
    there = {path.name for path in BUNDLED_SCORES.iterdir() if path.suffix in {".mid", ".xml", ".mxl"}}
    assert there == rows.keys()
    assert {name: sha256((BUNDLED_SCORES / name).read_bytes()).hexdigest() for name in rows} == {
        name: row["sha256"] for name, row in rows.items()
    }
    assert {row["licence"] for row in rows.values()} == {"MIT", "BSD-3-Clause", "CC-BY", "CC0-1.0", "public domain"}
    assert sum(path.stat().st_size for path in BUNDLED_SCORES.rglob("*") if path.is_file()) < 1_000_000


def git(*arguments: str) -> str:
    """What git prints; empty where this is no checkout, or what was asked for is not in it."""
    done = subprocess.run(["git", *arguments], cwd=ROOT, capture_output=True, text=True, check=False)
    return done.stdout if done.returncode == 0 else ""


def test_commits_say_in_a_line_what_and_in_a_body_why() -> None:
    if git("merge-base", LAST_UNCHECKED, "HEAD").strip() != LAST_UNCHECKED:
        pytest.skip(f"the history since commit {LAST_UNCHECKED} is not here")
    faults = []
    for commit in git("log", "--no-merges", "--format=%h%n%B%x00", f"{LAST_UNCHECKED}..HEAD").split("\0"):
        short, _, message = commit.strip().partition("\n")
        subject, _, body = message.partition("\n")
        if len(subject) > 72:
            faults.append(f"{short} has a subject of {len(subject)} characters, at most 72: {subject}")
        if short and not body.strip():
            faults.append(f"{short} has no body that says why: {subject}")
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(("value", "expected"), [(None, 20), ("0", 20), ("1", 500)])
def test_a_thorough_run_has_the_full_number_of_cases(
    value: str | None, expected: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PEGWRIGHT_THOROUGH", raising=False)
    if value is not None:
        monkeypatch.setenv("PEGWRIGHT_THOROUGH", value)
    assert cases(sample=20, full=500) == expected
