"""DXF drawings of a pattern, R2010 and R12: a circle for every hole, the edge, the marks. The one user of ezdxf."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from typing import TYPE_CHECKING

from pegwright.columns import distinct, tuples
from pegwright.draw.plate_drawing import slot_sides
from pegwright.draw.strokes import mark_strokes
from pegwright.making import Pattern

if TYPE_CHECKING:
    from ezdxf.document import Drawing

OUTLINE, SLOTS, MARKS = "OUTLINE", "SLOTS", "MARKS"
_MILLIMETRES = 4  # Source: DXF reference, header variable $INSUNITS (from memory); the library's $MEASUREMENT is metric
_COLOURS = (1, 92, 150, 32, 200, 6)  # of tools in turn: red, green, blue, brown, violet, magenta, on white and on black
_BLACK, _GREY = 7, 8


class DxfVersion(StrEnum):
    """Versions that are written: R2010 is read by present programs, R12 by every old one."""

    R2010 = "R2010"
    R12 = "R12"


def tool_layer(number: int, pattern: Pattern) -> str:
    """The layer of the circles of a tool: `TOOL-1-OUTER`."""
    return f"TOOL-{number}-{pattern.face.upper()}"


def dxf_bytes(pattern: Pattern, version: DxfVersion) -> bytes:
    """A DXF file of a pattern in mm; the same pattern gives the same bytes.

    Args:
        pattern: what is drilled, cut and engraved.
        version: R12 has no units: its numbers are mm all the same.
    """
    with _quiet_and_fixed():
        return _encoded(_drawing(pattern, version))


@contextmanager
def _quiet_and_fixed() -> Iterator[None]:
    """The library writes no clock, no chance and no version of its own, and logs nothing, for as long as this lasts.

    Its option for that is one for the whole process: it is set and put back here alone.
    """
    from ezdxf import options  # type: ignore[attr-defined]  # noqa: PLC0415  # public; heavy: loaded when first needed

    log = logging.getLogger("ezdxf")
    before, quiet = options.write_fixed_meta_data_for_testing, log.disabled
    options.write_fixed_meta_data_for_testing = True
    log.disabled = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
        log.disabled = quiet


def _drawing(pattern: Pattern, version: DxfVersion) -> Drawing:
    from ezdxf.filemanagement import new  # noqa: PLC0415  # as above

    drawing = new(version.value, setup=False)
    if version is not DxfVersion.R12:
        drawing.header["$INSUNITS"] = _MILLIMETRES
    tools = distinct(pattern.holes.tool).tolist()
    for place, number in enumerate(tools):
        drawing.layers.add(tool_layer(number, pattern), color=_COLOURS[place % len(_COLOURS)])
    for name, colour in ((OUTLINE, _BLACK), (SLOTS, _BLACK), (MARKS, _GREY)):
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    layer_of = {number: tool_layer(number, pattern) for number in tools}
    holes = pattern.holes
    for x_mm, y_mm, diameter_mm, tool in tuples(holes.x_mm, holes.y_mm, holes.diameter_mm, holes.tool):
        space.add_circle((x_mm, y_mm), diameter_mm / 2, dxfattribs={"layer": layer_of[tool]})
    line = space.add_polyline2d if version is DxfVersion.R12 else space.add_lwpolyline
    line(pattern.outline, close=True, dxfattribs={"layer": OUTLINE})
    for side in slot_sides(pattern):
        line(side, dxfattribs={"layer": SLOTS})
    for stroke in mark_strokes(pattern.marks):
        line(stroke, dxfattribs={"layer": MARKS})
    return drawing


def _encoded(drawing: Drawing) -> bytes:
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue().encode(drawing.output_encoding)
