"""Inputs at random, some hundreds of each kind; any number by `python -m tests.fuzz`. Failures of the past stay."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fuzz.run import KINDS, case_of, faults, kept_case, kept_cases, tried
from places import ROOT
from thorough import cases

SEED = 20261126
BLOCKS = 4  # a kind in parts, so that one that fails is found sooner
SAMPLE, FULL = 200, 2_000
LONG = {"set": 4, "map": 4, "plate": 5, "songfile": 5}  # kinds whose cases take longer: as many times fewer


@pytest.mark.slow
@pytest.mark.parametrize("block", range(BLOCKS))
@pytest.mark.parametrize("kind", KINDS)
def test_no_input_breaks_a_command(kind: str, block: int) -> None:
    for number in range(block, cases(SAMPLE, FULL) // LONG.get(kind, 1), BLOCKS):
        data, arguments = case_of(kind, number, SEED)
        assert faults(tried(data, arguments, kind), arguments) == [], (kind, number, arguments)


def test_the_tests_that_the_page_names_are_there() -> None:
    text = (ROOT / "docs" / "testing.md").read_text(encoding="utf-8")
    named = [each.partition("::") for each in re.findall(r"`(tests/[^`*]+)`", text)]
    assert len(named) > 20
    assert [path for path, _, _ in named if not (ROOT / path).exists()] == []
    single = [(path, test) for path, _, test in named if test]
    assert len(single) > 60
    missing = [each for each in single if f"def {each[1]}(" not in (ROOT / each[0]).read_text(encoding="utf-8")]
    assert missing == []


@pytest.mark.parametrize(("kind", "folder"), [pytest.param(*case, id=case[1].name) for case in kept_cases()])
def test_what_once_failed_does_not_fail_again(kind: str, folder: Path) -> None:
    data, arguments = kept_case(kind, folder)
    assert faults(tried(data, arguments, kind), arguments) == []
