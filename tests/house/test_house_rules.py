"""The rules of the house, run by the tools that hold them."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "src").rglob("*.py"))
ROOMS_WITHOUT_CLOCK_OR_CHANCE = ("verdict", "fit", "show", "draw")


def run(*command: str) -> str:
    """Output of a tool installed beside this Python; empty when it is content."""
    program = shutil.which(command[0], path=str(Path(sys.executable).parent))
    assert program, f"{command[0]} is not installed: pip install -e '.[dev]'"
    done = subprocess.run([program, *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False)
    return "" if done.returncode == 0 else done.stdout + done.stderr


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=["lint", "format", "types", "imports-run-one-way"],
)
def test_tool_is_content(command: tuple[str, ...]) -> None:
    assert run(*command) == ""


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT / "src")))
def test_modules_and_functions_stay_small(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 420, "a module over about 400 lines has more than one reason to change"
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            body_lines = (node.end_lineno or 0) - node.body[0].lineno + 1
            assert body_lines <= 60, f"{node.name} is {body_lines} lines long"


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT / "src")))
def test_inner_rooms_have_no_clock_chance_or_files(path: Path) -> None:
    if path.parent.name not in ROOMS_WITHOUT_CLOCK_OR_CHANCE:
        pytest.skip("an outer room")
    modules = {
        alias.name.split(".")[0]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import)
        for alias in node.names
    }
    assert not modules & {"time", "datetime", "random", "os", "sqlite3", "pathlib"}


def test_top_level_holds_what_it_should() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    visible = {name for name in top if not name.startswith(".")}
    assert visible <= {"README.md", "DEVELOPERS.md", "pyproject.toml", "src", "tests", "songs", "docs"}


def test_readme_and_ci_run_the_same_test_command() -> None:
    command = "bash tests/run"
    assert command in (ROOT / "README.md").read_text(encoding="utf-8")
    assert command in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_links_in_the_docs_lead_somewhere() -> None:
    broken = []
    for page in [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md"), ROOT / "songs/README.md"]:
        targets = re.findall(r"\]\(([^)#\s]+)", page.read_text(encoding="utf-8"))
        local = [target for target in targets if "://" not in target]
        broken += [f"{page.relative_to(ROOT)} -> {to}" for to in local if not (page.parent / to).exists()]
    assert not broken
