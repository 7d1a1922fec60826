"""The hole grid against published worked examples and plain counting."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given

import strategies
from pegwright.ask.options import FitOptions
from pegwright.grid import Loss, across_rim_mm, along_plate_mm, edge_loss, hole_grid
from pegwright.placement import Outcome
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import LostHole, Row, Wheel
from samples import GEOMETRY, HALF, ON, TRIPLET, channel, score, wheel


def base_case(holes_per_bar: int = 32, restrike_ms: float = 0.0) -> Wheel:
    """1 m across, a turn of 60 s, 12 plates of 80 holes: 62.5 ms a hole and 32 holes a bar of 4/4 at 120."""
    step = Fraction(4, holes_per_bar)
    return wheel(
        [channel("only", [60], restrike_ms=restrike_ms, rows=["on"])],
        plate_count=12,
        steps_per_plate=80,
        step_quarters=step,
        rows=(ON,),
        reach_quarters=step,
        geometry=replace(GEOMETRY, radius_mm=500.0, hole_diameter_mm=1.5, min_wall_mm=0.5, pin_diameter_mm=1.5),
    )


def test_base_case_has_32_holes_a_bar() -> None:
    """Diderot 1748, fourth memoir: demisemiquavers need 32 holes a measure; 960 holes for 30 bars (arithmetic)."""
    on = base_case()
    assert on.turn_steps == 960
    assert on.turn_quarters / 4 == 30
    grid = hole_grid(on)
    assert len(grid.lines[0].position) == 960
    assert np.unique(np.diff(grid.lines[0].position)).tolist() == [1]
    assert grid.turn_units == 960
    assert on.step_mm == pytest.approx(3.27249, abs=1e-5)


def test_a_triplet_eighth_is_a_third_of_a_hole_off() -> None:
    """Two triplet eighths at 120 are 2.6667 and 5.3333 holes of 62.5 ms in: a third off is 20.83 ms (arithmetic)."""
    song = score([(0, 60), (4, 60), (8, 60)], resolution=12)
    placement, _ = fit_with_findings(song, base_case(), FitOptions())
    assert placement.index.tolist() == [0, 3, 5]
    assert placement.deviation_ms.tolist() == pytest.approx([0.0, 20.8333, -20.8333], abs=1e-3)


@pytest.mark.parametrize(("holes", "notes_a_bar"), [(24, 12), (24, 24), (16, 16), (48, 24), (48, 16)])
def test_the_division_disc_of_24_and_16_is_exact(holes: int, notes_a_bar: int) -> None:
    """Heemschut, February 1944, p 122: a disc with rings of 24 and 16 parts, once round a measure; 48 holds both."""
    song = score([(place * 96 // notes_a_bar, 60) for place in range(notes_a_bar)])
    placement, findings = fit_with_findings(song, base_case(holes), FitOptions(us_per_quarter=500_000))
    assert placement.placed_count == notes_a_bar
    assert not np.any(placement.deviation_ticks)
    assert findings == ()
    assert np.unique(np.diff(placement.index)).tolist() == [holes // notes_a_bar]


def test_a_re_strike_of_150_ms_is_three_holes() -> None:
    """150 ms at 62.5 ms a hole is 2.4 holes, so strikes stand at least 3 holes, 187.5 ms, apart (arithmetic)."""
    every_hole = score([(place * 3, 60) for place in range(32)])
    placement, _ = fit_with_findings(every_hole, base_case(restrike_ms=150.0), FitOptions(reach_quarters=Fraction(0)))
    placed = np.flatnonzero(placement.outcome == Outcome.PLACED)
    assert int(np.diff(placement.index[placed]).min()) == 3
    assert len(placed) == math.ceil(32 / 3)


def test_a_plate_of_three_rows_of_64() -> None:
    """Common practice, no source: 64 on, 64 half and 64 triplet holes a channel; 38 channels; 8 plates in 2 sets.

    The plate is cut back at its trailing edge so that the last half hole, and no other, is lost.
    """
    on = wheel(
        [channel(f"c{number}", [number]) for number in range(38)],
        plate_count=4,
        steps_per_plate=64,
        geometry=replace(GEOMETRY, radius_mm=477.5 * 4 / 3, trail_edge_mm=4.0),
    )
    assert [row.hole_count(on.steps_per_plate) for row in on.rows] == [64, 64, 64]
    grid = hole_grid(on)
    per_plate = {np.count_nonzero(line.plate == plate) for line in grid.lines for plate in range(4)}
    assert per_plate == {192}
    plates_owned = on.plate_count * on.plate_sets
    assert plates_owned == 8
    assert 192 * len(on.channels) * plates_owned == 58_368
    assert sum(len(line.position) for line in grid.lines) * on.plate_sets == 58_368
    # steps of 15.625 mm: the last half hole is 7.81 mm from the next plate's first step, and so 3.81 mm from the cut
    line = grid.lines[0]
    gone = np.stack([line.row, line.index], axis=1)[line.loss != Loss.NONE]
    assert {tuple(hole) for hole in gone.tolist()} == {(1, 63)}
    assert Counter(line.loss.tolist()) == {Loss.NONE: 4 * 191, Loss.TRAIL_EDGE: 4}


def test_holes_too_near_an_edge_are_lost_and_a_wall_met_exactly_is_enough() -> None:
    narrow = replace(GEOMETRY, lead_edge_mm=4.5)  # hole radius 2 mm and wall 2.5 mm, met exactly by the first hole
    assert edge_loss(wheel(geometry=narrow), 0, 0) == Loss.NONE
    short = replace(GEOMETRY, lead_edge_mm=4.499)
    assert edge_loss(wheel(geometry=short), 0, 0) == Loss.LEAD_EDGE
    cut_back = replace(GEOMETRY, trail_edge_mm=3.5)
    assert edge_loss(wheel(geometry=cut_back), 1, 31) == Loss.TRAIL_EDGE
    assert edge_loss(wheel(geometry=cut_back), 2, 31) == Loss.NONE  # the last triplet hole is a sixth of a step before


def test_declared_losses_are_of_a_plate_and_a_channel_where_they_say_so() -> None:
    lost = (LostHole("on", 3), LostHole("half", 5, plate=2), LostHole("triplet", 7, plate=1, channel="bar 61"))
    grid = hole_grid(wheel(lost=lost))
    for number, line in enumerate(grid.lines):
        gone = line.loss == Loss.DECLARED
        seen = {tuple(hole) for hole in np.stack([line.plate, line.row, line.index], axis=1)[gone].tolist()}
        everywhere = {(plate, 0, 3) for plate in range(6)} | {(2, 1, 5)}
        assert seen == (everywhere | {(1, 2, 7)} if number == 1 else everywhere)


def test_places_on_the_rim() -> None:
    on = wheel()
    assert along_plate_mm(on, 0, 31) == pytest.approx(31 * 2 * math.pi * 477.5 / 192)
    assert along_plate_mm(on, 2, 1) == pytest.approx(4 / 3 * 2 * math.pi * 477.5 / 192)
    assert across_rim_mm(on, 3, 2) == 3 * 14.0 + 2.0


@given(strategies.wheels())
def test_every_hole_is_where_plate_step_and_phase_say(on: Wheel) -> None:
    grid = hole_grid(on)
    assert len(grid.lines) == len(on.channels)
    for made, line in zip(on.channels, grid.lines, strict=True):
        rows = [number for number, row in enumerate(on.rows) if row.name in made.rows]
        per_plate = sum(on.rows[number].hole_count(on.steps_per_plate) for number in rows)
        assert len(line.position) == on.plate_count * per_plate
        order = list(zip(line.position.tolist(), line.row.tolist(), strict=True))
        assert order == sorted(order)
        assert not line.position.flags.writeable
        for plate, row, index, position in zip(line.plate, line.row, line.index, line.position, strict=True):
            holes: Row = on.rows[int(row)]
            turn, phase = divmod(int(index), len(holes.phases))
            steps = int(plate) * on.steps_per_plate + turn * holes.period_steps + holes.phases[phase]
            assert Fraction(int(position), grid.resolution) == steps * on.step_quarters


def test_resolution_is_the_least_that_makes_every_hole_whole() -> None:
    assert hole_grid(wheel(rows=(ON, HALF, TRIPLET))).resolution == 24
    assert hole_grid(wheel([channel("only", [60], rows=["on"])], rows=(ON,))).resolution == 4
    assert hole_grid(wheel([channel("only", [60], rows=["on", "half"])], rows=(ON, HALF))).resolution == 8
