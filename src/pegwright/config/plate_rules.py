"""Rules between the fields of a plate file and its wheel: the plate can be drilled, bent and mounted."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.config.fields import Faults
from pegwright.grid import LENGTH_SLACK_MM
from pegwright.making import Fixing, Pattern, PlateFile
from pegwright.plate.bend import outer_strain
from pegwright.plate.pattern import patterns, rim_edges_mm
from pegwright.plate.tools import TOOL_OFF_MM, nearest_tool
from pegwright.plate.walls import PatternWalls, Wall, fixing_name
from pegwright.wheel import Wheel

VISIBLE_MM = 5.0  # by which a fixing hole has to be off its mirror image, so that eyes see it


def check_plate(plate: PlateFile, wheel: Wheel, faults: Faults, layer_paths: Sequence[str]) -> None:
    """Note every rule between fields that a plate file breaks, as far as the fields concerned are sound.

    Args:
        plate: as it was read.
        wheel: that it names.
        faults: of its file.
        layer_paths: the key path of the table that each layer comes from.
    """
    if faults.none_in("tool", "layer", "fixing"):
        _check_tools(plate, faults)
    if faults.none_in("machine"):
        _check_heights(plate, faults)
    if faults.none_in("sheet", "layer", "strip"):
        _check_materials(plate, faults, layer_paths)
    if faults.none_in("sheet", "layer", "strip", "fixing", "tool", "machine"):
        _check_corners(plate, wheel, faults)
        all_patterns = patterns(plate, wheel)
        _check_travel(plate, all_patterns[0], faults)
        for pattern in all_patterns:
            _check_walls(plate, wheel, pattern, faults)
        _check_mirrored(plate, wheel, faults)


def _check_tools(plate: PlateFile, faults: Faults) -> None:
    """Every hole has a tool of nearly its width."""
    wanted = [(f"the pin holes of {layer.name}", layer.hole_diameter_mm) for layer in plate.layers if layer.pin_holes]
    wanted += [(fixing_name(each, number), each.diameter_mm) for number, each in enumerate(plate.fixings)]
    for what, diameter_mm in wanted:
        tool = nearest_tool(plate.tools, diameter_mm)
        off_mm = tool.diameter_mm - diameter_mm
        if abs(off_mm) > TOOL_OFF_MM + LENGTH_SLACK_MM:
            more = "wider" if off_mm > 0 else "narrower"
            message = (
                f"{what}, {diameter_mm:g} mm, have no tool"
                if what.startswith("the")
                else (f"{what}, {diameter_mm:g} mm, has no tool")
            )
            message += f": the nearest, number {tool.number}, {tool.diameter_mm:g} mm, is {abs(off_mm):g} mm {more}"
            faults.add("tool", message, f"add a [[tool]] of within {TOOL_OFF_MM:g} mm")


def _check_heights(plate: PlateFile, faults: Faults) -> None:
    machine = plate.machine
    if machine.retract_z_mm > machine.safe_z_mm:
        message = f"{machine.retract_z_mm:g} mm is above safe_z_mm, {machine.safe_z_mm:g} mm"
        faults.add("machine.retract_z_mm", message, "give a height at most as high")
    if machine.through_mm > machine.spoilboard_mm:
        message = (
            f"{machine.through_mm:g} mm below the sheet is through the spoilboard, {machine.spoilboard_mm:g} mm, and"
            " into the table"
        )
        faults.add("machine.through_mm", message, "give less, or lay a thicker board under the sheet")


def _check_materials(plate: PlateFile, faults: Faults, layer_paths: Sequence[str]) -> None:
    sheet = plate.sheet
    for path, layer in zip(layer_paths, plate.layers, strict=True):
        strain, bound = outer_strain(layer), layer.material.max_strain
        if bound is not None and strain > bound:
            message = (
                f"a sheet of {layer.thickness_mm:g} mm bent to {layer.radius_mm:g} mm is strained by"
                f" {100 * strain:.3f} % at its outer face, above the maker's maximum, {100 * bound:g} %"
            )
            faults.add(f"{path}.max_strain_percent", message, "take a thinner sheet, or several layers")
        if sheet.machined_c != sheet.reference_c and layer.material.expansion_per_k is None:
            message = f"is missing, and {layer.material.name} is in no table of ours"
            hint = "give the maker's own value, or machined_c and reference_c as one temperature"
            faults.add(f"{path}.expansion_per_k", message, hint)


def _check_corners(plate: PlateFile, wheel: Wheel, faults: Faults) -> None:
    lead_mm, trail_mm, left_mm, right_mm = rim_edges_mm(plate, wheel)
    bound_mm = min(trail_mm - lead_mm, right_mm - left_mm) / 2
    if plate.sheet.corner_radius_mm > bound_mm:
        message = f"{plate.sheet.corner_radius_mm:g} mm is above half of the sheet's smaller side, {bound_mm:.2f} mm"
        faults.add("sheet.corner_radius_mm", message, "give a smaller one")


def _check_travel(plate: PlateFile, pattern: Pattern, faults: Faults) -> None:
    """The whole sheet has to lie within the machine's travel, with the way by which holes are approached."""
    places = np.array(pattern.outline)
    length_mm, width_mm = np.ptp(places, axis=0).tolist()
    holes_mm = float(np.ptp(pattern.holes.x_mm)) + plate.machine.overshoot_mm
    for axis, needed_mm, what in (
        ("x", max(length_mm, holes_mm), "long"),
        ("y", width_mm, "wide"),
    ):
        travel_mm = plate.machine.travel_x_mm if axis == "x" else plate.machine.travel_y_mm
        if needed_mm > travel_mm + LENGTH_SLACK_MM:
            message = f"{travel_mm:g} mm is less than the sheet needs, which is {needed_mm:.2f} mm {what}"
            hint = "drill it by hand from holes.csv, or on a larger machine"
            faults.add(f"machine.travel_{axis}_mm", message, hint)


