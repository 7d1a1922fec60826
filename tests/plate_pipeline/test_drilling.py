"""Every file of a plate has the same holes, and the same plate gives the same bytes."""

from __future__ import annotations

import csv
import io
import logging
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pdfplumber
import pytest
from ezdxf import options  # type: ignore[attr-defined]  # public, though not listed
from ezdxf.colors import aci2rgb
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.filemanagement import read as read_dxf

import rs274
from documents import page_texts
from pdf_shapes import MM
from pegwright.cautions import MAKE
from pegwright.columns import Floats
from pegwright.config.plate_file import load_plate
from pegwright.draw.check_template import check_template, on_page, tiles
from pegwright.draw.paper import A3, A4, LETTER, Paper
from pegwright.draw.plate_drawing import BORDER_MM, box_mm
from pegwright.errors import InternalError
from pegwright.making import Face, Pattern, PlateFile
from pegwright.plate.jig import jigs
from pegwright.plate.pattern import patterns
from pegwright.plate.trial import gauges, with_ladder_tools
from pegwright.plate.verify import verify_programs
from pegwright.plate_pipeline import drilling
from pegwright.plate_pipeline.drilling import drilling_files
from pegwright.plate_pipeline.files import pattern_files
from pegwright.plate_pipeline.request import ShopRequest
from pegwright.wheel import Wheel
from pegwright.write.dxf import DxfVersion, dxf_bytes
from pegwright.write.pdf import pdf_bytes
from places import SONGS

HOSTILE = 'Zoë\'s "wheel" (MSG, go); %\r\n$H </svg><!--  {} \\P ' + "\N{CJK UNIFIED IDEOGRAPH-97F3}"


@pytest.fixture(scope="module")
def demo() -> tuple[PlateFile, Wheel]:
    return load_plate(SONGS / "merrow-sands-plate.toml")


@pytest.fixture(scope="module", params=list(Face))
def part(demo: tuple[PlateFile, Wheel], request: pytest.FixtureRequest) -> tuple[Pattern, dict[str, bytes]]:
    """The pattern of the demo plate, from each face, and its files."""
    plate, wheel = demo
    plate = replace(plate, sheet=replace(plate.sheet, face=request.param))
    (pattern,) = patterns(plate, wheel)
    return pattern, pattern_files(plate, wheel, pattern, ShopRequest())


def sorted_rows(rows: object) -> Floats:
    table: Floats = np.array(rows, dtype=np.float64)
    return table[np.lexsort(table.T[::-1])]


def off_mm(rows: object, pattern: Pattern) -> float:
    """How far centres and diameters read back are off the pattern."""
    holes = pattern.holes
    own = np.column_stack([holes.x_mm, holes.y_mm, holes.diameter_mm])
    read = np.array(rows, dtype=np.float64)
    assert read.shape == own.shape
    # Places to a hundredth decide the order, so that a rounding cannot part a pair.
    order, read_order = (np.lexsort(np.round(table, 1).T[::-1]) for table in (own, read))
    return float(np.abs(own[order] - read[read_order]).max())


def test_csv_has_the_pattern(part: tuple[Pattern, dict[str, bytes]]) -> None:
    pattern, files = part
    rows = csv.DictReader(io.StringIO(files["holes.csv"].decode()))
    assert off_mm([[row[name] for name in ("x_mm", "y_mm", "diameter_mm")] for row in rows], pattern) < 0.01


@pytest.mark.parametrize("version", ["r2010", "r12"])
def test_dxf_has_the_pattern_in_mm(part: tuple[Pattern, dict[str, bytes]], version: str) -> None:
    pattern, files = part
    drawing = read_dxf(io.StringIO(files[f"plate-{version}.dxf"].decode("ascii")))
    audit = drawing.audit()
    assert not audit.errors
    assert not audit.fixes
    circles = list(drawing.modelspace().query("CIRCLE"))
    assert off_mm([(c.dxf.center.x, c.dxf.center.y, 2 * c.dxf.radius) for c in circles], pattern) < 0.01
    assert {circle.dxf.layer for circle in circles} == {f"TOOL-{tool}-{pattern.face.upper()}" for tool in (1, 2, 3, 4)}
    (edge,) = drawing.modelspace().query("*[layer=='OUTLINE']")
    assert isinstance(edge, LWPolyline | Polyline)
    assert edge.is_closed
    assert len(drawing.modelspace().query("*[layer=='MARKS']")) > 100
    assert len(drawing.modelspace().query("*[layer=='SLOTS']")) == 2
    if version == "r2010":
        assert (drawing.header["$INSUNITS"], drawing.header["$MEASUREMENT"]) == (4, 1)
        assert drawing.dxfversion == "AC1024"
    else:
        assert drawing.dxfversion == "AC1009"


