"""Finding the layout of sheets: how a plate is cut into pages, the orientation of the paper, the size of marks."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np

from pegwright.columns import firsts
from pegwright.draw.furniture import EDITION_LINE_MM, MARGIN_MM, SMALL_LINE_MM, small_print_lines
from pegwright.draw.legend import LINE_MM, Entry, legend_lines
from pegwright.draw.lettering import width_mm
from pegwright.draw.paper import Paper
from pegwright.draw.sheet_layout import (
    COUNT_GAP_MM,
    COUNTS_LABEL,
    DIGIT,
    LABEL_MM,
    PLATE_LABEL,
    TICK_COLUMN_MM,
    TICK_GAP_MM,
    HoleColumns,
    SheetLayout,
    SheetPart,
    channel_sound,
    lanes_above,
    number_mm,
)
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.grid import along_plate_mm
from pegwright.wheel import Wheel

HEAD_MM = 18.5 + EDITION_LINE_MM  # title, facts, edition and one line of legend
NAME_MM, SMALLEST_NAME_MM = 3.6, 2.2  # maximum and usual minimum size of the letters of the channels' names
FOOT_MM = 10.0  # check bar, remarks, page number, a line of small print
RULER_MM = 4.4  # a line of step numbers; of bar labels
COUNTS_MM, SEVERAL_COUNTS_MM = 5.6, 4.6  # a line of counts; one of several
COUNT_COLUMN_MM, SEVERAL_COLUMNS_MM = 9.0, 8.0  # a column of counts; one of several
CHECK_MM = 5.5  # column of the upright check bar
PAD_MM = 2.6  # from the first and last hole's mark to what is beside the lanes
LANE_GAP_MM = 0.3  # between the marks of neighbouring channels
MARK_GAP_MM = 0.2  # between the marks of neighbouring pins

MIN_MARK_MM, MAX_MARK_MM = 2.0, 5.0
EASY_MARK_MM = 3.0  # marks above this are no reason to turn the paper
MIN_LANE_MM, MAX_LANE_MM = 3.2, 9.0
MIN_STEP_MM = 2.9  # minimum width of a step
LETTER_IN_LANE = 0.69  # maximum size of a name's letters, as a share of the lane's height
MIN_RING_MM, MAX_RING_MM = 0.5, 1.1
MAX_PARTS = 24
LEGEND_Y_MM = 16.0 + EDITION_LINE_MM
_OVERLAP, _PITCH = 0.4, 0.6  # of marks in rows side by side that may overlap: minimum and usual distance, in marks


@frozen()
class Closest:
    """Minimum distances along the rim of two pins of one channel on one plate; infinite where there are no two.

    Args:
        any_mm: of any two.
        line_mm: of two on one line, side by side with others or alone.
    """

    any_mm: float = math.inf
    line_mm: float = math.inf


@frozen()
class Surround:
    """What is round the plate on a sheet.

    Args:
        legend: its entries.
        count_words: the word of each line of counts at the foot and of each column of them at the right end.
        figures: of the largest count of a step.
        keep_mm: room to leave free at the right of heading and legend.
        upright_mm: how much taller the heading is on upright paper.
        small_print: for the foot, each text on lines of its own.
        style: how the sheets are printed.
    """

    legend: tuple[Entry, ...] = ()
    count_words: tuple[str, ...] = ("pins",)
    figures: int = 2
    keep_mm: float = 0.0
    upright_mm: float = 0.0
    small_print: tuple[str, ...] = ()
    style: SheetStyle = PLAIN

    @property
    def min_step_mm(self) -> float:
        """The minimum width of a step, which holds its number and its count."""
        return max(MIN_STEP_MM, max(self.figures, 2) * DIGIT * self.style.min_text_mm + COUNT_GAP_MM)

    @property
    def min_lane_mm(self) -> float:
        """The minimum height of a lane."""
        return max(MIN_LANE_MM, self.style.min_text_mm / LETTER_IN_LANE)

    def legend_y_mm(self, upright: bool) -> float:
        """The middle of the legend's first line."""
        return MARGIN_MM + LEGEND_Y_MM + (self.upright_mm if upright else 0.0)


