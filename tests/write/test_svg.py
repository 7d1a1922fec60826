from __future__ import annotations

import math
from fractions import Fraction
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawn import box, expanded
from pegwright.draw.lettering import width_mm
from pegwright.draw.paper import A4
from pegwright.draw.pin_sheet import BarMark, SheetNotes, pin_sheets
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Symbol, Text, Use
from pegwright.write.svg import svg_text
from placed import TITLES, pin_map, small_wheel

NS = "{http://www.w3.org/2000/svg}"
SMALL = small_wheel()


def parsed(*items: Path | Circle | Text | Use, title: str = "t") -> ET.Element:
    return ET.fromstring(svg_text(Page(100.0, 80.5, items, title)))  # noqa: S314  # made here


def test_a_unit_is_a_millimetre() -> None:
    root = parsed()
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("100mm", "80.5mm", "0 0 100 80.5")
    assert root.findtext(f"{NS}title") == "t"


def test_shapes_are_the_drawings() -> None:
    root = parsed(
        Circle(20, 30, 5, Pen(stroke=0.5, fill=None, width_mm=0.4)),
        Path(((50, 10), (70.123456, 10), (60, 25)), Pen(stroke=None, fill=0.0), closed=True),
        Path(((5, 70), (95, 72)), Pen(dash_mm=(2.0, 1.0))),
    )
    circle, polygon, line = (root.find(f"{NS}{name}") for name in ("circle", "polygon", "polyline"))
    assert circle is not None
    assert circle.attrib == {
        "cx": "20",
        "cy": "30",
        "r": "5",
        "fill": "none",
        "stroke": "#808080",
        "stroke-width": "0.4",
    }
    assert polygon is not None
    assert polygon.attrib == {"points": "50,10 70.1235,10 60,25", "fill": "#000000"}
    assert line is not None
    assert (line.get("stroke-dasharray"), line.get("fill")) == ("2 1", "none")


def test_texts_keep_anchor_turn_weight_and_width_in_any_font() -> None:
    root = parsed(Text(50, 20, "Plate", 5.0, Anchor.END, bold=True, grey=1 / 3, turn_deg=-90.0))
    text = root.find(f"{NS}text")
    assert text is not None
    assert text.text == "Plate"
    assert text.attrib == {
        "x": "50",
        "y": "20",
        "font-size": "5",
        "text-anchor": "end",
        "font-weight": "bold",
        "textLength": f"{width_mm('Plate', 5.0, bold=True):.4f}".rstrip("0"),
        "lengthAdjust": "spacingAndGlyphs",
        "transform": "rotate(-90 50 20)",
        "fill": "#555555",
    }


def test_a_used_symbol_is_written_where_it_is_used_without_identifiers() -> None:
    dot = Symbol("dot", (Circle(1, 1, 1, Pen()),))
    root = parsed(Use(dot, 10, 20), Use(dot, 30, 5))
    assert [group.get("transform") for group in root.iter(f"{NS}g")] == ["translate(10 20)", "translate(30 5)"]
    assert all("id" not in element.attrib for element in root.iter())


def test_every_mark_of_a_sheet_is_in_its_svg() -> None:
    pins = pin_map(SMALL, [(0, 0, 0, 1, 0, -1), (1, 0, 1, 3, 1, -1), (2, 1, 0, 4, 0, -1)])
    for page in pin_sheets(SMALL, pins, [BarMark(Fraction(3), "1")], A4, SheetNotes("A")):
        root = ET.fromstring(svg_text(page))  # noqa: S314  # made here
        black = [
            element for element in root.iter() if element.get("fill") == "#000000" and "stroke" not in element.attrib
        ]
        drawn = []
        for element in black:
            if element.tag == f"{NS}circle":
                drawn.append((float(element.attrib["cx"]), float(element.attrib["cy"])))
            elif element.tag == f"{NS}polygon":
                xs, ys = zip(*(map(float, point.split(",")) for point in element.attrib["points"].split()), strict=True)
                drawn.append(((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2))
        shapes = [shape for shape in expanded(page.items) if not isinstance(shape, Text)]
        marks = [box(shape) for shape in shapes if shape.pen.fill == 0.0 and shape.pen.stroke is None]
        expected = [((left + right) / 2, (top + bottom) / 2) for left, top, right, bottom in marks]
        assert len(drawn) == len(expected)
        assert all(math.dist(one, other) < 0.001 for one, other in zip(drawn, expected, strict=True))


@pytest.mark.parametrize("title", TITLES, ids=ascii)
def test_no_title_breaks_or_enters_the_markup(title: str) -> None:
    on = small_wheel(name=title)
    plain = svg_text(pin_sheets(small_wheel(), pin_map(small_wheel(), [], "Air"), [], A4)[0])
    page = pin_sheets(on, pin_map(on, [], title), [], A4, SheetNotes())[0]
    tags = [element.tag for element in ET.fromstring(svg_text(page)).iter()]  # noqa: S314  # made here
    assert set(tags) == {element.tag for element in ET.fromstring(plain).iter()}  # noqa: S314  # made here


@given(st.text(st.characters(codec=None, exclude_categories=()), max_size=30))
def test_any_text_is_well_formed_xml(words: str) -> None:
    root = parsed(Text(1, 1, words, 3.0), title=words)
    assert len(list(root.iter())) == 4
    svg_text(Page(10, 10, (Text(1, 1, words, 3.0),), words)).encode("utf-8")


def test_the_same_page_gives_the_same_text() -> None:
    page = Page(10, 10, (Text(1, 1, "a", 3.0), Circle(1 / 3, 2, 1, Pen())))
    assert svg_text(page) == svg_text(page)
    assert 'cx="0"' in svg_text(Page(10, 10, (Circle(-0.00001, 0, 1, Pen()),)))
