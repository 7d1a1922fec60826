"""A gauge and a bend strip as plain text: what they are for, and what to measure on them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import partial

import numpy as np

from pegwright.making import Face, HoleKind, Pattern, PlateFile
from pegwright.plate.bend import k_uncertainty
from pegwright.plate.trial import LADDER_OFF_MM, LADDER_STEP_MM, ladder_mm, strip_lengths_mm, tools_of
from pegwright.units import length_text, plural
from pegwright.wheel import Wheel
from pegwright.write.cautions import MAKE_LINE
from pegwright.write.tables import HANG, LINE_CELLS, Line, TextTable, UncutLine, one_line, paragraphs

GUESS_MM = 0.25  # uncertainty of a length measured with a tape round a rim: common practice, no source
_LABEL_CELLS = 9
_NAME_CELLS = 40


def gauge_text(plate: PlateFile, wheel: Wheel, patterns: Sequence[Pattern], width: int = LINE_CELLS) -> str:
    """What a gauge is and what to measure on it.

    Args:
        plate: with the tools of the ladder.
        wheel: whose plates are to be made.
        patterns: a gauge for each layer with pin holes.
        width: cells of a line.
    """
    text = partial(length_text, unit=wheel.unit)
    measure: list[Line] = [_line(what, words) for what, words in gauge_uses(wheel).items()]
    blocks: list[Sequence[Line]] = [[f"Gauge for the plates of {one_line(wheel.name, LINE_CELLS)}"]]
    for pattern in patterns:
        rungs = ladder_mm(pattern.layer)
        fixings = int(np.count_nonzero(pattern.holes.kind != HoleKind.TRIAL))
        ladder = f"{len(rungs)} rungs from {text(rungs[0])} to {text(rungs[-1])}, {plural(fixings, 'fixing hole')}"
        blocks.append([_line("Part", f"{_size(wheel, pattern)}, {ladder}"), _tools(plate, pattern)])
    return paragraphs([*blocks, measure, [_face(plate)], [MAKE_LINE]], width)


def gauge_uses(wheel: Wheel) -> dict[str, str]:
    """What is found out with each part of a gauge."""
    text, geometry = partial(length_text, unit=wheel.unit), wheel.geometry
    gap_mm = geometry.trail_edge_mm - geometry.lead_edge_mm
    return {
        "Ladder": "find the hole that takes a pin as it should: drilled plastic closes up, so that it can be another"
        f" than you expect. Rungs are {text(LADDER_STEP_MM)} apart up to {text(LADDER_OFF_MM)} under and over; give the"
        " pin holes a [[tool]] of that rung's drill",
        "Seam": "the left end has a plate's leading edge and the right end its trailing edge, so a seam takes two"
        " gauges, or one that is sawn through between its ends. Lay right end against left end with a gap of"
        f" {text(gap_mm, decimals=2)}: the holes on both sides have to be a step apart,"
        f" {text(wheel.step_mm, decimals=3)} on the rim",
        "Fixings": "try dowel, slot, bolts and heads in their holes",
    }


def strip_text(plate: PlateFile, wheel: Wheel, patterns: Sequence[Pattern], width: int = LINE_CELLS) -> str:
    """What a bend strip is, and what to measure on it and to enter.

    Args:
        plate: the plate file.
        wheel: round whose rim it is bent.
        patterns: a strip for each layer.
        width: cells of a line.
    """
    text = partial(length_text, unit=wheel.unit)
    blocks: list[Sequence[Line]] = [[f"Bend strip for the plates of {one_line(wheel.name, LINE_CELLS)}"]]
    for pattern in patterns:
        count, flat_mm, rim_mm = strip_lengths_mm(wheel, pattern)
        layer = pattern.layer
        error = k_uncertainty(layer, rim_mm, GUESS_MM)
        lines: list[Line] = [
            _line("Part", f"{_size(wheel, pattern)}, {plural(count, 'hole')} of {text(layer.hole_diameter_mm)}"),
            _line(
                "Bend",
                f"hold it round the rim, at radius {text(layer.radius_mm)}, with straps or clamps up to both ends",
            ),
            _line(
                "Measure",
                "from the first hole to the last along its outer face, and between the same holes before it is bent."
                f" With k = {layer.k:g} it is {text(rim_mm, decimals=2)}; an uncertainty of {text(GUESS_MM)} makes k"
                f" uncertain by {error:.3f}",
            ),
            _line("Enter", "in the plate file, in place of k:"),
        ]
        entry = [
            "[strip]",
            f"holes = {count}",
            f"flat_mm = {flat_mm:.3f}",
            f"rim_mm = {rim_mm:.3f}      # what you measured",
            f"uncertainty_mm = {GUESS_MM:g}",
        ]
        if len(plate.layers) > 1:
            entry.insert(1, f"layer = {json.dumps(layer.name, ensure_ascii=False)}")
        blocks += [lines, [UncutLine(f"  {each}") for each in entry], [_tools(plate, pattern)]]
    return paragraphs([*blocks, [_face(plate)], [MAKE_LINE]], width)


def _line(label: str, text: str) -> str:
    return f"{label:{_LABEL_CELLS}}  {HANG}{text}"


def _size(wheel: Wheel, pattern: Pattern) -> str:
    length_mm, width_mm = np.ptp(np.array(pattern.outline), axis=0).tolist()
    text = partial(length_text, unit=wheel.unit, decimals=2)
    return f"{one_line(pattern.layer.name, _NAME_CELLS)}, {text(length_mm)} by {text(width_mm)}"


def _tools(plate: PlateFile, pattern: Pattern) -> TextTable:
    rows = []
    for tool in tools_of(plate, pattern):
        holes = int(np.count_nonzero(pattern.holes.tool == tool.number))
        rows.append((str(tool.number), f"{tool.diameter_mm:g}", f"{holes:,}"))
    return TextTable(["Tool", "drill mm", "holes"], rows)


def _face(plate: PlateFile) -> Line:
    up = (
        "outer face up, the one that carries the pins"
        if plate.sheet.face is Face.OUTER
        else ("inner face up, the mirror image of the mounted part")
    )
    return _line("Face up", f"it is drilled with its {up}")
