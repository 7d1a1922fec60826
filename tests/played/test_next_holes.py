"""Holes for the next onset: those near where it is expected, and beats before, for a player who stopped."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.played.bar_habits import BarHabits, metre_of
from pegwright.played.model import PLACES
from pegwright.played.next_holes import BEATS_AFTER, BEATS_BEFORE, SIDEWAYS, NextHoles, holes_about
from pegwright.played.struck import struck_by
from played.test_free_beat import notes_at

QUARTER = 24


def about(unit: int, expected: int, metre: str = "4/4") -> NextHoles:
    """For one hypothesis."""
    habits = BarHabits(PLACES, metre_of(metre), struck_by(notes_at(np.arange(4) * 0.5)))
    assert habits.resolution == QUARTER
    return holes_about(habits, np.array([unit]), np.array([expected]))


@given(st.integers(0, 400), st.integers(1, 300), st.sampled_from(["4/4", "3/4", "6/8", "5/8"]))
def test_each_hole_comes_once_lies_ahead_and_is_one_of_the_wheel(unit: int, ahead: int, metre: str) -> None:
    holes = about(unit, unit + ahead, metre)
    usable = holes.unit[holes.ahead].tolist()
    assert len(set(usable)) == len(usable)
    assert min(usable, default=unit + 1) > unit
    assert all(Fraction(each % QUARTER, QUARTER) in PLACES for each in usable)
    assert (holes.unit // QUARTER == holes.quarter).all()


def test_the_nearest_hole_and_some_on_either_side_come_first() -> None:
    near = about(0, 49).unit[0, : 2 * SIDEWAYS + 1].tolist()
    assert near == [42, 44, 45, 48, 51, 52, 54]


def test_beats_before_the_one_expected_are_among_them() -> None:
    holes = about(0, 5 * QUARTER + 3)
    usable = set(holes.unit[holes.ahead].tolist())
    for beat in range(5 - BEATS_BEFORE + 1, 5 + BEATS_AFTER + 1):
        assert beat * QUARTER in usable


@pytest.mark.parametrize(("metre", "step"), [("4/4", 24), ("6/8", 12)])
def test_in_compound_time_they_are_eighths(metre: str, step: int) -> None:
    holes = about(0, 240, metre)
    far = np.sort(holes.unit[0, 2 * SIDEWAYS + 1 :])
    assert np.diff(far).tolist() == [step] * (BEATS_BEFORE + BEATS_AFTER - 1)
