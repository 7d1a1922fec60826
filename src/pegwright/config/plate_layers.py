"""The layers of a plate file, with what is known of their material and what a bent strip measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pegwright.config.checks import NAME, YES_NO, decimal, one_of, whole
from pegwright.config.fields import Table
from pegwright.config.lengths import has_length, in_inches, length, read_length
from pegwright.config.wheel_channels import read_names
from pegwright.making import Layer, Material
from pegwright.plate.bend import k_uncertainty, measured_k
from pegwright.plate.material import expansion_of
from pegwright.wheel import Wheel

MAX_LAYERS = 8
K_SIGMAS = 3  # standard uncertainties by which a measured k may lie outside 0 to 1
MIDDLE = 0.5  # k of a sheet bent elastically, where none is given
ONE_LAYER = "sheet"

_K = decimal(0, 1, "as a share of the thickness from the inner face")
_EXPANSION = decimal(0, 0.001, "a kelvin, such as 180e-6")
_PERCENT = decimal(0, 100, "in percent", above=True)
_MPA = decimal(0, 1e7, "in MPa", above=True)
_THICKNESS = length(0, 1000, above=True)
_LENGTH = length(0, 10_000)
_ABOVE = length(0, 100_000, above=True)
_SCALE = decimal(0.9, 1.1, "length on the flat strip over length on the bent one")
_HOLES = whole(2, 10_000, "holes over which it was measured")
_SLACK = 0.05  # share by which a measured length may differ from that of the holes that were counted


def read_layers(top: Table, sheet: Table, wheel: Wheel) -> tuple[Layer, ...]:
    """The layers, from the outermost inwards; one as thick as the wheel file says where none is given.

    Args:
        top: of the plate file.
        sheet: its `[sheet]`, which has what layers do not give of their own.
        wheel: whose plates they make.
    """
    material = _read_material(sheet, Material("sheet"))
    k = sheet.value("k", _K, MIDDLE, default=MIDDLE)
    tables = top.tables("layer", MAX_LAYERS)
    geometry = wheel.geometry
    one = Layer(
        name=ONE_LAYER,
        radius_mm=geometry.radius_mm,
        thickness_mm=geometry.thickness_mm,
        k=k,
        k_uncertainty=None,
        gap_mm=0.0,
        pin_holes=True,
        hole_diameter_mm=geometry.hole_diameter_mm,
        material=material,
    )
    layers, radius_mm = [], geometry.radius_mm
    for table, name in zip(tables, read_names(tables, "layer").names, strict=True):
        layer = _read_layer(table, replace(one, name=name), radius_mm)
        layers.append(layer)
        radius_mm = layer.inner_radius_mm
    _check_thickness(top, tables, layers, wheel)
    _check_pin_holes(top, layers)
    of_strip = _read_strip(top, sheet, tables, layers or [one], wheel)
    return tuple(of_strip)


def _read_layer(table: Table, default: Layer, outside_mm: float) -> Layer:
    gap_mm = read_length(table, "gap_mm", _LENGTH, 0.0, 0.0)
    pin_holes = table.value("pin_holes", YES_NO, True, default=True)
    hole_mm = read_length(table, "hole_diameter_mm", _THICKNESS, 1.0, default.hole_diameter_mm)
    layer = replace(
        default,
        radius_mm=outside_mm - gap_mm,
        thickness_mm=read_length(table, "thickness_mm", _THICKNESS, 1e-3),
        k=table.value("k", _K, MIDDLE, default=default.k),
        gap_mm=gap_mm,
        pin_holes=pin_holes,
        hole_diameter_mm=hole_mm,
        material=_read_material(table, default.material),
    )
    table.close()
    return layer


def _read_material(table: Table, default: Material) -> Material:
    """The material of a sheet; its expansion is the maker's own, or the usual one of the table."""
    name = table.value("material", NAME, default.name, default=default.name)
    published = expansion_of(name)
    usual = published.usual if published else None
    if not table.has("material"):
        usual = default.expansion_per_k
    return Material(
        name=name,
        expansion_per_k=table.value("expansion_per_k", _EXPANSION, 0.0) if table.has("expansion_per_k") else usual,
        max_strain=_share(table, default.max_strain),
        yield_mpa=_optional(table, "yield_mpa", default.yield_mpa),
        modulus_mpa=_optional(table, "modulus_mpa", default.modulus_mpa),
    )


