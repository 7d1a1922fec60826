"""The script that samples mutants makes the faults it is there to make, each of them a module that can be run."""

from __future__ import annotations

import importlib.util
import sys

import pytest

from places import ROOT

SOURCE = '''"""A module."""

from __future__ import annotations

LIMIT: int = 3


def within(at: list[int], end: int) -> int | None:
    """The first place below an end."""
    low = min(at)
    if low < end and not at[1:] == []:
        return low + LIMIT
    return None
'''
PATH = ROOT / "tests" / "benchmarks" / "mutation.py"
SPEC = importlib.util.spec_from_file_location("mutation", PATH)
assert SPEC
assert SPEC.loader
mutation = importlib.util.module_from_spec(SPEC)
sys.modules["mutation"] = mutation  # dataclasses look for their module there
SPEC.loader.exec_module(mutation)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("LIMIT: int = 3", "LIMIT: int = 4"),
        ("low = min(at)", "low = max(at)"),
        ("low = min(at)", "low = at"),
        ("if low < end and (not at[1:] == []):", "if low <= end and (not at[1:] == []):"),
        ("if low < end and (not at[1:] == []):", "if low < end or not at[1:] == []:"),
        ("if low < end and (not at[1:] == []):", "if low < end:"),
        ("if low < end and (not at[1:] == []):", "if low < end and (not not at[1:] == []):"),
        ("if low < end and (not at[1:] == []):", "if low < end and (not at[:] == []):"),
        ("return low + LIMIT", "return low - LIMIT"),
        ("return low + LIMIT", "return low"),
    ],
)
def test_a_fault_is_among_the_mutants(before: str, after: str) -> None:
    mutants = [mutant for mutant in mutation.mutants_of("module.py", SOURCE) if mutant.before == before]
    assert after in {mutant.after for mutant in mutants}


def test_every_mutant_is_another_module_that_compiles() -> None:
    mutants = mutation.mutants_of("module.py", SOURCE)
    texts = {mutant.text for mutant in mutants}
    assert len(texts) == len(mutants) > 15
    for text in texts:
        compile(text, "module.py", "exec")
        assert "def within(at: list[int], end: int) -> int | None:" in text  # types are left as they are


def test_the_same_source_gives_the_same_mutants() -> None:
    assert mutation.mutants_of("module.py", SOURCE) == mutation.mutants_of("module.py", SOURCE)


def test_every_module_and_test_that_it_names_is_there() -> None:
    for module, tests in mutation.OWN_TESTS.items():
        assert (ROOT / mutation.PACKAGE / module).exists()
        assert all((ROOT / path).exists() for path in tests)


def test_every_reason_is_of_a_mutant_that_there_is() -> None:
    """A reason whose line has changed explains nothing any more."""
    reasons = mutation.reasons()
    made = set()
    for module in {module for module, _, _ in reasons}:
        source = (ROOT / mutation.PACKAGE / module).read_text(encoding="utf-8")
        lines = {line for of, line, _ in reasons if of == module}
        made |= {mutant.key for mutant in mutation.mutants_of(module, source, lines)}
    assert reasons <= made
