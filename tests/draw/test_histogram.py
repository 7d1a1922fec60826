"""The histogram: bins as numpy has them, bars as high as they should be, nothing off the page."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawn import box, expanded, letters_box, overlap, texts
from pegwright.draw.bounds import bounds_mm
from pegwright.draw.histogram import BINS, HistogramLabels, histogram, share_bins
from pegwright.drawing import Page, Path

WORDS = HistogramLabels("Shares", "share", "pieces", "before", "after")
SHARES = st.lists(st.floats(0, 1) | st.sampled_from([0.0, 1.0, 0.05, 0.5, 0.95]), max_size=60)


@given(st.lists(st.integers(0, 999).map(lambda part: part / 1000), max_size=60), st.integers(0, 9))
def test_bins_are_those_of_a_reference_library(shares: list[float], whole: int) -> None:
    """numpy.histogram, a general reference; thousandths, of which no rounding of its edges can go astray."""
    exact = np.array([round(1000 * share) for share in shares])
    counts, _ = np.histogram(exact, bins=np.arange(0, 1001, 1000 // BINS))
    assert share_bins([*shares, *[1.0] * whole]) == (*counts.tolist(), whole)


def bars(page: Page) -> list[Path]:
    return [
        shape
        for shape in expanded(page.items)
        if isinstance(shape, Path) and shape.closed and shape.points[0][1] > 100  # standing on the ground
    ]


@given(SHARES, st.floats(0, 1))
def test_bars_are_as_high_as_their_counts(before: list[float], more: float) -> None:
    after = [min(1.0, share + more) for share in before]
    page = histogram(before, after, WORDS)
    found = bars(page)
    wanted = [count for shares in (before, after) for count in share_bins(shares) if count]
    assert len(found) == len(wanted)
    heights = [bottom - top for _, top, _, bottom in map(box, found)]
    for height, count in zip(heights, wanted, strict=True):
        assert height == pytest.approx(heights[0] * count / wanted[0])
    assert [bar.pen.fill for bar in found] == [1.0] * np.count_nonzero(share_bins(before)) + [0.0] * np.count_nonzero(
        share_bins(after)
    )


@given(SHARES)
def test_nothing_leaves_the_page(before: list[float]) -> None:
    page = histogram(before, before, WORDS)
    left, top, right, bottom = bounds_mm(page.items)
    assert left >= 0
    assert top >= 0
    assert right <= page.width_mm
    assert bottom <= page.height_mm


@pytest.mark.parametrize("count", [1, 7, 44, 999, 12_345])
def test_texts_keep_out_of_each_other(count: int) -> None:
    shares = [place / 40 for place in range(41)] * (count // 41 + 1)
    page = histogram(shares[:count], [1.0] * count, WORDS)
    level = [letters_box(text) for text in texts(page) if not text.turn_deg]
    for number, one in enumerate(level):
        assert not any(overlap(one, other) for other in level[number + 1 :])
    lines = {text.text for text in texts(page)}
    assert f"{count:,} pieces" in lines
