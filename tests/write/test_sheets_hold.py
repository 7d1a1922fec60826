"""What must hold of every sheet: five papers, 12 to 64 channels, usual and large letters, both faces of the plate."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from io import BytesIO
from itertools import combinations, product
from typing import Any

import pdfplumber
import pytest

from drawn import expanded, letters_box, overlap, texts
from pdf_shapes import MM, black_middles_mm, number_of, rings_of
from pegwright.draw.bars import BarMark
from pegwright.draw.bounds import bounds_mm
from pegwright.draw.lettering import CAP_HEIGHT, text_span_mm
from pegwright.draw.paper import PAPERS, Paper
from pegwright.draw.pin_sheet import pin_sheets
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.sheet_style import SheetStyle
from pegwright.draw.swap_sheet import swap_sheets
from pegwright.drawing import Circle, Page, Path, Text
from pegwright.show.swap import swap
from pegwright.wheel import Wheel
from pegwright.write.pdf import pdf_bytes
from placed import pin_map
from samples import GEOMETRY, channel, wheel
from thorough import cases

STEPS, PLATES = 32, 6
POINTS_PER_MM = 72 / 25.4  # Source: ISO 32000-1, 8.3.2.3 (from memory): a unit of user space is 1/72 inch
Case = tuple[Paper, int, bool, bool]
EVERY: list[Case] = list(product(PAPERS, (12, 24, 38, 64), (False, True), (False, True)))
random.Random(13).shuffle(EVERY)  # noqa: S311  # which cases are in the sample
CASES = EVERY[: cases(10, len(EVERY))]
EVERY_CASE = pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case[0].name}-{case[1]}{case[2]:d}{case[3]:d}")
PLACES = {0: lambda i: i, 1: lambda i: i + 0.5, 2: lambda i: 2 * (i // 2) + (2 / 3, 4 / 3)[i % 2]}
OUTCOME = (
    "Whole song: 412 of 420 notes sound (12 share a pin); 8 left out: 8 no channel for this pitch; see the report."
)


@cache
def on_wheel(channels: int) -> Wheel:
    named = [channel(f"bar {number + 1}", [36 + number]) for number in range(channels)]
    return wheel(named, plate_count=PLATES, steps_per_plate=STEPS)


@cache
def holes_of(channels: int, shift: int = 0) -> tuple[tuple[int, ...], ...]:
    """Pins on the first plate, in every row: channel, plate, row, index, pin type, note."""
    pins = []
    for number in range(channels):
        for step in range((number + shift) % 5, STEPS - 2, 3):
            row = (number + step) % 3
            pins.append((number, 0, row, step - step % 2 if row == 2 else step, 0, -1))
    return tuple(sorted(set(pins)))


def notes_of(larger: bool, inside: bool) -> SheetNotes:
    style = SheetStyle(larger, inside, "2026-05-01")
    return SheetNotes("B", Fraction(13), (), (), "turns 1 and 3, bars 9 to 16", OUTCOME, style)


@cache
def both(case: Case) -> tuple[tuple[Page, ...], tuple[Page, ...]]:
    """Pin sheets and swap sheets; only the first plate has pins, and so sheets."""
    paper, channels, larger, inside = case
    on, notes = on_wheel(channels), notes_of(larger, inside)
    old, new = (
        pin_map(on, holes_of(channels, shift), title) for shift, title in ((2, "Air"), (0, "The Lantern Waltz"))
    )
    bars = [
        BarMark(Fraction(first), str(first // 12 + 1), (Fraction(first + 4), Fraction(first + 8)))
        for first in range(0, 180, 12)
    ]
    return (
        pin_sheets(on, new, bars, paper, notes),
        swap_sheets(on, swap(old, new, on, fixed=range(PLATES)), old, new, bars, paper, notes),
    )


def turned_box(text: Text) -> tuple[float, float, float, float]:
    """The box about the capitals of a text that reads upwards."""
    begin, end = text_span_mm(text)
    return text.x_mm - CAP_HEIGHT * text.size_mm, text.y_mm - end, text.x_mm, text.y_mm - begin


def boxes(page: Page) -> Iterator[tuple[str, tuple[float, float, float, float]]]:
    """Everything that must be clear of everything else: texts, marks of pins, boxes to tick, check bars."""
    for text in texts(page):
        if text.text:
            yield text.text, turned_box(text) if text.turn_deg else letters_box(text)
    found: dict[tuple[float, float], list[Path | Circle]] = {}
    for shape in expanded(page.items):
        if isinstance(shape, Text):
            continue
        pen = shape.pen
        mark = pen.fill in (0.0, 0.55) or (pen.fill == 1.0 and pen.stroke == 0.0)
        box_to_tick = isinstance(shape, Path) and shape.closed and pen.fill is None and pen.stroke == 0.3
        if mark or (box_to_tick and pen.width_mm > 0.2):
            left, top, right, bottom = bounds_mm([shape])
            found.setdefault((round((left + right) / 2, 3), round((top + bottom) / 2, 3)), []).append(shape)
    for place, shapes in found.items():
        yield f"mark at {place}", bounds_mm(shapes)


@EVERY_CASE
def test_no_letter_is_too_small_and_channel_names_are_there(case: Case) -> None:
    paper, channels, larger, _ = case
    least = 9.0 if larger else 6.0
    for pages in both(case):
        for page in pages:
            assert {page.width_mm, page.height_mm} == {paper.long_mm, paper.short_mm}
            assert min(text.size_mm for text in texts(page) if text.text) * POINTS_PER_MM >= least
        names = {text.text for page in pages for text in texts(page) if text.bold}
        assert {f"bar {number + 1}" for number in range(channels)} <= names


@EVERY_CASE
def test_nothing_lies_on_anything_else(case: Case) -> None:
    for pages in both(case):
        for page in pages:
            every = sorted(boxes(page), key=lambda named: named[1][0])
            assert len(every) > 100
            for place, (words, box) in enumerate(every):
                for other, other_box in every[place + 1 :]:
                    if other_box[0] >= box[2]:
                        break
                    assert not overlap(box, other_box), f"{words!r} lies on {other!r}"


@EVERY_CASE
def test_every_step_is_numbered_and_half_way_down_where_there_are_many_lanes(case: Case) -> None:
    for pages in both(case):
        for page in pages:
            words = " ".join(text.text for text in texts(page))
            first, last, first_lane, last_lane = part_of(words, case[1])
            rulers = [text.y_mm for text in texts(page) if text.text == "step"]
            assert len(rulers) == (3 if last_lane - first_lane + 1 > 24 else 2)
            for y_mm in rulers:
                on_ruler = {text.text for text in texts(page) if abs(text.y_mm - y_mm) < 1.0}
                assert {str(step) for step in range(first, last + 1)} <= on_ruler


def part_of(words: str, channels: int) -> tuple[int, int, int, int]:
    """First and last step and channel of a page, counted from 1, as it says itself."""
    match = re.search(r"steps (\d+)–(\d+), channels (\d+)–(\d+) only", words)
    if match is None:
        return 1, STEPS, 1, channels
    first, last, first_lane, last_lane = (int(number) for number in match.groups())
    return first, last, first_lane, last_lane


def step_line(page: Any, upright: list[Any], first: int) -> float:  # noqa: ANN401  # pdfplumber ships no types
    """The x of the line of a page's first step, by the number above it."""
    words = page.extract_words()
    label = sorted((word for word in words if word["text"] == "step"), key=lambda word: word["top"])[1]  # 0: heading
    row = [word for word in words if word["top"] < label["bottom"] and word["bottom"] > label["top"]]
    number = next(word for word in row if word["text"] == str(first))
    middle = (number["x0"] + number["x1"]) / 2
    return float(min((line["x0"] for line in upright if line["top"] > label["top"]), key=lambda x: abs(x - middle)))


