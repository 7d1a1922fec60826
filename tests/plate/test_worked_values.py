"""Lengths that become times on a wheel of 1 m that turns in a minute: worked by hand, 19.0986 ms a mm."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from pegwright.facts import speed_at
from pegwright.tell.audible import Audibility, move_audibility
from pegwright.wheel import Wheel
from plate_text import demo_wheel
from samples import GEOMETRY, wheel

# A turn of 960 steps is 240 quarters, so a minute at 240 quarters a minute: a step is 62.5 ms.
MINUTE = wheel(plate_count=12, steps_per_plate=80, geometry=replace(GEOMETRY, radius_mm=500.0))
HALF = wheel(plate_count=12, steps_per_plate=80, geometry=replace(GEOMETRY, radius_mm=300.0))


def test_a_millimetre_of_the_rim_is_19_ms() -> None:
    speed = speed_at(MINUTE, 240)
    assert speed.turn_s == pytest.approx(60)
    assert speed.rim_mm_per_s == pytest.approx(52.3599, abs=5e-5)
    assert speed.ms_per_mm == pytest.approx(19.0986, abs=5e-5)
    assert MINUTE.step_mm == pytest.approx(3.27249, abs=5e-6)
    assert speed.step_ms == pytest.approx(62.5)


@pytest.mark.parametrize(
    ("what", "length_mm", "late_ms"),
    [
        ("a length of 120 to 400 mm to ISO 2768-1 m", 0.5, 9.55),
        ("the same to ISO 2768-1 f", 0.2, 3.82),
        ("the clearance of a dowel H7/h6", 0.020, 0.38),
        ("a bolt M6 in a hole of 6.6 mm", 0.3, 5.73),
        ("a plate drilled at the pitch of the rim", 2.618, 50.0),
        ("a plate of HDPE on plywood, 15 K warmer", 0.6872, 13.1),
        ("plywood, 30 % RH damper", 0.157, 3.0),
    ],
)
def test_what_tolerances_are_in_time(what: str, length_mm: float, late_ms: float) -> None:
    """Source: ISO 2768-1, general tolerances, linear dimensions (from memory); ISO 273 for the bolt."""
    assert speed_at(MINUTE, 240).ms_per_mm * length_mm == pytest.approx(late_ms, abs=0.06), what


@pytest.mark.parametrize(("on", "tempo", "unheard_mm"), [(MINUTE, 240, 0.314), (HALF, 480, 0.377)])
def test_a_seam_is_unheard_up_to_6_ms(on: Wheel, tempo: float, unheard_mm: float) -> None:
    """Where notes are less than 240 ms apart; the smaller wheel turns in half a minute, at 62.83 mm a second.

    Source of the limit: Friberg and Sundberg 1995.
    """
    ms_per_mm = speed_at(on, tempo).ms_per_mm
    errors_ms = np.array([unheard_mm - 0.001, unheard_mm + 0.001]) * ms_per_mm
    assert move_audibility(errors_ms, np.array([62.5, 62.5])).tolist() == [Audibility.UNHEARD, Audibility.SLIGHT]


def test_a_demo_plate_drilled_at_the_pitch_of_the_rim_is_25_ms_long() -> None:
    ms_per_mm = speed_at(demo_wheel(), 120).ms_per_mm
    assert 3.142 * ms_per_mm == pytest.approx(25.1, abs=0.05)
    assert math.pi * 6 / 6 == pytest.approx(3.142, abs=0.0005), "pi t a turn, a sixth of it a plate"
