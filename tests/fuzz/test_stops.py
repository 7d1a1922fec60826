"""Commands stopped at system calls: a few here, any number by `python -m tests.fuzz.stops`."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from fuzz.stops import CALLS, SCENARIOS, Stop, stop_of
from places import ROOT


def stopped(*arguments: str) -> subprocess.CompletedProcess[str]:
    """In a process of its own, since it forks."""
    environment = os.environ | {"PYTHONPATH": str(ROOT / "src")}
    return subprocess.run(
        [sys.executable, "-m", "tests.fuzz.stops", *arguments],
        cwd=ROOT, env=environment, capture_output=True, encoding="utf-8", check=False, timeout=540,
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can copy a process")
def test_every_command_stopped_by_either_signal_is_whole_or_absent_and_ends_the_same() -> None:
    ran = stopped("--kills", str(len(SCENARIOS)), "--interrupts", str(len(SCENARIOS)))
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert f"{2 * len(SCENARIOS)} stops, 0 not as they should be" in ran.stdout


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can copy a process")
def test_a_single_stop_can_be_tried_again() -> None:
    ran = stopped("--only", "wheel:2:after:SIGKILL")
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "1 wheel of" in ran.stdout


def test_a_stop_is_named_so_that_it_can_be_tried_again() -> None:
    for scenario in SCENARIOS:
        for text in (f"{scenario.name}:3:after:SIGKILL", f"{scenario.name}:0:before:SIGINT"):
            assert isinstance(stop_of(text), Stop)
            assert str(stop_of(text)) == text
    assert {"rename", "replace", "fsync"} <= set(CALLS)
