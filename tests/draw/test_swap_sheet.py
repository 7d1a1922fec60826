from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn import done_to_pins, expanded, overlapping_texts, pin_place, stays_on_paper, texts
from pegwright.draw.bars import BarMark
from pegwright.draw.furniture import CAUTION, CHECK_WORDS
from pegwright.draw.paper import A3, A4, PAPERS, Paper
from pegwright.draw.pin_sheet import pin_sheets
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.sheet_fit import MIN_MARK_MM, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import SheetLayout
from pegwright.draw.swap_sheet import swap_sheets, swap_surround
from pegwright.drawing import Page, Path
from pegwright.errors import UsageError
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.show.swap import swap
from pegwright.swapping import Swap
from pegwright.units import printed
from pegwright.wheel import Row, Wheel
from placed import TITLES, pin_map, pin_maps
from samples import channel, wheel
from strategies import wheels
from swaps import BELLS, CHANGE, DRUMS, LARGE, PULL, SET, SMALL, STAY, WHEELS, every_hole, kinds_of, made_swap, two_maps

EVERY_WHEEL = pytest.mark.parametrize("on", WHEELS, ids=lambda on: f"{len(on.channels)}x{on.steps_per_plate}")
QR = tuple(tuple((x * y) % 3 == 0 for x in range(33)) for y in range(33))
NOTES = SheetNotes("B", Fraction(13), ("2 notes left out",), QR, "turn 2 of 3, bars 9 to 16")


def layout_of(on: Wheel, moves: Swap, paper: Paper, notes: SheetNotes = NOTES) -> SheetLayout:
    closest = closest_pins(on, moves.pull, moves.set_pins, moves.stay)
    return sheet_layout(on, paper, closest, swap_surround(on, moves, notes))


@cache
def sheets(on: Wheel, paper: Paper = A4) -> tuple[Page, ...]:
    old, new = two_maps(on)
    bars = [BarMark(Fraction(first), str(first), (Fraction(first + 2),)) for first in range(0, on.turn_steps, 4)]
    return swap_sheets(on, made_swap(on), old, new, bars, paper, NOTES)


def check_marks(
    pages: tuple[Page, ...], on: Wheel, layout: SheetLayout, kinds: dict[tuple[int, int, int, int], str]
) -> None:
    """Every hole's mark stands at its place on its page and tells what is done there; there are no others."""
    marked = sorted({plate for _, plate, _, _ in kinds}) or range(on.plate_count)
    parts = len(layout.parts)
    numbers = [plate * parts + part for plate in marked for part in range(parts)]
    for number, page in zip(numbers, pages, strict=True):
        wanted = []
        for (lane, plate, row, index), kind in kinds.items():
            where, x, y = pin_place(layout, on, plate, lane, row, index)
            if where == number:
                wanted.append((kind, round(x, 6), round(y, 6)))
        part = layout.parts[number % len(layout.parts)]
        found = done_to_pins(page, layout.top_mm, layout.bottom_mm(part))
        assert sorted(found) == sorted(wanted)


@EVERY_WHEEL
@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_every_pin_is_one_mark_at_its_place_that_tells_what_is_done_to_it(on: Wheel, paper: Paper) -> None:
    old, new = two_maps(on)
    moves = made_swap(on)
    layout = layout_of(on, moves, paper)
    pages = sheets(on, paper)
    kinds = kinds_of(old, new, moves.came_from)
    assert set(kinds.values()) == ({PULL, SET, STAY} if len(on.pin_types) == 1 else {PULL, SET, STAY, CHANGE})
    assert len(pages) == on.plate_count * len(layout.parts)
    check_marks(pages, on, layout, kinds)


