"""The pins of each plate as CSV, one pin a line."""

from __future__ import annotations

from dataclasses import astuple, fields

from pegwright.placement import PinMap, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel
from pegwright.write.csv_text import csv_bytes
from pegwright.write.pin_map.rows import PinRow, pin_rows


def pin_map_csv(
    score: Score, wheel: Wheel, placement: Placement, pins: PinMap, first_note: int = 0
) -> dict[str, bytes]:
    """One file for each plate, under the name it should have.

    Lines are ordered by channel, then by place along the plate: the order in which a plate is
    pinned. A plate without pins has a file with the header alone.

    Args:
        score: what was fitted: the song, or one turn of it.
        wheel: what it was fitted to.
        placement: its outcome.
        pins: its pin map.
        first_note: how many notes of the song come before the first of the score.

    Returns:
        file name such as `plate-2.csv` -> its bytes; the same for the same input.
    """
    header = [field.name for field in fields(PinRow)]
    rows = pin_rows(score, wheel, placement, pins, first_note)
    return {
        plate_file(plate, wheel.plate_count): csv_bytes(header, (astuple(row) for row in rows if row.plate == plate))
        for plate in range(1, wheel.plate_count + 1)
    }


def plate_file(plate: int, plate_count: int, suffix: str = "csv") -> str:
    """`plate-2.csv`, or `plate-02.csv` among ten or more, so that names sort as plates do.

    Args:
        plate: its printed number, from 1.
        plate_count: plates of the wheel.
        suffix: of the file.
    """
    return f"plate-{plate:0{len(str(plate_count))}}.{suffix}"
