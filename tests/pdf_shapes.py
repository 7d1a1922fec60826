"""Shapes of a page as pdfplumber reads them from a PDF file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

MM = 72 / 25.4  # points


def number_of(colour: Any) -> float:  # noqa: ANN401  # a number or a tuple of one
    return float(colour[0] if isinstance(colour, tuple | list) else colour)


def black_middles_mm(page: Any) -> list[tuple[float, float]]:  # noqa: ANN401  # pdfplumber ships no types
    """Middles in mm of every outline on a page that is filled black, from its upper left corner."""
    shapes = [*page.curves, *page.rects, *page.lines]
    black = [shape for shape in shapes if shape["fill"] and number_of(shape["non_stroking_color"]) == 0.0]
    return [((shape["x0"] + shape["x1"]) / 2 / MM, (shape["top"] + shape["bottom"]) / 2 / MM) for shape in black]


def rings_of(page: Any) -> list[Any]:  # noqa: ANN401  # pdfplumber ships no types
    return [curve for curve in page.curves if curve["stroke"] and curve["fill"] and curve["x1"] - curve["x0"] < 4]


@dataclass(frozen=True)
class Measured:
    """What a ruler and the printed words say of a sheet, in points of its page.

    Args:
        across, down: points in a millimetre of paper, by the two bars of 100 mm.
        scale: millimetres of paper in a millimetre of the rim, as printed.
        step_1: where the line of step 1 is.
        lanes: the lines above and below every channel, from the first to the last.
        rings: the middle of every hole.
    """

    across: float
    down: float
    scale: float
    step_1: float
    lanes: list[float]
    rings: list[tuple[float, float]]


def measured(page: Any, steps: int) -> Measured:  # noqa: ANN401  # pdfplumber ships no types
    """A page of a pin sheet whose plate has so many steps, in one part."""
    flat = [line for line in page.lines if line["top"] == line["bottom"]]
    upright = [line for line in page.lines if line["x0"] == line["x1"]]
    foot = max((line for line in flat if number_of(line["stroking_color"]) == 0.0), key=lambda line: line["top"])
    side = max((line for line in upright if number_of(line["stroking_color"]) == 0.0), key=lambda line: line["x0"])
    words = page.extract_words()
    assert "both bars must measure 100 mm." in page.extract_text()
    (scale,) = re.findall(r"scale 1:([0-9.]+)", page.extract_text())
    rulers = [
        [word for word in words if word["top"] < step["bottom"] and word["bottom"] > step["top"]]
        for step in words
        if step["text"] == "step"
    ]
    ruler = next(row for row in rulers if {"1", str(steps)} <= {word["text"] for word in row})
    first = next(word for word in ruler if word["text"] == "1")
    middle = (first["x0"] + first["x1"]) / 2
    long = [line for line in upright if line["bottom"] - line["top"] > (side["bottom"] - side["top"]) / 4]
    widest = max(line["x1"] - line["x0"] for line in flat)
    return Measured(
        (foot["x1"] - foot["x0"]) / 100,
        (side["bottom"] - side["top"]) / 100,
        1 / float(scale),
        min((line["x0"] for line in long), key=lambda x: abs(x - middle)),
        sorted({round(line["top"], 3) for line in flat if line["x1"] - line["x0"] > widest - 1}),
        [((ring["x0"] + ring["x1"]) / 2, (ring["top"] + ring["bottom"]) / 2) for ring in rings_of(page)],
    )


def pins_missing(page: Any, sheet: Measured, plate: dict[str, Any], away_mm: float) -> list[Any]:  # noqa: ANN401  # as above
    """The pins of a plate of a pin map that have no mark on its sheet, as far from step 1 as the map says.

    Args:
        page: the sheet.
        sheet: its lines, as measured.
        plate: of the map.
        away_mm: how far from its place a mark may be, on paper.
    """
    found = [(x * MM, y * MM) for x, y in black_middles_mm(page)]
    missing = []
    for pin in plate["pins"]:
        above, below = sheet.lanes[pin["channel"] - 1 : pin["channel"] + 1]
        x = sheet.step_1 + pin["along_mm"] * sheet.scale * sheet.across
        if not any(abs(at[0] - x) <= away_mm * sheet.across and above < at[1] < below for at in found):
            missing.append(pin)
    return missing