def numbers_on(page: Page, layout: SheetLayout) -> tuple[list[list[int]], list[list[int]], list[int]]:
    """Printed counts: the four columns at the right end by channel, the four lines at the foot by step, the corner."""
    part = layout.parts[0]
    counted = [text for text in texts(page) if text.text.isdecimal()]
    top, low = layout.top_mm, layout.bottom_mm(part)
    columns = []
    for number in range(4):
        left = layout.lanes_right_mm + number * layout.count_column_mm
        inside = [it for it in counted if left < it.x_mm < left + layout.count_column_mm and top < it.y_mm < low]
        by_lane = {int((it.y_mm - top) / layout.lane_mm): int(it.text) for it in inside}
        columns.append([by_lane.get(lane, 0) for lane in range(len(part.channels))])
    lines = []
    foot = low + layout.ruler_mm
    for number in range(4):
        upper = foot + number * layout.counts_mm
        inside = [
            it for it in counted if upper < it.y_mm < upper + layout.counts_mm and it.x_mm < layout.lanes_right_mm
        ]
        shift = layout.step_x_mm(part, part.steps.start - layout.column_share)
        by_step = {int((it.x_mm - shift) / layout.step_on_page_mm): int(it.text) for it in inside}
        lines.append([by_step.get(step, 0) for step in range(len(part.steps))])
    corner = [
        it
        for it in counted
        if it.y_mm > foot and it.x_mm > layout.lanes_right_mm and it.y_mm < foot + 4 * layout.counts_mm
    ]
    return columns, lines, [int(it.text) for it in sorted(corner, key=lambda it: it.y_mm)]


@pytest.mark.parametrize("on", [SMALL, BELLS], ids=["small", "bells"])
def test_counts_at_both_edges_are_the_swaps_and_add_up(on: Wheel) -> None:
    old, new = two_maps(on)
    moves = made_swap(on)
    layout = layout_of(on, moves, A4)
    kinds = kinds_of(old, new, moves.came_from)
    for plate, page in enumerate(sheets(on)):
        columns, lines, corner = numbers_on(page, layout)
        for (was, pull, put, now), place in ((columns, 0), (lines, 1)):
            cells = [
                ((lane, int(on.rows[row].position_steps(index)))[place], kind)
                for (lane, at, row, index), kind in kinds.items()
                if at == plate
            ]
            for counts, counted in (
                (was, (PULL, CHANGE, STAY)),
                (pull, (PULL, CHANGE)),
                (put, (SET, CHANGE)),
                (now, (SET, CHANGE, STAY)),
            ):
                expected = Counter(cell for cell, kind in cells if kind in counted)
                assert counts == [expected[cell] for cell in range(len(counts))]
            assert [a - b + c for a, b, c in zip(was, pull, put, strict=True)] == now
        assert corner == [sum(counts) for counts in columns] == [sum(counts) for counts in lines]
        assert corner[3] == int((new.plate == plate).sum())
        assert corner[0] == int((old.plate == moves.came_from[plate]).sum())


@EVERY_WHEEL
@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_nothing_leaves_the_paper_and_no_text_lies_on_another(on: Wheel, paper: Paper) -> None:
    for page in sheets(on, paper):
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


def test_marks_are_two_millimetres_or_more_and_a_large_plate_is_cut() -> None:
    for on in WHEELS:
        layout = layout_of(on, made_swap(on), A4)
        assert layout.mark_mm >= MIN_MARK_MM
        assert (len(layout.parts) > 1) == (on is LARGE)


def words_on(page: Page) -> str:
    return "\n".join(text.text for text in texts(page))


def test_every_page_tells_which_song_becomes_which_and_where_the_plate_stood() -> None:
    old, new = two_maps(BELLS)
    moves = replace(made_swap(BELLS), came_from=(1, 0, 2, 3, 5, 4))
    pages = swap_sheets(BELLS, moves, old, new, [], A4, NOTES)
    for plate, page in enumerate(pages):
        words = words_on(page)
        before = moves.came_from[plate]
        stood = f"this plate stood at place {printed(before)}" if before != plate else "this plate stays in its place"
        moved = [int((part.plate == plate).sum()) for part in (moves.pull, moves.set_pins, moves.stay)]
        for expected in (
            f"{old.title} → {new.title}",
            f"Set B · place {printed(plate)} of 6",
            stood,
            "pull {} · set {} · {} stay".format(*moved),
            f"Edition: map {pin_map_sha256(new)[:12]}, was {pin_map_sha256(old)[:12]} · ♩ = 120 · wheel {BELLS.name}",
            "turn 2 of 3, bars 9 to 16 · song starts at plate 1, step 14 · scale 1:",
            f"page {printed(plate)} of 6",
            "2 notes left out",
            CAUTION,
            CHECK_WORDS,
        ):
            assert expected in words
        boxes = [
            shape
            for shape in expanded(page.items)
            if isinstance(shape, Path) and shape.pen.fill == 0.0 and len(shape.points) == 4
        ]
        white = [text.text for text in texts(page) if text.grey == 1.0]
        assert white == ([stood] if before != plate else [])
        assert bool([1 for shape in boxes if shape.points[1][0] - shape.points[0][0] > 30]) == (before != plate)
        assert page.title == f"{old.title} → {new.title}, place {printed(plate)} of 6"


