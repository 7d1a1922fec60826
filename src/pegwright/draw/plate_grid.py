"""The unrolled plate: lanes, steps, holes and bar lines of one part of a plate."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from pegwright.columns import tuples
from pegwright.draw.bars import END_LABEL, BarMark
from pegwright.draw.furniture import GREY, centred
from pegwright.draw.lettering import fitted, fitting_mm, width_mm
from pegwright.draw.marks import hole_ring, lost_cross
from pegwright.draw.sheet_layout import (
    COUNT_GAP_MM,
    DIGIT,
    GROUP_LANES,
    LABEL_MM,
    NUMBER_GAP,
    SheetLayout,
    SheetPart,
    View,
    channel_sound,
    number_mm,
)
from pegwright.drawing import Anchor, Path, Pen, Shape, Symbol, Text, rectangle
from pegwright.grid import Loss, hole_grid
from pegwright.score import bar_name
from pegwright.units import least_doubled, printed
from pegwright.wheel import Wheel

TICK_MM = 0.4  # by which step and bar lines are longer than the lanes at either end
INDEX_MM = (16.0, 6.0)  # size of the index drawing
_TINT = Pen(stroke=None, fill=0.94)
_LANE = Pen(stroke=0.75, width_mm=0.1)
_GROUP = Pen(stroke=0.45, width_mm=0.25)
_STEP = Pen(stroke=0.75, width_mm=0.12)
_BEAT = Pen(stroke=0.35, width_mm=0.35)
_BAR = Pen(stroke=0.0, width_mm=0.7)
_EDGE = Pen(stroke=0.3, width_mm=0.3)
_LEADING = 0.3  # length of a leader, as a share of the ruler
_LEADER = Pen(stroke=0.3, width_mm=0.2)  # from the line of a step without a number into the ruler


@lru_cache(maxsize=32)
def frame(wheel: Wheel, layout: SheetLayout, part: SheetPart) -> Symbol:
    """What the pages of all plates have in common: lanes with their names, step lines and numbers.

    Args:
        wheel: its channels and plates.
        layout: of the sheets.
        part: what the page shows of a plate.
    """
    shapes = (*_lanes(layout, part), *_steps(layout, part), *_edges(wheel, layout, part))
    return Symbol("frame", (*shapes, *_names(wheel, layout, part), *_step_numbers(layout, part)))


def holes(view: View) -> Symbol:
    """The holes of a plate; plates that have lost the same holes share one symbol."""
    pattern = []
    for channel in view.part.channels:
        line = hole_grid(view.wheel).lines[channel]
        here = line.plate == view.plate
        lost = line.loss[here] != Loss.NONE
        pattern.append(tuple(tuples(line.row[here], line.index[here], lost)))
    return _holes(view.wheel, view.layout, view.part, tuple(pattern))


@lru_cache(maxsize=32)
def _holes(
    wheel: Wheel, layout: SheetLayout, part: SheetPart, pattern: tuple[tuple[tuple[int, int, bool], ...], ...]
) -> Symbol:
    shapes: list[Shape] = []
    every = {(row, index) for channel_holes in pattern for row, index, _ in channel_holes}
    shown = {(row, index) for row, index in every if int(wheel.rows[row].position_steps(index)) in part.steps}
    for channel, channel_holes in zip(part.channels, pattern, strict=True):
        for row, index, lost in channel_holes:
            if (row, index) in shown:
                mark = lost_cross if lost else hole_ring
                shapes += mark(*layout.hole_mm(wheel, part, channel, row, index), layout.ring_mm)
    return Symbol("holes", tuple(shapes))


def bar_lines(view: View, bars: Sequence[BarMark]) -> Iterator[Shape]:
    """Heavy lines at the song's beats, the heaviest at its bars; the step numbers stay uncovered."""
    layout, part = view.layout, view.part
    for _, x in _on_page(view, [beat for bar in bars for beat in bar.beats]):
        yield from _upright(layout, part, x, _BEAT)
    for _, x in _on_page(view, [bar.position_steps for bar in bars]):
        yield from _upright(layout, part, x, _BAR)
        yield Path(((x, layout.top_mm - 2 * layout.ruler_mm), (x, layout.top_mm - layout.ruler_mm - 0.2)), _BAR)


