"""Which holes stand too close, against every pair of holes of the turn measured one by one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, product

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pegwright.config.fields import Faults
from pegwright.config.pins_apart import check_pins_apart
from pegwright.wheel import Collar, LostHole, PinType, Row, Wheel
from samples import GEOMETRY, channel, wheel

EXACT_MM = 1e-6

EIGHTHS = st.integers(0, 15).map(lambda n: Fraction(n, 8))
ROW_NAMES = ("a", "b", "c")
PIN_TYPES = (
    (PinType("peg", 9),),
    (PinType("peg", 9), PinType("bent", 9, 0.7), PinType("ground", 9, -1.5, collar=Collar.STAYS)),
    (PinType("early", 9, -0.4), PinType("late", 9, 0.4)),
)


@st.composite
def wheels(draw: st.DrawFn) -> Wheel:
    """Small wheels, many of them too tight."""
    rows = [
        Row(name, tuple(sorted(draw(st.sets(EIGHTHS, min_size=1, max_size=3)))), 2, draw(st.integers(-3, 3)) * 2.0)
        for name in ROW_NAMES
    ]
    has = draw(st.lists(st.sets(st.sampled_from(ROW_NAMES), min_size=1), min_size=1, max_size=4))
    lost = draw(st.lists(st.tuples(st.sampled_from(ROW_NAMES), st.integers(0, 1), st.none() | st.just(0)), max_size=2))
    geometry = replace(
        GEOMETRY,
        radius_mm=draw(st.sampled_from([8.0, 16.0, 31.0])),
        hole_diameter_mm=draw(st.sampled_from([0.5, 2.0])),
        pin_diameter_mm=draw(st.sampled_from([0.6, 1.7, 3.1])),
        min_wall_mm=draw(st.sampled_from([0.0, 1.3])),
        channel_pitch_mm=draw(st.sampled_from([2.5, 5.5, 14.0])),
        lead_edge_mm=1.0,
        trail_edge_mm=1.2,
    )
    return wheel(
        [channel(str(n), [60], rows=[name for name in ROW_NAMES if name in names]) for n, names in enumerate(has)],
        plate_count=draw(st.integers(1, 3)),
        steps_per_plate=draw(st.sampled_from([2, 4])),
        rows=tuple(rows),
        lost=tuple(LostHole(name, index, plate) for name, index, plate in lost),
        geometry=geometry,
        pin_types=draw(st.sampled_from(PIN_TYPES)),
    )


def holes(made: Wheel, row: Row) -> Iterator[float]:
    """Places round the rim in mm of all holes of a row that are on every plate where they could be."""
    geometry = made.geometry
    step_mm = 2 * math.pi * geometry.radius_mm / (made.plate_count * made.steps_per_plate)
    plate_mm = step_mm * made.steps_per_plate
    needed_mm = geometry.hole_diameter_mm / 2 + geometry.min_wall_mm
    places = [turn * 2 + phase for turn in range(made.steps_per_plate // 2) for phase in row.phases]
    never = {lost.index for lost in made.lost if lost.row == row.name and lost.plate is None}
    for index, place in enumerate(places):
        along_mm = float(place) * step_mm
        to_edges_mm = (along_mm + geometry.lead_edge_mm, plate_mm - geometry.trail_edge_mm - along_mm)
        assume(all(abs(to_edge - needed_mm) > EXACT_MM for to_edge in to_edges_mm))
        if index not in never and min(to_edges_mm) > needed_mm:
            yield from (plate * plate_mm + along_mm for plate in range(made.plate_count))


def expected(made: Wheel) -> set[str]:
    """Key paths of the faults that measuring every pair gives."""
    geometry = made.geometry
    turn_mm = 2 * math.pi * geometry.radius_mm
    pins_mm = geometry.pin_diameter_mm + geometry.pin_clearance_mm
    places = {row.name: list(holes(made, row)) for row in made.rows}
    number = {row.name: n + 1 for n, row in enumerate(made.rows)}

    def close(along: tuple[float, float], across_mm: float, limit_mm: float, less_mm: float = 0.0) -> bool:
        round_mm = abs(along[0] - along[1]) % turn_mm
        apart_mm = math.hypot(max(0.0, min(round_mm, turn_mm - round_mm) - less_mm), across_mm)
        assume(abs(apart_mm - limit_mm) > EXACT_MM)
        return apart_mm < limit_mm

    found = set()
    for row in made.rows:
        if any(close(pair, 0, pins_mm) for pair in combinations(places[row.name], 2)):
            found.add(f"row[{number[row.name]}].phases")
    rows_of = [[row for row in made.rows if row.name in it.rows] for it in made.channels]
    for rows in rows_of:
        for one, other in combinations(rows, 2):
            across_mm = other.lateral_mm - one.lateral_mm
            pairs = product(places[one.name], places[other.name])
            if any(close(pair, across_mm, geometry.hole_diameter_mm) for pair in pairs):
                found.add(f"row[{number[other.name]}].lateral_mm")
    for (n, first), (m, second) in combinations(enumerate(rows_of), 2):
        for one, other in product(first, second):
            across_mm = (m - n) * geometry.channel_pitch_mm + other.lateral_mm - one.lateral_mm
            pairs = product(places[one.name], places[other.name])
            if any(close(pair, across_mm, pins_mm, nearer_mm(made)) for pair in pairs):
                found.add("geometry.channel_pitch_mm")
    return found


def nearer_mm(made: Wheel) -> float:
    """How much nearer along the rim than their holes two collars of these pins can be."""
    collars_mm = [0.0 if one.collar == "stays" else one.offset_mm for one in made.pin_types]
    return max(collars_mm) - min(collars_mm)


@settings(max_examples=250, deadline=None)
@given(wheels())
def test_faults_are_those_of_measuring_every_pair(made: Wheel) -> None:
    faults = Faults({})
    check_pins_apart(made, faults)
    assert {fault.where for fault in faults.errors} == expected(made)
