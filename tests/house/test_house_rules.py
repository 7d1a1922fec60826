"""The rules of the house, run by the tools and functions that hold them; `test_guards.py` sees each of them fail."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

import guards
from places import ROOT

SOURCES = sorted((ROOT / "src").rglob("*.py"))
INNER = [path for path in SOURCES if guards.is_inner(path.relative_to(guards.PACKAGE))]


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT / "src"))


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports", "--no-cache"),
    ],
    ids=["lint", "format", "types", "imports-run-one-way"],
)
def test_tool_is_content(command: tuple[str, ...]) -> None:
    assert guards.complaint(*command) == ""


@pytest.mark.parametrize("path", SOURCES, ids=name_of)
def test_modules_and_functions_stay_small(path: Path) -> None:
    assert guards.oversized(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", SOURCES, ids=name_of)
def test_per_cent_is_printed_in_one_form(path: Path) -> None:
    assert guards.unspaced_percents(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", INNER, ids=name_of)
def test_inner_rooms_have_no_clock_chance_or_files(path: Path) -> None:
    excepted, _ = guards.EXCEPTIONS.get(str(path.relative_to(guards.PACKAGE)), ((), ""))
    assert guards.worldly(path.read_text(encoding="utf-8"), excepted) == []


def test_every_exception_is_needed() -> None:
    for name, (excepted, reason) in guards.EXCEPTIONS.items():
        assert reason
        assert guards.is_inner(Path(name))
        faults = guards.worldly((guards.PACKAGE / name).read_text(encoding="utf-8"))
        assert all(any(module in fault for fault in faults) for module in excepted), name


def test_outer_rooms_exist() -> None:
    assert guards.rooms() >= guards.OUTER


def test_the_verifier_may_import_four_rooms_alone() -> None:
    """The contract forbids what it lists, so it must list every other room there is."""
    listed = guards.contract(guards.project(), "The verifier")["forbidden_modules"]
    allowed = {"check", "score", "wheel", "placement", "units"}
    assert guards.unlisted(listed, guards.rooms() - allowed) == set()
    assert not {f"pegwright.{room}" for room in allowed} & set(listed)


def test_the_check_of_drilling_programs_may_import_their_values_alone() -> None:
    """The same for it, whose neighbours in its own room are others' work to it too."""
    listed = guards.contract(guards.project(), "The check of drilling programs")["forbidden_modules"]
    allowed = {"plate", "making", "frozen"}
    neighbours = {f"plate.{name}" for name in guards.rooms(guards.PACKAGE / "plate") - {"verify"}}
    assert guards.unlisted(listed, (guards.rooms() - allowed) | neighbours) == set()
    assert not {f"pegwright.{room}" for room in allowed} & set(listed)


def test_no_inner_room_may_know_a_file_format() -> None:
    listed = guards.contract(guards.project(), "Values, fitting and drawing")["source_modules"]
    assert guards.unlisted(listed, guards.rooms() - guards.OUTER) == set()


def test_top_level_holds_what_it_should() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    assert guards.strangers(listed.stdout) == set()


def test_readme_and_ci_run_the_same_test_command() -> None:
    assert guards.without_test_command() == []


def test_links_in_the_docs_lead_somewhere() -> None:
    assert guards.broken_links() == []


def test_no_merge_has_left_its_marks_in_the_docs() -> None:
    assert guards.unmerged() == []