def _check_walls(plate: PlateFile, wheel: Wheel, pattern: Pattern, faults: Faults) -> None:
    """What runs into each other is refused; what is merely near is reported with the plate."""
    for wall in PatternWalls(plate, wheel, pattern).all():
        if wall.wall_mm >= -LENGTH_SLACK_MM:
            continue
        path, message, hint = _clash(wall)
        faults.add(path, message, hint)


def _clash(wall: Wall) -> tuple[str, str, str]:
    """Key path, message and hint of two things that run into each other."""
    over_mm = f"by {-wall.wall_mm:.2f} mm"
    where = "" if wall.face == "flat" else f" on the {wall.face}"
    number = wall.first.removeprefix("head of ").removeprefix("fixing ").partition(",")[0]
    path = f"fixing[{number}]"
    match wall.kind:
        case "fixing hole to edge":
            return f"{path}.along_mm", f"{wall.first}, is over {wall.second} {over_mm}", "place it inside the sheet"
        case "fixing to pin":
            message = f"{wall.first}, is under the collar of {wall.second} {over_mm}: their edges need"
            message += f" {wall.bound_mm:g} mm between them"
            return f"{path}.across_mm", message, "move it, or declare that hole lost in the wheel file: [[lost]]"
        case "fixing hole to pin hole" | "fixing hole to fixing hole":
            message = f"{wall.first}, and {wall.second} run into each other {over_mm}{where}"
            return f"{path}.across_mm", message, "move it, or declare the hole lost in the wheel file: [[lost]]"
        case "pin hole to edge":
            edge = "left_edge_mm" if "first" in wall.second else "right_edge_mm"
            key = f"sheet.{edge}" if "side" in wall.second else "wheel"
            return key, f"the hole of {wall.first} is over {wall.second} {over_mm}{where}", "give a wider sheet"
    message = f"the holes of {wall.first} and {wall.second} run into each other {over_mm}{where}"
    return "wheel", message, "give smaller holes, or a row with fewer"


def _check_mirrored(plate: PlateFile, wheel: Wheel, faults: Faults) -> None:
    """A sheet without marks, whose fixing holes are their own mirror image, would be mounted the wrong way round."""
    if plate.sheet.marks:
        return
    for number, layer in enumerate(plate.layers):
        own = [each for each in plate.fixings if not each.layers or layer.name in each.layers]
        if _is_symmetric(own, plate, wheel):
            of_layer = f" of {layer.name}" if number or len(plate.layers) > 1 else ""
            message = f"is false, and the fixing holes{of_layer} look the same when the sheet is turned over or round"
            hint = f"set marks = true, or move one fixing hole by at least {VISIBLE_MM:g} mm, or add one of kind mark"
            faults.add("sheet.marks", message, hint)


def _is_symmetric(fixings: list[Fixing], plate: PlateFile, wheel: Wheel) -> bool:
    """Whether fixing holes fall on fixing holes of their own size when the sheet is turned over or round."""
    lead_mm, trail_mm, left_mm, right_mm = rim_edges_mm(plate, wheel)
    places = np.array([[each.along_mm, each.across_mm, each.diameter_mm, each.slot_mm] for each in fixings])
    if not len(places):
        return True
    middle = np.array([lead_mm + trail_mm, left_mm + right_mm, 0.0, 0.0])
    for turned in ((-1, 1), (1, -1), (-1, -1)):
        image = places * [*turned, 1, 1] + middle * [turned[0] < 0, turned[1] < 0, 0, 0]
        apart = np.abs(image[:, None] - places[None])
        alike = (np.hypot(apart[..., 0], apart[..., 1]) < VISIBLE_MM) & (apart[..., 2:] < 0.2).all(axis=-1)
        if alike.any(axis=1).all():
            return True
    return False
