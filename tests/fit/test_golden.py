"""Every golden case: the notes, the wheel, and each line that the fit tells of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from golden_cases import load, paths, told
from pegwright.fit.fit_song import fit_song
from pegwright.fit.verify import verify


@pytest.mark.parametrize("path", paths(), ids=lambda path: path.stem)
def test_golden_case(path: Path) -> None:
    case = load(path)
    assert len(case.story) > 20
    placement, findings = fit_song(case.score, case.wheel, case.options)
    assert verify(case.score, case.wheel, placement) == ()
    assert told(case.score, case.wheel, placement, findings) == (case.outcome, case.findings)


def test_the_story_is_told_in_a_dozen_cases() -> None:
    assert len(paths()) >= 12