def _share(table: Table, default: float | None) -> float | None:
    return table.value("max_strain_percent", _PERCENT, 1.0) / 100 if table.has("max_strain_percent") else default


def _optional(table: Table, key: str, default: float | None) -> float | None:
    return table.value(key, _MPA, 1.0) if table.has(key) else default


def _check_thickness(top: Table, tables: Sequence[Table], layers: Sequence[Layer], wheel: Wheel) -> None:
    if layers and top.faults.none_in("layer") and layers[-1].inner_radius_mm <= 0:
        radius_mm = wheel.geometry.radius_mm
        total_mm = radius_mm - layers[-1].inner_radius_mm
        message = f"layers and gaps of {total_mm:g} mm in all are not below the radius of the wheel, {radius_mm:g} mm"
        tables[-1].fault("thickness_mm", message, "give the thickness of each sheet")


def _check_pin_holes(top: Table, layers: Sequence[Layer]) -> None:
    if layers and top.faults.none_in("layer") and not any(layer.pin_holes for layer in layers):
        top.fault("layer", "none has holes for pins", "take pin_holes = false out of one")


def _read_strip(
    top: Table, sheet: Table, tables: Sequence[Table], layers: Sequence[Layer], wheel: Wheel
) -> list[Layer]:
    """The layers, with what a strip of one of them measured in place of its `k`."""
    if not top.has("strip"):
        return list(layers)
    strip = top.table("strip")
    names = [layer.name for layer in layers]
    chosen = strip.value("layer", one_of(names, "layer"), names[0], default=names[0])
    number = names.index(chosen)
    holder = tables[number] if tables else sheet
    if holder.has("k"):
        strip.fault("layer", f"is measured, and {holder.at('k')} is given too", "take that k out")
    measured = _measured(strip, layers[number], wheel)
    strip.close()
    return [measured if place == number else layer for place, layer in enumerate(layers)]


def _measured(strip: Table, layer: Layer, wheel: Wheel) -> Layer:
    """A layer with the `k` or the scale of its strip."""
    lengths = ("flat_mm", "rim_mm", "uncertainty_mm")
    if strip.has("scale"):
        for key in ("holes", *lengths):
            if strip.has(key) or (key in lengths and has_length(strip, key)):
                given = key if strip.has(key) else in_inches(key)
                strip.fault(given, "is given together with scale", "keep one of the two")
        return replace(layer, scale=strip.value("scale", _SCALE, 1.0))
    holes = strip.value("holes", _HOLES, 2)
    flat_mm, rim_mm, uncertainty_mm = (read_length(strip, key, _ABOVE, 1.0) for key in lengths)
    if not strip.faults.none_in(strip.path, "layer", "sheet"):
        return layer
    step_mm = wheel.step_mm * layer.radius_mm / wheel.geometry.radius_mm
    if not _is_count_right(strip, holes, rim_mm, step_mm):
        return layer
    k = measured_k(layer, flat_mm, rim_mm)
    k_error = k_uncertainty(layer, rim_mm, uncertainty_mm)
    if not -K_SIGMAS * k_error <= k <= 1 + K_SIGMAS * k_error:
        message = (
            f"{rim_mm:g} mm along the rim for {flat_mm:g} mm flat is k = {k:.3f}, outside 0 to 1 by more than"
            f" {K_SIGMAS} times its uncertainty, {k_error:.3f}"
        )
        strip.fault("rim_mm", message, f"measure again; if it was stretched, give scale = {flat_mm / rim_mm:.5f}")
    return replace(layer, k=min(max(k, 0.0), 1.0), k_uncertainty=k_error)


def _is_count_right(strip: Table, holes: int, rim_mm: float, step_mm: float) -> bool:
    """Whether a length is about that of the holes counted: one more or less is the slip that is easily made.

    Args:
        strip: the table, for faults.
        holes: that were counted.
        rim_mm: that was measured.
        step_mm: on the outer face of the bent strip.
    """
    expected_mm = (holes - 1) * step_mm
    is_right = abs(rim_mm - expected_mm) <= min(_SLACK * expected_mm, step_mm / 2)
    if not is_right:
        message = f"{holes} holes at a step of {step_mm:.3f} mm are {expected_mm:.2f} mm apart, not {rim_mm:g} mm"
        strip.fault("holes", message, "count them, the first and the last included")
    return is_right
