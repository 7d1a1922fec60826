"""Parts to measure before a plate is cut: a gauge of holes, seam and fixings, and a strip to bend for `k`."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from pegwright.columns import Floats, frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.grid import LENGTH_SLACK_MM, along_plate_mm, edge_loss, edges_mm
from pegwright.making import Fixing, HoleKind, Layer, Marks, MarkText, Pattern, PatternHoles, PlateFile, Tool
from pegwright.plate.bend import flat_ratio
from pegwright.plate.pattern import heat_ratio, rounded_outline, table_places
from pegwright.plate.tools import fixing_tool, hole_offsets_mm, nearest_tool
from pegwright.units import printed
from pegwright.wheel import Wheel

GAUGE_MM = (200.0, 80.0)  # at most so long and wide
LADDER_OFF_MM, LADDER_STEP_MM = 0.3, 0.05
STRIP_WIDTH_MM, STRIP_END_MM = 30.0, 12.0
_TEXT_MM = 2.0
_GAP_MM = 1.0
_SEAM_STEPS = 2  # at either end
_MIN_HOLE_MM = 0.2


@frozen()
class _Spot:
    """A hole of a trial part: its place along the part and across it, on the rim, its width and what it is for."""

    along_mm: float
    across_mm: float
    diameter_mm: float
    kind: HoleKind
    fixing: int = -1


def with_ladder_tools(plate: PlateFile) -> PlateFile:
    """The plate file with a tool for every rung of the ladders, like the nearest one that there is."""
    tools, free = list(plate.tools), plate.tools[-1].number
    for layer in plate.layers:
        for diameter_mm in ladder_mm(layer) if layer.pin_holes else ():
            like = nearest_tool(plate.tools, diameter_mm)
            if all(abs(tool.diameter_mm - diameter_mm) > 1e-6 for tool in tools):
                free += 1
                tools.append(replace(like, number=free, diameter_mm=diameter_mm))
    return replace(plate, tools=tuple(tools))


def ladder_mm(layer: Layer) -> list[float]:
    """Diameters of the rungs of a layer's ladder, rising."""
    count = round(LADDER_OFF_MM / LADDER_STEP_MM)
    rungs = [round(layer.hole_diameter_mm + number * LADDER_STEP_MM, 3) for number in range(-count, count + 1)]
    return [rung for rung in rungs if rung >= _MIN_HOLE_MM]


def gauges(plate: PlateFile, wheel: Wheel) -> tuple[Pattern, ...]:
    """A gauge of every layer that has pin holes.

    Args:
        plate: with a tool for every rung.
        wheel: whose plates are to be made.

    Raises:
        UsageError: its holes are too wide for so small a part.
    """
    return tuple(
        _gauge(plate, wheel, layer, f"gauge{_suffix(plate, layer)}") for layer in plate.layers if layer.pin_holes
    )


def strips(plate: PlateFile, wheel: Wheel, length_mm: float) -> tuple[Pattern, ...]:
    """A bend strip of every layer, with holes a step apart over about a length.

    Args:
        plate: the plate file.
        wheel: round whose rim it is bent.
        length_mm: from the first hole to the last at most.

    Raises:
        UsageError: it is less than a step, or goes round the wheel.
    """
    longest_mm = wheel.geometry.circumference_mm / 2
    if not wheel.step_mm <= length_mm <= longest_mm:
        message = f"{length_mm:g} mm is outside {wheel.step_mm:.2f} to {longest_mm:.0f} mm: a step to half the rim"
        raise UsageError(message, where="--strip")
    return tuple(_strip(plate, wheel, layer, length_mm, f"strip{_suffix(plate, layer)}") for layer in plate.layers)


def strip_lengths_mm(wheel: Wheel, strip: Pattern) -> tuple[int, float, float]:
    """Holes of a strip, and from the first to the last flat, at the reference temperature, and on its outer face."""
    count = strip.holes.count
    rim_mm = (count - 1) * wheel.step_mm * strip.layer.radius_mm / wheel.geometry.radius_mm
    flat_mm = (count - 1) * wheel.step_mm * flat_ratio(strip.layer, wheel.geometry.radius_mm)
    return count, flat_mm, rim_mm


def _suffix(plate: PlateFile, layer: Layer) -> str:
    return f"-layer-{printed(plate.layers.index(layer))}" if len(plate.layers) > 1 else ""