NO_SURROUND = Surround()


def closest_pins(wheel: Wheel, *pins: HoleColumns) -> Closest:
    """The minimum distances of pins, all of `pins` together; duplicates of a hole count once."""
    columns = [np.stack([some.channel, some.plate, some.row, some.index], axis=1) for some in pins]
    holes = np.array(sorted(set(map(tuple, np.concatenate(columns).tolist()))), dtype=np.int64).reshape(-1, 4)
    along = np.array([along_plate_mm(wheel, row, index) for _, _, row, index in holes.tolist()])
    line = np.array([row.lateral_mm for row in wheel.rows])[holes[:, 2]]
    return Closest(_min_gap(along, holes[:, 0], holes[:, 1]), _min_gap(along, holes[:, 0], holes[:, 1], line))


def _min_gap(along: np.ndarray, *alike: np.ndarray) -> float:
    """Minimum distance of two places for which all columns `alike` are equal."""
    order = np.lexsort((along, *alike))
    same = ~firsts(*(column[order] for column in alike))
    return float(np.diff(along[order])[same[1:]].min(initial=math.inf))


def sheet_layout(wheel: Wheel, paper: Paper, closest: Closest, surround: Surround = NO_SURROUND) -> SheetLayout:
    """The layout with the fewest pages a plate; of those one with easy or else the largest marks.

    Args:
        wheel: whose plates are drawn.
        paper: may be turned either way; across is preferred.
        closest: minimum distances of pins; their marks do not overlap.
        surround: what is round the plate.

    Raises:
        UsageError: a plate would take more than `MAX_PARTS` pages.
    """
    min_mm = wheel.step_mm / 8  # nearer pins may overlap: no machine could play them
    closest = Closest(max(closest.any_mm, min_mm), max(closest.line_mm, min_mm))
    layouts: list[SheetLayout] = []
    for part_count in range(1, MAX_PARTS + 1):
        layouts += _layouts(wheel, paper, closest, surround, part_count)
        best = max(layouts, key=lambda layout: min(layout.mark_mm, EASY_MARK_MM), default=None)  # the first of equals
        if best is not None and best.mark_mm >= MIN_MARK_MM:
            return best
    if best is None:
        raise UsageError(
            f"a plate of {len(wheel.channels)} channels by {wheel.steps_per_plate} steps needs more than "
            f"{MAX_PARTS} pages of {paper.name} to be read",
            where=wheel.name,
            hint="choose a larger paper",
        )
    return replace(best, mark_mm=MIN_MARK_MM)


