"""The columns of pins in data files, and the cells of a hole; what is known of a pin without its score."""

from __future__ import annotations

from functools import lru_cache

from pegwright.grid import across_rim_mm, along_plate_mm
from pegwright.units import printed
from pegwright.wheel import Wheel, step_name
from pegwright.write.csv_text import Cell
from pegwright.write.json_text import rounded

HOLE_COLUMNS = (
    *("channel", "channel_name", "row", "row_name", "hole", "step", "along_mm", "across_mm"),
    *("pin_type", "pin_type_name"),
)
NOTE_COLUMNS = (
    *("note", "source", "written_pitch_midi", "written_pitch", "channel_pitch_midi", "channel_pitch"),
    "deviation_ms",
)
PIN_COLUMNS = ("plate", *HOLE_COLUMNS, *NOTE_COLUMNS)


def plate_file(plate: int, plate_count: int) -> str:
    """`plate-2.csv`, or `plate-02.csv` among ten or more, so that names sort as plates do.

    Args:
        plate: its printed number, from 1.
        plate_count: plates of the wheel.
    """
    return f"plate-{plate:0{len(str(plate_count))}}.csv"


def hole_cells(wheel: Wheel, channel: int, row: int, index: int, pin_type: int) -> tuple[Cell, ...]:
    """A hole and the pin in it as `HOLE_COLUMNS`; every number counts from 1.

    Args:
        wheel: that has the hole.
        channel: what the pin trips, 0-based.
        row: the line of holes within the channel, 0-based.
        index: the hole's number in the row on its plate, 0-based.
        pin_type: the pin to take, 0-based.

    Returns:
        the step is where on the plate the hole is, see `step_name`; lengths are along the rim from the plate's first
        step, and across the rim from the middle of the first channel.
    """
    return (
        printed(channel),
        wheel.channels[channel].name,
        printed(row),
        wheel.rows[row].name,
        printed(index),
        *_along_cells(wheel, row, index),
        rounded(across_rim_mm(wheel, channel, row)),
        printed(pin_type),
        wheel.pin_types[pin_type].name,
    )


@lru_cache(maxsize=4096)  # many pins are at one place of their plates
def _along_cells(wheel: Wheel, row: int, index: int) -> tuple[Cell, Cell]:
    """The step of a hole, and how far along its plate it is."""
    return step_name(wheel.rows[row], index), rounded(along_plate_mm(wheel, row, index))
