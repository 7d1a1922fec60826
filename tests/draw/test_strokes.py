from __future__ import annotations

import numpy as np
import pytest

from pegwright.draw.strokes import ADVANCE, WIDTH, mark_strokes, text_strokes
from pegwright.making import Marks, MarkText
from pegwright.plate.marks import FIGURE_WIDTH


def extent(text: MarkText) -> tuple[float, float, float, float]:
    points = np.array([point for stroke in text_strokes(text) for point in stroke])
    return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


@pytest.mark.parametrize(("anchor", "left"), [("start", 10.0), ("middle", 10.0 - 1.35), ("end", 10.0 - 2.7)])
def test_a_text_is_as_high_as_it_says_and_lies_at_its_anchor(anchor: str, left: float) -> None:
    """Two figures of 2 mm: 0.8 of it from one to the next, 0.55 wide."""
    low_x, low_y, high_x, high_y = extent(MarkText("08", 10.0, -5.0, 2.0, anchor))
    assert (low_x, low_y, high_y) == pytest.approx((left, -6.0, -4.0))
    assert high_x == pytest.approx(left + (ADVANCE + WIDTH) * 2.0)


def test_figures_are_no_wider_than_the_room_that_is_kept_for_them() -> None:
    assert ADVANCE <= FIGURE_WIDTH


def test_every_figure_and_capital_is_drawn_and_differs_from_every_other() -> None:
    letters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-+.,/:="
    shapes = [text_strokes(MarkText(letter, 0.0, 0.0, 1.0)) for letter in letters]
    assert all(all(len(stroke) >= 2 for stroke in shape) and shape for shape in shapes)
    assert len(set(shapes)) == len(letters) - 1  # O and 0 are one
    assert text_strokes(MarkText("a", 0.0, 0.0, 1.0)) == text_strokes(MarkText("A", 0.0, 0.0, 1.0))


def test_a_letter_that_there_is_none_of_is_a_box_and_a_space_nothing() -> None:
    ((box),) = text_strokes(MarkText("é", 0.0, 0.0, 1.0, "start"))
    assert len(box) == 5
    assert box[0] == box[-1]
    assert text_strokes(MarkText(" ", 0.0, 0.0, 1.0)) == text_strokes(MarkText("", 0.0, 0.0, 1.0)) == ()


def test_lines_come_before_texts() -> None:
    line = ((0.0, 0.0), (1.0, 1.0))
    strokes = mark_strokes(Marks((line,), (MarkText("1", 0.0, 0.0, 1.0),)))
    assert strokes[0] == line
    assert len(strokes) == 3
