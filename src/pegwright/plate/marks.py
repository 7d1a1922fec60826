"""What is engraved on a plate: a ruler of steps along both sides, channel numbers at both ends, the plate, an arrow.

Texts keep clear of pins and of fixing holes; one that has no room is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats
from pegwright.frozen import frozen
from pegwright.making import Fixing, Layer, Marks, MarkText, PlateFile
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


class _Lettering(NamedTuple):
    """A text on the rim, its middle at half its height."""

    text: str
    along_mm: float
    across_mm: float
    height_mm: float
    anchor: str


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
    texts: list[_Lettering] = []
    for room in _rooms(plate, wheel):
        lines += _ticks(wheel, room)
        height_mm = min(TEXT_MM, room.depth_mm - _MARGIN_MM - _TICK_MM - 2 * _GAP_MM)
        if height_mm >= MIN_TEXT_MM:
            texts += _step_numbers(wheel, room, height_mm)
    arrow, title = _title(plate, wheel, layer, plates)
    lines += arrow
    texts += title
    texts += _channel_numbers(wheel)
    clear = [_on_table(words, flat) for words in texts if _is_clear(words, plate, layer)]
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


def _step_numbers(wheel: Wheel, room: _Room, height_mm: float) -> Iterator[_Lettering]:
    width_mm = FIGURE_WIDTH * height_mm * (len(str(wheel.steps_per_plate)) + 1)
    every = least_doubled(lambda steps: steps * wheel.step_mm >= width_mm)
    across_mm = room.across_mm(_MARGIN_MM + _TICK_MM + _GAP_MM + height_mm / 2)
    for step in range(0, wheel.steps_per_plate, every):
        yield _Lettering(str(printed(step)), step * wheel.step_mm, across_mm, height_mm, "middle")


def _title(
    plate: PlateFile, wheel: Wheel, layer: Layer, plates: Sequence[int]
) -> tuple[list[list[tuple[float, float]]], list[_Lettering]]:
    """The plate's number, and an arrow in the direction in which it turns: towards step 1, which comes first.

    They are next to the step numbers, at the first place along the plate where no fixing hole is.
    """
    room = max(_rooms(plate, wheel), key=lambda each: each.depth_mm)
    used_mm = _MARGIN_MM + _TICK_MM + 2 * _GAP_MM + TEXT_MM
    height_mm = min(TEXT_MM, room.depth_mm - used_mm - _GAP_MM)
    number = f"PLATE {printed(plates[0])}" if len(plates) == 1 else "PLATE"
    words = f"{number} LAYER {printed(plate.layers.index(layer))}" if len(plate.layers) > 1 else number
    across_mm = room.across_mm(used_mm + height_mm / 2)
    long_mm = _ARROW_MM + 2 * _GAP_MM + FIGURE_WIDTH * height_mm * len(words)
    for half_steps in range(1, 2 * wheel.steps_per_plate):
        start_mm = half_steps * wheel.step_mm / 2
        ends_mm = (start_mm, start_mm + long_mm)
        if height_mm < MIN_TEXT_MM or ends_mm[1] > (wheel.steps_per_plate - 1) * wheel.step_mm:
            break
        if all(_is_beside(fixing, ends_mm, across_mm, height_mm) for fixing in _fixings_of(plate, layer)):
            text = _Lettering(words, start_mm + _ARROW_MM + 2 * _GAP_MM, across_mm, height_mm, "start")
            return _arrow(start_mm, across_mm, height_mm / 2), [text]
    return [], []


def _arrow(start_mm: float, across_mm: float, head_mm: float) -> list[list[tuple[float, float]]]:
    """A shaft and a head, whose tip is at its start: nearer to step 1."""
    return [
        [(start_mm, across_mm), (start_mm + _ARROW_MM, across_mm)],
        [(start_mm + head_mm, across_mm - head_mm), (start_mm, across_mm), (start_mm + head_mm, across_mm + head_mm)],
    ]


def _channel_numbers(wheel: Wheel) -> Iterator[_Lettering]:
    """The number of every channel at both ends, on the side of its line towards the first channel."""
    lateral_mm, pin_mm = [row.lateral_mm for row in wheel.rows], _pin_radius_mm(wheel)
    room_mm = wheel.geometry.channel_pitch_mm - (max(lateral_mm) - min(lateral_mm)) - 2 * pin_mm
    height_mm = min(TEXT_MM, room_mm - 2 * _GAP_MM)
    if height_mm < MIN_TEXT_MM:
        return
    ends = (
        (_MARGIN_MM - wheel.geometry.lead_edge_mm, "start"),
        (wheel.plate_mm - wheel.geometry.trail_edge_mm - _MARGIN_MM, "end"),
    )
    for channel in range(len(wheel.channels)):
        line_mm = channel * wheel.geometry.channel_pitch_mm + min(lateral_mm)
        for along_mm, anchor in ends:
            across_mm = line_mm - pin_mm - _GAP_MM - height_mm / 2
            yield _Lettering(str(printed(channel)), along_mm, across_mm, height_mm, anchor)


def _on_table(words: _Lettering, flat: Flat) -> MarkText:
    x_mm, y_mm = flat(np.array([[words.along_mm, words.across_mm]]))[0].tolist()
    return MarkText(words.text, x_mm, y_mm, words.height_mm, words.anchor)


def _fixings_of(plate: PlateFile, layer: Layer) -> list[Fixing]:
    return [fixing for fixing in plate.fixings if not fixing.layers or layer.name in fixing.layers]


def _is_clear(words: _Lettering, plate: PlateFile, layer: Layer) -> bool:
    """Whether a text is clear of fixing holes and of their heads."""
    wide_mm = FIGURE_WIDTH * words.height_mm * len(words.text)
    begin_mm = words.along_mm - {"start": 0.0, "middle": wide_mm / 2, "end": wide_mm}[words.anchor]
    ends_mm = (begin_mm, begin_mm + wide_mm)
    return all(_is_beside(each, ends_mm, words.across_mm, words.height_mm) for each in _fixings_of(plate, layer))


def _is_beside(fixing: Fixing, ends_mm: tuple[float, float], across_mm: float, height_mm: float) -> bool:
    """Whether a fixing hole with its head is clear of a strip.

    Args:
        fixing: the hole.
        ends_mm: of the strip along the rim.
        across_mm: its middle across the rim.
        height_mm: its height.
    """
    half_mm = max(fixing.diameter_mm, fixing.head_mm) / 2 + _GAP_MM
    long_mm = max(half_mm, fixing.slot_mm / 2 + _GAP_MM)
    along = fixing.along_mm + long_mm < ends_mm[0] or fixing.along_mm - long_mm > ends_mm[1]
    return along or abs(fixing.across_mm - across_mm) >= half_mm + height_mm / 2
