"""The error of every note round the turn as a drawing: its place, and what it is judged by, each with its limits."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from pegwright.columns import Floats
from pegwright.draw.furniture import GREY, MARGIN_MM, centred, foot, heading
from pegwright.draw.lettering import width_mm
from pegwright.draw.paper import A4
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Shape, Text, rectangle
from pegwright.frozen import frozen
from pegwright.units import least_doubled, printed

WIDTH_MM, HEIGHT_MM = A4.long_mm, A4.short_mm
SUBJECT = "Error round the turn"
HOW = (
    "Bars reach twice the standard uncertainty to either side, at most the worst case, where ticks are; dots are one"
    " simulated turn, black where it is slight or audible. Later is up."
)
_LEFT_MM, _RIGHT_MM = 24.0, WIDTH_MM - MARGIN_MM
_PANELS_MM = ((41.0, 101.0), (119.0, 179.0))  # from top to bottom
_LINES = 6  # on either side of 0, at most
_LABEL_MM, _NAME_MM = 2.6, 3.4
_DOT_MM, _TICK_MM, _BAR_SHARE, _BAR_MM = 0.55, 0.8, 0.7, 1.2
_BAR, _TICK = Pen(stroke=None, fill=0.8), Pen(stroke=0.2, width_mm=0.2)
_LINE, _AXIS, _SEAM = (
    Pen(stroke=0.85, width_mm=0.12),
    Pen(width_mm=0.3),
    Pen(stroke=0.35, width_mm=0.25, dash_mm=(1.5, 1.2)),
)
_LIMIT = Pen(stroke=0.0, width_mm=0.35, dash_mm=(2.4, 1.6))
_NOTICED, _UNNOTICED = Pen(stroke=None, fill=0.0), Pen(stroke=0.25, fill=1.0, width_mm=0.2)


@frozen(eq=False)
class ErrorSeries:
    """The errors of one panel, in ms; columns of shape (n,).

    Args:
        name: what they are.
        worst_ms: the worst case.
        double_ms: twice the standard uncertainty.
        example_ms: of one turn.
        noticed: whether that is slight or audible.
        limit_ms: above which errors are so, if it is one for all notes; None otherwise.
    """

    name: str
    worst_ms: Floats
    double_ms: Floats
    example_ms: Floats
    noticed: Sequence[bool]
    limit_ms: float | None = None


@frozen(eq=False)
class ErrorPlot:
    """What is drawn.

    Args:
        title: such as the name of the wheel.
        facts: a line below it.
        turn_share: of each note, from 0 to 1.
        plates: of the wheel.
        panels: at most two.
    """

    title: str
    facts: str
    turn_share: Floats
    plates: int
    panels: tuple[ErrorSeries, ...]


def error_page(plot: ErrorPlot) -> Page:
    """One page with a panel for each series."""
    items: list[Shape] = [*heading(WIDTH_MM, plot.title, SUBJECT, plot.facts)]
    for (top_mm, bottom_mm), series in zip(_PANELS_MM, plot.panels, strict=False):
        items += _Panel(plot, series, top_mm, bottom_mm, _line_ms(series)).shapes()
    items += foot(WIDTH_MM, HEIGHT_MM, "", (HOW,))
    return Page(WIDTH_MM, HEIGHT_MM, tuple(items), f"{plot.title}, {SUBJECT}")


def _line_ms(series: ErrorSeries) -> float:
    """From one line of a panel to the next."""
    highest_ms = max(float(series.worst_ms.max()), float(abs(series.example_ms).max()), series.limit_ms or 0.0, 1e-3)
    power: float = 10.0 ** math.floor(math.log10(highest_ms / _LINES))
    return next(nice * power for nice in (1, 2, 5, 10, 20) if nice * power * _LINES >= highest_ms)


@frozen(eq=False)
class _Panel:
    """One panel between two heights, its lines `line_ms` apart."""

    plot: ErrorPlot
    series: ErrorSeries
    top_mm: float
    bottom_mm: float
    line_ms: float

    def shapes(self) -> Iterator[Shape]:
        """Lines with their numbers, seams with the plates' names, then the errors."""
        yield from self._scale()
        yield from self._plates()
        yield from self._errors()
        if self.series.limit_ms is not None:
            for sign in (-1, 1):
                y_mm = self._y(sign * self.series.limit_ms)
                yield Path(((_LEFT_MM, y_mm), (_RIGHT_MM, y_mm)), _LIMIT)
            words = f"unheard within {self.series.limit_ms:g} ms"
            yield Text(_RIGHT_MM - 1, self._y(self.series.limit_ms) - 0.8, words, _LABEL_MM, Anchor.END)

    def _scale(self) -> Iterator[Shape]:
        yield Text(_LEFT_MM, self.top_mm - 2.2, self.series.name, _NAME_MM, bold=True)
        for number in range(-_LINES, _LINES + 1):
            y_mm = self._y(number * self.line_ms)
            yield Path(((_LEFT_MM, y_mm), (_RIGHT_MM, y_mm)), _LINE)
            words = f"{number * self.line_ms:+g}" if number else "0"
            yield centred(_LEFT_MM - 1.5, y_mm, words, _LABEL_MM, Anchor.END)
        yield Text(_LEFT_MM - 1.5, self.top_mm - 2.2, "ms", _LABEL_MM, Anchor.END)

    def _plates(self) -> Iterator[Shape]:
        count = self.plot.plates
        room_mm = (_RIGHT_MM - _LEFT_MM) / count
        every = least_doubled(lambda each: each * room_mm >= 1.3 * width_mm(f"plate {count}", _LABEL_MM))
        for plate in range(count):
            x_mm = self._x(plate / count)
            yield Path(((x_mm, self.top_mm), (x_mm, self.bottom_mm)), _SEAM)
            if plate % every == 0:
                middle_mm = x_mm + room_mm / 2
                yield Text(
                    middle_mm, self.bottom_mm + 3.8, f"plate {printed(plate)}", _LABEL_MM, Anchor.MIDDLE, grey=GREY
                )

    def _errors(self) -> Iterator[Shape]:
        series = self.series
        places = len(set(self.plot.turn_share.tolist()))
        half_mm = min(_BAR_MM, _BAR_SHARE * (_RIGHT_MM - _LEFT_MM) / places) / 2
        columns = (self.plot.turn_share, series.double_ms, series.worst_ms)
        widest: dict[float, tuple[float, float]] = {}  # of several notes at one place
        for share, double_ms, worst_ms in zip(*(column.tolist() for column in columns), strict=True):
            double, worst = widest.get(share, (0.0, 0.0))
            widest[share] = max(double, min(double_ms, worst_ms)), max(worst, worst_ms)
        for share, (double_ms, _) in widest.items():
            x_mm = self._x(share)
            yield rectangle(x_mm - half_mm, self._y(double_ms), x_mm + half_mm, self._y(-double_ms), _BAR)
        for share, (_, worst_ms) in widest.items():
            for sign in (-1, 1):
                x_mm, y_mm = self._x(share), self._y(sign * worst_ms)
                yield Path(((x_mm - _TICK_MM / 2, y_mm), (x_mm + _TICK_MM / 2, y_mm)), _TICK)
        yield Path(((_LEFT_MM, self._y(0)), (_RIGHT_MM, self._y(0))), _AXIS)
        dots = zip(self.plot.turn_share.tolist(), series.example_ms.tolist(), series.noticed, strict=True)
        for share, error_ms, noticed in dots:
            yield Circle(self._x(share), self._y(error_ms), _DOT_MM, _NOTICED if noticed else _UNNOTICED)

    def _x(self, share: float) -> float:
        return _LEFT_MM + share * (_RIGHT_MM - _LEFT_MM)

    def _y(self, error_ms: float) -> float:
        middle_mm, half_mm = (self.top_mm + self.bottom_mm) / 2, (self.bottom_mm - self.top_mm) / 2
        return middle_mm - error_ms / (_LINES * self.line_ms) * half_mm
