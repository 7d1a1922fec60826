"""Swap sheets and call lists read back from their PDF with pdfplumber: what is printed is what the swap moves."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache
from io import BytesIO
from pathlib import Path as FilePath
from typing import Any

import pdfplumber
import pypdf
import pytest
from hypothesis import given, settings

from pegwright.draw.bars import BarMark
from pegwright.draw.call_list import HEAD_MM, SECTION_LINE_MM, call_pages
from pegwright.draw.count_page import count_pages
from pegwright.draw.furniture import MARGIN_MM
from pegwright.draw.overview import OverviewRow, overview_pages
from pegwright.draw.paper import A3, A4, LETTER, Paper
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.sheet_fit import RULER_MM, closest_pins, sheet_layout
from pegwright.draw.sheet_layout import SheetLayout
from pegwright.draw.swap_sheet import swap_sheets, swap_surround
from pegwright.placement import PinMap
from pegwright.show.count import pin_count
from pegwright.show.swap import swap
from pegwright.swapping import Swap
from pegwright.wheel import Wheel
from pegwright.write.count.pages import song_count_pages
from pegwright.write.count.tables import count_tables
from pegwright.write.pdf import pdf_bytes
from placed import TITLES, pin_map, pin_maps, small_wheel
from samples import channel, wheel
from swaps import CHANGE, DRUMS, PULL, SET, SMALL, STAY, kinds_of, made_swap, two_maps

MM = 72 / 25.4
STRINGS = wheel(
    [channel(f"string {number + 1}", [55 + number]) for number in range(12)], plate_count=4, steps_per_plate=16
)
NOTES = SheetNotes("A", Fraction(0))
PLACES = {0: lambda i: i, 1: lambda i: i + 0.5, 2: lambda i: 2 * (i // 2) + (2 / 3, 4 / 3)[i % 2]}


@cache
def read(pdf: bytes) -> list[Any]:
    return list(pdfplumber.open(BytesIO(pdf)).pages)


def grey(colour: Any) -> float | None:  # noqa: ANN401  # a number, a tuple of one, or nothing
    if colour is None:
        return None
    return round(float(colour[0] if isinstance(colour, tuple | list) else colour), 3)


def layout_of(on: Wheel, moves: Swap, paper: Paper) -> SheetLayout:
    closest = closest_pins(on, moves.pull, moves.set_pins, moves.stay)
    return sheet_layout(on, paper, closest, swap_surround(on, moves, NOTES))


def marks_on(page: Any, top_mm: float, bottom_mm: float) -> dict[tuple[float, float], set[str]]:  # noqa: ANN401
    """Signs of what is done to pins, by the middle in mm to a hundredth."""
    found: dict[tuple[float, float], set[str]] = {}
    for shape in [*page.curves, *page.rects, *page.lines]:
        x, y = (shape["x0"] + shape["x1"]) / 2 / MM, (shape["top"] + shape["bottom"]) / 2 / MM
        fill = grey(shape["non_stroking_color"]) if shape["fill"] else None
        stroke = grey(shape["stroking_color"]) if shape["stroke"] else None
        slanted = shape["x0"] != shape["x1"] and shape["top"] != shape["bottom"]
        sign = {
            (0.0, None): "solid",
            (0.55, None): "pale",
            (1.0, 0.0): "outline",
            (None, 0.0): "arrow" if slanted else "",
        }.get((fill, stroke), "")
        if sign and top_mm < y < bottom_mm:
            found.setdefault((round(x, 2), round(y, 2)), set()).add(sign)
    return found


def called_step(step: float) -> str:
    """The step of a hole as it is called: halves with a point, thirds as fractions."""
    whole, sixths = divmod(round(6 * step), 6)
    names = {0: "", 2: " 1/3", 3: ".5", 4: " 2/3"}
    return f"{whole}{names[sixths]}"


KINDS = {PULL: {"outline", "arrow"}, SET: {"solid"}, CHANGE: {"outline", "solid"}, STAY: {"pale"}}


def check_marks(pdf: bytes, on: Wheel, layout: SheetLayout, kinds: dict[tuple[int, int, int, int], str]) -> None:
    """Marks in the file are those of the swap, at places worked out here from radius, steps and phases."""
    step_mm = 2 * math.pi * on.geometry.radius_mm / (on.plate_count * on.steps_per_plate)
    (part,) = layout.parts
    marked = sorted({at for _, at, _, _ in kinds}) or range(on.plate_count)  # a plate without a mark has no page
    for plate, page in zip(marked, read(pdf), strict=True):
        found = marks_on(page, layout.top_mm, layout.bottom_mm(part))
        wanted = {}
        for (lane, at, row, index), kind in kinds.items():
            if at == plate:
                x_mm = layout.left_mm + layout.scale * PLACES[row](index) * step_mm
                down = RULER_MM * layout.zoom if len(on.channels) > 24 and lane >= 20 else 0.0  # of 40 lanes, 20 above
                y_mm = layout.top_mm + (lane + 0.5) * layout.lane_mm + layout.row_offsets_mm[row] + down
                wanted[x_mm, y_mm] = KINDS[kind]
        assert len(found) == len(wanted)
        for place, signs in wanted.items():
            nearest = min(found, key=lambda other: math.dist(place, other))
            assert math.dist(place, nearest) <= 0.05
            assert found[nearest] == signs


@cache
def sheet_pdf(on: Wheel, paper: Paper) -> bytes:
    bars = [BarMark(Fraction(first), str(first)) for first in range(0, on.turn_steps, 4)]
    return pdf_bytes(swap_sheets(on, made_swap(on), *two_maps(on), bars, paper, NOTES), "t")


@pytest.mark.parametrize(
    ("on", "paper"),
    [(SMALL, A4), (SMALL, A3), (SMALL, LETTER), (STRINGS, A4), (DRUMS, LETTER)],
    ids=["small-a4", "small-a3", "small-letter", "strings-a4", "drums-letter"],
)
def test_marks_read_back_from_the_file_are_what_the_swap_does(on: Wheel, paper: Paper) -> None:
    old, new = two_maps(on)
    moves = made_swap(on)
    kinds = kinds_of(old, new, moves.came_from)
    assert {PULL, SET, STAY} <= set(kinds.values())
    check_marks(sheet_pdf(on, paper), on, layout_of(on, moves, paper), kinds)


@settings(max_examples=6, deadline=None)
@given(pin_maps(SMALL), pin_maps(SMALL))
def test_any_swap_is_in_the_file(old: PinMap, new: PinMap) -> None:
    moves = swap(old, new, SMALL)
    pdf = pdf_bytes(swap_sheets(SMALL, moves, old, new, [], A4, NOTES), "t")
    check_marks(pdf, SMALL, layout_of(SMALL, moves, A4), kinds_of(old, new, moves.came_from))


def test_counts_read_back_from_the_file_add_up() -> None:
    old, new = two_maps(STRINGS)
    moves = made_swap(STRINGS)
    layout = layout_of(STRINGS, moves, A4)
    for plate, page in enumerate(read(sheet_pdf(STRINGS, A4))):
        box = (layout.lanes_right_mm, layout.top_mm, layout.lanes_right_mm + 4 * layout.count_column_mm)
        columns: list[dict[int, int]] = [{}, {}, {}, {}]
        for word in page.extract_words():
            x, y = (word["x0"] + word["x1"]) / 2 / MM, (word["top"] + word["bottom"]) / 2 / MM
            if box[0] < x < box[2] and box[1] < y < layout.bottom_mm(layout.parts[0]):
                columns[int((x - box[0]) / layout.count_column_mm)][int((y - box[1]) / layout.lane_mm)] = int(
                    word["text"]
                )
        was, pull, put, now = ([column.get(lane, 0) for lane in range(12)] for column in columns)
        assert [a - b + c for a, b, c in zip(was, pull, put, strict=True)] == now
        assert now == [int(((new.plate == plate) & (new.channel == lane)).sum()) for lane in range(12)]
        assert sum(was) == int((old.plate == moves.came_from[plate]).sum())
        words = page.extract_text()
        for name, total in (("was", was), ("− pull", pull), ("+ set", put), ("= now", now)):
            assert re.search(rf"{re.escape(name)} {sum(total)}$", words, re.MULTILINE)


CALL = re.compile(r"(\d+(?:\.5| [12]/3)?) (on|half|triplet)")


def called(page: Any, zoom: float, across: int) -> list[tuple[str, str, str, str]]:  # noqa: ANN401
    """Section, channel (number and name), step and row of every call on a page, as its words stand there."""
    width_mm, found = float(page.width) / MM, []
    column_mm = (width_mm - 2 * MARGIN_MM) / across
    words = page.extract_words(keep_blank_chars=True, x_tolerance=1.2)
    for column in range(across):
        left = MARGIN_MM + column * column_mm
        here = [word for word in words if left - 1 <= word["x0"] / MM < left + column_mm - 1]
        lines: dict[int, list[Any]] = {}
        for word in here:
            lines.setdefault(round((word["top"] + word["bottom"]) / 2 / MM), []).append(word)
        section = channel_called = ""
        for y in sorted(lines):
            cells = [cell["text"].strip() for cell in sorted(lines[y], key=lambda word: word["x0"])]
            joined = " ".join(cells)
            if y < MARGIN_MM + HEAD_MM + SECTION_LINE_MM * zoom:
                section = joined.split(" ")[0]
                continue
            match = re.match(r"^(\d+) (\D+ \d+) (.*)$", joined)
            if match:
                channel_called, joined = f"{match[1]} {match[2]}", match[3]
            found += [(section, channel_called, step, row) for step, row in CALL.findall(joined)]
    return found


@pytest.mark.parametrize("paper", [A4, A3, LETTER], ids=lambda paper: paper.name)
def test_the_call_list_read_back_from_the_file_is_what_moves(paper: Paper) -> None:
    every = 30
    old, new = two_maps(STRINGS, every)
    moves = swap(old, new, STRINGS)
    pages = read(pdf_bytes(call_pages(STRINGS, moves, old, new, paper, NOTES), "t"))
    assert len(pages) == STRINGS.plate_count
    for plate, page in enumerate(pages):
        expected = Counter(
            (
                section,
                f"{lane + 1} {STRINGS.channels[lane].name}",
                called_step(PLACES[row](index) + 1),
                STRINGS.rows[row].name,
            )
            for (lane, at, row, index), kind in kinds_of(old, new, moves.came_from).items()
            for section, kinds in (("Pull", (PULL, CHANGE)), ("Set", (SET, CHANGE)))
            if at == plate and kind in kinds
        )
        assert expected
        assert Counter(called(page, 1.35 if paper is A3 else 1.0, 2)) == expected


def everything() -> list[tuple[str, bytes]]:
    old, new = two_maps(SMALL)
    moves = made_swap(SMALL)
    row = OverviewRow(0, "Air", "A", "plate 1, step 1", 0, 500_000, 60, 4, 5, 6, 70, 80)
    return [
        ("sheets", pdf_bytes(swap_sheets(SMALL, moves, old, new, [], A4, NOTES), "t")),
        ("calls", pdf_bytes(call_pages(SMALL, moves, old, new, A4, NOTES), "t")),
        ("overview", pdf_bytes(overview_pages("Show", "A wheel", [row], A4), "t")),
        ("count", pdf_bytes(song_count_pages(pin_count([old, new], SMALL, 5), A4), "t")),
    ]


SCRIPT = """
import hashlib, sys
sys.path[:0] = [{tests!r}, {here!r}]
from test_swap_pdf import everything
everything() if {twice} else None
for name, pdf in everything():
    print(name, hashlib.sha256(pdf).hexdigest())
