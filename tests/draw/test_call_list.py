from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drawn import box, expanded, overlapping_texts, stays_on_paper, texts
from pegwright.draw.call_list import HOW, call_pages, still_places
from pegwright.draw.calls import Call, CallGroup, calls
from pegwright.draw.furniture import CAUTION, MARGIN_MM, SMALL_MM
from pegwright.draw.paper import A3, A4, PAPERS, Paper
from pegwright.draw.pin_sheet import pin_sheets
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.swap_sheet import swap_sheets
from pegwright.drawing import Page, Path
from pegwright.placement import pin_map_sha256
from pegwright.show.swap import swap
from pegwright.wheel import Row, Wheel, step_name
from placed import TITLES, pin_map, pin_maps
from samples import HALF, ON, channel, wheel
from swaps import BELLS, LARGE, SMALL, WHEELS, made_swap, two_maps

FEW = 90  # one pin in so many holes: a list that takes one page
NOTES = SheetNotes("A", Fraction(0), ("2 notes left out",))


@cache
def pages(on: Wheel, paper: Paper = A4, every: int = 9) -> tuple[Page, ...]:
    return call_pages(on, made_swap(on, every), *two_maps(on, every), paper, NOTES)


def ticks(page: Page) -> list[Path]:
    """The empty boxes."""
    paths = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.closed]
    return [path for path in paths if path.pen.fill is None and path.pen.stroke == 0.0]


def test_calls_go_by_channel_then_along_the_plate() -> None:
    moves = swap(
        pin_map(SMALL, []),
        pin_map(SMALL, [(2, 1, 0, 7, 0, -1), (0, 1, 1, 4, 1, -1), (0, 1, 0, 5, 0, -1), (0, 1, 0, 4, 0, -1)]),
        SMALL,
    ).set_pins
    assert calls(SMALL, moves, 1, types=False) == (
        CallGroup(0, (Call("5", "on"), Call("5.5", "half"), Call("6", "on"))),
        CallGroup(2, (Call("8", "on"),)),
    )
    assert calls(SMALL, moves, 1, types=True)[0].calls[1] == Call("5.5", "half long peg")
    assert calls(SMALL, moves, 0, types=False) == ()


def test_a_step_is_called_as_the_report_and_the_csv_give_it() -> None:
    triplet = Row("triplet", (Fraction(2, 3), Fraction(4, 3)), period_steps=2)
    quarters = Row("quarters", (Fraction(1, 4), Fraction(3, 4)))
    assert [step_name(triplet, index) for index in range(4)] == ["1 2/3", "2 1/3", "3 2/3", "4 1/3"]
    assert [step_name(HALF, index) for index in range(2)] == ["1.5", "2.5"]
    assert [step_name(quarters, index) for index in range(4)] == ["1.25", "1.75", "2.25", "2.75"]


@pytest.mark.parametrize(
    "row", [ON, HALF, Row("q", (Fraction(1, 4), Fraction(3, 4))), Row("t", (Fraction(2, 3), Fraction(4, 3)), 2)]
)
def test_no_two_holes_of_a_row_are_called_alike(row: Row) -> None:
    names = [step_name(row, index) for index in range(row.hole_count(32))]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("on", WHEELS, ids=lambda on: f"{len(on.channels)}x{on.steps_per_plate}")
@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_every_move_has_a_box_to_tick_and_nothing_collides(on: Wheel, paper: Paper) -> None:
    made = pages(on, paper)
    moves = made_swap(on)
    assert sum(len(ticks(page)) for page in made) == moves.work
    for page in made:
        assert page.height_mm > page.width_mm
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []
        assert all(box(tick)[2] - box(tick)[0] >= 3.0 for tick in ticks(page))


def test_letters_are_large_enough_to_be_read_out_at_arms_length() -> None:
    for on in WHEELS:
        for page in pages(on):
            called = [text for text in texts(page) if text.text.split(" ")[0] in {row.name for row in on.rows}]
            assert all(text.size_mm >= 4.3 for text in called)


