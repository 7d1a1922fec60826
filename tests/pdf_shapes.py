"""Shapes of a page as pdfplumber reads them from a PDF file."""

from __future__ import annotations

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