"""


def test_the_same_input_gives_the_same_bytes_in_every_process() -> None:
    here = FilePath(__file__).parent
    scripts = [SCRIPT.format(tests=str(here.parent), here=str(here), twice=twice) for twice in (False, True)]
    told = {
        subprocess.run([sys.executable, "-c", it], capture_output=True, text=True, check=True).stdout for it in scripts
    }
    assert len(told) == 1
    assert len(told.pop().splitlines()) == 4


def fonts_of(pdf: bytes) -> list[Any]:
    """Font dictionaries of every page and of every form that a page draws."""
    found = []
    for page in pypdf.PdfReader(BytesIO(pdf)).pages:
        resources: list[Any] = [page["/Resources"]]
        while resources:
            resource = resources.pop().get_object()
            found += [font.get_object() for font in resource.get("/Font", {}).values()]
            forms = resource.get("/XObject", {}).get_object().values() if "/XObject" in resource else ()
            resources += [form.get_object()["/Resources"] for form in forms if "/Resources" in form.get_object()]
    return found


def test_every_font_is_embedded_in_every_file() -> None:
    for _, pdf in everything():
        fonts = fonts_of(pdf)
        assert fonts
        assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts)


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_a_file(title: str) -> None:
    on = small_wheel(name=title)
    old, new = (replace(pins, title=title, wheel_name=title) for pins in two_maps(SMALL))
    notes = SheetNotes(title, None, (title,))
    row = OverviewRow(0, title, title, title, 0, 500_000, 60, 4, 5, 6, 70, 80)
    tables = count_tables(pin_count([old, new], on, 5), "")
    pages = (
        *swap_sheets(on, made_swap(SMALL), old, new, [BarMark(Fraction(0), title)], A4, notes),
        *call_pages(on, made_swap(SMALL), old, new, A4, notes),
        *overview_pages(title, title, [row], A4),
        *count_pages(title, title, title, tables, A4),
    )
    assert len(pypdf.PdfReader(BytesIO(pdf_bytes(pages, title))).pages) == len(pages)


def test_the_printed_count_reads_back_as_the_count() -> None:
    old, new = two_maps(SMALL)
    count = pin_count([old, new], SMALL, 5)
    (page,) = read(pdf_bytes(song_count_pages(count, A4), "t"))
    words = page.extract_text()
    for need in count.needs:
        assert f"{need.name} {need.pins:,} {need.spares} {need.needed:,} {need.stock:,} {need.to_buy}" in words
    for number, row in enumerate(count.by_plate.tolist(), start=1):
        assert f"plate {number} {row[0]} {row[1]} {sum(row)}" in words
    for number, row in enumerate(count.by_channel.tolist()):
        assert f"{number + 1} {count.channels[number]} {row[0]} {row[1]} {sum(row)}" in words
    assert f"total {count.by_song[:, 0].sum()} {count.by_song[:, 1].sum()} {count.total}" in words


def test_an_empty_map_is_a_swap_too() -> None:
    _, new = two_maps(STRINGS)
    moves = swap(pin_map(STRINGS, []), new, STRINGS)
    pdf = pdf_bytes(swap_sheets(STRINGS, moves, None, new, [], A4, NOTES), "t")
    check_marks(pdf, STRINGS, layout_of(STRINGS, moves, A4), kinds_of(None, new, moves.came_from))
