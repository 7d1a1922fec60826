"""What follows from a wheel, beside every pair of pins compared."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from broken_placements import RIM
from pegwright.check.wheel import SLACK_MM, hole_table, over_the_edge, touching_pairs
from samples import HALF, ON, TRIPLET, wheel

RESOLUTION = 24
ROWS = (ON, replace(HALF, lateral_mm=-3.0), TRIPLET)


def test_the_pins_that_touch_are_those_that_do_in_the_plane_of_the_rim() -> None:
    """Pins in a twentieth of the holes of a wheel whose channels are near, so that pins of several may touch."""
    random = np.random.default_rng(20261126)
    narrow = replace(RIM, channel_pitch_mm=6.0, pin_diameter_mm=13.0)
    on, needed_mm = wheel(rows=ROWS, geometry=narrow), 13.5 - SLACK_MM
    holes = hole_table(on, RESOLUTION)
    count = len(on.channels) * len(holes.position) // 20
    for _ in range(20):
        channel, hole = random.integers(len(on.channels), size=count), random.integers(len(holes.position), size=count)
        hole[::2] = random.integers(-6, 6, size=len(hole[::2])) % len(holes.position)  # half near the ends of the turn
        collar = holes.position[hole]
        apart_mm = np.abs(collar[:, None] - collar) * narrow.circumference_mm / holes.turn_ticks
        along_mm = np.minimum(apart_mm, narrow.circumference_mm - apart_mm)
        lateral_mm = np.array([row.lateral_mm for row in on.rows])[holes.row[hole]] + 6.0 * channel
        expected = np.hypot(along_mm, lateral_mm[:, None] - lateral_mm) < needed_mm
        touching = np.zeros((count, count), dtype=bool)
        touching[touching_pairs(on, holes, (channel, hole, collar), (channel, hole, collar))] = True
        assert np.array_equal(touching, expected)
        assert np.count_nonzero(expected) > 3 * count // 2  # each touches itself


def test_a_collar_may_reach_to_the_very_edge_of_its_plate() -> None:
    on = wheel(geometry=RIM)
    holes = hole_table(on, RESOLUTION)
    last = int(np.flatnonzero(holes.position < holes.turn_ticks // on.plate_count).max())
    plate_mm = RIM.circumference_mm / on.plate_count
    plate_ticks = holes.turn_ticks // on.plate_count
    reaches_mm = float(holes.position[last] % plate_ticks / plate_ticks * plate_mm + RIM.pin_diameter_mm / 2 - SLACK_MM)
    hole, plain = np.array([last]), np.array([0])
    for edge_mm, over in ((reaches_mm, False), (math.nextafter(reaches_mm, 0), True)):
        cut = replace(on, geometry=replace(RIM, trail_edge_mm=plate_mm - edge_mm))
        assert plate_mm - cut.geometry.trail_edge_mm == edge_mm  # a difference of such floats is exact
        assert over_the_edge(cut, holes, hole, plain).tolist() == [over]
