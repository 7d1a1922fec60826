"""What bending does to a sheet: its neutral line, strain, widened holes, chord and sag, springback.

Elastic bending of a thin sheet to an arc of a circle, in which plane sections stay plane. What is left out is said in
docs/mathematics-of-plates.md.
"""

from __future__ import annotations

import math

from pegwright.making import Layer

TIGHT_THICKNESSES = (
    3.0  # inside radius over thickness above which the neutral line is in the middle, whatever the material
)
_VERY_TIGHT = 1.0
KIRSCH = 3.0


def k_range(inner_radius_mm: float, thickness_mm: float) -> tuple[float, float]:
    """The lowest and the highest `k` that a table gives for a bend.

    Source: the K-factor table as reproduced at primidi.com/air_bending: 0.33 to 0.40 up to one thickness, 0.40 to 0.45
        up to three, 0.50 above.
    """
    ratio = inner_radius_mm / thickness_mm
    if ratio > TIGHT_THICKNESSES:
        return 0.5, 0.5
    return (0.33, 0.40) if ratio <= _VERY_TIGHT else (0.40, 0.45)


def flat_ratio(layer: Layer, rim_radius_mm: float) -> float:
    """Length on a flat layer over length along the rim, before heat: R_n / R, or by the scale that was measured.

    Source: S. Kalpakjian, Manufacturing Engineering and Technology, as reproduced at
        robsiegwart.com/k-factor-and-bend-allowance.html: a bend is as long as its neutral line, angle (R_i + k t).
    """
    flat_mm = layer.neutral_radius_mm if layer.scale is None else layer.scale * layer.radius_mm
    return flat_mm / rim_radius_mm


def outer_strain(layer: Layer) -> float:
    """Strain at the outer face of a bent layer, R_o / R_n - 1 by its own neutral line or measured scale; at least 0.

    Source: plane sections stay plane; t / (2 R_i + t) of S. Kalpakjian, as at `flat_ratio`, is the case k = 0.5.
    """
    return max(0.0, 1 / flat_ratio(layer, layer.radius_mm) - 1)


def inner_strain(layer: Layer) -> float:
    """By how much the inner face of a bent layer becomes shorter, as a share: 1 - R_i / R_n; at least 0."""
    return max(0.0, 1 - layer.inner_radius_mm / layer.radius_mm / flat_ratio(layer, layer.radius_mm))


def plate_bending_factor(hole_radius_mm: float, thickness_mm: float) -> float:
    """How many times the strain of a bent plate is greater at the edge of a hole.

    Source: Roark's Formulas for Stress and Strain, as reproduced at eng-calculations.com: a circular hole in an
        infinite plate under bending in one direction.
    """
    ratio = 2 * hole_radius_mm / thickness_mm
    return 1.79 + 0.25 / (0.39 + ratio) + 0.81 / (1 + ratio**2) - 0.26 / (1 + ratio**3)


def widening_mm(layer: Layer) -> tuple[float, float, float]:
    """How much a pin hole widens along the rim at the outer face: least, by Roark, greatest.

    From the strain alone, e d, to that of a hole in a thin sheet under tension, 3 e d.

    Source: G. Kirsch, Zeitschrift des VDI 42, 1898: factor 3 (from memory).
    """
    return _range_mm(layer, outer_strain(layer))


def narrowing_mm(layer: Layer) -> tuple[float, float, float]:
    """How much a pin hole narrows along the rim at the inner face, as `widening_mm` has it at the outer one."""
    return _range_mm(layer, inner_strain(layer))


def _range_mm(layer: Layer, strain: float) -> tuple[float, float, float]:
    changed_mm = strain * layer.hole_diameter_mm
    factor = plate_bending_factor(layer.hole_diameter_mm / 2, layer.thickness_mm)
    return changed_mm, factor * changed_mm, KIRSCH * changed_mm


def wrong_k_mm(layer: Layer, along_mm: float, rim_radius_mm: float, k_error: float = 0.1) -> float:
    """How far a hole is off along the rim, at a distance from step 1, where `k` is wrong.

    Args:
        layer: that is drilled.
        along_mm: along the rim.
        rim_radius_mm: of the rim.
        k_error: by which `k` is wrong.
    """
    return along_mm * k_error * layer.thickness_mm / rim_radius_mm


def chord_mm(radius_mm: float, along_mm: float) -> float:
    """The straight distance between two points of a circle that are `along_mm` apart along it."""
    return 2 * radius_mm * math.sin(along_mm / radius_mm / 2)


def sag_mm(radius_mm: float, along_mm: float) -> float:
    """The height of an arc over its chord."""
    return radius_mm * (1 - math.cos(along_mm / radius_mm / 2))


def stand_off_mm(radius_mm: float, beyond_mm: float) -> float:
    """How far the end of a sheet stands off the circle where it stays flat beyond its last fixing."""
    return math.hypot(radius_mm, beyond_mm) - radius_mm


def springback_radius_mm(inner_radius_mm: float, thickness_mm: float, yield_mpa: float, modulus_mpa: float) -> float:
    """The inner radius to which a bent sheet relaxes when it is let go; infinite where it springs flat.

    Args:
        inner_radius_mm: to which it was bent.
        thickness_mm: of the sheet.
        yield_mpa: yield strength.
        modulus_mpa: elastic modulus.

    Source: R_i / R_f = 4 X^3 - 3 X + 1 with X = yield R_i / (modulus t), as reproduced at novasolver.jp; from X = 0.5
        on the bend is wholly elastic.
    """
    share = yield_mpa * inner_radius_mm / (modulus_mpa * thickness_mm)
    if share >= 0.5:
        return math.inf
    return inner_radius_mm / (4 * share**3 - 3 * share + 1)


def measured_k(layer: Layer, flat_mm: float, rim_mm: float) -> float:
    """The `k` with which a length on the flat sheet becomes the length that was measured along the rim.

    Args:
        layer: whose strip was bent, at its radius.
        flat_mm: between two holes as they were drilled.
        rim_mm: between them along the outer face of the bent strip.
    """
    neutral_mm = layer.radius_mm * flat_mm / rim_mm
    return 1 - (layer.radius_mm - neutral_mm) / layer.thickness_mm


def k_uncertainty(layer: Layer, rim_mm: float, uncertainty_mm: float) -> float:
    """The standard uncertainty of a measured `k`, u R / (s t).

    Args:
        layer: as for `measured_k`.
        rim_mm: the length that was measured, s.
        uncertainty_mm: its standard uncertainty, u.
    """
    return uncertainty_mm * layer.radius_mm / (rim_mm * layer.thickness_mm)
