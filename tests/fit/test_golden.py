"""Every golden case: the notes, the wheel, and each line that the fit writes of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from golden_cases import described, described_pins, load, paths
from pegwright.check.held import verify_held
from pegwright.check.verify import verify
from pegwright.fit.pins import pins_of
from pegwright.tell.findings import fit_with_findings


@pytest.mark.parametrize("path", paths(), ids=lambda path: path.stem)
def test_golden_case(path: Path) -> None:
    case = load(path)
    assert len(case.story) > 20
    placement, findings = fit_with_findings(case.score, case.wheel, case.options)
    assert verify(case.score, case.wheel, placement) == ()
    assert described(case.score, case.wheel, placement, findings) == (case.outcome, case.findings)
    pins = pins_of(case.score, case.wheel, placement)
    assert verify_held(case.wheel, placement, pins) == ()
    if case.pins is not None:
        assert described_pins(case.wheel, pins) == case.pins


def test_what_a_wheel_can_have_is_in_some_case() -> None:
    wheels = [load(path).wheel for path in paths()]
    assert any(wheel.strike_limits for wheel in wheels)
    assert any(wheel.lost for wheel in wheels)
    assert any(pin_type.offset_mm for wheel in wheels for pin_type in wheel.pin_types)
    assert any(pin_type.bridge_mm for wheel in wheels for pin_type in wheel.pin_types)
    assert any(channel.hold_mm for wheel in wheels for channel in wheel.channels)
    pitches = [[pitch for channel in wheel.channels for pitch in channel.pitches] for wheel in wheels]
    assert any(len(sounded) > len(set(sounded)) for sounded in pitches)
