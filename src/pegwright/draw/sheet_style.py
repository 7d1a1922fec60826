"""What a maker asks of printed sheets: large letters, the face that is seen, a date."""

from __future__ import annotations

from pegwright.draw.paper import Paper
from pegwright.frozen import frozen

POINT_MM = 25.4 / 72  # Source: ISO 32000-1:2008, 8.3.2.3: a unit of default user space is 1/72 inch
MIN_TEXT_MM, LARGER_TEXT_MM = 6 * POINT_MM + 0.003, 9 * POINT_MM + 0.005  # smallest letters; with `larger`
_LARGER_ZOOM = 1.25  # at which every letter of rulers and counts is at least as large as that


@frozen()
class SheetStyle:
    """How sheets are printed, apart from the paper.

    Args:
        larger: whether no letter is below 9 points, on as many pages as that takes.
        inside: whether plates are seen from inside the wheel: step 1 is at the right.
        date: for the edition line; may be empty.
        labels: whether the strip of channel labels is printed too.
        sheets_only: whether only the sheets of plates are printed, of all that there is.
        pages: the pages that are printed, as first and last ones, by their numbers from 1; all where there are none.
    """

    larger: bool = False
    inside: bool = False
    date: str = ""
    labels: bool = False
    sheets_only: bool = False
    pages: tuple[tuple[int, int], ...] = ()

    @property
    def min_text_mm(self) -> float:
        """The minimum size of letters."""
        return LARGER_TEXT_MM if self.larger else MIN_TEXT_MM

    @property
    def face(self) -> str:
        """The face of the plate that is seen, in words."""
        return f"seen from {'inside' if self.inside else 'outside'}"

    def zoom(self, paper: Paper) -> float:
        """How much larger rulers and counts are than on A4."""
        return max(paper.zoom, _LARGER_ZOOM) if self.larger else paper.zoom


PLAIN = SheetStyle()
