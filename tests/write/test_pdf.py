from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from functools import cache
from io import BytesIO
from itertools import product
from pathlib import Path as FilePath
from typing import Any

import pdfplumber
import pypdf
import pytest

from pdf_shapes import MM, black_middles_mm, measured, number_of, rings_of
from pegwright.draw.lettering import MISSING
from pegwright.draw.paper import A4, PAPERS
from pegwright.draw.pin_sheet import BarMark, SheetNotes, pin_sheets
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Symbol, Text, Use
from pegwright.placement import PinMap
from pegwright.wheel import Wheel
from pegwright.write.pdf import pdf_bytes
from placed import TITLES, pin_map, small_wheel
from samples import GEOMETRY, channel, wheel

CHANNELS, PLATES, STEPS = 9, 3, 16
BELLS = wheel(
    [channel(f"bell {number + 1}", [55 + number]) for number in range(CHANNELS)],
    plate_count=PLATES,
    steps_per_plate=STEPS,
)
HOLES = [
    (number, (number + row) % PLATES, row, (5 * number + 3 * row) % (STEPS - 1), 0, -1)
    for number, row in product(range(CHANNELS), range(3))
]
PINS = pin_map(BELLS, HOLES, "The Lantern Waltz")
BARS = tuple(BarMark(Fraction(16 * number), str(number + 1), (Fraction(16 * number + 8),)) for number in range(3))


def sheets(on: Wheel = BELLS, pins: PinMap = PINS, **changes: Any) -> tuple[Page, ...]:  # noqa: ANN401  # of pin_sheets
    return pin_sheets(on, pins, BARS, changes.get("paper", A4), SheetNotes("A", Fraction(0)))


