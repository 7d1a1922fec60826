from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from drawn import expanded, overlapping_texts, stays_on_paper, texts
from pegwright.draw.label_strip import label_pages
from pegwright.draw.paper import A4, PAPERS, Paper
from pegwright.draw.sheet_style import SheetStyle
from pegwright.drawing import Path
from pegwright.errors import UsageError
from pegwright.units import LengthUnit
from pegwright.wheel import Wheel
from samples import channel, wheel


def bars(count: int, pitch_mm: float) -> Wheel:
    made = wheel([channel(f"bar {number + 1}", [36 + number]) for number in range(count)])
    return replace(made, geometry=replace(made.geometry, channel_pitch_mm=pitch_mm))


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
@pytest.mark.parametrize("pitch_mm", [3.5, 12.0, 14.5])
def test_labels_of_neighbouring_channels_are_as_far_apart_as_the_channels(paper: Paper, pitch_mm: float) -> None:
    pages = label_pages(bars(38, pitch_mm), paper)
    names = [[text for text in texts(page) if text.bold and text.text.startswith("bar ")] for page in pages]
    assert [text.text for page in names for text in page] == [f"bar {number + 1}" for number in range(38)]
    for page, here in zip(pages, names, strict=True):
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []
        steps = [after.y_mm - before.y_mm for before, after in pairwise(here)]
        assert {round(step, 6) for step in steps if step > 0} == {pitch_mm}
        strokes = [shape for shape in expanded(page.items) if isinstance(shape, Path) and len(shape.points) == 2]
        middles = [path.points[0][1] for path in strokes if abs(path.points[1][0] - path.points[0][0]) == 2.0]
        assert len(middles) >= 2 * len(here)
        assert min(text.size_mm for text in texts(page)) * 72 / 25.4 >= 6.0


def test_larger_labels_have_nine_points() -> None:
    (page,) = label_pages(bars(24, 4.0), A4, SheetStyle(larger=True))
    assert min(text.size_mm for text in texts(page)) * 72 / 25.4 >= 9.0


def test_channels_too_near_or_too_far_apart_are_refused_in_one_line() -> None:
    with pytest.raises(UsageError, match=r"channel_pitch_mm is 1.5, .* need at least 2.12 .*leave out --labels"):
        label_pages(bars(4, 1.5), A4)
    with pytest.raises(UsageError, match=r"channel_pitch_mm is 400, .* does not fit on a4 .*larger paper"):
        label_pages(bars(4, 400.0), A4)


@pytest.mark.parametrize(("unit", "words"), [(LengthUnit.MM, "15.875 mm"), (LengthUnit.IN, "0.625 in")])
def test_the_distance_of_channels_is_in_the_unit_of_the_wheel(unit: LengthUnit, words: str) -> None:
    """Source: the international inch is 25.4 mm exactly, so 5/8 inch is 15.875 mm."""
    (page,) = label_pages(replace(bars(4, 15.875), unit=unit), A4)
    facts = [text.text for text in texts(page) if text.text.startswith("true scale")]
    assert facts == [f"true scale: {words} from the middle of a channel to that of the next"]
