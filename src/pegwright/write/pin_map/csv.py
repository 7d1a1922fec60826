"""The pins of each plate as CSV, one pin a line."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.song import FittedSong
from pegwright.write.csv_text import Cell, csv_bytes
from pegwright.write.pin_map.columns import PIN_COLUMNS, plate_file
from pegwright.write.pin_map.rows import pin_rows


def pin_map_csv(song: FittedSong, pinning: int = 0, rows: Sequence[tuple[Cell, ...]] | None = None) -> dict[str, bytes]:
    """One file for each plate, under the name it should have.

    Lines are ordered by channel, then by place along the plate: the order in which a plate is
    pinned. A plate without pins has a file with the header alone.

    Args:
        song: on its wheel.
        pinning: which of its sets of plates, 0-based.
        rows: of its pins (`pin_rows`), where they have been made already.

    Returns:
        file name such as `plate-2.csv` -> its bytes; the same for the same input.
    """
    rows = pin_rows(song.pinnings[pinning], song.wheel) if rows is None else rows
    return plates_csv(rows, song.wheel.plate_count)


def plates_csv(rows: Sequence[tuple[Cell, ...]], count: int) -> dict[str, bytes]:
    """One file for each plate, under the name it should have.

    Args:
        rows: of all pins, as `pin_rows` gives them.
        count: plates of the wheel.
    """
    return {
        plate_file(plate, count): csv_bytes(PIN_COLUMNS, (row for row in rows if row[0] == plate))
        for plate in range(1, count + 1)
    }