def _strip(plate: PlateFile, wheel: Wheel, layer: Layer, length_mm: float, name: str) -> Pattern:
    count = math.floor((length_mm + LENGTH_SLACK_MM) / wheel.step_mm) + 1
    spots = [_Spot(number * wheel.step_mm, 0.0, layer.hole_diameter_mm, HoleKind.TRIAL) for number in range(count)]
    last_mm, half_mm = (count - 1) * wheel.step_mm, STRIP_WIDTH_MM / 2
    corners = np.array([[-STRIP_END_MM, -half_mm], [last_mm + STRIP_END_MM, half_mm]])
    texts = [("START", 0.0, half_mm - 2 * _TEXT_MM), (str(count), last_mm, half_mm - 2 * _TEXT_MM)]
    return _part(plate, wheel, layer, name, spots, corners, texts)


def _gauge(plate: PlateFile, wheel: Wheel, layer: Layer, name: str) -> Pattern:
    """Rows across the part: the seam's two edges, the ladder, the fixing holes."""
    ratio = flat_ratio(layer, wheel.geometry.radius_mm) * heat_ratio(plate.sheet, layer)
    length_mm = GAUGE_MM[0] / ratio
    wall_mm = max(wheel.geometry.min_wall_mm, _GAP_MM)
    seam = list(_seam(wheel, layer, length_mm))
    reach_mm = layer.hole_diameter_mm / 2
    low_mm = min(spot.across_mm for spot in seam) - reach_mm - wall_mm
    next_mm = max(spot.across_mm for spot in seam) + reach_mm
    ladder, texts, next_mm = _ladder(layer, length_mm, next_mm, wall_mm, wheel)
    fixings, next_mm = _fixing_row(plate, wheel, layer, length_mm, next_mm, wall_mm)
    high_mm = next_mm + wall_mm
    if high_mm - low_mm > GAUGE_MM[1]:
        message = f"the gauge would be {high_mm - low_mm:.1f} mm wide, above {GAUGE_MM[1]:g} mm"
        raise UsageError(
            message, where="--gauge", hint="its holes are too wide for so small a part: drill them by hand"
        )
    lead_mm = wheel.geometry.lead_edge_mm
    corners = np.array([[-lead_mm, low_mm], [length_mm - lead_mm, high_mm]])
    return _part(plate, wheel, layer, name, [*fixings, *seam, *ladder], corners, texts)


def _seam(wheel: Wheel, layer: Layer, length_mm: float) -> Iterator[_Spot]:
    """The first and the last holes of a plate, at the two ends of the gauge as far from its cuts as on a plate."""
    channel = max(wheel.channels, key=lambda each: len(each.rows))
    geometry = wheel.geometry
    for number, row in enumerate(wheel.rows):
        if row.name not in channel.rows:
            continue
        for index in range(row.hole_count(wheel.steps_per_plate)):
            if edge_loss(wheel, number, index):
                continue
            along_mm = along_plate_mm(wheel, number, index)
            to_lead_mm, to_trail_mm = edges_mm(wheel, number, index)
            if to_lead_mm - geometry.lead_edge_mm < _SEAM_STEPS * wheel.step_mm - LENGTH_SLACK_MM:
                yield _Spot(along_mm, row.lateral_mm, layer.hole_diameter_mm, HoleKind.TRIAL)
            if to_trail_mm + geometry.trail_edge_mm <= _SEAM_STEPS * wheel.step_mm + LENGTH_SLACK_MM:
                place_mm = length_mm - geometry.lead_edge_mm - to_trail_mm
                yield _Spot(place_mm, row.lateral_mm, layer.hole_diameter_mm, HoleKind.TRIAL)


def _ladder(
    layer: Layer, length_mm: float, from_mm: float, wall_mm: float, wheel: Wheel
) -> tuple[list[_Spot], list[tuple[str, float, float]], float]:
    """Rungs in rows, each with its diameter beside it, and where the rows end."""
    rungs = ladder_mm(layer)
    widest_mm, lead_mm = rungs[-1], wheel.geometry.lead_edge_mm
    pitch_mm = max(widest_mm + wall_mm, 5 * _TEXT_MM)
    in_row = max(1, int((length_mm - 2 * wall_mm - widest_mm) / pitch_mm) + 1)
    row_mm = widest_mm + wall_mm + _TEXT_MM + _GAP_MM
    spots, texts, across_mm = [], [], from_mm
    for number, rung in enumerate(rungs):
        row, place = divmod(number, in_row)
        along_mm = wall_mm + widest_mm / 2 - lead_mm + place * pitch_mm
        across_mm = from_mm + wall_mm + widest_mm / 2 + row * row_mm
        spots.append(_Spot(along_mm, across_mm, rung, HoleKind.TRIAL))
        texts.append((f"{rung:g}", along_mm, across_mm + widest_mm / 2 + _GAP_MM + _TEXT_MM / 2))
    return spots, texts, across_mm + widest_mm / 2 + _GAP_MM + _TEXT_MM


