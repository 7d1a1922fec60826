"""The strip of channel labels at true scale, to cut out and put beside the plates or the levers."""

from __future__ import annotations

from collections.abc import Iterator

from pegwright.draw.columns_flow import columns_across
from pegwright.draw.furniture import ABOVE_FOOT_MM, GREY, MARGIN_MM, SMALL_MM, centred, check_bars, heading
from pegwright.draw.lettering import fitted, width_mm
from pegwright.draw.paper import Paper
from pegwright.draw.sheet_layout import NUMBER_GAP, channel_sound, number_mm
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Text, rectangle
from pegwright.errors import UsageError
from pegwright.units import length_text, printed
from pegwright.wheel import Wheel

SUBJECT = "Channel labels"
HEAD_MM, FOOT_MM, CHECK_MM = 18.0, 14.0, 8.0
STRIP_MM, GAP_MM = 42.0, 6.0  # minimum width of a strip; between strips
MAX_TEXT_MM, TEXT_SHARE = 5.0, 0.6  # size of the letters: the maximum, and as a share of the pitch
TICK_MM, PAD_MM = 2.0, 3.0  # marks at the channels' middles; beside the letters
HOW = "Cut along the lines. Strips join in the order of the channels, each at its first line."
_CUT = Pen(stroke=0.3, width_mm=0.2)
_MIDDLE = Pen(stroke=0.0, width_mm=0.3)


def label_pages(wheel: Wheel, paper: Paper, style: SheetStyle = PLAIN) -> tuple[Page, ...]:
    """The labels of all channels, each as tall as the distance of the wheel's channels, in strips side by side.

    Args:
        wheel: its channels and their distance.
        paper: held upright.
        style: gives the minimum size of letters.

    Raises:
        UsageError: the channels are too near for letters that can be read, or too far apart for the paper.
    """
    width, height, pitch = paper.short_mm, paper.long_mm, wheel.geometry.channel_pitch_mm
    top, room_mm = MARGIN_MM + HEAD_MM, width - 2 * MARGIN_MM - CHECK_MM
    across, strip_mm = columns_across(room_mm, STRIP_MM, GAP_MM)
    in_strip = int((height - top - MARGIN_MM - FOOT_MM) / pitch)
    _refuse(wheel, paper, style, in_strip)
    channels = range(len(wheel.channels))
    strips = [channels[first : first + in_strip] for first in channels[::in_strip]]
    starts = range(0, len(strips), across)
    size_mm = _size_mm(wheel, style, strip_mm)
    apart = length_text(pitch, wheel.unit)
    facts = f"true scale: {apart} from the middle of a channel to that of the next"
    pages = []
    for number, start in enumerate(starts):
        page = f"page {printed(number)} of {len(starts)}"
        shapes = [*heading(width, wheel.name, SUBJECT, facts, page), *check_bars(width, height)]
        shapes.append(Text(MARGIN_MM, height - MARGIN_MM - ABOVE_FOOT_MM, HOW, SMALL_MM, grey=GREY))
        for place, strip in enumerate(strips[start : start + across]):
            left = MARGIN_MM + place * (strip_mm + GAP_MM)
            shapes += _strip(wheel, strip, (left, left + strip_mm), top, size_mm)
        pages.append(Page(width, height, tuple(shapes), f"{wheel.name}, channel labels, {page}"))
    return tuple(pages)


def _size_mm(wheel: Wheel, style: SheetStyle, strip_mm: float) -> float:
    """The size of the letters: names are whole where that leaves it above the minimum."""
    max_mm = min(TEXT_SHARE * wheel.geometry.channel_pitch_mm, MAX_TEXT_MM)
    longest = max(width_mm(channel.name, 1.0, bold=True) for channel in wheel.channels) + number_mm(wheel, 1.0)
    return max(min(max_mm, (strip_mm - 2 * TICK_MM - PAD_MM) / longest), style.min_text_mm)


def _refuse(wheel: Wheel, paper: Paper, style: SheetStyle, in_strip: int) -> None:
    pitch = wheel.geometry.channel_pitch_mm
    if pitch < style.min_text_mm:
        raise UsageError(
            f"channel_pitch_mm is {pitch:g}, and labels that can be read need at least {style.min_text_mm:.2f}",
            where=wheel.name,
            hint="leave out --labels",
        )
    if not in_strip:
        raise UsageError(
            f"channel_pitch_mm is {pitch:g}, and a label of that height does not fit on {paper.name}",
            where=wheel.name,
            hint="choose a larger paper, or leave out --labels",
        )


def _strip(
    wheel: Wheel, channels: range, edges_mm: tuple[float, float], top_mm: float, size_mm: float
) -> Iterator[Shape]:
    """One strip: cut lines, the middle of each channel at both edges, number, name and sound.

    Args:
        wheel: its channels.
        channels: those of the strip.
        edges_mm: left and right edge.
        top_mm: its upper edge.
        size_mm: of the letters.
    """
    (left, right), pitch = edges_mm, wheel.geometry.channel_pitch_mm
    yield rectangle(left, top_mm, right, top_mm + len(channels) * pitch, _CUT)
    begin, end = left + TICK_MM + PAD_MM / 2, right - TICK_MM - PAD_MM / 2
    number = number_mm(wheel, size_mm)
    for place, channel in enumerate(channels):
        y = top_mm + (place + 0.5) * pitch
        if place:
            yield Path(((left, y - pitch / 2), (right, y - pitch / 2)), _CUT)
        yield Path(((left, y), (left + TICK_MM, y)), _MIDDLE)
        yield Path(((right - TICK_MM, y), (right, y)), _MIDDLE)
        name = fitted(wheel.channels[channel].name, size_mm, end - begin - number, bold=True)
        sound, room_mm = channel_sound(wheel.channels[channel]), end - begin - number
        yield centred(begin + number - NUMBER_GAP * size_mm, y, str(printed(channel)), size_mm, Anchor.END, grey=GREY)
        yield centred(begin + number, y, name, size_mm, Anchor.START, bold=True)
        if sound and width_mm(name, size_mm, bold=True) + 1.5 + width_mm(sound, size_mm) <= room_mm:
            yield centred(end, y, sound, size_mm, Anchor.END, grey=GREY)
