"""What is engraved on a plate: a ruler of steps along both sides, channel numbers at both ends, the plate, an arrow.

Texts keep clear of pins, of fixing holes and of each other; what there is no room for is left out, the last first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from pegwright.columns import Floats
from pegwright.frozen import frozen
from pegwright.making import Layer, Marks, MarkText, PlateFile
from pegwright.units import least_doubled, printed
from pegwright.wheel import Wheel

TEXT_MM = 2.5  # height of numbers where there is room
MIN_TEXT_MM = 1.5  # below it no number is engraved
FIGURE_WIDTH = 0.8  # of a figure of single strokes with the space after it, as a share of its height
_MARGIN_MM = 1.0
_TICK_MM = 2.0
_GAP_MM = 0.8
_ARROW_MM = 20.0

Flat = Callable[[Floats], Floats]


@frozen()
class _Room:
    """A strip along a side of the plate, on the rim.

    Args:
        edge_mm: across, of the side edge.
        inward: 1 or -1, towards the channels.
        depth_mm: from the edge to the nearest pin.
    """

    edge_mm: float
    inward: int
    depth_mm: float

    def across_mm(self, depth_mm: float) -> float:
        """The place across the rim at a depth from the edge."""
        return self.edge_mm + self.inward * depth_mm


def plate_marks(plate: PlateFile, wheel: Wheel, layer: Layer, plates: Sequence[int], flat: Flat) -> Marks:
    """What is engraved on one layer.

    Args:
        plate: the plate file.
        wheel: whose plate it is.
        layer: that is engraved.
        plates: that have the pattern; the number of a single one is engraved.
        flat: places on the table of places on the rim.
    """
    if not plate.sheet.marks:
        return Marks((), ())
    lines: list[list[tuple[float, float]]] = []
    texts: list[tuple[str, float, float, float, str]] = []
    for room in _rooms(plate, wheel):
        lines += _ticks(wheel, room)
        height_mm = min(TEXT_MM, room.depth_mm - _MARGIN_MM - _TICK_MM - 2 * _GAP_MM)
        if height_mm >= MIN_TEXT_MM:
            texts += _step_numbers(wheel, room, height_mm)
    arrow, title = _title(plate, wheel, layer, plates)
    lines += arrow
    texts += title
    texts += _channel_numbers(wheel)
    placed = [_on_table(text, flat) for text in texts]
    clear = [text for text in placed if _is_clear(text, plate, layer, flat)]
    return Marks(tuple(tuple(map(tuple, flat(np.array(line)).tolist())) for line in lines), tuple(clear))


def _rooms(plate: PlateFile, wheel: Wheel) -> tuple[_Room, _Room]:
    """The strips along both side edges."""
    lateral_mm = [row.lateral_mm for row in wheel.rows]
    last_mm = (len(wheel.channels) - 1) * wheel.geometry.channel_pitch_mm
    pin_mm = _pin_radius_mm(wheel)
    left_mm, right_mm = plate.sheet.left_edge_mm, plate.sheet.right_edge_mm
    return (
        _Room(-left_mm, 1, left_mm + min(lateral_mm) - pin_mm),
        _Room(last_mm + right_mm, -1, right_mm - max(lateral_mm) - pin_mm),
    )


def _pin_radius_mm(wheel: Wheel) -> float:
    return max(wheel.geometry.pin_diameter_mm, wheel.geometry.hole_diameter_mm) / 2


def _ticks(wheel: Wheel, room: _Room) -> Iterator[list[tuple[float, float]]]:
    """A stroke at every step, inwards from near the side edge."""
    ends_mm = room.across_mm(_MARGIN_MM), room.across_mm(_MARGIN_MM + max(0.5, min(_TICK_MM, room.depth_mm / 2)))
    for step in range(wheel.steps_per_plate):
        yield [(step * wheel.step_mm, across_mm) for across_mm in ends_mm]


def _step_numbers(wheel: Wheel, room: _Room, height_mm: float) -> Iterator[tuple[str, float, float, float, str]]:
    width_mm = FIGURE_WIDTH * height_mm * (len(str(wheel.steps_per_plate)) + 1)
    every = least_doubled(lambda steps: steps * wheel.step_mm >= width_mm)
    across_mm = room.across_mm(_MARGIN_MM + _TICK_MM + _GAP_MM + height_mm / 2)
    for step in range(0, wheel.steps_per_plate, every):
        yield str(printed(step)), step * wheel.step_mm, across_mm, height_mm, "middle"


def _title(
    plate: PlateFile, wheel: Wheel, layer: Layer, plates: Sequence[int]
) -> tuple[list[list[tuple[float, float]]], list[tuple[str, float, float, float, str]]]:
    """The plate's number and an arrow in the direction in which it turns: towards step 1, which comes first."""
    room = max(_rooms(plate, wheel), key=lambda each: each.depth_mm)
    used_mm = _MARGIN_MM + _TICK_MM + 2 * _GAP_MM + TEXT_MM
    height_mm = min(TEXT_MM, room.depth_mm - used_mm - _GAP_MM)
    if height_mm < MIN_TEXT_MM:
        return [], []
    across_mm = room.across_mm(used_mm + height_mm / 2)
    number = f"PLATE {printed(plates[0])}" if len(plates) == 1 else "PLATE"
    layers = f" LAYER {printed(plate.layers.index(layer))}" if len(plate.layers) > 1 else ""
    start_mm = 0.5 * wheel.step_mm
    head_mm = height_mm / 2
    arrow = [
        [(start_mm, across_mm), (start_mm + _ARROW_MM, across_mm)],
        [(start_mm + head_mm, across_mm - head_mm), (start_mm, across_mm), (start_mm + head_mm, across_mm + head_mm)],
    ]
    return arrow, [(f"{number}{layers}", start_mm + _ARROW_MM + 2 * _GAP_MM, across_mm, height_mm, "start")]


