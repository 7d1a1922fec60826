from __future__ import annotations

from itertools import product

import pytest

from drawn import box, middle
from pegwright.draw.bounds import bounds_mm
from pegwright.draw.marks import (
    HALO_MM,
    PIN_TYPE_MARKS,
    ROW_MARKS,
    STAY_GREY,
    change_mark,
    hole_ring,
    lost_cross,
    pin_mark,
    pull_mark,
    stay_mark,
)
from pegwright.drawing import Circle, Path, Shape

EVERY_MARK = list(product(range(ROW_MARKS), range(PIN_TYPE_MARKS)))


def bare(shape: Shape) -> Path | Circle:
    assert isinstance(shape, Path | Circle)
    return shape


@pytest.mark.parametrize(("row", "pin_type"), EVERY_MARK)
def test_every_shape_of_a_mark_has_its_middle_at_the_hole(row: int, pin_type: int) -> None:
    for shape in pin_mark(row, 12.5, -3.25, 2.2, pin_type):
        assert middle(bare(shape)) == pytest.approx((12.5, -3.25), abs=1e-9)


@pytest.mark.parametrize(("row", "pin_type"), EVERY_MARK)
def test_a_mark_is_black_as_large_as_asked_and_stands_on_white(row: int, pin_type: int) -> None:
    halo, black, *_ = map(bare, pin_mark(row, 0.0, 0.0, 2.2, pin_type))
    left, top, right, bottom = box(black)
    assert max(right - left, bottom - top) == pytest.approx(2.2)
    assert (black.pen.fill, black.pen.stroke) == (0.0, None)
    assert (halo.pen.stroke, halo.pen.width_mm) == (1.0, 2 * HALO_MM)


def test_no_two_marks_are_alike() -> None:
    assert len({pin_mark(row, 0.0, 0.0, 2.0, pin_type) for row, pin_type in EVERY_MARK}) == len(EVERY_MARK)


def test_a_lost_hole_is_a_cross_and_a_hole_a_ring_about_the_same_point() -> None:
    assert middle(*hole_ring(4.0, 5.0, 1.0)) == (4.0, 5.0)
    for line in lost_cross(4.0, 5.0, 1.0):
        assert box(line) == (3.5, 4.5, 4.5, 5.5)
        assert len(line.points) == 2


SWAP_MARKS = {
    "pull": pull_mark,
    "change": lambda row, x, y, size: change_mark(row, x, y, size, 1),
    "stay": stay_mark,
}


@pytest.mark.parametrize("row", range(ROW_MARKS))
@pytest.mark.parametrize("kind", SWAP_MARKS)
def test_every_shape_of_a_swaps_mark_has_its_middle_at_the_hole_and_keeps_within_its_size(kind: str, row: int) -> None:
    for shape in map(bare, SWAP_MARKS[kind](row, 12.5, -3.25, 2.2)):
        assert middle(shape) == pytest.approx((12.5, -3.25), abs=1e-9)
        if shape.pen.stroke != 1.0:  # white may go beyond
            left, top, right, bottom = bounds_mm([shape])
            assert max(right - left, bottom - top) <= 2.2 + 1e-9


def test_pull_is_white_with_an_arrow_up_and_never_struck_out() -> None:
    for row in range(ROW_MARKS):
        pull, stay = pull_mark(row, 0.0, 0.0, 2.0), stay_mark(row, 0.0, 0.0, 2.0)
        assert not [shape for shape in pull if bare(shape).pen.fill == 0.0]
        (arrow,) = [shape for shape in pull if isinstance(shape, Path) and not shape.closed and shape.pen.stroke == 0.0]
        foot, tip, barb, again, other = arrow.points
        assert foot[0] == tip[0] == 0.0, "upright: a slanted stroke across a mark means no"
        assert foot[1] > 0 > tip[1] == again[1]
        assert barb[0] == -other[0] < 0
        assert tip[1] < barb[1] == other[1] < 0, "the head is at the top"
        greys = [shape.pen.fill for shape in map(bare, stay) if shape.pen.fill is not None]
        assert greys[0] == STAY_GREY
        assert 0.0 not in greys
        left, _, right, _ = box(bare(stay[1]))
        assert right - left <= 1.2 + 1e-9


def test_a_change_is_a_set_mark_of_the_new_type_in_a_frame() -> None:
    changed = change_mark(3, 1.0, 1.0, 4.0, 2)
    assert changed[2:] == pin_mark(3, 1.0, 1.0, 4.0 * 0.62, 2)
    assert all(isinstance(shape, Path) and shape.closed and len(shape.points) == 4 for shape in changed[:2])
    assert bare(changed[1]).pen.stroke == 0.0