def test_pulls_come_first_and_sets_begin_a_column_of_their_own() -> None:
    for page in pages(BELLS, A4, FEW):
        heads = {
            text.text.split(" ")[0]: text.x_mm
            for text in texts(page)
            if text.text.startswith(("Pull ", "Set ")) and "·" not in text.text
        }
        assert heads["Pull"] < heads["Set"]


def words_on(page: Page) -> list[str]:
    return [text.text for text in texts(page)]


def test_every_page_tells_what_it_is_and_the_sum() -> None:
    old, new = two_maps(BELLS, FEW)
    moves = replace(made_swap(BELLS, FEW), came_from=(1, 0, 2, 3, 4, 5))
    for plate, page in enumerate(call_pages(BELLS, moves, old, new, A4, NOTES)):
        pull, put, stay = (int((part.plate == plate).sum()) for part in (moves.pull, moves.set_pins, moves.stay))
        words = " ".join(words_on(page))
        for expected in (
            f"{old.title} → {new.title}",
            f"Set A · place {plate + 1} of 6",
            "this plate stood at place" if plate < 2 else "this plate stays in its place",
            f"was {pull + stay} − pull {pull} + set {put} = now {put + stay} · {stay} stay",
            f"map {pin_map_sha256(new)[:12]}, was {pin_map_sha256(old)[:12]}",
            f"Pull {pull} pins",
            f"Set {put} pins",
            f"call list, page {plate + 1} of 6",
            HOW,
            "2 notes left out",
            CAUTION,
        ):
            assert expected in words
        assert page.title == f"{old.title} → {new.title}, call list, place {plate + 1} of 6"
        (caution,) = (text for text in texts(page) if text.text == CAUTION)
        assert caution.size_mm == SMALL_MM


def test_counts_of_channels_add_up_to_the_heading() -> None:
    moves = made_swap(BELLS, FEW)
    for plate, page in enumerate(pages(BELLS, A4, FEW)):
        expected = Counter(
            str(count)
            for part in (moves.pull, moves.set_pins)
            for count in Counter(part.channel[part.plate == plate].tolist()).values()
        )
        found = Counter(text.text for text in texts(page) if text.text.isdecimal() and text.grey == 0.3)
        assert found == expected


def test_a_long_list_goes_on_with_its_heading_and_channel() -> None:
    made = pages(LARGE)
    assert len(made) > 1
    words = [word for page in made for word in words_on(page)]
    assert any(word.startswith("Pull ") and word.endswith(", goes on") for word in words)
    assert any(word.startswith("Set ") and word.endswith(", goes on") for word in words)
    assert f"Set A · place 1 of 1, part 2 of {len(made)}" in words


def test_a_place_at_which_nothing_is_done_has_no_page_unless_there_is_no_other() -> None:
    old = pin_map(SMALL, [(0, 0, 0, 1, 0, -1), (1, 1, 0, 2, 0, -1)])
    new = pin_map(SMALL, [(0, 0, 0, 1, 0, -1), (1, 1, 0, 3, 0, -1)])
    moves = swap(old, new, SMALL, fixed=range(3))
    (page,) = call_pages(SMALL, moves, old, new, A4)
    assert "Place 2 of 3" in words_on(page)
    assert still_places(moves) == [0, 2]
    made = call_pages(SMALL, swap(old, old, SMALL, fixed=range(3)), old, old, A4)
    said = [[word for word in words_on(page) if word.startswith("Nothing")] for page in made]
    stay = ("1 pin stays", "1 pin stays", "0 pins stay")
    assert said == [[f"Nothing to pull, nothing to set: {words}."] for words in stay]


