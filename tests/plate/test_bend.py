"""What bending does to a sheet, beside published values; the source stands beside each."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from pegwright.facts import speed_at
from pegwright.making import Face, Layer, Material, Sheet
from pegwright.plate import bend
from pegwright.plate.material import EXPANSION, PLYWOOD_BENDS, plywood_radius_mm
from pegwright.plate.pattern import heat_ratio
from samples import wheel

IN = 25.4


def layer(radius_mm: float = 477.5, thickness_mm: float = 6.0, k: float = 0.5, hole_mm: float = 2.5) -> Layer:
    return Layer("sheet", radius_mm, thickness_mm, k, None, 0.0, True, hole_mm, Material("HDPE", 180e-6))


def flat_bend_mm(inner_radius_mm: float, thickness_mm: float, k: float, angle_rad: float) -> float:
    """Flat length of a sheet bent through an angle: that of its outer face, by the ratio of the program."""
    bent = layer(inner_radius_mm + thickness_mm, thickness_mm, k)
    return angle_rad * bent.radius_mm * bend.flat_ratio(bent, bent.radius_mm)


# Source: Machinery's Handbook, 31st edition, p. 1421, equations 32 to 34, for 90 degrees: 0.55 T + 1.57 R (soft brass,
# copper), 0.64 T + 1.57 R (half-hard, soft steel, aluminium), 0.71 T + 1.57 R (hard). As L = angle (R + K T) they have
# K = 0.55, 0.64 and 0.71 over half pi. Worked there: T 0.125 in, R 0.375 at 180 degrees 1.338 in, R 0.625 at 60 0.707.
@pytest.mark.parametrize(
    ("inner_in", "angle_deg", "length_in"), [(0.375, 180.0, 1.338), (0.625, 60.0, 0.707)], ids=["180", "60"]
)
def test_flat_lengths_are_those_of_the_handbook(inner_in: float, angle_deg: float, length_in: float) -> None:
    k = 0.64 / (math.pi / 2)
    flat_mm = flat_bend_mm(inner_in * IN, 0.125 * IN, k, math.radians(angle_deg))
    assert flat_mm / IN == pytest.approx(length_in, abs=0.001)


def test_the_handbook_s_part_of_two_bends_and_straight_lengths() -> None:
    k = 0.64 / (math.pi / 2)
    bends = [(0.375, 180.0), (0.625, 60.0)]
    lengths_mm = [flat_bend_mm(r * IN, 0.125 * IN, k, math.radians(angle)) for r, angle in bends]
    assert sum(lengths_mm) / IN + 3.5 == pytest.approx(5.545, abs=0.001)  # as there, with 3.5 in of straight lengths


def test_a_bend_of_steel_is_that_of_another_calculator() -> None:
    """Source: pgsrl.eu/en/calculators/bend-allowance, R 2, s 2, 90 degrees: about 4.16 (DIN 6935, K = 0.325)."""
    assert flat_bend_mm(2, 2, 0.325, math.pi / 2) == pytest.approx(4.16, abs=0.005)


# Source: the K-factor table as reproduced at primidi.com/air_bending.
@pytest.mark.parametrize(
    ("thicknesses", "low", "high"),
    [(0.5, 0.33, 0.40), (1.0, 0.33, 0.40), (1.01, 0.40, 0.45), (3.0, 0.40, 0.45), (3.01, 0.5, 0.5), (78.6, 0.5, 0.5)],
)
def test_k_of_the_table(thicknesses: float, low: float, high: float) -> None:
    assert bend.k_range(thicknesses * 6, 6) == (low, high)


def test_strain_ratio_chord_and_sag_of_the_demo_plate() -> None:
    """Source: 1/(2R/t + 1), Kalpakjian, as reproduced at robsiegwart.com/k-factor-and-bend-allowance.html; a chord is
    2 R sin(angle/2), its sag R (1 - cos(angle/2)): of 60 degrees the radius itself."""
    demo = layer()
    assert demo.neutral_radius_mm == 474.5
    assert bend.flat_ratio(demo, 477.5) == pytest.approx(0.9937173, abs=5e-8)
    assert bend.outer_strain(demo) == pytest.approx(1 / (2 * 471.5 / 6 + 1), rel=1e-12)
    assert 100 * bend.outer_strain(demo) == pytest.approx(0.632, abs=0.0005)
    sixth_mm = math.pi * 477.5 / 3
    assert bend.chord_mm(477.5, sixth_mm) == pytest.approx(477.5, abs=1e-9)
    assert bend.sag_mm(477.5, sixth_mm) == pytest.approx(63.97, abs=0.005)


# By hand, from R_n = 471.5 + 6 k: (477.5 - R_n) / R_n and (R_n - 471.5) / R_n in percent.
@pytest.mark.parametrize(
    ("k", "outer_percent", "inner_percent"),
    [(0, 1.2725, 0), (0.5, 0.6322, 0.6322), (0.8, 0.2519, 1.0078), (1, 0, 1.2565)],
)
def test_strain_follows_the_neutral_line(k: float, outer_percent: float, inner_percent: float) -> None:
    bent = layer(k=k)
    assert 100 * bend.outer_strain(bent) == pytest.approx(outer_percent, abs=5e-5)
    assert 100 * bend.inner_strain(bent) == pytest.approx(inner_percent, abs=5e-5)
    for widths, percent in ((bend.widening_mm(bent), outer_percent), (bend.narrowing_mm(bent), inner_percent)):
        assert widths[0] == pytest.approx(2.5 * percent / 100, abs=2e-6)
        assert widths[2] == pytest.approx(7.5 * percent / 100, abs=5e-6)


def test_strain_by_a_measured_scale_is_that_of_the_measured_lengths() -> None:
    """By hand: 1 / 0.99 - 1 = 1.0101 %; 1 - 471.5 / (0.99 x 477.5) = 0.2591 %; a sheet stretched by more has none."""
    stretched = replace(layer(), scale=0.99)
    assert 100 * bend.outer_strain(stretched) == pytest.approx(1.0101, abs=5e-5)
    assert 100 * bend.inner_strain(stretched) == pytest.approx(0.2591, abs=5e-5)
    assert bend.outer_strain(replace(layer(), scale=1.01)) == 0
    assert bend.inner_strain(replace(layer(), scale=0.98)) == 0


def test_chord_sag_and_flat_pitch_of_a_plate_of_30_degrees() -> None:
    """A wheel of 1000 mm with 12 plates and 960 positions, by hand: arc 261.799, chord 258.819, sag 17.037; 10 mm
    thick drilled flat 259.181, ratio 1.010101, strain 0.0101, pitch 3.23977; 31.416 = 10 pi over the whole drum."""
    ten = layer(500, 10)
    arc_mm = 1000 * math.pi / 12
    assert arc_mm == pytest.approx(261.799, abs=5e-4)
    assert bend.chord_mm(500, arc_mm) == pytest.approx(258.819, abs=5e-4)
    assert bend.sag_mm(500, arc_mm) == pytest.approx(17.037, abs=5e-4)
    ratio = bend.flat_ratio(ten, 500)
    assert arc_mm * ratio == pytest.approx(259.181, abs=5e-4)
    assert 1 / ratio == pytest.approx(1.010101, abs=5e-7)
    assert bend.outer_strain(ten) == pytest.approx(0.0101, abs=5e-5)
    assert 1000 * math.pi / 960 * ratio == pytest.approx(3.23977, abs=5e-6)
    assert 1000 * math.pi * (1 - ratio) == pytest.approx(10 * math.pi, rel=1e-12)


def test_outer_minus_neutral_circumference_is_pi_t_whatever_the_radius() -> None:
    """The outer face is t/2 outside the neutral line where k = 0.5: 2 pi t/2."""
    for radius_mm in (50.0, 477.5, 3000.0):
        rim_mm = 2 * math.pi * radius_mm
        assert rim_mm * (1 - bend.flat_ratio(layer(radius_mm), radius_mm)) == pytest.approx(6 * math.pi, rel=1e-12)


def test_widening_lies_between_strain_alone_and_kirsch() -> None:
    """Source: Roark as reproduced at eng-calculations.com, 2.548 for a 2.5 mm hole in 6 mm; Kirsch 1898: 3."""
    assert bend.plate_bending_factor(1.25, 6) == pytest.approx(2.548, abs=0.0005)
    lowest_mm, roark_mm, highest_mm = bend.widening_mm(layer())
    assert lowest_mm == pytest.approx(0.016, abs=0.0005)
    assert highest_mm == pytest.approx(0.047, abs=0.0005)
    assert roark_mm == pytest.approx(2.548 * lowest_mm, rel=1e-3)
    for radius_mm in np.geomspace(0.01, 1000, 50):  # from a hole in a thick plate to one in a thin plate
        assert 1.79 < bend.plate_bending_factor(float(radius_mm), 6) <= 3.0 + 0.01


def test_k_wrong_by_a_tenth_is_5_ms_a_plate() -> None:
    """0.1 x 6/477.5 of 500.037 mm; the demo wheel turns at 125 mm/s at 120 quarter notes a minute."""
    off_mm = bend.wrong_k_mm(layer(), 500.037, 477.5)
    assert off_mm == pytest.approx(0.628, abs=0.0005)
    moved_mm = 500.037 * (bend.flat_ratio(layer(k=0.6), 477.5) - bend.flat_ratio(layer(), 477.5))
    assert moved_mm == pytest.approx(off_mm, rel=1e-9)
    assert off_mm * speed_at(wheel(), 120).ms_per_mm == pytest.approx(5.0, abs=0.05)


def test_a_strip_gives_k_with_its_uncertainty() -> None:
    """0.25 mm over 500 mm of the demo rim: 0.25 x 477.5 / (500 x 6) = 0.040."""
    demo = layer()
    assert bend.k_uncertainty(demo, 500, 0.25) == pytest.approx(0.040, abs=0.0005)
    for k in (0.0, 0.31, 0.5, 1.0):
        flat_mm = 500 * bend.flat_ratio(layer(k=k), 477.5)
        assert bend.measured_k(demo, flat_mm, 500) == pytest.approx(k, abs=1e-12)
    by_difference = bend.measured_k(demo, 496.859, 500.25) - bend.measured_k(demo, 496.859, 500.0)
    assert abs(by_difference) == pytest.approx(bend.k_uncertainty(demo, 500, 0.25), rel=0.01)


def test_steel_relaxes_and_polyethylene_springs_flat() -> None:
    """Source: novasolver.jp/en/tools/spring-back.html: 300 MPa, 210 GPa, R 50, t 2: X 0.0357, R_i/R_f 0.893, R_f 55.99.
    S235 of 1.5 mm at R 500 by the same formula: X 0.3730, 0.0886, 5646 mm. HDPE (23, 1000 MPa, from memory): flat."""
    assert bend.springback_radius_mm(50, 2, 300, 210_000) == pytest.approx(55.99, abs=0.01)
    assert bend.springback_radius_mm(500, 1.5, 235, 210_000) == pytest.approx(5646, abs=1.5)
    assert bend.springback_radius_mm(490, 10, 23, 1000) == math.inf


# Source: linear expansion of plastics and metals as in the table of material.py; plates of 261.8 mm, 15 K.
@pytest.mark.parametrize(
    ("alpha", "grows_mm"), [(180e-6, 0.7069), (12e-6, 0.0471), (23e-6, 0.0903), (5e-6, 0.0196)], ids=str
)
def test_a_plate_of_261_8_mm_grows_by_15_k_as_by_hand(alpha: float, grows_mm: float) -> None:
    sheet = Sheet(10, 10, 0, Face.OUTER, machined_c=35, reference_c=20)
    heated = replace(layer(500, 10), material=Material("any", alpha))
    assert 261.799 * (heat_ratio(sheet, heated) - 1) == pytest.approx(grows_mm, abs=5e-5)


def test_published_expansions_hold_what_the_issue_lists() -> None:
    """Source: HDPE 100 to 200e-6 a kelvin, plan with 180; steel 10.8 to 12, aluminium 22 to 24, plywood 4.5 to 6.1."""
    spans = {name: (each.least * 1e6, each.greatest * 1e6) for name, each in EXPANSION.items()}
    expected = {"hdpe": (100, 200), "steel": (10.8, 12), "aluminium": (22, 24), "plywood": (4.5, 6.1)}
    assert spans == {name: pytest.approx(span) for name, span in expected.items()}
    assert EXPANSION["hdpe"].usual == 180e-6
    assert all(each.least <= each.usual <= each.greatest for each in EXPANSION.values())


def test_bend_radii_of_plywood_are_those_published() -> None:
    """Source: FAA AC 43.13-1B as reproduced at engineersedge.com: 5-ply 0.250 in, dry, 31.0 and 20.0 in; 0.315 in 43.0
    and 28.0; the panel association, 1/4 in: 2 ft across, 5 ft along (as quoted by concreteconstruction.net)."""
    assert plywood_radius_mm(0.250 * IN) == pytest.approx((31 * IN, 20 * IN))
    assert plywood_radius_mm(0.315 * IN) == pytest.approx((43 * IN, 28 * IN))
    assert plywood_radius_mm(0.2825 * IN) == pytest.approx((37 * IN, 24 * IN))  # half-way
    assert plywood_radius_mm(0.125 * IN) == pytest.approx((15.5 * IN, 10 * IN))  # in proportion below the table
    assert plywood_radius_mm(0.630 * IN) == pytest.approx((86 * IN, 56 * IN))  # and above it
    association = PLYWOOD_BENDS[2]
    assert (association.along_mm / IN / 12, association.across_mm / IN / 12) == pytest.approx((2, 5))


def test_the_end_beyond_the_last_fixing_stands_off_as_a_tangent_does() -> None:
    """A tangent leaves a circle by s^2 / 2R for small s."""
    assert bend.stand_off_mm(477.5, 10) == pytest.approx(100 / 955, rel=1e-3)
