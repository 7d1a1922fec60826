"""The check template's engraved numbers: none is cut in two, which would be another number."""

from __future__ import annotations

from itertools import pairwise

import pytest

from pegwright.draw.check_template import check_template, on_page, tiles
from pegwright.draw.paper import PAPERS, Paper
from pegwright.draw.strokes import text_strokes
from pegwright.drawing import Path
from pegwright.making import Face
from pegwright.plate.pattern import patterns
from plate_text import changed, demo_values, demo_wheel, read, setting

Line = tuple[tuple[float, float], ...]


def rounded(points: Line) -> Line:
    return tuple((round(x, 6), round(y, 6)) for x, y in points)


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
@pytest.mark.parametrize("face", list(Face))
def test_every_engraved_number_is_whole_or_left_to_the_next_tile(face: Face, paper: Paper) -> None:
    wheel = demo_wheel()
    (pattern,) = patterns(read(changed(demo_values(), setting("sheet", drilled_from=str(face))), wheel), wheel)
    numbers = [text for text in pattern.marks.texts if text.text.isdecimal()]
    assert {"1", "16", "17", "24"} <= {text.text for text in numbers}
    seen: set[int] = set()
    for page, tile in zip(check_template(pattern, "wheel", paper), tiles(pattern, paper), strict=True):
        drawn = {rounded(item.points) for item in page.items if isinstance(item, Path)}
        for place, text in enumerate(numbers):
            lines = [
                rounded(tuple(on_page(tile, x, y) for x, y in line))
                for stroke in text_strokes(text)
                for line in pairwise(stroke)
            ]
            found = sum(line in drawn for line in lines)
            assert found in {0, len(lines)}
            if found:
                seen.add(place)
    assert seen == set(range(len(numbers)))