def test_only_sets_or_only_pulls() -> None:
    some, none = pin_map(SMALL, [(0, 0, 0, 1, 0, -1)]), pin_map(SMALL, [])
    first = words_on(call_pages(SMALL, swap(none, some, SMALL, fixed=range(3)), None, some, A3)[0])
    assert {"1 pin on this plate", "Set 1 pin", "empty plates → Test song"} <= set(first)
    assert not {"nothing to pull", "this plate stays in its place"} & set(first), "empty plates have nothing that stays"
    assert not [word for word in first if word.startswith("Pull ")]
    last = words_on(call_pages(SMALL, swap(some, none, SMALL, fixed=range(3)), some, none, A3)[0])
    assert {"Pull 1 pin", "nothing to set"} <= set(last)
    assert not [word for word in last if word.startswith("Set ")]


def test_a_list_of_one_column_has_the_whole_width() -> None:
    none, many = pin_map(BELLS, []), two_maps(BELLS, FEW)[1]
    for page in call_pages(BELLS, swap(none, many, BELLS, fixed=range(6)), None, many, A4):
        rules = [box(shape) for shape in expanded(page.items) if isinstance(shape, Path) and shape.pen.width_mm == 0.5]
        assert [(left, round(right, 6)) for left, _, right, _ in rules] == [(MARGIN_MM, 210 - MARGIN_MM)]
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


def test_nothing_to_pull_takes_no_room_and_one_row_has_no_name() -> None:
    on = wheel([channel(f"bell {n}", [50 + n], rows=["on"]) for n in range(24)], rows=(ON,))
    none, new = (
        pin_map(on, []),
        pin_map(on, [(n, 0, 0, step, 0, -1) for n in range(24) for step in range(n % 2, 20, 2)]),
    )
    moves = swap(none, new, on, fixed=range(6))
    page = call_pages(on, moves, None, new, A4)[0]
    words = words_on(page)
    assert "on" not in words
    assert HOW.replace(" with its row", "") in words
    heads = [text.x_mm for text in texts(page) if text.text.startswith("Set ")]
    assert min(heads) < 25.0, "sets begin at the left margin"
    assert sum(len(ticks(each)) for each in call_pages(on, moves, None, new, A4)) == moves.work
    sheet = {text.text for text in texts(swap_sheets(on, moves, None, new, [], A4)[0])}
    assert not [word for word in sheet if "in row" in word]
    legend = {text.text for text in texts(pin_sheets(on, new, [], A4)[0])}
    assert "pin" in legend
    assert not [word for word in legend if "in row" in word]


def test_long_names_give_way_to_rows_which_must_not_be_mistaken() -> None:
    rows = (Row("the row on the step", (Fraction(0),)), Row("the row off the step", (Fraction(1, 2),)))
    names = [row.name for row in rows]
    on = wheel([channel(f"the very long name of channel {n} " * 3, [60 + n], rows=names) for n in range(9)], rows=rows)
    new = pin_map(on, [(n, 0, n % 2, 2 + n, 0, -1) for n in range(9)])
    page = call_pages(on, swap(pin_map(on, []), new, on, fixed=range(6)), None, new, A4)[0]
    words = words_on(page)
    assert words.count(names[0]) == 5
    assert words.count(names[1]) == 4
    assert overlapping_texts(page) == []


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_a_list(title: str) -> None:
    old, new = (replace(pins, title=title, wheel_name=title) for pins in two_maps(SMALL))
    for page in call_pages(
        replace(SMALL, name=title), made_swap(SMALL), old, new, A4, SheetNotes(title, None, (title,))
    ):
        assert stays_on_paper(page)
        assert overlapping_texts(page) == []


@settings(max_examples=25)
@given(st.data())
def test_any_swap_is_called_whole(data: st.DataObject) -> None:
    old, new = data.draw(pin_maps(SMALL)), data.draw(pin_maps(SMALL))
    moves = swap(old, new, SMALL)
    made = call_pages(SMALL, moves, old, new, data.draw(st.sampled_from(PAPERS)))
    assert sum(len(ticks(page)) for page in made) == moves.work
    assert all(stays_on_paper(page) for page in made)
    assert not any(overlapping_texts(page) for page in made)
