"""Heat and damp: only the difference between plate and rim counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pegwright.making import Climate, Held, Holding, Layer, Material
from pegwright.plate.climate import growths

PLATE_MM = 261.8
WARM, DAMP = Climate("hall", 35.0, 50.0), Climate("wet", 20.0, 80.0)


def grown(plate: Material, rim: Material, *climates: Climate) -> list[tuple[float, float, float]]:
    layer = Layer("plate", 500.0, 10.0, 0.5, None, 0.0, True, 2.5, plate)
    held = Held(Holding.DOWELLED, rim=rim, climates=climates)
    return [(each.least_mm, each.usual_mm, each.greatest_mm) for each in growths(held, layer, PLATE_MM, 20.0)]


def test_the_makers_own_values_go_before_any_table() -> None:
    # By hand, 15 K: 180e-6 x 261.8 x 15 = 0.7069; against a rim of 5e-6, 0.6872 mm.
    hdpe, rigid, plywood = Material("own HDPE", 180e-6), Material("stone", 0.0), Material("own plywood", 5e-6)
    assert grown(hdpe, rigid, WARM) == [pytest.approx((0.7069,) * 3, abs=5e-5)]
    assert grown(hdpe, plywood, WARM) == [pytest.approx((0.6872,) * 3, abs=5e-5)]
    assert grown(hdpe, hdpe, WARM) == [pytest.approx((0.0,) * 3)]


def test_tables_give_the_least_and_the_greatest() -> None:
    # By hand: 100 to 200e-6 for HDPE, 180 usual; steel 10.8 to 12e-6, 11.4 usual.
    by_table = Material("HDPE", 180e-6), Material("steel", 11.4e-6)
    expected = tuple(alpha * 1e-6 * PLATE_MM * 15 for alpha in (100 - 12, 180 - 11.4, 200 - 10.8))
    assert grown(*by_table, WARM) == [pytest.approx(expected)]
    cold = replace(WARM, celsius=5.0)
    assert grown(*by_table, cold) == [pytest.approx((-expected[2], -expected[1], -expected[0]))]


def test_plywood_swells_with_damp_and_a_plywood_rim_with_it() -> None:
    # By hand: 0.0002 for 10 % RH, so 0.0006 x 261.8 = 0.157 mm for 30 %.
    plywood, stone = Material("plywood", 5e-6), Material("stone", 0.0)
    assert grown(plywood, stone, DAMP)[0][1] == pytest.approx(0.157, abs=5e-4)
    assert grown(plywood, plywood, DAMP)[0][1] == pytest.approx(0.0)
    assert grown(stone, plywood, DAMP)[0][1] == pytest.approx(-0.157, abs=5e-4)


def test_nothing_is_said_of_a_rim_that_is_not_known() -> None:
    layer = Layer("plate", 500.0, 10.0, 0.5, None, 0.0, True, 2.5, Material("HDPE", 180e-6))
    assert growths(Held(Holding.DOWELLED, climates=(WARM,)), layer, PLATE_MM, 20.0) == ()
