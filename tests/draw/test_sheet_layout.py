from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.draw.paper import A3, A4, LETTER, PAPERS, Paper
from pegwright.draw.sheet_fit import MIN_LANE_MM, MIN_MARK_MM, Closest, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import SheetLayout, channel_sound, scale_text
from pegwright.errors import UsageError
from pegwright.wheel import Channel, Row, Wheel
from placed import pin_map
from samples import channel, wheel


def channels(count: int) -> list[Channel]:
    return [channel(f"bar {number + 1}", [36 + number % 60]) for number in range(count)]


def layout_of(made: Wheel, paper: Paper = A4, closest_mm: float = math.inf) -> SheetLayout:
    return sheet_layout(made, paper, Closest(closest_mm, closest_mm))


def test_a_usual_plate_takes_one_page_on_every_paper() -> None:
    for paper in PAPERS:
        layout = layout_of(wheel(channels(24)), paper)
        assert len(layout.parts) == 1
        assert {layout.width_mm, layout.height_mm} == {paper.long_mm, paper.short_mm}
        assert layout.mark_mm >= 3.0


def test_a_crowded_plate_still_has_marks_of_two_millimetres() -> None:
    crowded = wheel(channels(38), steps_per_plate=64, plate_count=8)
    for paper in PAPERS:
        assert layout_of(crowded, paper, crowded.step_mm / 2).mark_mm >= MIN_MARK_MM


def test_larger_paper_gives_larger_marks() -> None:
    crowded = wheel(channels(38), steps_per_plate=64, plate_count=8)
    assert layout_of(crowded, A3).mark_mm > layout_of(crowded, A4).mark_mm


def test_many_channels_of_few_steps_turn_the_paper_upright() -> None:
    upright = layout_of(wheel(channels(50), steps_per_plate=8), LETTER)
    assert (upright.width_mm, upright.height_mm) == (LETTER.short_mm, LETTER.long_mm)
    assert layout_of(wheel(channels(10)), LETTER).width_mm == LETTER.long_mm


def test_a_plate_too_large_for_a_page_is_cut_and_every_hole_is_on_one_page() -> None:
    large = wheel(channels(60), steps_per_plate=128, plate_count=2)
    layout = layout_of(large)
    assert len(layout.parts) > 1
    shown = [(channel_, step) for part in layout.parts for channel_ in part.channels for step in part.steps]
    assert sorted(shown) == [(channel_, step) for channel_ in range(60) for step in range(128)]


def test_parts_keep_the_periods_of_rows_whole() -> None:
    odd = wheel(channels(30), steps_per_plate=150, plate_count=1)
    parts = layout_of(odd).parts
    assert len(parts) > 1
    assert all(part.steps.start % 2 == 0 for part in parts)


def test_pins_nearer_in_the_song_make_smaller_marks_or_more_pages() -> None:
    made = wheel(channels(24))
    wide, near = layout_of(made, A4, made.step_mm), layout_of(made, A4, made.step_mm / 2)
    assert near.mark_mm < wide.mark_mm
    nearest = layout_of(made, A4, made.step_mm / 6)
    assert len(nearest.parts) > len(wide.parts)
    assert nearest.mark_mm >= MIN_MARK_MM


def test_pins_that_no_page_can_keep_apart_have_marks_of_two_millimetres_all_the_same() -> None:
    row = Row("fine", tuple(Fraction(place, 64) for place in range(2)), period_steps=32)
    layout = layout_of(wheel([channel("a", [60], rows=["fine"])], rows=(row,)), A4, 0.001)
    assert layout.mark_mm >= MIN_MARK_MM


def test_a_plate_beyond_all_pages_is_told_in_one_line() -> None:
    with pytest.raises(UsageError, match=r"2000 channels by 32 steps .* 24 pages of a4 .*larger paper"):
        layout_of(wheel([channel(f"c{number}", [60]) for number in range(2000)]))


