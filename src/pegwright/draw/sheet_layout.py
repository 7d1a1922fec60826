"""Where everything stands on a pin sheet: one layout for all plates of a song.

A hole's place on the page:

    x = left_mm + scale x (distance along the plate - that of the part's first step)
    y = top_mm + (channel - the part's first channel + 1/2) x lane_mm + row_offsets_mm[row]

The distance along the plate is true, so the sheet is a drawing to `scale` from left to right.
Across, lanes are as tall as the paper allows; rows that lie side by side on the plate lie side by
side in the lane, in the same order, but not to scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from pegwright.draw.furniture import MARGIN_MM
from pegwright.draw.legend import LINE_MM, legend_lines
from pegwright.draw.lettering import width_mm
from pegwright.draw.paper import Paper
from pegwright.errors import UsageError
from pegwright.grid import along_plate_mm
from pegwright.placement import PinMap
from pegwright.units import pitch_name
from pegwright.wheel import Channel, Wheel

HEAD_MM = 18.5  # title, facts and one line of legend
RULER_MM = 4.4  # a line of step numbers; of bar labels
COUNTS_MM = 5.6
NAME_MM = 3.6  # letters of the channels' names, at most
LABEL_MM = 2.8  # letters of the labels beside the rulers
COUNTS_LABEL = "pins a step"
FOOT_MM = 10.0  # check bar, remarks, page number
CHECK_MM = 5.5  # column of the upright check bar
COUNT_COLUMN_MM = 9.0
PAD_MM = 2.6  # from the first and last hole's mark to what stands beside the lanes
LANE_GAP_MM = 0.3  # between the marks of neighbouring channels
MARK_GAP_MM = 0.2  # between the marks of neighbouring pins

MIN_MARK_MM, MAX_MARK_MM = 2.0, 5.0
EASY_MARK_MM = 3.0  # larger marks are no reason to turn the paper
MIN_LANE_MM, MAX_LANE_MM = 3.2, 9.0
MIN_STEP_MM = 2.9  # holds a count of two figures that can be read
MIN_RING_MM, MAX_RING_MM = 0.5, 1.1
MOST_PARTS = 24
_A4_SHORT_MM, _MOST_ZOOM = 210.0, 1.35


@dataclass(frozen=True, slots=True)
class Part:
    """What one page shows of a plate: a run of steps and a run of channels, 0-based."""

    first_step: int
    step_count: int
    first_channel: int
    channel_count: int

    @property
    def steps(self) -> range:
        """Its steps."""
        return range(self.first_step, self.first_step + self.step_count)

    @property
    def channels(self) -> range:
        """Its channels."""
        return range(self.first_channel, self.first_channel + self.channel_count)


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """The layout of a song's pin sheets; lengths on the page in mm.

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
        names_mm, text_mm: width of a column of names, size of its letters.
        zoom: how much larger rulers and counts are than on A4.
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
    text_mm: float
    zoom: float
    parts: tuple[Part, ...]

    @property
    def ruler_mm(self) -> float:
        """Height of a line of step numbers, or of bar labels."""
        return RULER_MM * self.zoom

    @property
    def counts_mm(self) -> float:
        """Height of the counts at the foot."""
        return COUNTS_MM * self.zoom

    @property
    def count_column_mm(self) -> float:
        """Width of the counts at the right end."""
        return COUNT_COLUMN_MM * self.zoom

    def step_x_mm(self, part: Part, steps: float) -> float:
        """How far right a place is that is given in steps from the plate's first step."""
        return self.left_mm + self.scale * (steps - part.first_step) * self.step_mm

    def lane_y_mm(self, part: Part, channel: int) -> float:
        """How far down the middle of a channel's lane is."""
        return self.top_mm + (channel - part.first_channel + 0.5) * self.lane_mm

    def bottom_mm(self, part: Part) -> float:
        """How far down the lower edge of the last lane is."""
        return self.top_mm + part.channel_count * self.lane_mm

    @property
    def step_on_page_mm(self) -> float:
        """A step on the page."""
        return self.scale * self.step_mm

    def hole_mm(self, wheel: Wheel, part: Part, channel: int, row: int, index: int) -> tuple[float, float]:
        """Centre of a hole on its page, see the top of this module."""
        along_mm = along_plate_mm(wheel, row, index) - part.first_step * self.step_mm
        return self.left_mm + self.scale * along_mm, self.lane_y_mm(part, channel) + self.row_offsets_mm[row]

    def pin_place(self, wheel: Wheel, plate: int, channel: int, row: int, index: int) -> tuple[int, float, float]:
        """Number of the page (0-based) that shows a hole, and its centre there in mm."""
        step = int(wheel.rows[row].position_steps(index))
        for number, part in enumerate(self.parts):
            if step in part.steps and channel in part.channels:
                return plate * len(self.parts) + number, *self.hole_mm(wheel, part, channel, row, index)
        raise IndexError(f"no part shows step {step} of channel {channel}")


