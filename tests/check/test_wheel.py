"""What follows from a wheel, beside every pair of pins compared."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from broken_placements import RIM, plain
from pegwright.check.wheel import (
    SLACK_MM,
    collars_end_at,
    hole_table,
    over_the_edge,
    sounding_kinds,
    touching_pairs,
)
from pegwright.wheel import Geometry
from samples import HALF, ON, TRIPLET, channel, wheel

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


LENGTHS = tuple(name for name in Geometry.__annotations__ if name.endswith("_mm"))
UPON_WALLS = ("radius_mm", "hole_diameter_mm", "min_wall_mm", "lead_edge_mm", "trail_edge_mm")
UPON_PINS = ("radius_mm", "pin_diameter_mm", "pin_clearance_mm", "channel_pitch_mm")
CUTS = replace(RIM, lead_edge_mm=1.0)  # so near that the first step of every plate has no hole


@pytest.mark.parametrize("unknown", LENGTHS)
def test_an_edge_takes_no_hole_where_a_length_that_decides_it_is_not_known(unknown: str) -> None:
    cut = hole_table(wheel(geometry=replace(CUTS, unknown=(unknown,))), RESOLUTION).present
    assert bool(cut.all()) == (unknown in UPON_WALLS)
    assert cut.any()


def test_a_drum_without_cut_edges_has_all_its_holes_and_no_collar_over_an_edge() -> None:
    drum = wheel(geometry=replace(CUTS, seams=False))
    assert hole_table(drum, RESOLUTION).present.all()
    assert not hole_table(wheel(geometry=CUTS), RESOLUTION).present.all()
    assert collars_end_at(RIM)
    assert not collars_end_at(drum.geometry)


@pytest.mark.parametrize("unknown", LENGTHS)
def test_pins_are_compared_and_collars_end_only_where_every_length_is_known(unknown: str) -> None:
    on = wheel(geometry=replace(RIM, unknown=(unknown,)))
    holes, one = hole_table(on, RESOLUTION), np.array([3])
    own = one, one, holes.position[one]
    channels, pins = touching_pairs(on, holes, own, own)
    assert channels.tolist() == pins.tolist() == ([] if unknown in UPON_PINS else [0])  # a pin touches itself
    assert collars_end_at(on.geometry) == (unknown not in {*UPON_WALLS, *UPON_PINS})


def test_octaves_are_folded_to_the_nearest_pitch_that_sounds_and_to_the_lower_of_two() -> None:
    """Of 48 and 72 either is as near to 60; 84 and 36 have one nearest each; no octave of 61 sounds."""
    on = wheel([channel("low", [48]), channel("high", [72]), channel("other", [63])])
    table, kind = sounding_kinds(on, replace(plain()[2], fold_octaves=True), ("*",))
    sounds = {pitch: np.flatnonzero(table[:, pitch]).tolist() for pitch in (36, 48, 60, 61, 72, 84, 99)}
    assert sounds == {36: [0], 48: [0], 60: [0], 61: [], 72: [1], 84: [1], 99: [2]}
    assert kind[60] == kind[48] != kind[72]
