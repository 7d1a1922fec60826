from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import pdist, squareform

from pegwright import bundled_wheel, load_wheel
from pegwright.columns import frozen_ints
from pegwright.making import HoleKind, Pattern
from pegwright.plate.order import DrillOrder, drilling_order
from pegwright.plate.path import path_time, tool_paths
from plates import MACHINE, TOOLS, pattern_of, with_holes


@pytest.fixture(scope="module")
def demo() -> Pattern:
    return pattern_of(load_wheel(bundled_wheel()))


def travel_m(pattern: Pattern, order: DrillOrder) -> float:
    *_, pins = tool_paths(pattern, TOOLS, MACHINE, order)
    return path_time(pattern, MACHINE, pins).travel_mm / 1000


def test_shortest_is_within_5_percent_of_the_minimum_spanning_tree(demo: Pattern) -> None:
    """No path is shorter than the minimum spanning tree, which scipy computes: 13.22 m for the 2,120 pin holes."""
    pins = demo.holes.kind == HoleKind.PIN
    places = np.column_stack([demo.holes.x_mm[pins], demo.holes.y_mm[pins]])
    tree_m = minimum_spanning_tree(squareform(pdist(places))).sum() / 1000
    assert len(places) == 2120
    assert tree_m == pytest.approx(13.22, abs=0.01)
    assert travel_m(demo, DrillOrder.SHORTEST) == pytest.approx(13.27, abs=0.01)
    assert travel_m(demo, DrillOrder.SHORTEST) <= 1.05 * tree_m


def test_one_way_reaches_every_hole_from_the_same_side(demo: Pattern) -> None:
    order, begins = drilling_order(demo.holes, np.arange(demo.holes.count), DrillOrder.ONE_WAY)
    first = np.isin(np.arange(len(order)), begins)
    assert (np.diff(demo.holes.x_mm[order])[~first[1:]] >= 0).all()
    assert len(begins) == 2 + 24  # fixing holes lie in two lines
    assert travel_m(demo, DrillOrder.ONE_WAY) == pytest.approx(24.2, abs=0.1)


@pytest.mark.parametrize("order", list(DrillOrder))
def test_holes_are_drilled_channel_by_channel(demo: Pattern, order: DrillOrder) -> None:
    sequence, begins = drilling_order(demo.holes, np.arange(demo.holes.count), order)
    channels = demo.holes.channel[sequence]
    assert sorted(sequence.tolist()) == list(range(demo.holes.count))
    assert (np.diff(channels) >= 0).all()
    assert channels[begins].tolist() == [-1, -1, *range(24)]


def test_rows_far_apart_are_drilled_row_after_row_where_that_is_shorter(demo: Pattern) -> None:
    x, y = [0.0, 1.0, 2.0, 3.0] * 2, [0.0] * 4 + [-50.0] * 4
    pattern = with_holes(demo, x, y)
    pattern = replace(pattern, holes=replace(pattern.holes, row=frozen_ints([0] * 4 + [1] * 4)))
    assert travel_m(pattern, DrillOrder.SHORTEST) == pytest.approx(0.056, abs=0.0005)


def test_no_holes_have_no_order(demo: Pattern) -> None:
    sequence, begins = drilling_order(demo.holes, np.arange(0), DrillOrder.SHORTEST)
    assert len(sequence) == len(begins) == 0
