from __future__ import annotations

from dataclasses import replace

import pytest

from pegwright import bundled_wheel, load_wheel
from pegwright.making import Pattern, Tool
from pegwright.plate.order import DrillOrder
from pegwright.plate.path import path_time, pecks_mm, places_mm, tool_paths
from pegwright.plate.pattern import patterns
from plate_text import demo_plate, demo_wheel
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


def test_moving_is_over_the_sheet_up_and_down_and_between_pecks() -> None:
    """The demo plate by hand: from 15 to 3 mm, pecks to -1, -5 and -7.6, each begun again 0.254 mm above the last."""
    plate, on = demo_plate(), demo_wheel()
    (pattern,) = patterns(plate, on)
    path = next(path for path in tool_paths(pattern, plate.tools, plate.machine, DrillOrder.ONE_WAY) if not path.fixing)
    minutes = path_time(pattern, plate.machine, path).moving_s / 60
    over_mm = minutes * 3000 - 2120 * (2 * 12 + 4 + 3.746 + 8 + 7.746 + 10.6)
    x_mm, y_mm = places_mm(pattern, plate.machine, path)
    ways = zip(x_mm, y_mm, x_mm[1:], y_mm[1:], strict=False)
    assert over_mm == pytest.approx(sum(max(abs(to_x - x), abs(to_y - y)) for x, y, to_x, to_y in ways))
    assert minutes == pytest.approx(48.8, abs=0.05)
    assert over_mm / 3000 == pytest.approx(7.7, abs=0.05), "of it over the sheet"
    fed_mm = 4 + 4.254 + 2.854
    assert path_time(pattern, plate.machine, path).drilling_s == pytest.approx(2120 * fed_mm / 300 * 60)
