"""Holes for the next onset: those near where it is expected, and beats before, for a player who stopped."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.played.bar_places import bar_places, metre_of
from pegwright.played.model import PLACES
from pegwright.played.next_holes import (
    BEATS,
    BEATS_AFTER,
    BEATS_BEFORE,
    BEHIND,
    HALVES,
    HOLES,
    LONG_BEATS,
    MORE_AFTER,
    NEAR,
    next_holes,
)

QUARTER = 24


def about(unit: int, expected: int, text: str = "4/4", wheel: tuple[Fraction, ...] = PLACES) -> list[int]:
    """For one hypothesis."""
    metre = metre_of(text)
    places = bar_places(wheel, metre.bar_quarters, metre.beat_quarters)
    holes = np.zeros(HOLES, dtype=np.int64)
    next_holes(places, unit, expected, holes)
    found: list[int] = holes.tolist()
    return found


@given(st.integers(0, 400), st.integers(1, 300), st.sampled_from(["4/4", "3/4", "6/8", "5/8"]))
def test_each_hole_comes_once_lies_ahead_and_is_one_of_the_wheel(unit: int, ahead: int, metre: str) -> None:
    usable = [hole for hole in about(unit, unit + ahead, metre) if hole != BEHIND]
    assert len(set(usable)) == len(usable)
    assert min(usable, default=unit + 1) > unit
    assert all(Fraction(each % QUARTER, QUARTER) in PLACES for each in usable)


def test_the_nearest_hole_and_some_on_either_side_come_first() -> None:
    assert about(0, 49)[:NEAR] == [42, 44, 45, 48, 51, 52, 54]


def test_beats_before_the_one_expected_are_among_them() -> None:
    usable = about(0, 5 * QUARTER + 3)
    for beat in range(5 - BEATS_BEFORE + 1, 5 + BEATS_AFTER + 1):
        assert beat * QUARTER in usable


def test_after_a_rest_of_many_bars_beats_farther_on_are_among_them() -> None:
    expected = (LONG_BEATS + 4) * QUARTER + 3
    for after in range(BEATS_AFTER + MORE_AFTER + 1):
        assert (expected // QUARTER + after) * QUARTER in about(0, expected)
    assert 5 * QUARTER + (BEATS_AFTER + 1) * QUARTER not in about(0, 5 * QUARTER + 3)


def test_an_upbeat_that_comes_late_by_a_stop_is_among_them() -> None:
    """The eighth before a beat, where the next beat or the one after is expected; the wheel may lack it."""
    for late in range(10, HALVES * QUARTER - QUARTER // 2):
        assert 4 * QUARTER + 12 in about(4 * QUARTER, 4 * QUARTER + 12 + late)
    thirds = tuple(Fraction(third, 3) for third in range(3))
    triplets = [hole for hole in about(12, 40, wheel=thirds) if hole != BEHIND]
    assert triplets
    resolution = bar_places(thirds, Fraction(4), Fraction(1)).resolution
    assert {hole % resolution for hole in triplets} <= {third * resolution // 3 for third in range(3)}


@pytest.mark.parametrize(("metre", "step"), [("4/4", 24), ("6/8", 12)])
def test_in_compound_time_they_are_eighths(metre: str, step: int) -> None:
    """The beat expected is near, and not among the far ones once more."""
    far = [hole for hole in about(0, 243, metre)[NEAR:BEATS] if hole != BEHIND]
    assert set(np.diff(sorted(far, reverse=True)).tolist()) <= {-step, -2 * step}
    assert {hole % step for hole in far} == {0}
    assert len(far) >= BEATS_BEFORE - 1
