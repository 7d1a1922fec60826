from __future__ import annotations

from dataclasses import replace

import pytest

from pegwright import bundled_wheel, load_wheel
from pegwright.making import Pattern, Tool
from pegwright.plate.order import DrillOrder
from pegwright.plate.path import path_time, pecks_mm, places_mm, tool_paths
from plates import MACHINE, TOOLS, pattern_of, with_holes


@pytest.fixture(scope="module")
def demo() -> Pattern:
    return pattern_of(load_wheel(bundled_wheel()))


def test_fixing_holes_and_marks_come_first(demo: Pattern) -> None:
    paths = tool_paths(demo, TOOLS, MACHINE, DrillOrder.ONE_WAY)
    assert [(path.fixing, path.tool.number, len(path.holes)) for path in paths] == [
        (True, 2, 2),
        (True, 3, 1),
        (False, 1, 2120),
    ]


def test_a_tool_of_both_kinds_has_a_program_for_each(demo: Pattern) -> None:
    both = (replace(TOOLS[0], number=9), replace(TOOLS[1], number=1), replace(TOOLS[2], number=2))
    mixed = replace(demo, holes=replace(demo.holes, tool=demo.holes.tool * 0 + 1))
    assert [path.fixing for path in tool_paths(mixed, both, MACHINE, DrillOrder.SHORTEST)] == [True, False]


def test_one_way_begins_each_line_before_its_first_hole(demo: Pattern) -> None:
    pattern = with_holes(demo, [10.0, 20.0, 10.0], [0.0, 0.0, -14.0], [0, 0, 1])
    (path,) = tool_paths(pattern, TOOLS, MACHINE, DrillOrder.ONE_WAY)
    x_mm, y_mm = places_mm(pattern, MACHINE, path)
    assert list(zip(x_mm, y_mm, strict=True)) == [(8, 0), (10, 0), (20, 0), (8, -14), (10, -14)]
    (straight,) = tool_paths(pattern, TOOLS, replace(MACHINE, overshoot_mm=0.0), DrillOrder.ONE_WAY)
    assert not straight.approached.any()


def test_pecks_are_those_of_the_standard() -> None:
    """RS-274/NGC: G83 Z-12 R2 Q5 feeds to -3, -8 and -12."""
    assert pecks_mm(Tool(1, 3.0, 1000.0, 100.0, peck_mm=5.0), MACHINE, -12.0) == (-3.0, -8.0, -12.0)
    assert pecks_mm(Tool(1, 3.0, 1000.0, 100.0, peck_mm=7.0), MACHINE, -12.0) == (-5.0, -12.0)
    assert pecks_mm(Tool(1, 3.0, 1000.0, 100.0), MACHINE, -12.0) == (-12.0,)


def test_time_is_that_of_every_move_at_its_rate(demo: Pattern) -> None:
    """Two holes 30 mm apart: down 9.5 mm at 300 mm a minute and back up, from and to 20 mm."""
    pattern = with_holes(demo, [0.0, 30.0], [0.0, 0.0])
    (path,) = tool_paths(pattern, TOOLS, MACHINE, DrillOrder.SHORTEST)
    time = path_time(pattern, MACHINE, path)
    assert time.travel_mm == 30
    assert time.drilling_s == pytest.approx(2 * 9.5 / 300 * 60)
    assert time.moving_s == pytest.approx((30 + 2 * (18 + 9.5 + 18)) / 3000 * 60)
