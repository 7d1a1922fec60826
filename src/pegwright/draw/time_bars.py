"""Bars that compare the time that work needs with the time available."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pegwright.draw.furniture import GREY, centred
from pegwright.draw.lettering import fitted, width_mm
from pegwright.drawing import Anchor, Path, Pen, Shape, rectangle
from pegwright.frozen import frozen

BARS_WORDS = "Bars: dark is the time that the swap needs, pale the time that the show gives; minutes above."
_NEEDED = Pen(stroke=None, fill=0.0)
_AVAILABLE = Pen(stroke=0.3, fill=0.86, width_mm=0.25)
_WHITE = Pen(stroke=None, fill=1.0)
_TICK = Pen(stroke=0.75, width_mm=0.12)
_TICKS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 960)  # minutes between lines
_MIN_TICK_MM = 9.0
_AVAILABLE_MM, _NEEDED_MM = 5.0, 2.2
LABEL_MM = 3.0


@frozen()
class TimeBars:
    """Bars on one scale.

    Args:
        left_mm, right_mm: where time 0 and the longest time are on the page.
        longest_s: the longest time.
        zoom: of heights and letters.
    """

    left_mm: float
    right_mm: float
    longest_s: float
    zoom: float

    def x_mm(self, seconds: float) -> float:
        """The x at which a time ends."""
        return self.left_mm + (self.right_mm - self.left_mm) * seconds / (self.longest_s or 1.0)

    def axis(self, label_y_mm: float, top_mm: float, bottom_mm: float) -> Iterator[Shape]:
        """Lines at whole minutes, with their numbers above where these fit; none where there are no times.

        Args:
            label_y_mm: the middle of the numbers.
            top_mm: where the lines begin.
            bottom_mm: where they end.
        """
        if not self.longest_s:
            return
        ticks = range(0, math.floor(self.longest_s) + 1, self._tick_s())
        for tick in ticks:
            yield Path(((self.x_mm(tick), top_mm), (self.x_mm(tick), bottom_mm)), _TICK)
        size_mm = LABEL_MM * self.zoom
        for tick in ticks:
            words = f"{tick // 60:,}"
            if self.x_mm(tick) + width_mm(words, size_mm) / 2 <= self.right_mm:
                yield centred(self.x_mm(tick), label_y_mm, words, size_mm, grey=GREY)

    def bars(self, y_mm: float, needed_s: float, available_s: float | None) -> Iterator[Shape]:
        """The bars of one swap, none for one that is done before the show.

        Args:
            y_mm: their middle.
            needed_s: the time that the swap takes.
            available_s: the time available for it, or None before the show.
        """
        if available_s is None:
            return
        for seconds, high_mm, pen in ((available_s, _AVAILABLE_MM, _AVAILABLE), (needed_s, _NEEDED_MM, _NEEDED)):
            if seconds > 0:
                half, right = high_mm * self.zoom / 2, self.x_mm(seconds)
                yield rectangle(self.left_mm, y_mm - half, right, y_mm + half, pen)

    def words(self, y_mm: float, text: str) -> tuple[Shape, ...]:
        """A few words instead of bars, on white."""
        size_mm, left, right = LABEL_MM * self.zoom, self.left_mm + 1.0, self.right_mm
        line = fitted(text, size_mm, right - left)
        half, end = size_mm / 2, min(left + width_mm(line, size_mm) + 0.8, right)
        under = rectangle(left - 0.5, y_mm - half, end, y_mm + half, _WHITE)
        return under, centred(left, y_mm, line, size_mm, Anchor.START, grey=GREY)

    def _tick_s(self) -> int:
        """The minimum usual number of seconds whose lines are far enough apart."""
        longest = 60 * _TICKS_MIN[-1]
        far_enough = (
            60 * each for each in _TICKS_MIN if self.x_mm(60 * each) - self.left_mm >= _MIN_TICK_MM * self.zoom
        )
        return next(far_enough, longest * math.ceil(self.longest_s / longest))