@pytest.mark.parametrize(
    "case", CASES[: cases(4, len(CASES))], ids=lambda case: f"{case[0].name}-{case[1]}{case[2]:d}{case[3]:d}"
)
def test_centres_measured_on_the_sheet_are_true(case: Case) -> None:
    """From the line of the first step, in the sheet's own 100 mm, at the scale that is printed on it.

    Read by pdfplumber; places along the plate are computed here from the wheel's radius, steps and phases.
    """
    _, channels, larger, inside = case
    step_mm = 2 * math.pi * GEOMETRY.radius_mm / (PLATES * STEPS)
    checked = 0
    for page in pdfplumber.open(BytesIO(pdf_bytes(both(case)[0], "t"))).pages:
        words = page.extract_text()
        first, last, first_lane, last_lane = part_of(words, channels)
        upright = [line for line in page.lines if line["x0"] == line["x1"]]
        level = [line for line in page.lines if line["top"] == line["bottom"]]
        foot = max((line for line in level if number_of(line["stroking_color"]) == 0.0), key=lambda line: line["top"])
        in_mm = (foot["x1"] - foot["x0"]) / 100
        assert in_mm == pytest.approx(POINTS_PER_MM, rel=1e-5)
        over, under = (float(part) for part in re.findall(r"scale ([0-9.]+):([0-9.]+)", words)[0])
        begin = step_line(page, upright, first)
        marks = black_middles_mm(page)
        rings = [
            ((ring["x0"] + ring["x1"]) / 2 / MM, (ring["top"] + ring["bottom"]) / 2 / MM) for ring in rings_of(page)
        ]
        for number, _, row, index, _, _ in holes_of(channels):
            at = PLACES[row](index) - (first - 1)
            if first_lane <= number + 1 <= last_lane and 0 <= at < last - first + 1:
                x_mm = (begin + (-1 if inside else 1) * at * step_mm * over / under * in_mm) / MM
                near = [place for place in marks if abs(place[0] - x_mm) <= 0.05]
                assert any(min(math.dist(place, ring) for ring in rings) <= 0.05 for place in near)
                checked += 1
        chars = [char["size"] for char in page.chars if char["upright"]]
        assert min(chars) >= (9.0 if larger else 6.0) - 0.01
    assert checked == len(holes_of(channels))


