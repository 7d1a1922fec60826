"""What `pegwright --help` may load: click and a handful of small modules of ours."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from pegwright.cli.main import COMMANDS
from places import ROOT

DEMO = ROOT / "songs" / "merrow-sands.toml"
ALLOWED = {"click", "pegwright"}
HELP = """
import sys
before = set(sys.modules)
from pegwright.cli.main import main
try:
    main(sys.argv[1:])
except SystemExit as leaving:
    assert not leaving.code, leaving.code
loaded = {name.partition(".")[0] for name in set(sys.modules) - before}
print("loaded:", *sorted(loaded - set(sys.stdlib_module_names)))
"""


def loaded_by(*arguments: str) -> tuple[str, set[str]]:
    """What the command line prints, and the packages outside the standard library that it loads."""
    done = subprocess.run(
        [sys.executable, "-c", HELP, *arguments], capture_output=True, encoding="utf-8", check=True, timeout=60
    )
    text, _, names = done.stdout.rpartition("loaded:")
    return text, set(names.split())


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["--version"], *([name, "--help"] for name in COMMANDS)])
def test_help_loads_click_alone(arguments: list[str]) -> None:
    text, names = loaded_by(*arguments)
    assert text.strip()
    assert names <= ALLOWED


def test_the_guard_sees_what_is_loaded() -> None:
    _, names = loaded_by("wheel", str(DEMO))
    assert "numpy" in names


def test_a_starter_is_written_without_numpy(tmp_path: Path) -> None:
    _, names = loaded_by("wheel", "--new", str(tmp_path / "wheel.toml"))
    assert "numpy" not in names
