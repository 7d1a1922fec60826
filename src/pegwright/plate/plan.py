"""A plate as it is to be made: its patterns, what bending does to every layer, its walls, and what to look out for."""

from __future__ import annotations

import math

import numpy as np

from pegwright.findings import Finding, Severity
from pegwright.frozen import frozen
from pegwright.grid import LENGTH_SLACK_MM
from pegwright.making import Face, HoleKind, Layer, Pattern, PlateFile
from pegwright.plate import bend
from pegwright.plate.material import PLYWOOD_BENDS, near_material, plywood_radius_mm
from pegwright.plate.pattern import heat_ratio, patterns, rim_edges_mm
from pegwright.plate.tools import fixing_tool
from pegwright.plate.walls import PatternWalls, Wall
from pegwright.units import plural, printed
from pegwright.wheel import Wheel

K_ERROR = 0.1  # for which the weight of a wrong k is given
POINT_DEG = 118.0  # of a common twist drill: common practice, no source
_PLYWOOD = "plywood"
_THICKNESS_OFF_MM = 0.2  # within which a published thickness is that of a sheet


@frozen()
class LayerFacts:
    """What bending does to one layer.

    Args:
        layer: the layer.
        rim_plate_mm, flat_plate_mm: from a plate's first step to the next plate's, along the rim and flat.
        flat_step_mm: a step, flat.
        rim_sheet_mm, flat_sheet_mm: the cut sheet, along the rim and flat.
        width_mm: of the cut sheet.
        ratio: of length on the flat sheet to length on the rim, before heat.
        heat: length as it is drilled over length at the reference temperature.
        strain: at the outer face.
        widening_mm: of a pin hole there, along the rim: least, by Roark's factor, greatest.
        narrowing_mm: the same of its end at the inner face.
        chord_mm, sag_mm: of the arc from a plate's first step to the next plate's.
        wrong_k_mm: how far the plate's end is off for each 0.1 that `k` is wrong.
        beyond_mm, stand_off_mm: the longest end beyond the last fixing, and how far it stands off the rim, if flat.
        springback_mm: inner radius to which it relaxes; infinite where it springs flat, None if not known.
    """

    layer: Layer
    rim_plate_mm: float
    flat_plate_mm: float
    flat_step_mm: float
    rim_sheet_mm: float
    flat_sheet_mm: float
    width_mm: float
    ratio: float
    heat: float
    strain: float
    widening_mm: tuple[float, float, float]
    narrowing_mm: tuple[float, float, float]
    chord_mm: float
    sag_mm: float
    wrong_k_mm: float
    beyond_mm: float
    stand_off_mm: float
    springback_mm: float | None


@frozen(eq=False)
class PlatePlan:
    """A plate as it is to be made.

    Args:
        plate: the plate file.
        wheel: that it names.
        layers: what bending does to each.
        patterns: by layer, then by the first plate that has it.
        walls: the least of every kind, by pattern.
        findings: what to look out for, by rising severity.
    """

    plate: PlateFile
    wheel: Wheel
    layers: tuple[LayerFacts, ...]
    patterns: tuple[Pattern, ...]
    walls: tuple[tuple[Wall, ...], ...]
    findings: tuple[Finding, ...]


def plan_plate(plate: PlateFile, wheel: Wheel) -> PlatePlan:
    """How the plates of a wheel are to be made."""
    all_patterns = patterns(plate, wheel)
    walls = tuple(_least_of_kinds(PatternWalls(plate, wheel, pattern)) for pattern in all_patterns)
    facts = tuple(layer_facts(plate, wheel, layer) for layer in plate.layers)
    findings = [*_about_layers(plate, facts), *_about_drilling(plate, all_patterns), *_about_walls(all_patterns, walls)]
    return PlatePlan(plate, wheel, facts, all_patterns, walls, tuple(findings))