def test_upright_paper_has_lines_enough_for_all_that_is_told() -> None:
    old, new = two_maps(DRUMS)
    for made in (sheets(DRUMS), pin_sheets(DRUMS, new, [], A4, NOTES)):
        for page in made:
            assert page.height_mm > page.width_mm
            lines = [text.text for text in texts(page)]
            assert [line for line in lines if "song starts at plate 2, step 6 · scale 1:" in line]
            assert not [line for line in lines if "map" in line and line.endswith("…")]
            assert CAUTION in lines
    assert f"{old.title} → {new.title}" in words_on(sheets(DRUMS)[0])


def test_several_pin_types_are_counted_and_explained() -> None:
    words = words_on(sheets(SMALL)[0])
    set_here = made_swap(SMALL).set_pins
    kinds = Counter(set_here.pin_type[set_here.plate == 0].tolist())
    assert f"set {sum(kinds.values())} ({kinds[0]} peg, {kinds[1]} long peg)" in words
    assert "pull, then set this type" in words
    assert "pull, then set this type" not in words_on(sheets(BELLS)[0])


def legend_of(wheel: Wheel, old: PinMap, new: PinMap) -> list[str]:
    """The words of a swap sheet's legend, of which no two marks look the same."""
    entries = swap_surround(wheel, swap(old, new, wheel, fixed=range(wheel.plate_count))).legend
    marks = [entry.draw(0.0, 0.0) for entry in entries if entry.draw]
    assert len(set(marks)) == len(marks)
    return [entry.words for entry in entries[: [entry.words for entry in entries].index("hole")]]


def test_no_two_marks_of_the_legend_are_the_same_and_all_occur() -> None:
    def pins(*holes: tuple[int, int]) -> PinMap:
        return pin_map(BELLS, [(0, 0, row, index, 0, -1) for row, index in sorted(holes)])

    straight, swung = pins((0, 2), (0, 8)), pins((0, 2), (1, 12))
    assert legend_of(BELLS, straight, swung) == ["set, row half", "pull, row on", "stays"]
    assert legend_of(BELLS, straight, pins((0, 2), (0, 14), (1, 12))) == [
        "set, row on",
        "set, row half",
        "pull",
        "stays",
    ]
    assert legend_of(BELLS, straight, straight) == ["stays, row on"]
    assert legend_of(BELLS, pins(), straight) == ["set, row on"]


def test_empty_plates_are_all_set() -> None:
    _, new = two_maps(BELLS)
    moves = swap(pin_map(BELLS, []), new, BELLS)
    pages = swap_sheets(BELLS, moves, None, new, [], A4)
    check_marks(pages, BELLS, layout_of(BELLS, moves, A4, SheetNotes()), kinds_of(None, new, moves.came_from))
    words = words_on(pages[0])
    assert f"empty plates → {new.title}" in words
    assert ", was" not in words