@dataclass(frozen=True, slots=True)
class View:
    """What one page shows: part `number` (0-based) of a plate."""

    wheel: Wheel
    layout: SheetLayout
    plate: int
    number: int

    @property
    def part(self) -> Part:
        """The part, see there."""
        return self.layout.parts[self.number]

    @property
    def first_step(self) -> int:
        """Its first step, counted from the start of the turn."""
        return self.plate * self.wheel.steps_per_plate + self.part.first_step


def channel_sound(channel: Channel) -> str:
    """What a channel sounds, in a few letters: `C4`, `A3 A4`, `drum 38`."""
    pitches = [pitch_name(pitch) for pitch in channel.pitches]
    drums = ["drum", *(str(key) for key in channel.drum_keys)] if channel.drum_keys else []
    return " ".join(pitches + drums)


def closest_pins_mm(wheel: Wheel, pins: PinMap) -> float:
    """Least distance along the rim of two pins of one channel on one plate; infinite if there is none."""
    holes = zip(pins.row.tolist(), pins.index.tolist(), strict=True)
    along = np.array([along_plate_mm(wheel, row, index) for row, index in holes])
    order = np.lexsort((along, pins.plate, pins.channel))
    same = (np.diff(pins.channel[order]) == 0) & (np.diff(pins.plate[order]) == 0)
    gaps = np.diff(along[order])[same]
    return float(gaps.min()) if len(gaps) else math.inf


def sheet_layout(wheel: Wheel, paper: Paper, closest_mm: float) -> SheetLayout:
    """The layout with the fewest pages a plate, and of those one with easy or else the largest marks.

    Args:
        wheel: whose plates are drawn.
        paper: may be turned either way; across is preferred.
        closest_mm: least distance of two pins in one channel, along the rim; their marks are kept apart.

    Raises:
        UsageError: a plate would take more than `MOST_PARTS` pages.
    """
    closest_mm = max(closest_mm, wheel.step_mm / 8)  # nearer pins may overlap: no machine could play them
    best: SheetLayout | None = None
    for part_count in range(1, MOST_PARTS + 1):
        found = list(_layouts(wheel, paper, closest_mm, part_count))
        for layout in found:
            if best is None or layout.mark_mm > best.mark_mm:
                best = layout
        if best is not None and best.mark_mm >= MIN_MARK_MM:
            return best
    if best is None:
        raise UsageError(
            f"a plate of {len(wheel.channels)} channels by {wheel.steps_per_plate} steps needs more than "
            f"{MOST_PARTS} pages of {paper.name} to be read",
            where=wheel.name,
            hint="choose a larger paper",
        )
    return replace(best, mark_mm=MIN_MARK_MM)