def test_rows_side_by_side_on_the_plate_are_so_in_the_lane_and_in_the_same_order() -> None:
    rows = (Row("a", (Fraction(0),), lateral_mm=2.0), Row("b", (Fraction(1, 2),)), Row("c", (Fraction(1, 4),)))
    layout = layout_of(wheel([channel("x", [60], rows=["a", "b", "c"])], rows=rows))
    a, b, c = layout.row_offsets_mm
    assert a > 0 > b == c == -a


def test_marks_stay_in_their_lane() -> None:
    for count in (8, 24, 38, 60):
        layout = layout_of(wheel(channels(count)))
        assert max(map(abs, layout.row_offsets_mm)) + layout.mark_mm / 2 <= layout.lane_mm / 2
        assert layout.lane_mm >= MIN_LANE_MM


def test_the_closest_pins_are_found_within_a_channel_and_plate() -> None:
    made = wheel(channels(2))
    pins = [(0, 0, 0, 4, 0, -1), (0, 0, 1, 6, 0, -1), (0, 0, 0, 9, 0, -1), (1, 0, 0, 5, 0, -1), (0, 1, 0, 0, 0, -1)]
    found = closest_pins(made, pin_map(made, pins))
    assert (found.any_mm, found.line_mm) == pytest.approx((2.5 * made.step_mm, 2.5 * made.step_mm))
    assert closest_pins(made, pin_map(made, [])) == Closest(math.inf, math.inf)
    assert closest_pins(made, pin_map(made, pins[3:])) == Closest(math.inf, math.inf)


def test_pins_side_by_side_are_near_but_not_on_one_line_and_a_hole_counts_once() -> None:
    made = wheel(channels(2))  # the triplet row lies beside the others
    half, triplet, on = (0, 0, 1, 4, 0, -1), (0, 0, 2, 4, 0, -1), (0, 0, 0, 6, 0, -1)
    found = closest_pins(made, pin_map(made, [half, triplet]), pin_map(made, [half, on]))
    assert found.any_mm == pytest.approx(made.step_mm / 6)
    assert found.line_mm == pytest.approx(1.5 * made.step_mm)


def test_rows_side_by_side_stand_clear_of_each_other_where_their_pins_come_too_near() -> None:
    made = wheel(channels(24))
    apart = sheet_layout(made, A4, Closest(math.inf, math.inf))
    near = sheet_layout(made, A4, Closest(made.step_mm / 6, made.step_mm))
    for layout in (apart, near):
        across = layout.row_offsets_mm[2] - layout.row_offsets_mm[0]
        assert (across >= layout.mark_mm) == (layout is near)
        assert abs(layout.row_offsets_mm[2]) + layout.mark_mm / 2 <= layout.lane_mm / 2
    assert len(near.parts) == 1
    assert apart.mark_mm > near.mark_mm >= 2.5


def test_paper_stays_across_where_that_is_easy_to_read() -> None:
    easy, hard = layout_of(wheel(channels(30), steps_per_plate=8)), layout_of(wheel(channels(50), steps_per_plate=8))
    assert easy.width_mm > easy.height_mm
    assert 5.0 > easy.mark_mm >= 3.0  # upright it would have been larger
    assert hard.width_mm < hard.height_mm


@given(st.floats(20, 5000), st.integers(1, 40))
def test_the_scale_prints_in_two_figures_and_is_what_it_says(radius_mm: float, steps: int) -> None:
    geometry = replace(wheel().geometry, radius_mm=radius_mm)
    layout = layout_of(wheel(geometry=geometry, steps_per_plate=2 * steps, plate_count=3))
    left, right = map(float, scale_text(layout.scale).split(":"))
    assert left / right == pytest.approx(layout.scale, rel=1e-6)
    assert len(f"{max(left, right):g}".replace(".", "").strip("0")) <= 2


def test_a_channel_tells_what_it_sounds() -> None:
    assert channel_sound(channel("a", [60, 72])) == "C4 C5"
    assert channel_sound(channel("a", [], [38, 40])) == "drum 38/40"
    assert channel_sound(channel("chime C4", [60])) == channel_sound(channel("drum 38", [], [38])) == ""
    assert channel_sound(channel("panC4", [60])) == "C4"
    assert channel_sound(channel("a")) == ""