def test_pins_of_two_songs_side_by_side_lie_clear_of_each_other() -> None:
    # A half-way hole and the triplet hole beside it are a sixth of a step apart, less than any mark is wide.
    old = pin_map(BELLS, [(3, 0, 1, step, 0, -1) for step in range(0, 30, 2)], "Straight")
    new = pin_map(BELLS, [(3, 0, 2, step, 0, -1) for step in range(0, 30, 2)], "Swung")
    moves = swap(old, new, BELLS, fixed=range(6))
    layout = layout_of(BELLS, moves, A4, SheetNotes())
    assert layout.mark_mm >= 2.4
    page = swap_sheets(BELLS, moves, old, new, [], A4)[0]
    marks = done_to_pins(page, layout.top_mm, layout.bottom_mm(layout.parts[0]))
    assert len(marks) == 30
    for number, (_, x, y) in enumerate(marks):
        for _, other_x, other_y in marks[number + 1 :]:
            assert abs(other_x - x) >= layout.mark_mm or abs(other_y - y) >= layout.mark_mm


def test_long_titles_get_smaller_and_then_share_the_room() -> None:
    old, new = two_maps(SMALL)
    moves = made_swap(SMALL)
    for titles in (("Waltz " * 5, "Reel " * 7), ("W" * 300, "Reel"), ("W" * 300, "R" * 300), ("", "")):
        before, after = (replace(pins, title=title) for pins, title in zip((old, new), titles, strict=True))
        for page in swap_sheets(SMALL, moves, before, after, [], A4, NOTES):
            assert stays_on_paper(page)
            assert overlapping_texts(page) == []
            assert "→" in words_on(page)


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_a_sheet(title: str) -> None:
    on = replace(SMALL, name=title)
    old, new = (replace(pins, title=title, wheel_name=title) for pins in two_maps(SMALL))
    for page in swap_sheets(
        on, made_swap(SMALL), old, new, [BarMark(Fraction(0), title)], A4, SheetNotes(title, None, (title,))
    ):
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


def test_more_rows_than_marks_are_told() -> None:
    rows = tuple(Row(f"r{number}", (Fraction(number, 20),)) for number in range(13))
    many = wheel([channel("a", [60], rows=["r0"])], rows=rows)
    none = pin_map(many, [])
    with pytest.raises(UsageError, match="marks for 12 rows, the wheel has 13"):
        swap_sheets(many, swap(none, none, many), none, none, [], A4)


def test_the_code_has_its_quiet_zone() -> None:
    page = sheets(BELLS, A3)[0]
    modules = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.pen.fill == 0.0]
    side = 17.0 / 33
    squares = [shape for shape in modules if abs(shape.points[1][0] - shape.points[0][0] - side) < 1e-6]
    assert len(squares) == sum(map(sum, QR))
    assert side >= 0.5
    left = min(shape.points[0][0] for shape in squares) - 4 * side
    low = max(shape.points[2][1] for shape in squares) + 4 * side
    assert page.width_mm - 7.0 - 17.0 - 4 * side == pytest.approx(left, abs=side)
    for text in texts(page):
        assert text.x_mm <= left or text.y_mm - text.size_mm > low or text.anchor != "start"
    ends = [text.x_mm for text in texts(page) if text.anchor == "end" and text.y_mm - text.size_mm < low]
    assert max(ends) <= left + 1e-6


@settings(max_examples=30)
@given(st.data())
def test_any_swap_on_any_small_wheel_is_drawn_whole(data: st.DataObject) -> None:
    on = data.draw(st.just(SMALL) | wheels().filter(lambda made: any(every_hole(made))))
    old, new = data.draw(pin_maps(on)), data.draw(pin_maps(on))
    moves = swap(old, new, on)
    paper = data.draw(st.sampled_from(PAPERS))
    pages = swap_sheets(on, moves, old, new, [], paper)
    check_marks(pages, on, layout_of(on, moves, paper, SheetNotes()), kinds_of(old, new, moves.came_from))
    assert all(stays_on_paper(page) for page in pages)
    assert not any(overlapping_texts(page) for page in pages)


def test_maps_of_one_song_need_no_work_and_say_so() -> None:
    _, new = two_maps(SMALL)
    moves: Swap = swap(new, new, SMALL)
    pages = swap_sheets(SMALL, moves, new, new, [], A4)
    check_marks(pages, SMALL, layout_of(SMALL, moves, A4, SheetNotes()), kinds_of(new, new, moves.came_from))
    assert all("pull 0 · set 0 ·" in words_on(page) for page in pages)