@cache
def read(pdf: bytes) -> list[Any]:
    return list(pdfplumber.open(BytesIO(pdf)).pages)


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_pin_centres_measured_on_the_sheet_are_the_pin_maps(paper: Any) -> None:  # noqa: ANN401  # a Paper
    """As a maker measures: from the line of step 1, in the sheet's own 100 mm, at the scale that is printed on it.

    The file is read by pdfplumber; the distance along the plate is computed here from the wheel's radius, steps and
    phases. So neither the grid, the layout nor the drawing is trusted. A point is 1/72 inch: ISO 32000-1, 8.3.2.3
    (from memory).
    """
    step_mm = 2 * math.pi * GEOMETRY.radius_mm / (PLATES * STEPS)
    places = {0: lambda i: i, 1: lambda i: i + 0.5, 2: lambda i: 2 * (i // 2) + (2 / 3, 4 / 3)[i % 2]}
    checked = 0
    for plate, page in enumerate(read(pdf_bytes(sheets(paper=paper), "t"))):
        sheet = measured(page, STEPS)
        assert (sheet.across, sheet.down) == pytest.approx((72 / 25.4, 72 / 25.4), rel=1e-5)
        assert len(sheet.lanes) == CHANNELS + 1
        found = [(x * MM, y * MM) for x, y in black_middles_mm(page)]
        for number, on_plate, row, index, _, _ in HOLES:
            if on_plate == plate:
                above, below = sheet.lanes[number : number + 2]
                x = sheet.step_1 + places[row](index) * step_mm * sheet.scale * sheet.across
                (y,) = {
                    round(at, 3) for around, at in sheet.rings if abs(around - x) < 0.05 * MM and above < at < below
                }
                assert min(math.dist((x, y), place) for place in found) <= 0.05 * sheet.across
                assert (y > (above + below) / 2) == (BELLS.rows[row].lateral_mm > 0), "rows lie as on the plate"
                checked += 1
        on_lanes = [y for _, y in found if sheet.lanes[0] < y < sheet.lanes[-1]]
        assert len(on_lanes) == sum(hole[1] == plate for hole in HOLES)
    assert checked == PINS.pin_count == len(HOLES)


def test_the_empty_holes_are_in_the_file_and_drawn_once_for_all_pages() -> None:
    pdf = pdf_bytes(sheets(), "t")
    page = read(pdf)[0]
    assert len(rings_of(page)) == CHANNELS * (STEPS + STEPS + STEPS) + 1  # one in the legend
    document = pypdf.PdfReader(BytesIO(pdf))
    forms = {
        form.idnum
        for page_ in document.pages
        for form in page_["/Resources"]["/XObject"].values()  # type: ignore[index]  # as the standard has it
        for form in [form if hasattr(form, "idnum") else form.indirect_reference]
    }
    assert len(forms) == 2
    assert len(document.pages) == PLATES


def test_pages_have_the_size_of_the_paper_and_all_is_inside() -> None:
    for paper in PAPERS:
        for page in read(pdf_bytes(sheets(paper=paper), "t")):
            assert {round(float(page.width) / MM, 3), round(float(page.height) / MM, 3)} == {
                paper.long_mm,
                paper.short_mm,
            }
            for thing in [*page.chars, *page.curves, *page.rects, *page.lines]:
                assert 0 <= thing["x0"] <= thing["x1"] <= page.width
                assert 0 <= thing["top"] <= thing["bottom"] <= page.height


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


def test_every_font_in_the_file_is_embedded() -> None:
    fonts = fonts_of(pdf_bytes(sheets(), "t"))
    assert len(fonts) >= 2
    for font in fonts:
        assert font["/Subtype"] == "/TrueType"
        assert "/FontFile2" in font["/FontDescriptor"], font["/BaseFont"]


def test_the_words_can_be_searched_and_copied() -> None:
    words = read(pdf_bytes(sheets(), "t"))[2].extract_text()
    for expected in ("The Lantern Waltz", "Set A · plate 3 of 3", "♩ = 120", "bell 9", "page 3 of 3"):
        assert expected in words


@pytest.mark.parametrize("bold", [False, True])
def test_characters_beyond_the_common_ones_are_drawn_by_the_whole_font(bold: bool) -> None:
    lines = ["Lantern Waltz ♩", "ვალსი Walzer", "վալս"]
    page = Page(100, 40, tuple(Text(5, 10 * (1 + row), line, 4.0, bold=bold) for row, line in enumerate(lines)))
    pdf = pdf_bytes([page], "t")
    assert read(pdf)[0].extract_text().splitlines() == lines
    by_font = {char["fontname"].split("+")[-1]: "" for char in read(pdf)[0].chars}
    assert len(by_font) == 2, by_font
    for font in fonts_of(pdf):
        assert "/FontFile2" in font["/FontDescriptor"], font["/BaseFont"]


def test_the_document_is_named_and_has_an_outline() -> None:
    document = pypdf.PdfReader(BytesIO(pdf_bytes(sheets(), "Waltz (für Ötzi)")))
    assert document.metadata is not None
    assert (document.metadata.title, document.metadata.author) == ("Waltz (für Ötzi)", "pegwright")
    assert (document.metadata.producer, document.metadata.creator) == ("pegwright", "pegwright")
    entries = [entry for entry in document.outline if not isinstance(entry, list)]
    assert [entry.title for entry in entries] == [f"The Lantern Waltz, plate {plate} of 3" for plate in range(1, 4)]
    assert [document.get_destination_page_number(entry) for entry in entries] == list(range(3))


SCRIPT = """
import hashlib, sys
sys.path.insert(0, {tests!r})
sys.path.insert(0, {here!r})
from test_pdf import pdf_bytes, sheets
pdf_bytes(sheets(), "another document first") if {twice} else None
print(hashlib.sha256(pdf_bytes(sheets(), "t")).hexdigest())
"""


def test_the_same_input_gives_the_same_bytes_in_every_process() -> None:
    here = FilePath(__file__).parent
    scripts = [SCRIPT.format(tests=str(here.parent), here=str(here), twice=twice) for twice in (False, True)]
    digests = {
        subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
        for script in scripts
    }
    assert len(digests) == 1


def one_page(*items: Any) -> Any:  # noqa: ANN401  # shapes in, a pdfplumber page out
    return read(pdf_bytes([Page(100, 80, items)], "t"))[0]


def test_shapes_lie_where_the_drawing_has_them() -> None:
    page = one_page(
        Circle(20, 30, 5, Pen(stroke=0.5, fill=0.9, width_mm=0.4)),
        Path(((50, 10), (70, 10), (60, 25)), Pen(stroke=None, fill=0.0), closed=True),
        Path(((5, 70), (95, 72)), Pen(width_mm=0.25, dash_mm=(2.0, 1.0))),
    )
    circle, triangle = sorted(page.curves, key=lambda curve: curve["x0"])
    assert [circle[side] / MM for side in ("x0", "top", "x1", "bottom")] == pytest.approx([15, 25, 25, 35], abs=0.001)
    assert (number_of(circle["stroking_color"]), number_of(circle["non_stroking_color"])) == (0.5, 0.9)
    assert [point / MM for corner in triangle["pts"] for point in corner][:6] == pytest.approx(
        [50, 10, 70, 10, 60, 25], abs=0.001
    )
    (line,) = page.lines
    assert [line[side] / MM for side in ("x0", "top", "x1", "bottom")] == pytest.approx([5, 70, 95, 72], abs=0.001)


def test_texts_stand_at_their_anchors_and_turn_clockwise() -> None:
    page = one_page(
        Text(50, 20, "HHH", 5.0, Anchor.START),
        Text(50, 40, "HHH", 5.0, Anchor.MIDDLE, bold=True),
        Text(50, 60, "HHH", 5.0, Anchor.END, grey=0.4),
        Text(90, 40, "I", 5.0, Anchor.START, turn_deg=90.0),
    )
    words = sorted(page.chars, key=lambda char: (round(char["top"]), char["x0"]))
    level = [char for char in words if char["text"] == "H"]
    start, centre, end = level[:3], level[3:6], level[6:]
    assert start[0]["x0"] / MM == pytest.approx(50, abs=0.02)
    assert (centre[0]["x0"] + centre[-1]["x1"]) / 2 / MM == pytest.approx(50, abs=0.02)
    assert end[-1]["x1"] / MM == pytest.approx(50, abs=0.02)
    assert number_of(end[0]["non_stroking_color"]) == 0.4
    (turned,) = [char for char in page.chars if char["text"] == "I"]
    across, up, *_ = turned["matrix"]
    assert across == pytest.approx(0.0, abs=1e-6)
    assert up < 0  # the line of text runs down the page


def test_a_symbol_is_drawn_at_each_place_where_it_is_used() -> None:
    dot = Symbol("dot", (Circle(1, 1, 1, Pen(stroke=None, fill=0.0)),))
    twin = replace(dot)
    page = one_page(Use(dot, 10, 20), Use(twin, 50.5, 60), Use(dot, 70, 5))
    middles = [(round(x, 3), round(y, 3)) for x, y in black_middles_mm(page)]
    assert sorted(middles) == [(11, 21), (51.5, 61), (71, 6)]


def test_a_shape_with_neither_stroke_nor_fill_and_an_empty_text_leave_no_trace() -> None:
    page = one_page(Circle(5, 5, 2, Pen(stroke=None)), Text(5, 5, "", 3.0), Text(5, 5, "\u200b", 3.0))
    assert (page.curves, page.chars) == ([], [])


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_a_file(title: str) -> None:
    on = small_wheel(name=title)
    pins = pin_map(on, [(0, 0, 0, 1, 0, -1)], title)
    pdf = pdf_bytes(pin_sheets(on, pins, [BarMark(Fraction(0), title)], A4, SheetNotes(title, None, (title,))), title)
    assert len(pypdf.PdfReader(BytesIO(pdf)).pages) == 1
    assert black_middles_mm(read(pdf)[0])


def test_what_the_font_lacks_shows_as_a_box() -> None:
    assert one_page(Text(10, 10, "a日\x07b", 5.0)).extract_text() == f"a{MISSING}{MISSING}b"


def test_streams_are_bytes_not_text() -> None:
    # ISO 32000-1:2008, 7.4.3: ASCII base-85 makes a stream a quarter longer; nothing needs it here.
    pdf = pdf_bytes(sheets(), "t")
    assert b"/FlateDecode" in pdf
    assert b"/ASCII85Decode" not in pdf


def test_circles_are_those_that_the_library_draws() -> None:
    # Outside check: the operators that reportlab itself writes for the same circles, number by number.
    from reportlab.pdfgen.canvas import Canvas

    places = [(0.0, 0.0, 1.0), (12.3456789, 7.7, 0.35), (297.0, 210.0, 12.5), (1 / 3, 2e-8, 99.999)]
    pens = [Pen(), Pen(None, 1.0), Pen(0.5, 0.0, 0.1)]
    items = tuple(Circle(x, y, radius, pen) for (x, y, radius), pen in product(places, pens))
    contents = pypdf.PdfReader(BytesIO(pdf_bytes([Page(300, 300, items)], "t"))).pages[0].get_contents()
    assert contents is not None
    canvas = Canvas(BytesIO())
    for circle in items:
        canvas.circle(circle.x_mm, -circle.y_mm, circle.radius_mm)
    drawn, theirs = (
        [line for line in text.splitlines() if line.endswith((" c", " m"))]
        for text in (contents.get_data().decode("latin-1"), canvas.getCurrentPageContent())
    )
    assert drawn == theirs
    assert len(drawn) == 5 * len(items)