def _layouts(
    wheel: Wheel, paper: Paper, closest: Closest, surround: Surround, part_count: int
) -> Iterator[SheetLayout]:
    """The layouts that cut a plate into that many pages and can be read, the preferred first."""
    for across in range(1, part_count + 1):
        if part_count % across:
            continue
        parts = _parts(wheel, across, part_count // across)
        if len(parts) != part_count:
            continue
        for upright in (False, True):
            layout = _layout(wheel, paper, upright, parts, closest, surround)
            if layout.step_on_page_mm >= surround.min_step_mm and layout.lane_mm >= surround.min_lane_mm:
                yield layout


def _parts(wheel: Wheel, across: int, down: int) -> tuple[SheetPart, ...]:
    """A plate cut into ranges of steps and of channels; row periods are not cut."""
    period = math.lcm(*(row.period_steps for row in wheel.rows))
    steps, channels = range(wheel.steps_per_plate), range(len(wheel.channels))
    step_count = -(-len(steps) // (across * period)) * period
    channel_count = -(-len(channels) // down)
    return tuple(
        SheetPart(steps[step : step + step_count], channels[channel : channel + channel_count])
        for channel in channels[::channel_count]
        for step in steps[::step_count]
    )


def _layout(
    wheel: Wheel, paper: Paper, upright: bool, parts: tuple[SheetPart, ...], closest: Closest, surround: Surround
) -> SheetLayout:
    width, height = (paper.short_mm, paper.long_mm) if upright else (paper.long_mm, paper.short_mm)
    style = surround.style
    zoom, lines = style.zoom(paper), len(surround.count_words)
    counts_mm, count_column_mm = _counts_mm(surround, zoom)
    top_mm = _top_mm(width, upright, surround, zoom)
    below_mm = lines * counts_mm + _foot_mm(width, surround, parts)
    lane_mm = _lane_mm(height - top_mm - below_mm, len(parts[0].channels), zoom)
    text_mm = min(max(0.62 * lane_mm, SMALLEST_NAME_MM, style.min_text_mm), NAME_MM * zoom)
    names_mm, names_right_mm = _names_mm(wheel, text_mm, zoom, 0.16 * width)
    column_share, lead_mm = _before_steps(wheel)
    beside_mm = names_mm + lines * count_column_mm + 2 * (TICK_COLUMN_MM * zoom + TICK_GAP_MM) + names_right_mm
    lanes_mm = width - 2 * MARGIN_MM - CHECK_MM - beside_mm - 2 * PAD_MM
    rim_mm, lanes_left_mm = lead_mm + len(parts[0].steps) * wheel.step_mm, MARGIN_MM + names_mm
    scale = _round_scale(lanes_mm / rim_mm)
    mark_mm, offsets = _marks_in_lane(wheel, lane_mm, closest, scale, zoom)
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
        names_right_mm=names_right_mm,
        text_mm=text_mm,
        style=style,
        zoom=zoom,
        ruler_mm=RULER_MM * zoom,
        count_lines=lines,
        counts_mm=counts_mm,
        count_column_mm=count_column_mm,
        parts=parts,
    )


def _lane_mm(room_mm: float, lanes: int, zoom: float) -> float:
    """Height of a lane, where lanes and the step numbers below them, and half-way if there are any, have this room."""
    rulers = 2 if lanes_above(lanes) else 1
    return min((room_mm - rulers * RULER_MM * zoom) / lanes, MAX_LANE_MM * zoom)


def _foot_mm(width: float, surround: Surround, parts: tuple[SheetPart, ...]) -> float:
    """Height of foot and margin; the foot holds one line of small print in any case."""
    lines = len(small_print_lines(width, surround.small_print, cut=len(parts) > 1))
    return MARGIN_MM + FOOT_MM + SMALL_LINE_MM * max(0, lines - 1)


def _top_mm(width: float, upright: bool, surround: Surround, zoom: float) -> float:
    """The upper edge of the lanes, below heading, legend and two rulers."""
    legend_mm = (len(legend_lines(surround.legend, width - 2 * MARGIN_MM - surround.keep_mm)) - 1) * LINE_MM
    more_mm = surround.upright_mm if upright else 0.0
    return MARGIN_MM + (HEAD_MM + legend_mm + more_mm) + 2 * RULER_MM * zoom


def _counts_mm(surround: Surround, zoom: float) -> tuple[float, float]:
    """Height of a line of counts at the foot; width of a column of them, which holds its word."""
    words = surround.count_words
    high_mm, wide_mm = (COUNTS_MM, COUNT_COLUMN_MM) if len(words) == 1 else (SEVERAL_COUNTS_MM, SEVERAL_COLUMNS_MM)
    word_mm = max(width_mm(word, surround.style.min_text_mm) for word in words) + 1.0
    return high_mm * zoom, max(wide_mm * zoom, word_mm)


def _marks_in_lane(
    wheel: Wheel, lane_mm: float, closest: Closest, scale: float, zoom: float
) -> tuple[float, tuple[float, ...]]:
    """Size of a mark, and for each row the offset of its marks from the middle of the lane.

    Rows side by side either overlap, so that marks can fill the lane but must not overlap along the
    rim, or they are separate; whichever gives the larger marks.
    """
    lines = sorted({row.lateral_mm for row in wheel.rows})
    room_mm = lane_mm - LANE_GAP_MM
    max_mm = min(MAX_MARK_MM * zoom, wheel.step_mm * scale)
    over_mm = min(room_mm / (1 + _OVERLAP * (len(lines) - 1)), closest.any_mm * scale - MARK_GAP_MM, max_mm)
    clear_mm = min((room_mm + MARK_GAP_MM) / len(lines) - MARK_GAP_MM, closest.line_mm * scale - MARK_GAP_MM, max_mm)
    mark_mm = math.floor(max(over_mm, clear_mm) * 10 + 1e-6) / 10
    pitch_mm = 0.0
    if len(lines) > 1:
        pitch_mm = min((room_mm - mark_mm) / (len(lines) - 1), max(_PITCH * mark_mm, 0.0))
        if clear_mm > over_mm:
            pitch_mm = mark_mm + MARK_GAP_MM
    offsets = (lines.index(row.lateral_mm) - (len(lines) - 1) / 2 for row in wheel.rows)
    return mark_mm, tuple(offset * pitch_mm for offset in offsets)


def _names_mm(wheel: Wheel, text_mm: float, zoom: float, max_mm: float) -> tuple[float, float]:
    """Width of number, name and sound of a channel, and of number and name, each at most `max_mm`."""
    names = [width_mm(channel.name, text_mm, bold=True) for channel in wheel.channels]
    sounds = [width_mm(sound, text_mm) + 1.5 if sound else 0.0 for sound in map(channel_sound, wheel.channels)]
    number = number_mm(wheel, text_mm)
    longest_mm = max(name + sound for name, sound in zip(names, sounds, strict=True))
    min_mm = width_mm(COUNTS_LABEL, LABEL_MM * zoom) + 1.2  # is in the left column
    min_right_mm = width_mm(PLATE_LABEL, LABEL_MM * zoom) + 1.5  # is below the right column
    right_mm = max(min(number + max(names) + 2.0, max_mm), min_right_mm)
    return max(min(number + longest_mm + 2.0, max_mm), min_mm), right_mm


def _before_steps(wheel: Wheel) -> tuple[float, float]:
    """How much of a step column lies before its step line, in steps; how much rim is drawn before the first, in mm.

    The former is half of what is left of a step after its last hole, so that a column's edges lie between holes.
    """
    last = max(phase % 1 for row in wheel.rows for phase in row.phases)
    column_share = float(1 - last) / 2
    return column_share, max(wheel.geometry.lead_edge_mm, column_share * wheel.step_mm)


def _closest_holes_mm(wheel: Wheel) -> float:
    """Minimum distance along the rim of two holes that the sheet draws on one line."""
    period = math.lcm(*(row.period_steps for row in wheel.rows))
    lines: dict[float, set[Fraction]] = defaultdict(set)
    for row in wheel.rows:
        lines[row.lateral_mm] |= {start + phase for start in range(0, period, row.period_steps) for phase in row.phases}
    around = [[*sorted(places), min(places) + period] for places in lines.values()]
    return float(min(after - before for places in around for before, after in pairwise(places))) * wheel.step_mm


def _round_scale(scale: float) -> float:
    """The nearest scale not above `scale` that prints in two figures: 1:2.4, 1:1, 1.5:1."""
    if scale >= 1:
        return _two_figures(scale, math.floor)
    return 1 / _two_figures(1 / scale, math.ceil)


def _two_figures(value: float, rounding: Callable[[float], int]) -> float:
    unit = 10.0 ** (math.floor(math.log10(value)) - 1)
    return round(rounding(round(value / unit, 6)) * unit, 6)
