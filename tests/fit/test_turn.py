"""Score, wheel and options brought to one measure of time."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.ask.options import FitOptions
from pegwright.columns import frozen_ints
from pegwright.fit.turn import prevailing_tempo, touch_ticks, turn_of
from pegwright.score import TempoMap
from samples import GEOMETRY, HALF, ON, TRIPLET, channel, score, wheel


def test_resolution_is_common_to_score_wheel_and_start() -> None:
    song = score([(0, 60), (33, 60)], resolution=100, tolerance_ticks=1)
    turn, findings = turn_of(song, wheel(), FitOptions(start_steps=Fraction(-2, 7)))
    assert findings == ()
    assert turn.resolution == math.lcm(100, 24, 14)
    assert turn.onset_ticks.tolist() == [0, 33 * 42]
    assert turn.turn_ticks == 48 * 4200
    assert turn.start_ticks == turn.turn_ticks - 4200 // 14
    assert turn.tolerance_ticks == 42
    assert turn.reach_ticks == 4200 // 16  # 262.5, and a distance is a whole number of ticks


def test_what_counts_as_exact_is_always_within_reach() -> None:
    song = score([(0, 60)], resolution=12, tolerance_ticks=1)
    turn, _ = turn_of(song, wheel(), FitOptions(reach_quarters=Fraction(0)))
    assert turn.reach_ticks == turn.tolerance_ticks == 2


def test_re_strike_is_rounded_up_to_whole_ticks_and_is_never_none() -> None:
    on = wheel(
        [channel("a", [60], restrike_ms=62.5), channel("b", [61], restrike_ms=62.6), channel("c", restrike_ms=0)]
    )
    turn, _ = turn_of(score([(0, 60)]), on, FitOptions())  # ticks of 20.83 ms
    assert turn.gap_ticks.tolist() == [3, 4, 1]


@given(
    st.floats(0.3, 20.0),
    st.floats(0.0, 5.0),
    st.lists(st.floats(-6.0, 6.0), min_size=3, max_size=3),
    st.integers(20, 5000),
)
def test_room_between_pins_is_the_least_that_keeps_them_apart(
    pin_mm: float, clearance_mm: float, laterals: list[float], turn_ticks: int
) -> None:
    rows = tuple(replace(row, lateral_mm=mm) for row, mm in zip((ON, HALF, TRIPLET), laterals, strict=True))
    on = wheel(rows=rows, geometry=replace(GEOMETRY, pin_diameter_mm=pin_mm, pin_clearance_mm=clearance_mm))
    needed_mm = pin_mm + clearance_mm - 1e-9
    tick_mm = on.geometry.circumference_mm / turn_ticks
    for one, line in enumerate(touch_ticks(on, turn_ticks).tolist()):
        for other, ticks in enumerate(line):
            across_mm = abs(laterals[one] - laterals[other])
            assert math.hypot(ticks * tick_mm, across_mm) >= needed_mm
            assert ticks == 0 or math.hypot((ticks - 1) * tick_mm, across_mm) < needed_mm


@pytest.mark.parametrize("holes", [1, 2, 3, 5, 7])
def test_room_met_exactly_is_enough(holes: int) -> None:
    """Pins a whole number of ticks apart that are exactly a diameter and the clearance apart."""
    tick_mm = GEOMETRY.circumference_mm / 4608
    tight = replace(GEOMETRY, pin_diameter_mm=holes * tick_mm - 0.5, pin_clearance_mm=0.5)
    assert touch_ticks(wheel(geometry=tight), 4608)[0, 0] == holes


def tempi(*changes: tuple[int, int]) -> TempoMap:
    return TempoMap(frozen_ints([tick for tick, _ in changes]), frozen_ints([tempo for _, tempo in changes]))


@pytest.mark.parametrize(
    ("changes", "length", "expected"),
    [
        ([(0, 500_000)], 96, 500_000),
        ([(0, 500_000)], 0, 500_000),
        ([(0, 500_000), (40, 400_000)], 90, 500_000),  # 20 s each at a tick a quarter: the earlier on a tie
        ([(0, 400_000), (50, 500_000)], 90, 400_000),
        ([(0, 500_000), (47, 400_000)], 96, 500_000),  # 23.5 s beside 19.6 s, though of fewer quarters
        ([(0, 500_000), (39, 400_000)], 90, 400_000),
        ([(0, 400_000), (30, 500_000), (60, 400_000)], 96, 400_000),  # its stretches are added up
        ([(0, 400_000), (30, 500_000), (96, 400_000), (900, 400_000)], 96, 500_000),  # what comes after the end is not
    ],
)
def test_prevailing_tempo(changes: list[tuple[int, int]], length: int, expected: int) -> None:
    assert prevailing_tempo(tempi(*changes), length) == expected
