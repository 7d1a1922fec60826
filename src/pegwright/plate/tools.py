"""Which tool drills a hole, and the chain of holes that makes a slot."""

from __future__ import annotations

import math
from collections.abc import Sequence

from pegwright.grid import LENGTH_SLACK_MM
from pegwright.making import Fixing, HoleKind, Tool

TOOL_OFF_MM = 0.5  # by which a tool may be wider or narrower than its hole
WEB_MM = 1.0  # common practice, no source: a twist drill stays on its line with as much sheet beside the last hole
_OVERLAP = 4  # a slot drill goes on by this part of its diameter


def nearest_tool(tools: Sequence[Tool], diameter_mm: float) -> Tool:
    """The tool whose diameter is nearest to a hole's; of two a twist drill, then the smaller, the lower number."""
    return min(tools, key=lambda tool: (_off_mm(tool, diameter_mm), tool.slot_drill, tool.diameter_mm, tool.number))


def fixing_tool(tools: Sequence[Tool], fixing: Fixing) -> Tool:
    """The tool of a fixing hole: for a slot the nearest slot drill, where one is near enough."""
    if fixing.kind is HoleKind.SLOT:
        slot_drills = [tool for tool in tools if tool.slot_drill]
        near = [tool for tool in slot_drills if _off_mm(tool, fixing.diameter_mm) <= TOOL_OFF_MM + LENGTH_SLACK_MM]
        tools = near or tools
    return nearest_tool(tools, fixing.diameter_mm)


def tool_word(tool: Tool) -> str:
    """What people call it: `drill` or `slot drill`."""
    return "slot drill" if tool.slot_drill else "drill"


def hole_offsets_mm(fixing: Fixing, tool: Tool) -> tuple[float, ...]:
    """Where the holes of a fixing are from its middle, along the plate.

    A slot is a chain of holes from one end to the other. Those of a slot drill overlap; between those of a twist drill,
    which would run off into the last one, a web is left.

    Args:
        fixing: a hole or a slot.
        tool: that drills it.
    """
    length_mm = fixing.slot_mm - fixing.diameter_mm if fixing.kind is HoleKind.SLOT else 0.0
    if length_mm <= LENGTH_SLACK_MM:
        return (0.0,)
    if tool.slot_drill:
        count = math.ceil(length_mm / (fixing.diameter_mm / _OVERLAP) - LENGTH_SLACK_MM)
    else:
        count = max(1, math.floor(length_mm / (fixing.diameter_mm + WEB_MM) + LENGTH_SLACK_MM))
    return tuple(length_mm * (number / count - 0.5) for number in range(count + 1))


def web_mm(fixing: Fixing, tool: Tool) -> float:
    """How much of the sheet is left between two holes of a slot; below 0 they overlap."""
    first, *others = hole_offsets_mm(fixing, tool)
    return others[0] - first - fixing.diameter_mm if others else -fixing.diameter_mm


def ridge_mm(fixing: Fixing, tool: Tool) -> float:
    """How high the ridges are that overlapping holes leave at the sides of a slot.

    Source: height of a segment of a circle, r - sqrt(r^2 - (c / 2)^2), for the chord c from hole to hole.
    """
    radius_mm, chord_mm = fixing.diameter_mm / 2, web_mm(fixing, tool) + fixing.diameter_mm
    return radius_mm - math.sqrt(radius_mm**2 - (chord_mm / 2) ** 2)


def _off_mm(tool: Tool, diameter_mm: float) -> float:
    return round(abs(tool.diameter_mm - diameter_mm), 6)
