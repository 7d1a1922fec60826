"""A histogram of shares: how many pieces have how much of something, before and after, in pairs of bars."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from pegwright.draw.furniture import MARGIN_MM, fitted_text
from pegwright.draw.lettering import width_mm
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Text, rectangle
from pegwright.frozen import frozen

BINS = 20  # of equal width from 0 to below 1; exactly 1 has a bin of its own beside them
WIDTH_MM, HEIGHT_MM = 240.0, 135.0
_LEFT_MM, _RIGHT_MM, _TOP_MM, _FOOT_MM = 22.0, 10.0, 34.0, 24.0
_GROUND_MM = HEIGHT_MM - _FOOT_MM  # where bars begin
_BIN_MM = (WIDTH_MM - _LEFT_MM - _RIGHT_MM) / (BINS + 2)  # half a bin free on either side of the last one
_MAX_LINES = 6
_SIZE_MM, _SMALL_MM, _LABEL_MM = 3.6, 3.0, 2.4
_AXIS, _LINE = Pen(width_mm=0.3), Pen(stroke=0.8, width_mm=0.15)
_BEFORE, _AFTER = Pen(fill=1.0, width_mm=0.25), Pen(stroke=None, fill=0.0)


@frozen()
class HistogramLabels:
    """The words of a histogram.

    Args:
        title: the heading.
        across: the label of the horizontal axis.
        up: what is counted, the label of the vertical axis.
        before, after: the two kinds of bars.
    """

    title: str
    across: str
    up: str
    before: str
    after: str


def share_bins(shares: Sequence[float]) -> tuple[int, ...]:
    """How many of some shares (0 to 1) fall into each of the bins; exactly 1 falls into the last one."""
    counts = Counter(min(math.floor(share * BINS), BINS) for share in shares)
    return tuple(counts[place] for place in range(BINS + 1))


def histogram(before: Sequence[float], after: Sequence[float], words: HistogramLabels) -> Page:
    """One page with a pair of bars for every bin, hollow before and black after.

    Args:
        before: shares from 0 to 1.
        after: the same, of the same pieces.
        words: its labels.
    """
    columns = (share_bins(before), share_bins(after))
    line = line_every(max(map(max, columns)), _MAX_LINES)
    top = line * max(1, math.ceil(max(map(max, columns)) / line))
    shapes = [*_heading(words, len(before)), *_counts(line, top, words), *_shares(words)]
    for kind, (counts, pen) in enumerate(zip(columns, (_BEFORE, _AFTER), strict=True)):
        for place, count in enumerate(counts):
            if count:
                left = _bin_mm(place) + (0.12 + 0.38 * kind) * _BIN_MM
                shapes += _bar(left, 0.38 * _BIN_MM, _up_mm(count, top), count, pen)
    return Page(WIDTH_MM, HEIGHT_MM, tuple(shapes), words.title)


def _bin_mm(place: int) -> float:
    """Where a bin begins."""
    return _LEFT_MM + (place + (0.5 if place == BINS else 0.0)) * _BIN_MM


def _up_mm(count: float, top: int) -> float:
    """The vertical place of a count on the page."""
    return _GROUND_MM - (_GROUND_MM - _TOP_MM) * count / top


def line_every(count: int, lines: int) -> int:
    """The distance of lines, 1, 2 or 5 times a power of ten, such that at most `lines` are drawn up to `count`."""
    wanted = max(1, count) / lines
    power = int(10 ** max(0, math.floor(math.log10(wanted))))
    return next(power * step for step in (1, 2, 5, 10) if power * step >= wanted)


def _bar(left: float, width: float, up: float, count: int, pen: Pen) -> tuple[Shape, ...]:
    right, ground = left + width, _GROUND_MM
    size = _LABEL_MM * min(1.0, width / width_mm(f"{count:,}", _LABEL_MM))  # no wider than its bar
    label = Text((left + right) / 2, up - 0.8, f"{count:,}", size, Anchor.MIDDLE)
    return Path(((left, ground), (left, up), (right, up), (right, ground)), pen, closed=True), label


def _heading(words: HistogramLabels, count: int) -> Iterator[Shape]:
    x, y = _LEFT_MM, MARGIN_MM + 13.0
    yield fitted_text(MARGIN_MM, MARGIN_MM + 5.0, words.title, 5.5, WIDTH_MM - 2 * MARGIN_MM, bold=True)
    for text, pen in ((words.before, _BEFORE), (words.after, _AFTER)):
        yield rectangle(x, y - 2.8, x + 4, y, pen)
        yield Text(x + 5.5, y - 0.2, text, _SIZE_MM)
        x += 12.0 + width_mm(text, _SIZE_MM)
    yield Text(WIDTH_MM - _RIGHT_MM, y - 0.2, f"{count:,} {words.up}", _SIZE_MM, Anchor.END)


def _counts(line: int, top: int, words: HistogramLabels) -> Iterator[Shape]:
    for count in range(0, top + 1, line):
        up = _up_mm(count, top)
        yield Path(((_LEFT_MM, up), (WIDTH_MM - _RIGHT_MM, up)), _LINE if count else _AXIS)
        yield Text(_LEFT_MM - 1.5, up + 1.1, f"{count:,}", _SMALL_MM, Anchor.END)
    middle = (_TOP_MM + _GROUND_MM) / 2
    yield Text(MARGIN_MM + 3.0, middle, words.up, _SIZE_MM, Anchor.MIDDLE, turn_deg=-90.0)


def _shares(words: HistogramLabels) -> Iterator[Shape]:
    ground = _GROUND_MM
    for place in range(BINS + 1):
        x = _LEFT_MM + place * _BIN_MM
        yield Path(((x, ground), (x, ground + (1.4 if place % 2 else 2.2))), _AXIS)
        if place % 2 == 0:
            yield Text(x, ground + 6.0, f"{100 * place // BINS} %", _SMALL_MM, Anchor.MIDDLE)
    yield Text(_bin_mm(BINS) + _BIN_MM / 2, ground + 6.0, "all", _SMALL_MM, Anchor.MIDDLE, bold=True)
    middle = (_LEFT_MM + WIDTH_MM - _RIGHT_MM) / 2
    yield Text(middle, ground + 13.0, words.across, _SIZE_MM, Anchor.MIDDLE)