def _layouts(wheel: Wheel, paper: Paper, closest_mm: float, part_count: int) -> Iterator[SheetLayout]:
    """The layouts that cut a plate into that many pages and can be read, the preferred first."""
    for across in range(1, part_count + 1):
        if part_count % across:
            continue
        parts = _parts(wheel, across, part_count // across)
        if len(parts) != part_count:
            continue
        for width, height in ((paper.long_mm, paper.short_mm), (paper.short_mm, paper.long_mm)):
            layout = _layout(wheel, width, height, parts, closest_mm)
            if layout.step_on_page_mm >= MIN_STEP_MM and layout.lane_mm >= MIN_LANE_MM:
                yield layout


def _parts(wheel: Wheel, across: int, down: int) -> tuple[Part, ...]:
    """A plate cut into runs of steps and of channels; row periods are kept whole."""
    period = math.lcm(*(row.period_steps for row in wheel.rows))
    steps = -(-wheel.steps_per_plate // across)
    steps = -(-steps // period) * period
    channels = -(-len(wheel.channels) // down)
    return tuple(
        Part(
            first_step,
            min(steps, wheel.steps_per_plate - first_step),
            first_channel,
            min(channels, len(wheel.channels) - first_channel),
        )
        for first_channel in range(0, len(wheel.channels), channels)
        for first_step in range(0, wheel.steps_per_plate, steps)
    )


def _layout(wheel: Wheel, width: float, height: float, parts: tuple[Part, ...], closest_mm: float) -> SheetLayout:
    zoom = min(max(1.0, min(width, height) / _A4_SHORT_MM), _MOST_ZOOM)
    extra_lines = len(legend_lines(wheel, width - 2 * MARGIN_MM)) - 1
    top_mm = MARGIN_MM + HEAD_MM + extra_lines * LINE_MM + 2 * RULER_MM * zoom
    room_mm = height - MARGIN_MM - FOOT_MM - (COUNTS_MM + RULER_MM) * zoom - top_mm
    lane_mm = min(room_mm / parts[0].channel_count, MAX_LANE_MM * zoom)
    text_mm = min(max(0.62 * lane_mm, 2.2), NAME_MM * zoom)
    longest_mm = max(_name_mm(channel, text_mm) for channel in wheel.channels)
    least_mm = width_mm(COUNTS_LABEL, LABEL_MM * zoom) + 1.2  # stands in the same column
    names_mm = max(min(longest_mm + 2.5, 0.145 * width), least_mm)

    column_share = _column_share(wheel)
    lead_mm = max(wheel.geometry.lead_edge_mm, column_share * wheel.step_mm)
    lanes_mm = width - 2 * MARGIN_MM - CHECK_MM - COUNT_COLUMN_MM * zoom - 2 * names_mm
    rim_mm = lead_mm + parts[0].step_count * wheel.step_mm
    scale = _round_scale((lanes_mm - 2 * PAD_MM) / rim_mm)
    lanes_left_mm = MARGIN_MM + names_mm

    lines = sorted({row.lateral_mm for row in wheel.rows})
    in_lane_mm = (lane_mm - LANE_GAP_MM) / (1 + 0.4 * (len(lines) - 1))
    mark_mm = min(in_lane_mm, closest_mm * scale - MARK_GAP_MM, MAX_MARK_MM * zoom, wheel.step_mm * scale)
    mark_mm = math.floor(mark_mm * 10 + 1e-6) / 10
    pitch_mm = min((lane_mm - LANE_GAP_MM - mark_mm) / (len(lines) - 1), 0.6 * mark_mm) if len(lines) > 1 else 0.0
    offsets = tuple((lines.index(row.lateral_mm) - (len(lines) - 1) / 2) * pitch_mm for row in wheel.rows)
    return SheetLayout(
        width_mm=width,
        height_mm=height,
        step_mm=wheel.step_mm,
        scale=scale,
        left_mm=lanes_left_mm + PAD_MM + lead_mm * scale,
        lanes_left_mm=lanes_left_mm,
        lanes_right_mm=lanes_left_mm + 2 * PAD_MM + rim_mm * scale,
        top_mm=top_mm,
        lane_mm=lane_mm,
        mark_mm=mark_mm,
        ring_mm=max(MIN_RING_MM, min(MAX_RING_MM, 0.33 * mark_mm, 0.85 * _closest_holes_mm(wheel) * scale)),
        row_offsets_mm=offsets,
        column_share=column_share,
        names_mm=names_mm,
        text_mm=text_mm,
        zoom=zoom,
        parts=parts,
    )


def _name_mm(channel: Channel, text_mm: float) -> float:
    return width_mm(channel.name, text_mm, bold=True) + 1.5 + width_mm(channel_sound(channel), text_mm)


def _column_share(wheel: Wheel) -> float:
    """Half of what is left of a step after its last hole, so that a column's edges lie between holes."""
    last = max(phase % 1 for row in wheel.rows for phase in row.phases)
    return float(1 - last) / 2


def _closest_holes_mm(wheel: Wheel) -> float:
    """Least distance along the rim of two holes that the sheet draws on one line."""
    period = math.lcm(*(row.period_steps for row in wheel.rows))
    least = Fraction(period)
    for line in {row.lateral_mm for row in wheel.rows}:
        places = {
            start + phase
            for row in wheel.rows
            if row.lateral_mm == line
            for start in range(0, period, row.period_steps)
            for phase in row.phases
        }
        around = [*sorted(places), min(places) + period]
        least = min(least, *(after - before for before, after in pairwise(around)))
    return float(least) * wheel.step_mm


def _round_scale(scale: float) -> float:
    """The nearest scale not above `scale` that prints in two figures: 1:2.4, 1:1, 1.5:1."""
    if scale >= 1:
        return _two_figures(scale, math.floor)
    return 1 / _two_figures(1 / scale, math.ceil)


def _two_figures(value: float, rounding: Callable[[float], int]) -> float:
    unit = 10.0 ** (math.floor(math.log10(value)) - 1)
    return round(rounding(round(value / unit, 6)) * unit, 6)


def scale_text(scale: float) -> str:
    """A scale as printed: `1:2.4`, `1.5:1`."""
    return f"{round(scale, 6):g}:1" if scale >= 1 else f"1:{round(1 / scale, 6):g}"
