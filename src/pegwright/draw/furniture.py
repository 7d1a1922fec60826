"""What every sheet has: heading, legend, check bars, foot."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.draw.lettering import CAP_HEIGHT, fitted, width_mm
from pegwright.drawing import Anchor, Path, Pen, Shape, Text

MARGIN_MM = 7.0
CHECK_BAR_MM = 100.0
CHECK_WORDS = "Print at 100 %: both bars must measure 100 mm."
CAUTION = "Stop and lock the wheel before you touch a plate."
LINE_MORE_MM = 4.8  # from a line of facts to the next
PAGE_NUMBER_MM = 3.4  # size of the page number
GREY = 0.3  # of secondary text
_LINE = Pen(width_mm=0.3)


def centred(
    x_mm: float,
    y_mm: float,
    text: str,
    size_mm: float,
    anchor: Anchor = Anchor.MIDDLE,
    bold: bool = False,
    grey: float = 0.0,
) -> Text:
    """A text whose capitals have their middle at `y_mm`.

    Args:
        x_mm: of the point that `anchor` names.
        y_mm: of the middle of the capitals.
        text: one line.
        size_mm: of the letters.
        anchor: which end of the text is at `x_mm`.
        bold: whether it is bold.
        grey: from 0 (black) to 1 (white).
    """
    return Text(x_mm, y_mm + CAP_HEIGHT * size_mm / 2, text, size_mm, anchor, bold, grey)


def heading(
    width: float, title: str, subject: str, facts: str, count: str = "", keep_mm: float = 0.0, upright: bool = False
) -> tuple[Shape, ...]:
    """Title and what the page is in one line; below them facts and count, on upright paper in two lines.

    Args:
        width: of the page in mm.
        title: shortened where it does not fit.
        subject: what the page is, printed whole as far as the page is wide.
        facts: shortened where they do not fit.
        count: printed whole as far as the page is wide.
        keep_mm: room to leave free at the right.
        upright: makes the heading `LINE_MORE_MM` taller.
    """
    left, right, room = MARGIN_MM, width - MARGIN_MM - keep_mm, width - 2 * MARGIN_MM - keep_mm
    lines = [(5.2, 6.4, True, title, subject)]
    if upright:
        lines += [(11.0, 3.4, False, count, ""), (11.0 + LINE_MORE_MM, 3.4, False, facts, "")]
    else:
        lines += [(11.0, 3.4, False, facts, count)]
    shapes: list[Shape] = []
    for y_mm, size_mm, bold, first, last in lines:
        last_line = fitted(last, size_mm, room, bold)
        taken = width_mm(last_line, size_mm, bold) + 4 if last_line else 0.0
        shapes.append(Text(left, MARGIN_MM + y_mm, fitted(first, size_mm, room - taken, bold), size_mm, bold=bold))
        if last_line:
            shapes.append(Text(right, MARGIN_MM + y_mm, last_line, size_mm, Anchor.END, bold))
    return tuple(shapes)


def check_bars(width: float, height: float) -> tuple[Shape, ...]:
    """A bar of 100 mm along the foot and one up the right side, to check the scale of the print in both directions."""
    y_mm, x_mm = height - MARGIN_MM, width - MARGIN_MM
    low, left = (height + CHECK_BAR_MM) / 2, MARGIN_MM
    flat = ((left, y_mm), (left + CHECK_BAR_MM, y_mm))
    upright = ((x_mm, low - CHECK_BAR_MM), (x_mm, low))
    ticks = [((x, y_mm - 1.5), (x, y_mm + 1.5)) for x, _ in flat] + [
        ((x_mm - 1.5, y), (x_mm + 1.5, y)) for _, y in upright
    ]
    return (
        *(Path(line, _LINE) for line in (flat, upright, *ticks)),
        Text(left + CHECK_BAR_MM / 2, y_mm - 1.6, CHECK_WORDS, 2.6, Anchor.MIDDLE, grey=GREY),
        Text(x_mm - 1.4, height / 2, "100 mm", 2.6, Anchor.MIDDLE, grey=GREY, turn_deg=-90.0),
    )


def foot(width: float, height: float, page: str, remarks: Sequence[str], keep_mm: float = 0.0) -> tuple[Shape, ...]:
    """The page number at the right; caution and remarks between it and the check bar.

    Args:
        width: of the page in mm.
        height: of the page in mm.
        page: such as `page 2 of 6`.
        remarks: joined in one line and shortened where they do not fit.
        keep_mm: room to leave free before the page number.
    """
    right, y_mm = width - MARGIN_MM, height - MARGIN_MM
    number = Text(right, y_mm + 1.0, page, PAGE_NUMBER_MM, Anchor.END, bold=True)
    begin = MARGIN_MM + CHECK_BAR_MM + 5
    room = right - begin - width_mm(page, PAGE_NUMBER_MM, bold=True) - 4 - keep_mm
    caution_mm = min(2.8, 2.8 * room / width_mm(CAUTION, 2.8))  # never cut short
    return (
        number,
        Text(begin, y_mm - 2.8, CAUTION, caution_mm, grey=GREY),
        Text(begin, y_mm + 1.0, fitted(" · ".join(remarks), 2.8, room), 2.8, grey=GREY),
    )


def plain_foot(
    width: float, height: float, page: str, remarks: Sequence[str], caution: bool = True
) -> tuple[Shape, ...]:
    """The foot of a page that is not to scale: remarks and caution at the left, the page number at the right.

    Args:
        width: of the page in mm.
        height: of the page in mm.
        page: such as `page 2 of 6`.
        remarks: joined in one line and shortened where they do not fit.
        caution: whether the page is held beside the wheel.
    """
    right, y_mm = width - MARGIN_MM, height - MARGIN_MM
    room_mm = right - MARGIN_MM - width_mm(page, PAGE_NUMBER_MM, bold=True) - 4
    return (
        Text(right, y_mm + 1.0, page, PAGE_NUMBER_MM, Anchor.END, bold=True),
        Text(MARGIN_MM, y_mm - 2.8, fitted(" · ".join(remarks), 2.8, room_mm), 2.8, grey=GREY),
        *([Text(MARGIN_MM, y_mm + 1.0, fitted(CAUTION, 2.8, room_mm), 2.8, grey=GREY)] if caution else []),
    )