def layer_facts(plate: PlateFile, wheel: Wheel, layer: Layer) -> LayerFacts:
    """What bending does to a layer.

    Args:
        plate: with its edges and fixings.
        wheel: whose rim it goes round.
        layer: of the plate.
    """
    radius_mm = wheel.geometry.radius_mm
    lead_mm, trail_mm, left_mm, right_mm = rim_edges_mm(plate, wheel)
    plate_mm, sheet_mm = wheel.plate_mm, trail_mm - lead_mm
    ratio, heat = bend.flat_ratio(layer, radius_mm), heat_ratio(plate.sheet, layer)
    held_mm = [each.along_mm for each in plate.fixings if each.kind is not HoleKind.MARK]
    beyond_mm = max(min(held_mm) - lead_mm, trail_mm - max(held_mm)) if held_mm else sheet_mm
    material = layer.material
    springback_mm = None
    if material.yield_mpa is not None and material.modulus_mpa is not None:
        springback_mm = bend.springback_radius_mm(
            layer.inner_radius_mm, layer.thickness_mm, material.yield_mpa, material.modulus_mpa
        )
    return LayerFacts(
        layer=layer,
        rim_plate_mm=plate_mm,
        flat_plate_mm=plate_mm * ratio * heat,
        flat_step_mm=wheel.step_mm * ratio * heat,
        rim_sheet_mm=sheet_mm,
        flat_sheet_mm=sheet_mm * ratio * heat,
        width_mm=(right_mm - left_mm) * heat,
        ratio=ratio,
        heat=heat,
        strain=bend.outer_strain(layer),
        widening_mm=bend.widening_mm(layer),
        narrowing_mm=bend.narrowing_mm(layer),
        chord_mm=bend.chord_mm(radius_mm, plate_mm),
        sag_mm=bend.sag_mm(radius_mm, plate_mm),
        wrong_k_mm=bend.wrong_k_mm(layer, plate_mm, radius_mm, K_ERROR),
        beyond_mm=beyond_mm,
        stand_off_mm=bend.stand_off_mm(radius_mm, beyond_mm),
        springback_mm=springback_mm,
    )


def _least_of_kinds(walls: PatternWalls) -> tuple[Wall, ...]:
    """The least wall of every kind, with how many are below the bound."""
    least: dict[str, Wall] = {}
    for wall in walls.all():
        best = least.get(wall.kind)
        below = wall.below_count + (best.below_count if best else 0)
        nearer = best is None or wall.wall_mm - wall.bound_mm < best.wall_mm - best.bound_mm
        least[wall.kind] = (wall if nearer else least[wall.kind])._replace(below_count=below)
    return tuple(least.values())


def _about_layers(plate: PlateFile, facts: tuple[LayerFacts, ...]) -> list[Finding]:
    findings = []
    for each in facts:
        layer = each.layer
        low, high = bend.k_range(layer.inner_radius_mm, layer.thickness_mm)
        if layer.scale is None and layer.k_uncertainty is None and not low <= layer.k <= high:
            span = f"{low:.2f}" if low == high else f"{low:.2f} to {high:.2f}"
            inside = layer.inner_radius_mm / layer.thickness_mm
            message = f"k is {layer.k:g}, and for an inside radius of {inside:.3g} thicknesses tables give {span}"
            findings.append(Finding("k-unusual", Severity.NOTE, layer.name, message, "measure it with a bend strip"))
        if near := near_material(layer.material.name):
            message = f'the material "{layer.material.name}" is in no table of ours, so that nothing is known of it'
            findings.append(Finding("material-unknown", Severity.NOTE, layer.name, message, f"did you mean {near}?"))
        if layer.material.name.strip().lower() == _PLYWOOD:
            findings += _plywood(layer)
    if len(plate.layers) > 1:
        message = (
            "every layer is taken to be bent by itself: sheets glued before bending need a measured k for the whole"
        )
        findings.append(Finding("layers-by-themselves", Severity.NOTE, "", message))
    return findings