def _channel_numbers(wheel: Wheel) -> Iterator[tuple[str, float, float, float, str]]:
    """The number of every channel at both ends, on the side of its line towards the first channel."""
    lateral_mm, pin_mm = [row.lateral_mm for row in wheel.rows], _pin_radius_mm(wheel)
    room_mm = wheel.geometry.channel_pitch_mm - (max(lateral_mm) - min(lateral_mm)) - 2 * pin_mm
    height_mm = min(TEXT_MM, room_mm - 2 * _GAP_MM)
    if height_mm < MIN_TEXT_MM:
        return
    ends = (
        (_MARGIN_MM - wheel.geometry.lead_edge_mm, "start"),
        (wheel.steps_per_plate * wheel.step_mm - wheel.geometry.trail_edge_mm - _MARGIN_MM, "end"),
    )
    for channel in range(len(wheel.channels)):
        line_mm = channel * wheel.geometry.channel_pitch_mm + min(lateral_mm)
        for along_mm, anchor in ends:
            yield str(printed(channel)), along_mm, line_mm - pin_mm - _GAP_MM - height_mm / 2, height_mm, anchor


def _on_table(text: tuple[str, float, float, float, str], flat: Flat) -> MarkText:
    words, along_mm, across_mm, height_mm, anchor = text
    x_mm, y_mm = flat(np.array([[along_mm, across_mm]]))[0].tolist()
    return MarkText(words, x_mm, y_mm, height_mm, anchor)


def _is_clear(text: MarkText, plate: PlateFile, layer: Layer, flat: Flat) -> bool:
    """Whether a text is clear of fixing holes and of their heads."""
    wide_mm = FIGURE_WIDTH * text.height_mm * len(text.text)
    left_mm = text.x_mm - {"start": 0.0, "middle": wide_mm / 2, "end": wide_mm}[text.anchor]
    for fixing in plate.fixings:
        if fixing.layers and layer.name not in fixing.layers:
            continue
        x_mm, y_mm = flat(np.array([[fixing.along_mm, fixing.across_mm]]))[0].tolist()
        half_mm = max(fixing.diameter_mm, fixing.head_mm, fixing.slot_mm) / 2 + _GAP_MM
        beside = x_mm + half_mm < left_mm or x_mm - half_mm > left_mm + wide_mm
        if not beside and abs(text.y_mm - y_mm) < half_mm + text.height_mm / 2:
            return False
    return True
