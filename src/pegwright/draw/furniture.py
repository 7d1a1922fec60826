"""What every sheet has: heading, legend, check bars, foot."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial

from pegwright.cautions import SHEET
from pegwright.draw.lettering import CAP_HEIGHT, ELLIPSIS, fitted, fitting_mm, width_mm, wrapped
from pegwright.drawing import Anchor, Path, Pen, Shape, Text

MARGIN_MM = 7.0
CHECK_BAR_MM = 100.0
CHECK_WORDS = "Print at 100 %: both bars must measure 100 mm."
CAUTION = SHEET
EDITION_LINE_MM = 4.8  # height of the edition line
EDITION_Y_MM = 15.8  # its baseline, from the margin
LINE_MORE_MM = 4.8  # from a line of facts to the next
PAGE_NUMBER_MM = 3.4  # size of the page number
SMALL_MM = 3.2  # size of the small print
SMALL_LINE_MM = 4.2  # from one line of small print to the next
TITLE_MM, LEAST_TITLE_MM = 6.4, 4.6  # size of a title, and the least where it is long
FACTS_MM = 3.4  # size of facts and count
ABOVE_FOOT_MM = 6.4  # from the foot of the page to the baseline of small print that lies above the check bar
INDEX_ROOM_MM = 50.0  # kept free at the right of a page of a cut plate, for its index drawing and page number
PAGE_ROOM_MM = 30.0  # kept free at the right of any other page, for its page number
_BESIDE_CHECK_MM = MARGIN_MM + CHECK_BAR_MM + 5.0  # where the caution begins
_MAX_LINES = 8  # of one text of small print
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


def fitted_text(
    x_mm: float, y_mm: float, words: str, size_mm: float, room_mm: float, bold: bool = False, grey: float = 0.0
) -> Text:
    """A text that begins at a point, shortened where it does not fit.

    Args:
        x_mm: where it begins.
        y_mm: its baseline.
        words: one line.
        size_mm: of the letters.
        room_mm: the maximum width.
        bold: whether it is bold.
        grey: from 0 (black) to 1 (white).
    """
    return Text(x_mm, y_mm, fitted(words, size_mm, room_mm, bold), size_mm, bold=bold, grey=grey)


def heading(
    width: float, title: str, subject: str, facts: str, count: str = "", keep_mm: float = 0.0, upright: bool = False
) -> tuple[Shape, ...]:
    """Title and what the page is in one line; below them facts and count, on upright paper in two lines.

    What is too long is printed smaller, and shortened only where that is not enough.

    Args:
        width: of the page in mm.
        title: beside the subject.
        subject: what the page is, printed whole as far as the page is wide.
        facts: beside the count, on upright paper below it.
        count: printed whole as far as the page is wide.
        keep_mm: room to leave free at the right.
        upright: makes the heading `LINE_MORE_MM` taller.
    """
    y_mm, right_mm = MARGIN_MM + 11.0, width - MARGIN_MM - keep_mm
    first = two_ends(MARGIN_MM + 5.2, title, subject, TITLE_MM, right_mm, bold=True, least_mm=LEAST_TITLE_MM)
    line = partial(two_ends, size_mm=FACTS_MM, right_mm=right_mm, least_mm=SMALL_MM)
    if not upright:
        return (*first, *line(y_mm, facts, count))
    return (*first, *line(y_mm, count, ""), *line(y_mm + LINE_MORE_MM, facts, ""))


def two_ends(
    y_mm: float,
    first: str,
    last: str,
    size_mm: float,
    right_mm: float,
    bold: bool = False,
    least_mm: float = math.inf,
) -> tuple[Text, ...]:
    """A line with one text at the left margin and another at its right end.

    Args:
        y_mm: its baseline.
        first: smaller where it does not fit beside the other, then shortened.
        last: whole as far as the line is long; may be empty.
        size_mm: of the letters.
        right_mm: where the line ends.
        bold: whether both are bold.
        least_mm: minimum size of the letters of the first; by default it gets no smaller.
    """
    room_mm = right_mm - MARGIN_MM
    last = fitted(last, size_mm, room_mm, bold)
    left_mm = room_mm - (width_mm(last, size_mm, bold) + 4) if last else room_mm
    first_mm = fitting_mm(first, size_mm, left_mm, bold, least_mm)
    beginning = fitted_text(MARGIN_MM, y_mm, first, first_mm, left_mm, bold)
    if not last:
        return (beginning,)
    return (
        beginning,
        Text(right_mm, y_mm, last, size_mm, Anchor.END, bold),
    )


def check_bars(width: float, height: float) -> tuple[Shape, ...]:
    """A bar of 100 mm along the foot and one up the right side, to check the scale of the print in both directions."""
    y_mm, x_mm = height - MARGIN_MM, width - MARGIN_MM
    low, left = (height + CHECK_BAR_MM) / 2, MARGIN_MM
    flat = ((left, y_mm), (left + CHECK_BAR_MM, y_mm))
    upright = ((x_mm, low - CHECK_BAR_MM), (x_mm, low))
    ticks = [((x, y_mm - 1.5), (x, y_mm + 1.5)) for x, _ in flat]
    ticks += [((x_mm - 1.5, y), (x_mm + 1.5, y)) for _, y in upright]
    return (
        *(Path(line, _LINE) for line in (flat, upright, *ticks)),
        Text(left + CHECK_BAR_MM / 2, y_mm - 1.6, CHECK_WORDS, SMALL_MM, Anchor.MIDDLE, grey=GREY),
        Text(x_mm - 1.4, height / 2, "100 mm", SMALL_MM, Anchor.MIDDLE, grey=GREY, turn_deg=-90.0),
    )


def foot(
    width: float, height: float, page: str, lines: Sequence[str], begin_mm: float = MARGIN_MM, keep_mm: float = 0.0
) -> Iterator[Text]:
    """The page number at the right; lines of small print at the left.

    Args:
        width: of the page in mm.
        height: of the page in mm.
        page: such as `page 2 of 6`.
        lines: shortened where they do not fit, but for the caution, which gets smaller; the last is beside the number.
        begin_mm: where the lines begin.
        keep_mm: room to leave free before the page number.
    """
    right, y_mm = width - MARGIN_MM, height - MARGIN_MM
    beside_mm = right - begin_mm - width_mm(page, PAGE_NUMBER_MM, bold=True) - 4 - keep_mm
    yield Text(right, y_mm + 1.0, page, PAGE_NUMBER_MM, Anchor.END, bold=True)
    first_mm = y_mm + 1.0 - SMALL_LINE_MM * (max(len(lines), 2) - 1)
    for number, words in enumerate(lines):
        line_y_mm = first_mm + number * SMALL_LINE_MM
        room_mm = beside_mm if number == len(lines) - 1 else right - begin_mm
        if words == CAUTION:
            size_mm = min(SMALL_MM, SMALL_MM * room_mm / width_mm(words, SMALL_MM))
            yield Text(begin_mm, line_y_mm, words, size_mm, grey=GREY)
        else:
            yield fitted_text(begin_mm, line_y_mm, words, SMALL_MM, room_mm, grey=GREY)


def small_print_lines(width: float, texts: Sequence[str], cut: bool) -> list[str]:
    """Texts as lines of small print above the check bar, each on lines of its own, at most `_MAX_LINES` of them.

    Args:
        width: of the page in mm.
        texts: in order; the caution precedes them where it does not fit beside the check bar.
        cut: whether the page shows part of a plate, and so has an index drawing.
    """
    room_mm = width - 2 * MARGIN_MM - (INDEX_ROOM_MM if cut else 0.0)
    caution = () if _caution_beside(width, cut) else (CAUTION,)
    lines = [line for text in (*caution, *texts) for line in _limited(wrapped(text, SMALL_MM, room_mm))]
    return [fitted(line, SMALL_MM, room_mm) for line in lines]


def _limited(lines: list[str]) -> list[str]:
    return lines if len(lines) <= _MAX_LINES else [*lines[: _MAX_LINES - 1], f"{lines[_MAX_LINES - 1]} {ELLIPSIS}"]


def plate_foot(width: float, height: float, page: str, texts: Sequence[str], cut: bool) -> Iterator[Text]:
    """The foot of a page of a plate: small print above the check bar, caution and page number beside it.

    Args:
        width: of the page in mm.
        height: of the page in mm.
        page: such as `page 2 of 6`.
        texts: small print.
        cut: whether the page shows part of a plate.
    """
    y_mm = height - MARGIN_MM
    for number, words in enumerate(reversed(small_print_lines(width, texts, cut))):
        yield Text(MARGIN_MM, y_mm - ABOVE_FOOT_MM - number * SMALL_LINE_MM, words, SMALL_MM, grey=GREY)
    if _caution_beside(width, cut):
        yield Text(_BESIDE_CHECK_MM, y_mm + 1.0, CAUTION, SMALL_MM, grey=GREY)
    yield Text(width - MARGIN_MM, y_mm + 1.0, page, PAGE_NUMBER_MM, Anchor.END, bold=True)


def _caution_beside(width: float, cut: bool) -> bool:
    """Whether the caution fits between the check bar and the page number or the index drawing."""
    keep_mm = INDEX_ROOM_MM if cut else PAGE_ROOM_MM
    return width_mm(CAUTION, SMALL_MM) <= width - MARGIN_MM - _BESIDE_CHECK_MM - keep_mm
