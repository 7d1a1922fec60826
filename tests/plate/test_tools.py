"""Which tool drills a hole, and the holes of slots, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pegwright.making import Fixing, HoleKind, Tool
from pegwright.plate.tools import fixing_tool, hole_offsets_mm, nearest_tool, ridge_mm, web_mm


def tool(number: int, diameter_mm: float, slot_drill: bool = False) -> Tool:
    return Tool(number, diameter_mm, 4000.0, 200.0, slot_drill=slot_drill)


def slot(diameter_mm: float, slot_mm: float) -> Fixing:
    return Fixing(HoleKind.SLOT, 100.0, -10.0, diameter_mm, slot_mm=slot_mm)


TWIST, CUTTER = tool(1, 5.0), tool(2, 5.0, slot_drill=True)
DOWEL = Fixing(HoleKind.DOWEL, 100.0, -10.0, 5.0)


def test_holes_and_slots_as_long_as_wide_are_one_hole_in_the_middle() -> None:
    for fixing in (DOWEL, slot(5, 5)):
        for one in (TWIST, CUTTER):
            assert hole_offsets_mm(fixing, one) == (0.0,)


@pytest.mark.parametrize(
    ("one", "slot_mm", "offsets_mm", "web"),
    [
        (TWIST, 11, (-3, 3), 1.0),
        (TWIST, 17, (-6, 0, 6), 1.0),
        (TWIST, 16.8, (-5.9, 5.9), 6.8),
        (TWIST, 8, (-1.5, 1.5), -2.0),
        (CUTTER, 10, (-2.5, -1.25, 0, 1.25, 2.5), -3.75),
        (CUTTER, 5.5, (-0.25, 0.25), -4.5),
    ],
)
def test_a_slot_is_a_chain_from_end_to_end(
    one: Tool, slot_mm: float, offsets_mm: tuple[float, ...], web: float
) -> None:
    """5 mm wide: of a twist drill 6 mm apart or more, of a slot drill 1.25 mm or less."""
    assert hole_offsets_mm(slot(5, slot_mm), one) == pytest.approx(offsets_mm)
    assert web_mm(slot(5, slot_mm), one) == pytest.approx(web)


def test_ridges_are_what_overlapping_circles_leave() -> None:
    """By points along the side of the slot, how far the nearest circle is from it."""
    for diameter_mm, slot_mm in ((5.0, 11.0), (3.0, 20.0)):
        offsets_mm = np.array(hole_offsets_mm(slot(diameter_mm, slot_mm), CUTTER))
        along_mm = np.linspace(offsets_mm[0], offsets_mm[-1], 20_001)
        away_mm = np.abs(along_mm[:, None] - offsets_mm).min(axis=1)
        deepest_mm = diameter_mm / 2 - np.sqrt((diameter_mm / 2) ** 2 - away_mm**2)
        assert ridge_mm(slot(diameter_mm, slot_mm), CUTTER) == pytest.approx(deepest_mm.max(), abs=1e-6)
    assert ridge_mm(slot(5, 10), CUTTER) == pytest.approx(2.5 - math.sqrt(2.5**2 - 0.625**2))


def test_slots_take_a_slot_drill_that_is_near_and_holes_a_twist_drill_that_is_as_near() -> None:
    assert nearest_tool((CUTTER, TWIST), 5.0) is TWIST
    assert nearest_tool((CUTTER, TWIST), 5.2) is TWIST
    assert nearest_tool((CUTTER, tool(3, 6.0)), 5.2) is CUTTER
    assert fixing_tool((TWIST, CUTTER), slot(5, 11)) is CUTTER
    assert fixing_tool((TWIST, CUTTER), DOWEL) is TWIST
    for off_mm, taken in ((0.5, True), (-0.5, True), (0.51, False), (-0.51, False)):
        other = tool(2, 5 + off_mm, slot_drill=True)
        assert (fixing_tool((TWIST, other), slot(5, 11)) is other) == taken