def bar_ruler(view: View, bars: Sequence[BarMark]) -> Iterator[Text]:
    """Bar labels beside their lines and beat numbers over theirs, above the step numbers.

    Places are worked out as seen from outside and then turned to the face that is seen.
    """
    layout = view.layout
    anchor = Anchor.END if layout.inside else Anchor.START
    y_mm = layout.top_mm - 1.5 * layout.ruler_mm
    size_mm, small_mm = 3.2 * layout.zoom, 2.6 * layout.zoom
    taken: list[tuple[float, float]] = []
    for x, room_mm, wordings in _bar_labels(view, bars):
        fits = [words for words in wordings if width_mm(words, size_mm, bold=True) <= room_mm]
        words = fits[0] if fits else fitted(wordings[-1], size_mm, room_mm, bold=True)
        if words:
            yield centred(layout.faced_mm(x), y_mm, words, size_mm, anchor, bold=True)
            taken.append((x, x + width_mm(words, size_mm, bold=True)))
    beats = [(number, beat) for bar in bars for number, beat in enumerate(bar.beats, start=2)]
    for place, seen in _on_page(view, [beat for _, beat in beats]):
        words, x = str(beats[place][0]), layout.faced_mm(seen)
        half = width_mm(words, small_mm) / 2 + 0.8
        if all(x + half < begin or x - half > end for begin, end in taken):
            yield centred(seen, y_mm, words, small_mm, grey=GREY)
            taken.append((x - half, x + half))


def index_drawing(view: View, right_mm: float, y_mm: float) -> Iterator[Shape]:
    """A small plate cut into its parts, this one dark.

    Args:
        view: what the page shows.
        right_mm: the right edge of the drawing.
        y_mm: its middle.
    """
    last = view.layout.parts[-1]
    steps, channels = last.steps.stop, last.channels.stop
    wide, high = INDEX_MM
    left, top = right_mm - wide, y_mm - high / 2
    for place, part in enumerate(view.layout.parts):
        shares = [step / steps for step in (part.steps.start, part.steps.stop)]
        x0, x1 = (left + wide * (1 - share if view.layout.inside else share) for share in shares)
        y0, y1 = (top + high * channel / channels for channel in (part.channels.start, part.channels.stop))
        pen = Pen(stroke=0.3, fill=0.2 if place == view.number else None, width_mm=0.2)
        yield rectangle(x0, y0, x1, y1, pen)


def _on_page(view: View, places: Sequence[Fraction]) -> Iterator[tuple[int, float]]:
    """Which of the places on the turn this page shows: number in `places`, and x."""
    for number, place in enumerate(places):
        steps = place - view.plate * view.wheel.steps_per_plate
        if view.part.steps.start <= steps < view.part.steps.stop:
            yield number, view.layout.step_x_mm(view.part, float(steps))


def _bar_labels(view: View, bars: Sequence[BarMark]) -> list[tuple[float, float, tuple[str, ...]]]:
    """For every bar that begins or continues here: x of its label, the room for it, its wordings, longest first."""
    layout = view.layout
    starts = [bar.position_steps for bar in bars]
    labels: list[tuple[float, tuple[str, ...]]] = []
    for number, x in _on_page(view, starts):
        label = bars[number].label
        labels.append((layout.faced_mm(x) + 0.8, (label,) if label == END_LABEL else (bar_name(label), label)))
    continued = _bar_continued(view, bars)
    if continued is not None:
        wordings = (f"{bar_name(continued)} goes on", f"({bar_name(continued)})", f"({continued})")
        labels.append((layout.lanes_left_mm + 0.5, wordings))
    labels.sort()
    ends = [*(x for x, _ in labels[1:]), layout.lanes_right_mm]
    return [(x, end - x - 1.4, wordings) for (x, wordings), end in zip(labels, ends, strict=False)]


def _bar_continued(view: View, bars: Sequence[BarMark]) -> str | None:
    """Label of the bar that began before this page and continues here, if any."""
    if not bars:
        return None
    turn = view.wheel.turn_steps
    ago, label = min(((view.first_step - bar.position_steps) % turn, bar.label) for bar in bars)
    return None if ago == 0 or label == END_LABEL else label