def test_larger_gives_channel_names_of_nine_points_on_a4_with_38_channels() -> None:
    usual, larger = (both((PAPERS[0], 38, wish, False))[0] for wish in (False, True))
    assert len(larger) > 1
    for pages, least in ((usual, 6.0), (larger, 9.0)):
        names = [text for page in pages for text in texts(page) if re.fullmatch(r"bar \d+", text.text) and text.bold]
        in_lanes = [text for text in names if text.y_mm > 50]
        assert min(text.size_mm for text in in_lanes) * POINTS_PER_MM >= least


def test_seen_from_inside_mirrors_the_marks_and_not_the_lettering() -> None:
    outside, inside = (both((PAPERS[0], 24, False, face))[0][0] for face in (False, True))
    assert "turns this way, seen from outside" in {text.text for text in texts(outside)}
    words = {text.text for text in texts(inside)}
    assert {"Set B · plate 1 of 6, seen from inside", "turns this way, seen from inside"} <= words
    numbers = [
        sorted((text.x_mm, text.text) for text in texts(page) if text.text in {"1", "32"} and text.anchor == "middle")
        for page in (outside, inside)
    ]
    rows = [[words for _, words in row if words in {"1", "32"}] for row in numbers]
    assert (rows[0][0], rows[0][-1]) == ("1", "32")
    assert "1" in rows[1][-4:]
    one, other = (black_lane_middles(page) for page in (outside, inside))
    assert len(one) == len(other) == len(holes_of(24))
    sums = {
        round(a[0] + b[0], 4) for a, b in zip(sorted(one, key=lambda p: (p[1], p[0])), mirrored(other), strict=True)
    }
    assert len(sums) == 1, "every mark is at the mirrored place of its lane"


def black_lane_middles(page: Page) -> list[tuple[float, float]]:
    marks = [
        bounds_mm([shape])
        for shape in expanded(page.items)
        if not isinstance(shape, Text) and shape.pen.fill == 0.0 and shape.pen.stroke is None
    ]
    middles = [((left + right) / 2, round((top + bottom) / 2, 4)) for left, top, right, bottom in marks]
    return [place for place in middles if place[1] > 38.0]  # below heading and legend


def mirrored(places: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return sorted(places, key=lambda place: (place[1], -place[0]))


def test_there_are_boxes_to_tick_for_every_lane_and_for_the_plate() -> None:
    for pages in both((PAPERS[0], 24, False, False)):
        (page,) = pages
        closed = [shape for shape in expanded(page.items) if isinstance(shape, Path) and shape.closed]
        ticks = [bounds_mm([path]) for path in closed if path.pen.fill is None and path.pen.stroke == 0.3]
        assert len(ticks) == 2 * 24 + 2
        columns = {round((left + right) / 2, 3) for left, _, right, _ in ticks}
        assert len(columns) == 2
        words = [text for text in texts(page) if text.text in {"pinned", "proved"}]
        assert [text.text for text in sorted(words, key=lambda text: text.x_mm)] == ["pinned", "proved"]
        assert not [pair for pair in combinations(ticks, 2) if overlap(*pair)]
