"""What cutting an edge of a plate back costs, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.json_value import Json
from pegwright.plate.cutting import Cut, CutHole
from pegwright.units import LengthUnit, length_text, listed, plural, printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import rounded
from pegwright.write.tables import HANG, LINE_CELLS, Line, one_line, paragraphs


def cut_text(wheel: Wheel, cut: Cut, song: str | None, width: int = LINE_CELLS) -> str:
    """The holes that each edge loses, and what fills the cut.

    Args:
        wheel: the wheel.
        cut: what it costs.
        song: the name of the file whose pins were counted; None for none.
        width: cells of a line.
    """
    lines: list[Line] = [f"Cutting an edge back by {_length(cut.cut_mm, wheel.unit)}:"]
    lines += [
        f"{name}  {HANG}{_holes(wheel, holes, song)}"
        for name, holes in (("leading edge", cut.leading), ("trailing edge", cut.trailing))
    ]
    if cut.shims_mm:
        shims = " + ".join(_length(each, wheel.unit) for each in cut.shims_mm)
        left = "" if abs(cut.left_mm) < 0.005 else f"; {_length(cut.left_mm, wheel.unit)} are left"
        lines.append(f"filled by  {HANG}{shims}{left}")
    else:
        lines.append(f"filled by  {HANG}none of the shims of [held]")
    return "\n" + paragraphs([lines], width)


def _length(length_mm: float, unit: LengthUnit) -> str:
    return length_text(length_mm, unit, 2)


def _holes(wheel: Wheel, holes: Sequence[CutHole], song: str | None) -> str:
    if not holes:
        return "loses no hole"
    names = [
        f"hole {printed(hole.index)} of row {wheel.rows[hole.row].name} (step {hole.along_mm / wheel.step_mm + 1:.4g})"
        for hole in holes
    ]
    words = f"every plate that is cut loses {listed(names)}"
    if song is None:
        return words
    pins = sum(hole.pins for hole in holes)
    return f"{words}; {plural(pins, 'pin') if pins else 'no pins'} of {one_line(song, 40)} in all plates stand there"


def cut_json(cut: Cut) -> Json:
    """The same for programs."""
    return {
        "cut_mm": rounded(cut.cut_mm),
        "leading": [_hole(hole) for hole in cut.leading],
        "trailing": [_hole(hole) for hole in cut.trailing],
        "shims_mm": list(map(rounded, cut.shims_mm)),
        "left_mm": rounded(cut.left_mm),
    }


def _hole(hole: CutHole) -> Json:
    return {
        "row": printed(hole.row),
        "hole": printed(hole.index),
        "along_mm": rounded(hole.along_mm),
        "pins": hole.pins,
    }
