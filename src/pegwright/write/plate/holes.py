"""The holes of a pattern as a table: CSV with one hole a line, and the same for JSON."""

from __future__ import annotations

from pegwright.columns import tuples
from pegwright.making import HoleKind, Pattern
from pegwright.plate.pattern import plate_angles_deg, plate_start_deg
from pegwright.units import printed
from pegwright.wheel import Wheel, step_name
from pegwright.write.csv_text import Cell, csv_bytes
from pegwright.write.json_text import rounded

COLUMNS = (
    "tool",
    "kind",
    "channel",
    "channel_name",
    "row",
    "row_name",
    "hole",
    "step",
    "x_mm",
    "y_mm",
    "diameter_mm",
    "along_mm",
    "across_mm",
    "plate_deg",
)
DEGREE_DECIMALS = 5  # a hundred-thousandth of a degree is below a micrometre at a radius of five metres


def holes_csv(pattern: Pattern, wheel: Wheel) -> bytes:
    """One line for each hole in the pattern's order, with its angle from step 1 of the turn on each plate."""
    starts = [plate_start_deg(wheel, plate) for plate in pattern.plates]
    header = [*COLUMNS, *(f"turn_deg_plate_{printed(plate)}" for plate in pattern.plates)]
    degree = COLUMNS.index("plate_deg")
    rows = (
        (*row, *(round((float(str(row[degree])) + start) % 360, DEGREE_DECIMALS) for start in starts))
        for row in hole_rows(pattern, wheel)
    )
    return csv_bytes(header, rows)


def hole_rows(pattern: Pattern, wheel: Wheel) -> list[tuple[Cell, ...]]:
    """The cells of every hole by `COLUMNS`; those of channel to step are None for fixing holes.

    Args:
        pattern: with the holes.
        wheel: for names.
    """
    holes = pattern.holes
    lengths = (holes.x_mm, holes.y_mm, holes.diameter_mm, holes.along_mm, holes.across_mm)
    degrees = plate_angles_deg(holes, wheel).tolist()
    whole = tuples(holes.tool, holes.kind, holes.channel, holes.row, holes.index)
    rows = []
    for (tool, kind, *hole), mm, degree in zip(whole, tuples(*lengths), degrees, strict=True):
        rows.append((tool, HoleKind(kind).word, *_place(wheel, *hole), *map(rounded, mm), _degrees(degree)))
    return rows


def _place(wheel: Wheel, channel: int, row: int, index: int) -> tuple[Cell, ...]:
    if channel < 0:
        return (None,) * 6
    names = wheel.channels[channel].name, wheel.rows[row].name
    return printed(channel), names[0], printed(row), names[1], printed(index), step_name(wheel.rows[row], index)


def _degrees(value: float) -> float:
    return round(value, DEGREE_DECIMALS) + 0.0
