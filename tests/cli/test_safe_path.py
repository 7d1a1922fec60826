"""Python files among the scores are never run, whatever they are named."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from commands import SONGS, WHEEL
from places import ROOT

NAMES = ("multiprocessing", "numpy", "click", "json", "pegwright", "wave", "music21", "scipy", "subprocess", "csv")
SCRIPT = "from pegwright.__main__ import start\nif __name__ == '__main__':\n    start()\n"  # as pip writes it
TRACE = "ran.txt"
SPY = f"import sys\nopen({TRACE!r}, 'a').write(__name__ + '\\n')\nsys.exit(77)\n"


@pytest.fixture
def scores(tmp_path: Path) -> Path:
    """A folder with two songs, and with Python files of the names of modules that are imported."""
    folder = tmp_path / "scores"
    folder.mkdir()
    for name in ("lamplighters-march.mid", "shrimpers-jig.mid"):
        (folder / name).write_bytes((SONGS / name).read_bytes())
    for name in NAMES:
        (folder / f"{name}.py").write_text(SPY, encoding="utf-8")
    return folder


def run(command: list[str], folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"}
    environment["PYTHONPATH"] = str(ROOT / "src")
    return subprocess.run(
        [sys.executable, *command, *arguments, "--wheel", str(WHEEL)],
        cwd=folder, env=environment, capture_output=True, encoding="utf-8", check=False, timeout=300,
    )  # fmt: skip


@pytest.mark.parametrize("how", ["command", "module"])
def test_a_survey_runs_nothing_of_the_folder_it_is_started_in(scores: Path, tmp_path: Path, how: str) -> None:
    script = tmp_path / "bin" / "pegwright"
    script.parent.mkdir()
    script.write_text(SCRIPT, encoding="utf-8")
    command = [str(script)] if how == "command" else ["-m", "pegwright"]
    if how == "module":
        (scores / "pegwright.py").unlink()  # `python -m` finds this one before anything of ours is run
    ran = run(command, scores, "survey", ".", "--workers", "2", "--semitones", "0", "-o", "out")
    assert not (scores / TRACE).exists(), (scores / TRACE).read_text(encoding="utf-8")
    assert ran.returncode == 0, ran
    assert "2 score files" in ran.stdout


def test_the_spies_would_be_seen(scores: Path) -> None:
    """Where a Python looks in the current folder first, they are run."""
    subprocess.run([sys.executable, "-c", "import multiprocessing"], cwd=scores, check=False, capture_output=True)
    assert (scores / TRACE).read_text(encoding="utf-8") == "multiprocessing\n"