def test_every_layer_of_a_drawing_shows_on_white_and_on_black() -> None:
    """Source: WCAG 2.1, success criterion 1.4.11: a contrast of at least 3 to 1, by its relative luminance."""

    def luminance(red: int, green: int, blue: int) -> float:
        shares = [
            c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in np.array([red, green, blue]) / 255
        ]
        return float(np.dot([0.2126, 0.7152, 0.0722], shares))

    plate, on = load_plate(SONGS / "merrow-sands-plate.toml")
    (gauge,) = gauges(with_ladder_tools(plate), on)
    layers = read_dxf(io.StringIO(dxf_bytes(gauge, DxfVersion.R2010).decode("ascii"))).layers
    colours = {layer.color for layer in layers if layer.dxf.name.startswith(("TOOL", "MARKS"))}
    assert len(colours) == 7, "16 drills in six colours, and grey"
    for colour in colours:
        grey = luminance(*aci2rgb(colour))
        assert min(1.05 / (grey + 0.05), (grey + 0.05) / 0.05) >= 3, colour


def test_svg_has_the_pattern_at_true_size(part: tuple[Pattern, dict[str, bytes]]) -> None:
    pattern, files = part
    root = ElementTree.fromstring(files["plate.svg"])  # noqa: S314  # our own
    width, height = (float(root.attrib[name].removesuffix("mm")) for name in ("width", "height"))
    assert root.attrib["viewBox"].split() == [
        "0",
        "0",
        *(root.attrib[name].removesuffix("mm") for name in ("width", "height")),
    ]
    left, low, right, high = box_mm(pattern)
    assert (width, height) == pytest.approx((right - left + 2 * BORDER_MM, high - low + 2 * BORDER_MM), abs=0.001)
    circles = [circle.attrib for circle in root.iter("{http://www.w3.org/2000/svg}circle")]
    rows = [(float(c["cx"]) - BORDER_MM + left, high + BORDER_MM - float(c["cy"]), 2 * float(c["r"])) for c in circles]
    assert off_mm(rows, pattern) < 0.01
    lines = [line.attrib["points"].split() for line in root.iter("{http://www.w3.org/2000/svg}polyline")]
    points = [np.array([point.split(",") for point in line], dtype=float) for line in lines]
    bars = [np.hypot(*(line[1] - line[0])) for line in points]
    assert sum(abs(bar - 100) < 0.001 for bar in bars) == 2


@pytest.mark.parametrize("form", ["canned", "plain"])
def test_programs_have_the_pattern(
    part: tuple[Pattern, dict[str, bytes]], form: str, demo: tuple[PlateFile, Wheel]
) -> None:
    pattern, files = part
    rows = []
    for name, text in files.items():
        if name.endswith(f"-{form}.ngc"):
            tool = int(name.split("-")[3])
            diameter = next(each.diameter_mm for each in demo[0].tools if each.number == tool)
            bottoms = {move.end for move in rs274.interpret(text.decode("ascii")).moves if move.end[2] == -7.6}
            rows += [(x, y, diameter) for x, y, _ in bottoms]
    assert off_mm(rows, pattern) < 0.01


def centres_on(pdf: bytes, pattern: Pattern, paper: Paper) -> list[tuple[float, float, float]]:
    """Holes of a template's pages on the table, each once though tiles overlap."""
    seen: dict[tuple[float, float], tuple[float, float, float]] = {}
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page, tile in zip(document.pages, tiles(pattern, paper), strict=True):
            zero_x, zero_y = on_page(tile, 0.0, 0.0)
            for curve in page.curves:
                width = (curve["x1"] - curve["x0"]) / MM
                if abs(width - (curve["bottom"] - curve["top"]) / MM) < 0.01 and width > 2:
                    x = (curve["x0"] + curve["x1"]) / 2 / MM - zero_x
                    y = zero_y - (curve["top"] + curve["bottom"]) / 2 / MM
                    seen[round(x, 1), round(y, 1)] = (x, y, width)
    return list(seen.values())


def test_the_template_has_the_pattern(part: tuple[Pattern, dict[str, bytes]]) -> None:
    pattern, files = part
    assert off_mm(centres_on(files["plate-check-a4.pdf"], pattern, A4), pattern) < 0.05


