"""The layout of the sheets of plates: one for all plates of a song or a swap.

A hole's place on the page:

    x = left_mm + scale x (distance along the plate - that of the part's first step)
    y = top_mm + (channel - the part's first channel + 1/2) x lane_mm + row_offsets_mm[row]

The distance along the plate is true, so the sheet is a drawing to `scale` from left to right.
Across, lanes are as tall as the paper allows; rows that lie side by side on the plate lie side by
side in the lane, in the same order, but not to scale. Where there are many lanes, those of the lower
half are moved down by a line of step numbers. Seen from inside, x is mirrored in the middle of the
lanes. `sheet_fit.py` finds the layout.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints, tuples
from pegwright.draw.lettering import width_mm
from pegwright.draw.sheet_style import SheetStyle
from pegwright.frozen import frozen
from pegwright.grid import along_plate_mm
from pegwright.placement import PinMap
from pegwright.swapping import Moves
from pegwright.units import pitch_name, printed
from pegwright.wheel import Channel, Wheel

LABEL_MM = 2.8  # letters of the labels beside the rulers
MANY_LANES = 24  # above this, steps are numbered again half-way down
GROUP_LANES = 4
TICK_COLUMN_MM = 3.7  # a column of boxes to tick, on A4
TICK_GAP_MM = 0.6  # on either side of the boxes to tick
COUNT_GAP_MM = 0.4  # beside the number or the count of a step
NUMBER_GAP = 0.4  # after a channel's number, as a share of the letters
COUNTS_LABEL, PLATE_LABEL = "pins a step", "plate"
DIGIT = 0.573  # width of a figure as a share of the size; Source: the font
HoleColumns: TypeAlias = PinMap | Moves  # columns that give the hole of each of some pins


@frozen()
class SheetPart:
    """What one page shows of a plate: ranges of steps and of channels, 0-based."""

    steps: range
    channels: range


@frozen()
class SheetLayout:
    """The layout of the sheets of a song or a swap; lengths on the page in mm.

    Args:
        width_mm, height_mm: of the paper as it is turned.
        step_mm: a step along the rim.
        scale: page mm for one mm along the rim.
        left_mm: x of the first step of every part.
        lanes_left_mm, lanes_right_mm: where the lanes begin and end.
        top_mm, lane_mm: y of the first lane's upper edge; height of a lane.
        mark_mm, ring_mm: sizes of a pin's mark and of an empty hole.
        row_offsets_mm: one for each row of the wheel, down from the middle of the lane.
        column_share: how much of a step column lies before its step line, in steps.
        names_mm, names_right_mm: width of the names at the left and at the right end.
        text_mm: size of their letters.
        style: how the sheets are printed.
        zoom: how much larger rulers and counts are than on A4.
        ruler_mm: height of a line of step numbers, or of bar labels.
        count_lines: lines of counts at the foot, and columns of them at the right end.
        counts_mm, count_column_mm: height of such a line, width of such a column.
        parts: of every plate, in page order.
    """

    width_mm: float
    height_mm: float
    step_mm: float
    scale: float
    left_mm: float
    lanes_left_mm: float
    lanes_right_mm: float
    top_mm: float
    lane_mm: float
    mark_mm: float
    ring_mm: float
    row_offsets_mm: tuple[float, ...]
    column_share: float
    names_mm: float
    names_right_mm: float
    text_mm: float
    style: SheetStyle
    zoom: float
    ruler_mm: float
    count_lines: int
    counts_mm: float
    count_column_mm: float
    parts: tuple[SheetPart, ...]

    @property
    def upright(self) -> bool:
        """Whether the paper is held upright."""
        return self.height_mm > self.width_mm

    @property
    def min_text_mm(self) -> float:
        """Minimum size of any letters."""
        return self.style.min_text_mm

    @property
    def inside(self) -> bool:
        """Whether the plate is seen from inside."""
        return self.style.inside

    @property
    def tick_column_mm(self) -> float:
        """Width of each of the two columns of boxes to tick."""
        return TICK_COLUMN_MM * self.zoom

    def step_x_mm(self, part: SheetPart, steps: float) -> float:
        """The x of a place that is given in steps from the plate's first step."""
        return self.faced_mm(self.left_mm + self.scale * (steps - part.steps.start) * self.step_mm)

    def faced_mm(self, x_mm: float) -> float:
        """An x as it is from the face that is seen; twice gives it back."""
        return self.lanes_left_mm + self.lanes_right_mm - x_mm if self.inside else x_mm

    def lane_y_mm(self, part: SheetPart, channel: int) -> float:
        """The y of the middle of a channel's lane."""
        return self.lane_top_mm(part, channel - part.channels.start) + self.lane_mm / 2

    def lane_top_mm(self, part: SheetPart, lane: int) -> float:
        """The y of the upper edge of a lane of the part (0-based)."""
        half = lanes_above(len(part.channels))
        return self.top_mm + lane * self.lane_mm + (self.ruler_mm if half and lane >= half else 0.0)

    def bottom_mm(self, part: SheetPart) -> float:
        """The y of the lower edge of the last lane."""
        return self.lane_top_mm(part, len(part.channels))

    def stretches_mm(self, part: SheetPart) -> tuple[tuple[float, float], ...]:
        """Upper and lower edge of the lanes, in two stretches where steps are numbered half-way down."""
        half = lanes_above(len(part.channels))
        if not half:
            return ((self.top_mm, self.bottom_mm(part)),)
        second_mm = self.lane_top_mm(part, half)
        return (self.top_mm, second_mm - self.ruler_mm), (second_mm, self.bottom_mm(part))

    @property
    def ticks_left_mm(self) -> float:
        """The x at which the columns of boxes to tick begin."""
        return self.lanes_right_mm + self.count_lines * self.count_column_mm + TICK_GAP_MM

    @property
    def right_names_mm(self) -> float:
        """The x at which the names at the right end begin."""
        return self.ticks_left_mm + 2 * self.tick_column_mm + TICK_GAP_MM

    @property
    def step_on_page_mm(self) -> float:
        """Width of a step on the page."""
        return self.scale * self.step_mm

    def hole_mm(self, wheel: Wheel, part: SheetPart, channel: int, row: int, index: int) -> tuple[float, float]:
        """Centre of a hole on its page, see the top of this module.

        Args:
            wheel: its rows.
            part: what the page shows.
            channel: 0-based.
            row: index into `Wheel.rows`.
            index: of the hole in its row on a plate.
        """
        along_mm = along_plate_mm(wheel, row, index) - part.steps.start * self.step_mm
        x_mm = self.faced_mm(self.left_mm + self.scale * along_mm)
        return x_mm, self.lane_y_mm(part, channel) + self.row_offsets_mm[row]


