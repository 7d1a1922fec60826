"""The chart of a build-out: how much fits with 0, 1, 2, ... additions, and under it which additions those are."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pegwright.draw.furniture import MARGIN_MM, centred, fitted_text
from pegwright.draw.histogram import line_every
from pegwright.draw.lettering import width_mm
from pegwright.drawing import Anchor, Page, Path, Pen, Shape, Text, rectangle
from pegwright.frozen import frozen
from pegwright.units import percent_text

WIDTH_MM = 240.0
_LEFT_MM, _RIGHT_MM = 62.0, 20.0
_TOP_MM, _BARS_MM, _BETWEEN_MM, _ROW_MM, _FOOT_MM = 32.0, 60.0, 12.0, 5.2, 12.0
_GROUND_MM = _TOP_MM + _BARS_MM
_MAX_LINES = 5
_SIZE_MM, _SMALL_MM, _LABEL_MM = 3.6, 3.0, 2.6
_AXIS, _LINE = Pen(width_mm=0.3), Pen(stroke=0.8, width_mm=0.15)
_SOLID, _HOLLOW = Pen(stroke=None, fill=0.0), Pen(fill=1.0, width_mm=0.3)
_SHARE_LINE = Pen(width_mm=0.4)
_BAND = Pen(stroke=None, fill=0.93)


@frozen()
class BuildOutChart:
    """What the chart shows.

    Args:
        title: the heading.
        pieces: that fit with 0, 1, ... additions.
        of_pieces: how many there are.
        shares: of the notes that sound with as many, 0 to 1.
        rows: the name of each addition and the numbers of additions with which it is in the set, from 1.
    """

    title: str
    pieces: tuple[int, ...]
    of_pieces: int
    shares: tuple[float, ...]
    rows: tuple[tuple[str, tuple[int, ...]], ...]


def build_out_chart(chart: BuildOutChart) -> Page:
    """One page: bars for pieces and a line for notes above, the sets of additions below."""
    height = _GROUND_MM + _BETWEEN_MM + _ROW_MM * len(chart.rows) + _FOOT_MM
    shapes = [*_heading(chart), *_pieces(chart), *_share_line(chart), *_sets(chart)]
    return Page(WIDTH_MM, height, tuple(shapes), chart.title)


def _middle_mm(chart: BuildOutChart, number: int) -> float:
    return _LEFT_MM + (number + 0.5) * _column_mm(chart)


def _column_mm(chart: BuildOutChart) -> float:
    return (WIDTH_MM - _LEFT_MM - _RIGHT_MM) / len(chart.pieces)


def _heading(chart: BuildOutChart) -> Iterator[Shape]:
    x, y = _LEFT_MM, MARGIN_MM + 13.0
    yield fitted_text(MARGIN_MM, MARGIN_MM + 5.0, chart.title, 5.5, WIDTH_MM - 2 * MARGIN_MM, bold=True)
    words = f"pieces that fit, of {chart.of_pieces:,}"
    yield rectangle(x, y - 2.8, x + 4, y, _HOLLOW)
    yield Text(x + 5.5, y - 0.2, words, _SIZE_MM)
    x += 14.0 + width_mm(words, _SIZE_MM)
    yield Path(((x, y - 1.4), (x + 7, y - 1.4)), _SHARE_LINE)
    yield _mark(x + 3.5, y - 1.4)
    yield Text(x + 8.5, y - 0.2, "share of all notes that sound", _SIZE_MM)


def _mark(x: float, y: float) -> Path:
    return rectangle(x - 0.9, y - 0.9, x + 0.9, y + 0.9, _SOLID)


def _pieces(chart: BuildOutChart) -> Iterator[Shape]:
    line = line_every(chart.of_pieces, _MAX_LINES)
    top = line * max(1, math.ceil(chart.of_pieces / line))
    for count in range(0, top + 1, line):
        up = _GROUND_MM - _BARS_MM * count / top
        yield Path(((_LEFT_MM, up), (WIDTH_MM - _RIGHT_MM, up)), _LINE if count else _AXIS)
        yield Text(_LEFT_MM - 1.5, up + 1.1, f"{count:,}", _SMALL_MM, Anchor.END)
    half = 0.3 * _column_mm(chart)
    for number, count in enumerate(chart.pieces):
        x, up = _middle_mm(chart, number), _GROUND_MM - _BARS_MM * count / top
        if count:
            yield rectangle(x - half, up, x + half, _GROUND_MM, _HOLLOW)
        yield Text(x, _GROUND_MM - 1.2, f"{count:,}", _LABEL_MM, Anchor.MIDDLE)


def _share_line(chart: BuildOutChart) -> Iterator[Shape]:
    for percent in (0, 50, 100):
        up = _GROUND_MM - _BARS_MM * percent / 100
        yield Text(WIDTH_MM - _RIGHT_MM + 1.5, up + 1.1, f"{percent} %", _SMALL_MM)
    points = [(_middle_mm(chart, number), _GROUND_MM - _BARS_MM * share) for number, share in enumerate(chart.shares)]
    if len(points) > 1:
        yield Path(tuple(points), _SHARE_LINE)
    for x, y in points:
        yield _mark(x, y)
    for share, x, up in zip(chart.shares[:: max(1, len(points) - 1)], *_ends(points), strict=True):
        yield Text(x, up - 2.2, percent_text(share, 1), _LABEL_MM, Anchor.MIDDLE)


def _ends(points: list[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """Across and up of the first and the last point."""
    ends = points[:: max(1, len(points) - 1)]
    return [x for x, _ in ends], [y for _, y in ends]


def _sets(chart: BuildOutChart) -> Iterator[Shape]:
    top = _GROUND_MM + _BETWEEN_MM
    for number in range(len(chart.pieces)):
        yield Text(_middle_mm(chart, number), _GROUND_MM + 5.0, f"{number}", _SMALL_MM, Anchor.MIDDLE)
    yield Text(_LEFT_MM - 1.5, _GROUND_MM + 5.0, "additions", _SMALL_MM, Anchor.END)
    for row, (name, numbers) in enumerate(chart.rows):
        y = top + (row + 0.5) * _ROW_MM
        if row % 2 == 0:
            yield rectangle(MARGIN_MM, y - _ROW_MM / 2, WIDTH_MM - _RIGHT_MM, y + _ROW_MM / 2, _BAND)
        yield fitted_text(MARGIN_MM + 1.0, y + 1.1, name, _SMALL_MM, _LEFT_MM - MARGIN_MM - 3.0)
        for number in numbers:
            x = _middle_mm(chart, number)
            yield rectangle(x - 1.6, y - 1.6, x + 1.6, y + 1.6, _SOLID)
    yield centred(
        (_LEFT_MM + WIDTH_MM - _RIGHT_MM) / 2,
        top + _ROW_MM * len(chart.rows) + 5.0,
        "the set of as many additions",
        _SMALL_MM,
    )