@pytest.mark.parametrize("paper", [A3, LETTER])
def test_the_template_has_the_pattern_on_other_papers(part: tuple[Pattern, dict[str, bytes]], paper: Paper) -> None:
    pattern, _ = part
    pdf = pdf_bytes(check_template(pattern, "wheel", paper), "template")
    assert off_mm(centres_on(pdf, pattern, paper), pattern) < 0.05


def test_a_plate_drilled_from_its_inner_face_is_the_mirror_image(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    read = []
    for face in Face:
        turned = replace(plate, sheet=replace(plate.sheet, face=face))
        (pattern,) = patterns(turned, wheel)
        data = pattern_files(turned, wheel, pattern, ShopRequest())["plate-r12.dxf"]
        circles = read_dxf(io.StringIO(data.decode("ascii"))).modelspace().query("CIRCLE")
        read.append(sorted_rows([(c.dxf.center.x, abs(c.dxf.center.y), c.dxf.radius) for c in circles]))
        signs = np.sign([c.dxf.center.y for c in circles if abs(c.dxf.center.y) > 20])
        assert (signs == (-1 if face is Face.OUTER else 1)).all()
    outer, inner = read
    assert np.allclose(outer, inner)


def test_the_same_plate_gives_the_same_bytes_and_options_of_the_library_stay(
    demo: tuple[PlateFile, Wheel], part: tuple[Pattern, dict[str, bytes]], caplog: pytest.LogCaptureFixture
) -> None:
    before = options.write_fixed_meta_data_for_testing
    plate, wheel = demo
    pattern, files = part
    plate = replace(plate, sheet=replace(plate.sheet, face=pattern.face))
    with caplog.at_level(logging.DEBUG):
        assert pattern_files(plate, wheel, pattern, ShopRequest()) == files
    assert options.write_fixed_meta_data_for_testing is before is False
    assert not logging.getLogger("ezdxf").disabled
    assert not [record for record in caplog.records if record.name.startswith("ezdxf")]


def test_hostile_names_do_no_harm(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    (pattern,) = patterns(plate, wheel)
    material = replace(pattern.layer.material, name=HOSTILE)
    pattern = replace(pattern, title=HOSTILE, layer=replace(pattern.layer, material=material, name=HOSTILE))
    files = drilling_files(plate, HOSTILE, pattern, ShopRequest())
    assert all(re.fullmatch(r"[a-z0-9.-]+", name) for name in files)
    for name, data in files.items():
        if name.endswith(".ngc"):
            rs274.interpret(data.decode("ascii"))
        elif name.endswith(".dxf"):
            assert not read_dxf(io.StringIO(data.decode("ascii"))).audit().errors
        elif name.endswith(".svg"):
            root = ElementTree.fromstring(data)  # noqa: S314  # our own
            title = root.find("{http://www.w3.org/2000/svg}title")
            assert title is not None
            assert "</svg>" in str(title.text)
        else:
            assert page_texts(data)


def test_a_program_that_the_check_refuses_is_not_written(
    demo: tuple[PlateFile, Wheel], monkeypatch: pytest.MonkeyPatch
) -> None:
    plate, wheel = demo
    (pattern,) = patterns(plate, wheel)
    deeper = replace(pattern, layer=replace(pattern.layer, thickness_mm=5.0))
    monkeypatch.setattr(drilling, "verify_programs", lambda _, *given: verify_programs(deeper, *given))
    with pytest.raises(InternalError, match=r"broke \d+ rules, the first: program 1, line \d+: it goes to"):
        drilling_files(plate, wheel.name, pattern, ShopRequest())


def test_files_of_a_controller_without_cycles(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    plate = replace(plate, machine=replace(plate.machine, canned=False))
    (pattern,) = patterns(plate, wheel)
    names = [name for name in drilling_files(plate, wheel.name, pattern, ShopRequest()) if name.endswith(".ngc")]
    assert names == [f"plate-{number}-tool-{tool}-plain.ngc" for number, tool in enumerate((2, 3, 4, 1), 1)]


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page_texts(pdf)).split())


def test_the_set_up_sheet_says_what_a_shop_needs(part: tuple[Pattern, dict[str, bytes]]) -> None:
    pattern, files = part
    words = words_of(files["plate-set-up-a4.pdf"])
    edge = "upper" if pattern.face is Face.OUTER else "lower"
    for sentence in (
        f"{pattern.face} face up",
        f"step 1 at the left, channel 1 at the {edge} edge",
        "mounted, the plate moves towards its left edge",
        "X0 is step 1",
        "plate-1-tool-2-canned.ngc or plate-1-tool-2-plain.ngc: tool 2, drill of 3.4 mm",
        "2,120 holes for pins; takes at least 127.3 min: drilling 78.5, moving 48.8; 24.17 m over the sheet.",
        "All of them take at least 129 min: drilling 79, moving 50.",
        "Cut out the webs of 1.0 mm between the 2 holes of every slot of 5 x 11 mm, and file its sides straight.",
        "Countersink on the outer face: bolt holes of 3.4 mm for heads of 5.8 mm",
        "The machine's manual, local rules and licensed practice come first.",
    ):
        assert sentence in words


@pytest.mark.parametrize(
    ("slot_mm", "slot_drill", "sentence"),
    [
        (17, False, "Cut out the webs of 1.0 mm between the 3 holes of every slot of 5 x 17 mm, and file its sides"),
        (8, False, "Drill one end of every slot of 5 x 8 mm alone, or both with a cutter that cuts on its face"),
        (
            10,
            True,
            "File off the ridges of 0.08 mm that 5 overlapping holes leave at the sides of every slot of 5 x 10 mm",
        ),
    ],
)
def test_the_set_up_sheet_says_what_is_left_to_do_at_slots(slot_mm: float, slot_drill: bool, sentence: str) -> None:
    plate, on = load_plate(SONGS / "merrow-sands-plate.toml")
    fixings = tuple(replace(each, slot_mm=slot_mm) if each.slot_mm else each for each in plate.fixings)
    tools = tuple(replace(each, slot_drill=slot_drill and each.diameter_mm == 5) for each in plate.tools)
    plate = replace(plate, fixings=fixings, tools=tools)
    (pattern,) = patterns(plate, on)
    files = pattern_files(plate, on, pattern, ShopRequest())
    assert sentence in words_of(files["plate-set-up-a4.pdf"])


def test_the_set_up_sheet_names_a_corner_that_is_there_before_the_edge_is_cut(
    part: tuple[Pattern, dict[str, bytes]],
) -> None:
    """The outline's lower left corner by hand; a blank that is 5 mm larger has its own 5 mm farther left and lower."""
    pattern, files = part
    words = words_of(files["plate-set-up-a4.pdf"])
    low = -342 if pattern.face is Face.OUTER else -20
    assert f"lower left corner of a blank of just that size, the machine must show X-4.969 Y{low:.3f}; take" in words
    assert f"with 5 mm at both, X-9.969 Y{low - 5:.3f}." in words
    assert "corner of the cut sheet" not in words
    assert words.index("corner of a blank") < words.index("Cut the edge and deburr both faces")


def test_the_cautions_stand_on_the_first_page_before_the_work(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    tooled = with_ladder_tools(plate)
    for each, pattern in ((plate, patterns(plate, wheel)[0]), (tooled, gauges(tooled, wheel)[0])):
        for paper in (A4, LETTER):
            files = drilling_files(each, wheel.name, pattern, ShopRequest(paper=paper))
            texts = page_texts(files[f"{pattern.name}-set-up-{paper.name}.pdf"])
            pages = [" ".join(text.split()) for text in texts]
            first, _, rest = " ".join(pages).partition("Programs, in this order")
            assert rest
            assert all(caution in pages[0] and caution in first for caution in MAKE)


def test_the_template_says_what_it_is_for(part: tuple[Pattern, dict[str, bytes]]) -> None:
    words = words_of(part[1]["plate-check-a4.pdf"])
    assert words.count("look for a hole forgotten or one too many") == 6
    assert words.count("both bars must measure 100 mm") == 6
    assert "Never set out or drill from paper" in words


def test_what_is_written_on_a_jig_is_what_it_is_for(demo: tuple[PlateFile, Wheel]) -> None:
    plate, wheel = demo
    (pattern,) = patterns(plate, wheel)
    made = [
        (pattern, (), "the plate's number"),
        *((jig, ("Use it.",), "its rows") for jig in jigs(plate, wheel, [pattern])),
    ]
    for each, use, named in made:
        files = pattern_files(plate, wheel, each, ShopRequest(use=use))
        words = " ".join(page_texts(files[f"{each.name}-set-up-a4.pdf"])[-1].split())
        assert f"Cut the edge and deburr both faces, and write {named} on it." in words
