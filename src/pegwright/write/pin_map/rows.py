"""Every pin with all its data, for the data files."""

from __future__ import annotations

from pegwright.columns import tuples
from pegwright.grid import across_rim_mm, along_plate_mm
from pegwright.placement import Outcome, Placement
from pegwright.song import FittedTurn
from pegwright.tell.report import note_name
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel
from pegwright.write.csv_text import Cell
from pegwright.write.json_text import rounded

HOLE_COLUMNS = (
    *("channel", "channel_name", "row", "row_name", "hole", "step", "along_mm", "across_mm"),
    *("pin_type", "pin_type_name"),
)
PIN_COLUMNS = ("plate", *HOLE_COLUMNS, "note", "source", "pitch_midi", "pitch", "deviation_ms")


def pin_rows(turn: FittedTurn, wheel: Wheel) -> list[tuple[Cell, ...]]:
    """One row for each pin, in the order of the pin map: by channel, then place in the turn.

    Args:
        turn: the song, or one turn of it.
        wheel: what it was fitted to.

    Returns:
        `PIN_COLUMNS`: the plate, the hole and its pin, then the note that it sounds, all from 1: its number in the
        song, its place in its file, its pitch as written (number and name; of the drum key in a percussion part), and
        hole minus note, later is positive. What is not known is None, and so is the deviation of a pin that holds a
        note on.
    """
    pins = turn.pins
    columns = tuples(pins.channel, pins.plate, pins.row, pins.index, pins.pin_type, pins.note)
    return [
        (printed(plate), *hole_cells(wheel, channel, row, hole, kind), *_note_cells(turn, note, (plate, row, hole)))
        for channel, plate, row, hole, kind, note in columns
    ]


def hole_cells(wheel: Wheel, channel: int, row: int, index: int, pin_type: int) -> tuple[Cell, ...]:
    """A hole and the pin in it as `HOLE_COLUMNS`; every number counts from 1.

    Args:
        wheel: that has the hole.
        channel: what the pin trips, 0-based.
        row: the line of holes within the channel, 0-based.
        index: the hole's number in the row on its plate, 0-based.
        pin_type: the pin to take, 0-based.

    Returns:
        the step is where on the plate the hole is, see `step_text`; lengths are along the rim from the plate's first
        step, and across the rim from the middle of the first channel.
    """
    return (
        printed(channel),
        wheel.channels[channel].name,
        printed(row),
        wheel.rows[row].name,
        printed(index),
        step_text(wheel, row, index),
        rounded(along_plate_mm(wheel, row, index)),
        rounded(across_rim_mm(wheel, channel, row)),
        printed(pin_type),
        wheel.pin_types[pin_type].name,
    )


def step_text(wheel: Wheel, row: int, index: int) -> str:
    """Where on its plate a hole is, in steps that count from 1: `1`, `2.5`, `4 2/3`.

    Args:
        wheel: that has the hole.
        row: its row, 0-based.
        index: its number in the row on a plate, 0-based.
    """
    return fraction_text(wheel.rows[row].position_steps(index) + 1)


def _note_cells(turn: FittedTurn, note: int, hole: tuple[int, int, int]) -> tuple[Cell, ...]:
    """The note of a pin in a hole (plate, row, index)."""
    if note < 0:
        return (None,) * 5
    score = turn.score
    pitch = (int(score.pitch_midi[note]), note_name(score, note))
    return (printed(note + turn.first_note), str(score.source(note)), *pitch, _deviation_ms(turn.placement, note, hole))


def _deviation_ms(placement: Placement, note: int, hole: tuple[int, int, int]) -> float | None:
    own = (int(placement.plate[note]), int(placement.row[note]), int(placement.index[note]))
    placed_here = placement.outcome[note] == Outcome.PLACED and own == hole
    return rounded(placement.deviation_ms[note]) if placed_here else None