def _fixing_row(
    plate: PlateFile, wheel: Wheel, layer: Layer, length_mm: float, from_mm: float, wall_mm: float
) -> tuple[list[_Spot], float]:
    """One of every fixing hole that the layer has, in rows, and where they end."""
    kinds: dict[tuple[HoleKind, float, float, float], tuple[int, Fixing]] = {}
    for number, fixing in enumerate(plate.fixings):
        if not fixing.layers or layer.name in fixing.layers:
            key = (fixing.kind, fixing.diameter_mm, fixing.head_mm, fixing.slot_mm)
            kinds.setdefault(key, (number, fixing))
    spots: list[_Spot] = []
    lead_mm = wheel.geometry.lead_edge_mm
    start_mm, end_mm = wall_mm - lead_mm, length_mm - lead_mm - wall_mm
    along_mm, top_mm, bottom_mm = start_mm, from_mm + wall_mm, from_mm
    for number, fixing in kinds.values():
        wide_mm = max(fixing.diameter_mm, fixing.head_mm, fixing.slot_mm)
        tall_mm = max(fixing.diameter_mm, fixing.head_mm)
        if along_mm + wide_mm > end_mm:
            along_mm, top_mm = start_mm, bottom_mm + wall_mm
        for offset_mm in hole_offsets_mm(fixing, fixing_tool(plate.tools, fixing)):
            middle_mm = (along_mm + wide_mm / 2 + offset_mm, top_mm + tall_mm / 2)
            spots.append(_Spot(*middle_mm, fixing.diameter_mm, fixing.kind, number))
        along_mm += wide_mm + wall_mm
        bottom_mm = max(bottom_mm, top_mm + tall_mm)
    return spots, bottom_mm


def _part(
    plate: PlateFile,
    wheel: Wheel,
    layer: Layer,
    name: str,
    spots: Sequence[_Spot],
    corners: Floats,
    texts: Sequence[tuple[str, float, float]],
) -> Pattern:
    """A trial part as a pattern that serves no plate.

    Args:
        plate: with the tools.
        wheel: round whose rim it would go.
        layer: whose sheet it is of.
        name: of its files.
        spots: its holes.
        corners: of the part on the rim, shape (2, 2).
        texts: words and their places on the rim.
    """
    rim_mm = np.array([[spot.along_mm, spot.across_mm] for spot in spots])
    places = table_places(plate, layer, wheel, rim_mm)
    none = frozen_ints([-1] * len(spots))
    holes = PatternHoles(
        kind=frozen_ints([int(spot.kind) for spot in spots]),
        tool=frozen_ints([_tool(plate, spot).number for spot in spots]),
        diameter_mm=frozen_floats([spot.diameter_mm for spot in spots]),
        channel=none,
        row=none,
        index=none,
        fixing=frozen_ints([spot.fixing for spot in spots]),
        x_mm=frozen_floats(places[:, 0]),
        y_mm=frozen_floats(places[:, 1]),
        along_mm=frozen_floats(rim_mm[:, 0]),
        across_mm=frozen_floats(rim_mm[:, 1]),
    )
    at = table_places(plate, layer, wheel, np.array([text[1:] for text in texts]))
    marks = tuple(
        MarkText(text[0], x_mm, y_mm, _TEXT_MM) for text, (x_mm, y_mm) in zip(texts, at.tolist(), strict=True)
    )
    outline = rounded_outline(table_places(plate, layer, wheel, corners), 0.0)
    title = f"{name.partition('-')[0]} of {layer.name}"
    return Pattern(name, title, layer, (), plate.sheet.face, holes, outline, Marks((), marks))


def tools_of(plate: PlateFile, pattern: Pattern) -> list[Tool]:
    """The tools that a pattern needs, by number."""
    used = set(pattern.holes.tool.tolist())
    return [tool for tool in plate.tools if tool.number in used]


def _tool(plate: PlateFile, spot: _Spot) -> Tool:
    """The tool of a hole, for a fixing hole as on the plate."""
    if spot.fixing < 0:
        return nearest_tool(plate.tools, spot.diameter_mm)
    return fixing_tool(plate.tools, plate.fixings[spot.fixing])
