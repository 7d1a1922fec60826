"""A plate as it is to be made, as JSON (`schema/plate-1.json`)."""

from __future__ import annotations

import math
from dataclasses import fields

from pegwright.facts import speed_at
from pegwright.json_value import Json
from pegwright.making import Fixing, Machine, Pattern, Sheet, Tool
from pegwright.plate.pattern import plate_start_deg
from pegwright.plate.plan import LayerFacts, PlatePlan
from pegwright.plate.walls import Wall
from pegwright.units import printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_file, objects, rounded
from pegwright.write.pin_map.json import wheel_json
from pegwright.write.plate.holes import COLUMNS, DEGREE_DECIMALS, hole_rows

FORMAT = "pegwright plate"
VERSION = 1
_RATIO_DECIMALS = 7


def plate_json(plan: PlatePlan, quarters_per_minute: float) -> bytes:
    """Everything that is known of a plate, the same bytes for the same input.

    Args:
        plan: the plate.
        quarters_per_minute: the tempo for times.
    """
    plate, wheel = plan.plate, plan.wheel
    document: dict[str, Json] = {
        "wheel": wheel_json(wheel),
        "plate_file_sha256": plate.sha256,
        "quarters_per_minute": quarters_per_minute,
        "ms_per_mm": rounded(speed_at(wheel, quarters_per_minute).ms_per_mm),
        "sheet": _sheet(plate.sheet),
        "layers": [_layer(facts) for facts in plan.layers],
        "fixings": [_fixing(fixing) for fixing in plate.fixings],
        "tools": [_values(tool) for tool in plate.tools],
        "machine": _values(plate.machine),
        "plates": [
            {"plate": printed(number), "turn_deg": round(plate_start_deg(wheel, number), DEGREE_DECIMALS)}
            for number in range(wheel.plate_count)
        ],
        "patterns": [_pattern(pattern, walls, wheel) for pattern, walls in zip(plan.patterns, plan.walls, strict=True)],
        "findings": [
            {"code": each.code, "where": each.where, "message": each.message, "hint": each.hint}
            for each in plan.findings
        ],
    }
    return json_file(FORMAT, VERSION, document)


def _values(value: Tool | Machine) -> dict[str, Json]:
    """The fields of a value whose names are those of the file."""
    renamed = {"canned": "canned_cycles"}
    return {renamed.get(each.name, each.name): getattr(value, each.name) for each in fields(value)}


def _sheet(sheet: Sheet) -> dict[str, Json]:
    return {
        "left_edge_mm": sheet.left_edge_mm,
        "right_edge_mm": sheet.right_edge_mm,
        "corner_radius_mm": sheet.corner_radius_mm,
        "drilled_from": sheet.face.value,
        "machined_c": sheet.machined_c,
        "reference_c": sheet.reference_c,
        "marks": sheet.marks,
    }


def _layer(facts: LayerFacts) -> dict[str, Json]:
    layer, back_mm = facts.layer, facts.springback_mm
    uncertainty = layer.k_uncertainty
    return {
        "name": layer.name,
        "material": layer.material.name,
        "expansion_per_k": layer.material.expansion_per_k,
        "outer_radius_mm": rounded(layer.radius_mm),
        "neutral_radius_mm": rounded(layer.neutral_radius_mm),
        "thickness_mm": layer.thickness_mm,
        "k": round(layer.k, _RATIO_DECIMALS) if layer.scale is None else None,
        "k_uncertainty": None if uncertainty is None else round(uncertainty, _RATIO_DECIMALS),
        "pin_holes": layer.pin_holes,
        "hole_diameter_mm": layer.hole_diameter_mm,
        "flat_to_rim": round(facts.ratio, _RATIO_DECIMALS),
        "heat": round(facts.heat, _RATIO_DECIMALS),
        "rim_plate_mm": rounded(facts.rim_plate_mm),
        "flat_plate_mm": rounded(facts.flat_plate_mm),
        "rim_sheet_mm": rounded(facts.rim_sheet_mm),
        "flat_sheet_mm": rounded(facts.flat_sheet_mm),
        "width_mm": rounded(facts.width_mm),
        "strain": round(facts.strain, _RATIO_DECIMALS),
        "widening_mm": [rounded(each) for each in facts.widening_mm],
        "chord_mm": rounded(facts.chord_mm),
        "sag_mm": rounded(facts.sag_mm),
        "wrong_k_mm": rounded(facts.wrong_k_mm),
        "springback_mm": None if back_mm is None or math.isinf(back_mm) else rounded(back_mm),
    }


def _fixing(fixing: Fixing) -> dict[str, Json]:
    return {
        "kind": fixing.kind.word,
        "along_mm": rounded(fixing.along_mm),
        "across_mm": rounded(fixing.across_mm),
        "diameter_mm": fixing.diameter_mm,
        "head_mm": fixing.head_mm,
        "slot_mm": fixing.slot_mm,
        "layers": list(fixing.layers),
    }


def _pattern(pattern: Pattern, walls: tuple[Wall, ...], wheel: Wheel) -> dict[str, Json]:
    return {
        "name": pattern.name,
        "title": pattern.title,
        "layer": pattern.layer.name,
        "plates": [printed(number) for number in pattern.plates],
        **({"sets": [_set(*each) for each in pattern.sets]} if pattern.sets else {}),
        "face_up": str(pattern.face),
        "outline": [[rounded(x_mm), rounded(y_mm)] for x_mm, y_mm in pattern.outline],
        "hole_count": pattern.holes.count,
        "holes": objects(COLUMNS, hole_rows(pattern, wheel)),
        "walls": [_wall(wall) for wall in walls],
    }


def _set(plate_set: int, plates: tuple[int, ...]) -> Json:
    return {"plate_set": printed(plate_set), "plates": [printed(number) for number in plates]}


def _wall(wall: Wall) -> dict[str, Json]:
    return {
        "kind": wall.kind,
        "first": wall.first,
        "second": wall.second,
        "wall_mm": rounded(wall.wall_mm),
        "bound_mm": wall.bound_mm,
        "face": wall.face,
        "below_count": wall.below_count,
    }
