"""What is engraved on a plate: the ruler, the numbers, the arrow; clear of pins and of fixing holes."""

from __future__ import annotations

import numpy as np
import pytest

from pegwright.making import Marks, MarkText
from pegwright.plate.marks import FIGURE_WIDTH
from pegwright.plate.pattern import patterns
from pegwright.plate.plan import plan_plate
from plate_text import Change, demo_plate, demo_wheel, setting


def marks(*changes: Change) -> Marks:
    return patterns(demo_plate(*changes), demo_wheel())[0].marks


def middles(text: MarkText) -> tuple[float, float]:
    """The places along the plate at which a text begins and ends."""
    wide_mm = FIGURE_WIDTH * text.height_mm * len(text.text)
    left_mm = text.x_mm - {"start": 0.0, "middle": wide_mm / 2, "end": wide_mm}[text.anchor]
    return left_mm, left_mm + wide_mm


def test_every_step_has_a_stroke_at_both_sides_and_its_number() -> None:
    """32 steps of 15.5280 mm; numbers 1 to 31 at both sides but where a bolt is, at 32."""
    strokes = [line for line in marks().lines if len(line) == 2 and abs(line[0][0] - line[1][0]) < 1e-9]
    assert len(strokes) == 64
    assert sorted({round(line[0][0], 3) for line in strokes}) == pytest.approx(np.arange(32) * 15.5280, abs=2e-3)
    edges_mm = [(text.text, text.x_mm) for text in marks().texts if text.anchor == "middle"]
    assert all(x_mm == pytest.approx((int(number) - 1) * 15.5280, abs=2e-3) for number, x_mm in edges_mm)
    assert [sum(number == str(step) for number, _ in edges_mm) for step in (1, 2, 31, 32)] == [2, 2, 2, 0]


def test_every_channel_has_its_number_at_both_ends_on_its_own_side() -> None:
    """Of the outer face channels are 14 mm apart downwards, and the number is above the line of its channel."""
    numbers = [text for text in marks().texts if text.anchor != "middle" and text.text.isdecimal()]
    assert len(numbers) == 48
    for text in numbers:
        line_mm = -14.0 * (int(text.text) - 1)
        assert line_mm + 2 < text.y_mm - text.height_mm / 2 < text.y_mm + text.height_mm / 2 < line_mm + 14 - 5


def test_the_arrow_points_to_step_1_and_stands_clear_of_the_first_bolt() -> None:
    """A bolt is at step 1.5 in the arrow's line: the arrow begins after it."""
    head = next(line for line in marks().lines if len(line) == 3)
    (tail_x, _), (tip_x, tip_y), (other_x, _) = head
    assert tip_x < tail_x
    assert tip_x < other_x
    shaft = next(line for line in marks().lines if len(line) == 2 and line[0] == (tip_x, tip_y))
    assert shaft[1][0] > tip_x + 15
    assert tip_x > 0.5 * 15.528 + 4.2
    (title,) = (text for text in marks().texts if text.text == "PLATE")
    assert title.x_mm > shaft[1][0]


def test_texts_are_clear_of_fixing_holes_with_their_heads() -> None:
    plate = demo_plate()
    (pattern,) = patterns(plate, demo_wheel())
    for text in pattern.marks.texts:
        left_mm, right_mm = middles(text)
        for fixing in plate.fixings:
            x_mm, y_mm, radius_mm = fixing.along_mm * 474.5 / 477.5, -fixing.across_mm, max(fixing.head_mm, 3) / 2
            beside_mm = max(left_mm - x_mm, x_mm - right_mm, 0.0)
            above_mm = max(abs(text.y_mm - y_mm) - text.height_mm / 2, 0.0)
            assert np.hypot(beside_mm, above_mm) > radius_mm, (text, fixing)


def test_what_has_no_room_is_left_out_and_reported() -> None:
    narrow = (setting("sheet", left_edge_mm=6, right_edge_mm=8), lambda values: values.pop("fixing"))
    texts = [text.text for text in marks(*narrow).texts]
    assert "PLATE" not in texts
    assert texts.count("24") == 2  # the channel's, and no step's
    codes = {each.code for each in plan_plate(demo_plate(*narrow), demo_wheel()).findings}
    assert codes == {"no-room-for-marks"}
    assert marks(setting("sheet", marks=False)) == Marks((), ())