def _lanes(layout: SheetLayout, part: SheetPart) -> Iterator[Shape]:
    left, right = layout.lanes_left_mm, layout.lanes_right_mm
    for first in range(0, len(part.channels), 2 * GROUP_LANES):
        top = layout.lane_top_mm(part, first)
        lanes = min(GROUP_LANES, len(part.channels) - first)
        yield rectangle(left, top, right, top + lanes * layout.lane_mm, _TINT)
    for lane in range(len(part.channels)):
        y = layout.lane_top_mm(part, lane)
        yield Path(((left, y), (right, y)), _LANE if lane % GROUP_LANES else _GROUP)
    for _, y in layout.stretches_mm(part):
        yield Path(((left, y), (right, y)), _GROUP)


def _steps(layout: SheetLayout, part: SheetPart) -> Iterator[Path]:
    for step in part.steps:
        yield from _upright(layout, part, layout.step_x_mm(part, step), _STEP)


def _upright(layout: SheetLayout, part: SheetPart, x_mm: float, pen: Pen) -> Iterator[Path]:
    """A line through all lanes, open where steps are numbered half-way down."""
    for top, bottom in layout.stretches_mm(part):
        yield Path(((x_mm, top - TICK_MM), (x_mm, bottom + TICK_MM)), pen)


def _edges(wheel: Wheel, layout: SheetLayout, part: SheetPart) -> Iterator[Path]:
    """The plate's cut edges, where it has any and this part reaches them."""
    if not wheel.geometry.seams:
        return
    geometry, plate_steps = wheel.geometry, wheel.steps_per_plate
    edges_mm = {0: -geometry.lead_edge_mm, plate_steps: plate_steps * wheel.step_mm - geometry.trail_edge_mm}
    for step in (part.steps.start, part.steps.stop):
        if step in edges_mm:
            x = layout.step_x_mm(part, edges_mm[step] / wheel.step_mm)
            yield from (Path(((x, top), (x, bottom)), _EDGE) for top, bottom in layout.stretches_mm(part))


def _names(wheel: Wheel, layout: SheetLayout, part: SheetPart) -> Iterator[Text]:
    """Number, name and sound of every channel at the left; at the right end the name again, its number outermost."""
    size, number = layout.text_mm, number_mm(wheel, layout.text_mm)
    left = layout.lanes_left_mm - layout.names_mm
    right = layout.right_names_mm
    for place in part.channels:
        y, channel = layout.lane_y_mm(part, place), wheel.channels[place]
        room = layout.names_mm - number - 2.0
        name = fitted(channel.name, size, room, bold=True)
        sound = channel_sound(channel)
        yield centred(left + number - NUMBER_GAP * size, y, str(printed(place)), size, Anchor.END, grey=GREY)
        yield centred(left + number, y, name, size, Anchor.START, bold=True)
        beside = room - width_mm(name, size, bold=True) - 1.2
        sound_mm = fitting_mm(sound, size, beside, False, layout.min_text_mm)
        if sound and width_mm(sound, sound_mm) <= beside:
            yield centred(layout.lanes_left_mm - 1.2, y, sound, sound_mm, Anchor.END, grey=GREY)
        name = fitted(channel.name, size, layout.names_right_mm - number - 0.8, bold=True)
        yield centred(right, y, name, size, Anchor.START, bold=True)
        yield centred(right + layout.names_right_mm, y, str(printed(place)), size, Anchor.END, grey=GREY)


def _step_numbers(layout: SheetLayout, part: SheetPart) -> Iterator[Shape]:
    """Numbers above, below and half-way; where not every step has room for one, lines lead from the others."""
    pitch = layout.step_on_page_mm
    figures = DIGIT * len(str(printed(part.steps[-1])))
    every = least_doubled(lambda every: every * pitch - COUNT_GAP_MM >= layout.min_text_mm * figures)
    size = min(3.2 * layout.zoom, max(layout.min_text_mm, (every * pitch - 1.1) / figures))
    stretches = layout.stretches_mm(part)
    for y in (layout.top_mm - layout.ruler_mm / 2, *(bottom + layout.ruler_mm / 2 for _, bottom in stretches)):
        yield centred(layout.lanes_left_mm - 1.2, y, "step", LABEL_MM * layout.zoom, Anchor.END, grey=GREY)
        for step in part.steps[::every]:
            yield centred(layout.step_x_mm(part, step), y, str(printed(step)), size)
    for step in part.steps if every > 1 else ():
        if (step - part.steps.start) % every:
            x, long = layout.step_x_mm(part, step), _LEADING * layout.ruler_mm
            for top, bottom in stretches:
                yield Path(((x, top), (x, top - long)), _LEADER)
                yield Path(((x, bottom), (x, bottom + long)), _LEADER)
