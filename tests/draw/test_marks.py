from __future__ import annotations

from itertools import product

import pytest

from drawn import box, middle
from pegwright.draw.marks import HALO_MM, PIN_TYPE_MARKS, ROW_MARKS, hole_ring, lost_cross, pin_mark
from pegwright.drawing import Circle, Path, Shape

EVERY_MARK = list(product(range(ROW_MARKS), range(PIN_TYPE_MARKS)))


def bare(shape: Shape) -> Path | Circle:
    assert isinstance(shape, Path | Circle)
    return shape


@pytest.mark.parametrize(("row", "pin_type"), EVERY_MARK)
def test_every_shape_of_a_mark_has_its_middle_at_the_hole(row: int, pin_type: int) -> None:
    for shape in pin_mark(row, pin_type, 12.5, -3.25, 2.2):
        assert middle(bare(shape)) == pytest.approx((12.5, -3.25), abs=1e-9)


@pytest.mark.parametrize(("row", "pin_type"), EVERY_MARK)
def test_a_mark_is_black_as_large_as_asked_and_stands_on_white(row: int, pin_type: int) -> None:
    halo, black, *_ = map(bare, pin_mark(row, pin_type, 0.0, 0.0, 2.2))
    left, top, right, bottom = box(black)
    assert max(right - left, bottom - top) == pytest.approx(2.2)
    assert (black.pen.fill, black.pen.stroke) == (0.0, None)
    assert (halo.pen.stroke, halo.pen.width_mm) == (1.0, 2 * HALO_MM)


def test_no_two_marks_are_alike() -> None:
    assert len({pin_mark(row, pin_type, 0.0, 0.0, 2.0) for row, pin_type in EVERY_MARK}) == len(EVERY_MARK)


def test_a_lost_hole_is_a_cross_and_a_hole_a_ring_about_the_same_point() -> None:
    assert middle(hole_ring(4.0, 5.0, 1.0)) == (4.0, 5.0)
    for line in lost_cross(4.0, 5.0, 1.0):
        assert box(line) == (3.5, 4.5, 4.5, 5.5)
        assert len(line.points) == 2
