"""Motion times against a worked example of the standard."""

from __future__ import annotations

import pytest

from pegwright.show.motion import TMU_S, PinFit, pull_tmu, set_tmu


@pytest.mark.parametrize(
    ("fit", "tmu", "seconds"),
    [(PinFit.LOOSE, 43.1, 1.552), (PinFit.CLOSE, 53.7, 1.933), (PinFit.PRESSED, 71.6, 2.578)],
)
def test_setting_a_pin(fit: PinFit, tmu: float, seconds: float) -> None:
    """MTM-1: R10C 12.9 + G4B 9.1 + M10C 13.5 + P1SE 5.6 or P2SE 16.2 + RL1 2.0, then APA 10.6 + eye focus 7.3.

    The sums are arithmetic; reach, grasp and move as in copies of the data card, the rest from memory.
    """
    assert set_tmu(fit) == pytest.approx(tmu, abs=1e-9)
    assert set_tmu(fit) * TMU_S == pytest.approx(seconds, abs=5e-4)


def test_pulling_a_pin() -> None:
    """MTM-1: R10B 11.5 + G1A 2.0 + D2E 7.5 + M10B 12.2 + RL1 2.0."""
    assert pull_tmu() == pytest.approx(35.2, abs=1e-9)
    assert pull_tmu() * TMU_S == pytest.approx(1.267, abs=5e-4)


def test_a_wheel_of_1500_pins_pressed_home_takes_more_than_an_hour() -> None:
    """1500 pins at 71.6 TMU are 64.4 minutes, without finding time or rest."""
    assert 1500 * set_tmu(PinFit.PRESSED) * TMU_S / 60 == pytest.approx(64.4, abs=0.05)


def test_a_unit_is_a_hundred_thousandth_of_an_hour() -> None:
    assert pytest.approx(3600) == 100_000 * TMU_S