def _plywood(layer: Layer) -> list[Finding]:
    """Whether published minimum bend radii of plywood are below that of a layer."""
    across_mm, along_mm = plywood_radius_mm(layer.thickness_mm)
    inner_mm = layer.inner_radius_mm
    if inner_mm >= across_mm:
        return []
    bends = [f"FAA AC 43.13-1B, dry: {across_mm:.0f} and {along_mm:.0f} mm by the direction of the grain"]
    bends += [
        f"{bend_.source}: {bend_.across_mm:.0f} and {bend_.along_mm:.0f} mm"
        for bend_ in PLYWOOD_BENDS[2:]
        if abs(bend_.thickness_mm - layer.thickness_mm) < _THICKNESS_OFF_MM
    ]
    either = "in either direction of its grain" if inner_mm < along_mm else "in one direction of its grain"
    message = (
        f"plywood of {layer.thickness_mm:g} mm may break {either} at an inner radius of {inner_mm:g} mm; published"
        f" minimum radii are {'; '.join(bends)}"
    )
    hint = "ask its maker, try a strip of it, or build the plate of thinner layers"
    return [Finding("will-not-bend", Severity.CHANGED, layer.name, message, hint)]


def _about_drilling(plate: PlateFile, all_patterns: tuple[Pattern, ...]) -> list[Finding]:
    findings = []
    widest_mm = max(float(np.max(pattern.holes.diameter_mm)) for pattern in all_patterns)
    point_mm = widest_mm / 2 / math.tan(math.radians(POINT_DEG / 2))
    if plate.machine.through_mm < point_mm - LENGTH_SLACK_MM:
        message = (
            f"the point of a twist drill of {widest_mm:g} mm is {point_mm:.2f} mm long and through_mm"
            f" {plate.machine.through_mm:g} mm, so that holes are not full at the lower face"
        )
        findings.append(Finding("not-through", Severity.NOTE, "machine.through_mm", message, "give more, or ream them"))
    overlapping = [
        each
        for each in plate.fixings
        if 0 < each.slot_mm < 2 * each.diameter_mm and not fixing_tool(plate.tools, each).slot_drill
    ]
    if overlapping:
        message = "the two ends of a slot overlap, and a twist drill runs off into the first"
        hint = "add a [[tool]] of that width with slot_drill = true, or drill one end and file"
        where = f"fixing {printed(plate.fixings.index(overlapping[0]))}"
        findings.append(Finding("slot-ends-overlap", Severity.NOTE, where, message, hint))
    if plate.sheet.marks and plate.sheet.face is Face.INNER:
        message = "numbers and arrow are engraved on the inner face, where nobody reads them on a mounted plate"
        findings.append(Finding("marks-inside", Severity.NOTE, "sheet.drilled_from", message))
    texts = [text.text for pattern in all_patterns for text in pattern.marks.texts]
    if plate.sheet.marks and not any(text.startswith("PLATE") for text in texts):
        message = "there is no room for the arrow and the number of the plate"
        hint = "give wider edges: left_edge_mm or right_edge_mm"
        findings.append(Finding("no-room-for-marks", Severity.NOTE, "sheet.left_edge_mm", message, hint))
    return findings


def _about_walls(all_patterns: tuple[Pattern, ...], walls: tuple[tuple[Wall, ...], ...]) -> list[Finding]:
    findings = []
    for pattern, of_pattern in zip(all_patterns, walls, strict=True):
        for wall in of_pattern:
            if wall.is_kept:
                continue
            pairs = "" if wall.below_count == 1 else f", the worst of {plural(wall.below_count, 'pair')}"
            message = (
                f"{wall.kind}: {wall.wall_mm:.2f} mm of {wall.bound_mm:g} mm between {wall.first} and {wall.second},"
                f" {wall.face}{pairs}"
            )
            findings.append(Finding("wall-thin", Severity.CHANGED, pattern.title, message))
    return findings