@frozen()
class View:
    """What one page shows: part `number` (0-based) of a plate."""

    wheel: Wheel
    layout: SheetLayout
    plate: int
    number: int

    @property
    def part(self) -> SheetPart:
        """The part of the plate that is shown."""
        return self.layout.parts[self.number]

    @property
    def shown(self) -> tuple[slice, slice]:
        """What of a table by channel and step the page shows."""
        channels, steps = self.part.channels, self.part.steps
        return slice(channels.start, channels.stop), slice(steps.start, steps.stop)

    @property
    def first_step(self) -> int:
        """Its first step, counted from the start of the turn."""
        return self.plate * self.wheel.steps_per_plate + self.part.steps.start

    def words(self, noun: str, set_name: str = "") -> str:
        """`Plate 3 of 6`, `Set A · plate 3 of 6, part 1 of 2`; `noun` is for the plate or its place."""
        words = f"{noun} {printed(self.plate)} of {self.wheel.plate_count}"
        if len(self.layout.parts) > 1:
            words = f"{words}, part {printed(self.number)} of {len(self.layout.parts)}"
        return f"Set {set_name} · {words}" if set_name else words[0].upper() + words[1:]

    def step_table(self, pins: HoleColumns) -> Ints:
        """Pins on the whole plate by channel and step, shape (channels, steps)."""
        wheel, here = self.wheel, pins.plate == self.plate
        table = np.zeros((len(wheel.channels), wheel.steps_per_plate), dtype=np.int64)
        for channel, row, index in tuples(pins.channel[here], pins.row[here], pins.index[here]):
            table[channel, int(wheel.rows[row].position_steps(index))] += 1
        return table

    def marks(self, pins: HoleColumns) -> Iterator[tuple[int, int, float, float]]:
        """Pins that the page shows: number in `pins`, row, and the hole's place on the page in mm."""
        here = np.flatnonzero(pins.plate == self.plate)
        for pin, channel, row, index in tuples(here, pins.channel[here], pins.row[here], pins.index[here]):
            if channel in self.part.channels and int(self.wheel.rows[row].position_steps(index)) in self.part.steps:
                yield pin, row, *self.layout.hole_mm(self.wheel, self.part, channel, row, index)


def lanes_above(lanes: int) -> int:
    """How many of a page's lanes are above the step numbers half-way down, whole groups; 0 for no such numbers."""
    return -(-lanes // (2 * GROUP_LANES)) * GROUP_LANES if lanes > MANY_LANES else 0


def number_mm(wheel: Wheel, text_mm: float) -> float:
    """Width of a channel's number and the gap after it."""
    return width_mm(str(printed(len(wheel.channels) - 1)), text_mm) + NUMBER_GAP * text_mm


def channel_sound(channel: Channel) -> str:
    """What a channel sounds: `A3 A4`, `drum 35/36`; empty where its name ends with that."""
    sound = " ".join(pitch_name(pitch) for pitch in channel.pitches)
    if not sound and channel.drum_keys:
        sound = f"drum {'/'.join(map(str, channel.drum_keys))}"
    return "" if f" {channel.name}".endswith(f" {sound}") else sound


def scale_text(scale: float) -> str:
    """A scale as printed: `1:2.4`, `1.5:1`."""
    return f"{round(scale, 6):g}:1" if scale >= 1 else f"1:{round(1 / scale, 6):g}"
