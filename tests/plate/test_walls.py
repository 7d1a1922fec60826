"""Walls beside outlines of every hole laid out point by point on each face."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest

from pegwright.making import HoleKind, Pattern, PlateFile
from pegwright.plate.pattern import patterns
from pegwright.plate.plan import plan_plate
from pegwright.plate.walls import PatternWalls, Wall
from pegwright.wheel import Wheel
from plate_text import Change, adding, changed, demo_plate, demo_wheel, read, setting, starter_values, starter_wheel

ROUND = np.linspace(0, 2 * math.pi, 721)[:-1]


def least(plate: PlateFile, on: Wheel) -> dict[str, Wall]:
    """The least wall of every kind of the first pattern."""
    walls: dict[str, Wall] = {}
    for wall in PatternWalls(plate, on, patterns(plate, on)[0]).all():
        if wall.kind not in walls or wall.wall_mm < walls[wall.kind].wall_mm:
            walls[wall.kind] = wall
    return walls


def outlines(pattern: Pattern, on: Wheel, face: str) -> tuple[np.ndarray, np.ndarray]:
    """Middles of all holes on a face, and the outline about a middle of a hole of 1 mm: e wider to 3 e, or narrower."""
    layer = pattern.layer
    strain = 6 / (2 * 471.5 + 6) if layer.thickness_mm == 6 else layer.thickness_mm / (2 * layer.inner_radius_mm + 4)
    radius_mm = {"outer": layer.radius_mm, "inner": layer.inner_radius_mm, "flat": layer.neutral_radius_mm}[face]
    wider = {"outer": 1 + 3 * strain, "inner": 1 - strain, "flat": 1.0}[face]
    along_mm = pattern.holes.along_mm * radius_mm / on.geometry.radius_mm
    circle = np.stack([wider * np.cos(ROUND), np.sin(ROUND)], axis=1) / 2
    return np.stack([along_mm, pattern.holes.across_mm], axis=1), circle


def by_points(pattern: Pattern, on: Wheel, first: np.ndarray, second: np.ndarray) -> float:
    """The shortest distance between outlines of holes of two groups, over all faces."""
    shortest = math.inf
    for face in ("outer", "inner", "flat"):
        middles, circle = outlines(pattern, on, face)
        for one in first:
            near = second[np.hypot(*(middles[second] - middles[one]).T) < 25]
            for other in near[near != one]:
                edge = middles[one] + circle * pattern.holes.diameter_mm[one]
                beside = middles[other] + circle * pattern.holes.diameter_mm[other]
                shortest = min(shortest, float(np.hypot(*(edge[:, None] - beside[None]).T).min()))
    return shortest


def test_the_least_walls_are_those_of_outlines_laid_out_point_by_point() -> None:
    plate, on = demo_plate(), demo_wheel()
    (pattern,) = patterns(plate, on)
    walls, kinds = least(plate, on), pattern.holes.kind
    first_channel = np.flatnonzero((pattern.holes.channel == 0) & (pattern.holes.along_mm < 60))
    assert walls["pin hole to pin hole"].wall_mm == pytest.approx(
        by_points(pattern, on, first_channel, first_channel), abs=0.01
    )
    fixings = np.flatnonzero(kinds != HoleKind.PIN)
    pins = np.flatnonzero(kinds == HoleKind.PIN)
    assert walls["fixing hole to pin hole"].wall_mm == pytest.approx(by_points(pattern, on, fixings, pins), abs=0.01)


def test_pin_holes_of_the_demo_plate_by_hand() -> None:
    """Half-way and triplet holes: 15.6262 / 6 = 2.604 along and 3 across, 3.973 apart; on the outer face holes are
    wider along the rim by up to 3 x 0.632 %: 3.973 - 2.5 x 1.0083 is 1.453. To the edge: 5 mm less a hole, inside."""
    walls = least(demo_plate(), demo_wheel())
    pins = walls["pin hole to pin hole"]
    assert pins.wall_mm == pytest.approx(1.453, abs=0.003)
    assert (pins.first, pins.second) == (
        "channel 1 chime G4 step 1.5 row half",
        "channel 1 chime G4 step 1 2/3 row triplet",
    )
    assert (pins.face, pins.bound_mm, pins.below_count) == ("outer face", 1.2, 0)
    edge = walls["pin hole to edge"]
    assert edge.wall_mm == pytest.approx(5 * 471.5 / 477.5 - 1.25 * (1 - 0.00632), abs=1e-4)
    assert (edge.second, edge.face) == ("the leading edge", "inner face")


def test_heads_are_kept_from_pins_also_across_a_seam() -> None:
    """Of a bolt 4 mm before the trailing edge, the next pin in line is on step 1 of the plate after: 9.3 mm on."""
    bolt = adding("fixing", kind="bolt", along_mm=490.737, across_mm=0.0, diameter_mm=2.0, head_mm=3.0)
    on = wheel_without_last_holes()
    walls = list(PatternWalls(read_on(on, bolt), on, patterns(read_on(on, bolt), on)[0]).all())
    (head,) = (each for each in walls if each.kind == "fixing to pin" and "fixing 11" in each.first)
    assert head.wall_mm == pytest.approx(500.037 - 490.737 - 1.5 - 2.0, abs=0.001)
    assert head.second == "a pin in channel 1 chime G4 step 1 row on of the plate after"


def wheel_without_last_holes() -> Wheel:
    from plate_text import wheel_with

    lost = [f'[[lost]]\nrow = "on"\nhole = {hole}\nchannel = "chime G4"\n' for hole in (30, 31, 32)]
    lost += [f'[[lost]]\nrow = "half"\nhole = {hole}\nchannel = "chime G4"\n' for hole in (30, 31)]
    lost += [f'[[lost]]\nrow = "triplet"\nhole = {hole}\nchannel = "chime G4"\n' for hole in (30, 31, 32)]
    return wheel_with("".join(lost))


def read_on(on: Wheel, *changes: Change) -> PlateFile:
    from plate_text import demo_values

    return read(changed(demo_values(), *changes), on)


def test_a_thin_wall_is_reported_with_both_holes_the_distance_and_the_bound() -> None:
    plan = plan_plate(demo_plate(setting("sheet", hole_wall_mm=2.0)), demo_wheel())
    (thin,) = (each for each in plan.findings if each.code == "wall-thin")
    assert thin.message == (
        "pin hole to pin hole: 1.45 mm of 2 mm between channel 1 chime G4 step 1.5 row half and channel 1 chime G4"
        " step 1 2/3 row triplet, outer face, the worst of 589 pairs"
    )


def test_pairs_below_the_bound_are_counted_once() -> None:
    """19 channels with triplets, 16 pairs of them a plate, each beside two half-way holes: but the last half-way hole
    is lost: 19 x 31."""
    plan = plan_plate(demo_plate(setting("sheet", hole_wall_mm=2.0)), demo_wheel())
    (pins,) = (each for each in plan.walls[0] if each.kind == "pin hole to pin hole")
    assert pins.below_count == 19 * 31


def slot_walls(slot_mm: float, **place: float) -> dict[str, Wall]:
    """The walls of a slot of 2 mm added to the starter, 6 mm beside the first channel; the least of each kind."""
    slot = adding("fixing", kind="slot", across_mm=-6.0, diameter_mm=2.0, slot_mm=slot_mm, **place)
    plate = read(changed(starter_values(), slot), starter_wheel())
    walls: dict[str, Wall] = {}
    for wall in PatternWalls(plate, starter_wheel(), patterns(plate, starter_wheel())[0]).all():
        if wall.first == "fixing 7, a slot" and wall.wall_mm < walls.get(wall.kind, wall).wall_mm + 1e-9:
            walls[wall.kind] = wall
    return walls


@pytest.mark.parametrize("slot_mm", [2.0, 6.0, 9.0, 30.0])
def test_a_slot_is_as_long_as_it_is_cut(slot_mm: float) -> None:
    """Its middle is at step 8.25, half-way between two holes that are half a step, 7.854 mm, apart."""
    along_mm = max(0.0, math.pi * 320 / 64 / 4 - (slot_mm - 2) / 2)
    wall = slot_walls(slot_mm, step=8.25)["fixing hole to pin hole"]
    assert wall.wall_mm == pytest.approx(math.hypot(along_mm, 6) - 1 - 1.25, abs=0.06)  # less widening


def test_a_slot_ends_as_near_to_the_edge_as_it_is_cut() -> None:
    """Its middle 8 mm after step 1, 13 mm after the edge; 12 mm long: 13 - 6, and a little less on the inner face."""
    assert slot_walls(12.0, along_mm=8.0)["fixing hole to edge"].wall_mm == pytest.approx(7, abs=0.3)


def test_collars_that_are_off_their_holes_come_nearer_to_heads() -> None:
    """A pin whose collar is 1.5 mm off: a head 8 mm on in the line of pins has 1.5 mm less beside it."""
    from plate_text import wheel_with

    straight, bent = demo_wheel(), wheel_with('[[pin_type]]\nname = "bent"\nstock = 1\noffset_mm = 1.5\n')
    mark = adding("fixing", kind="mark", step=1.25, across_mm=318.0, diameter_mm=2.5)
    clear_mm = []
    for on in (straight, bent):
        walls = PatternWalls(read_on(on, mark), on, patterns(read_on(on, mark), on)[0]).all()
        clear_mm += [each.wall_mm for each in walls if each.kind == "fixing to pin" and "fixing 11" in each.first]
    quarter_mm = demo_wheel().step_mm / 4
    expected = [math.hypot(quarter_mm - off_mm, 4) - 1.25 - 2 for off_mm in (0, 1.5)]
    assert clear_mm == pytest.approx(expected, abs=1e-6)


def test_every_two_fixings_are_compared() -> None:
    plate = demo_plate()
    walls = PatternWalls(plate, demo_wheel(), patterns(plate, demo_wheel())[0]).all()
    pairs = [(each.first, each.second) for each in walls if each.kind == "fixing hole to fixing hole"]
    assert len(set(pairs)) == len(list(combinations(plate.fixings, 2)))
