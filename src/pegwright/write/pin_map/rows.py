"""Every pin with all its data, for the data files."""

from __future__ import annotations

from dataclasses import dataclass

from pegwright.grid import across_rim_mm, along_plate_mm
from pegwright.placement import Outcome, PinMap, Placement
from pegwright.score import Score
from pegwright.tell.report import note_name
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel
from pegwright.write.json_text import rounded


@dataclass(frozen=True, slots=True)
class PinRow:
    """One pin; every number counts from 1. The fields are the columns and keys of the files.

    Args:
        plate: that it is on.
        channel, channel_name: what it trips.
        row, row_name: the line of holes within the channel.
        hole: within that row on that plate.
        step: where on the plate, in steps: `1` is the plate's first step, `2.5` half-way from the second to the third.
        along_mm: along the rim from the plate's first step.
        across_mm: across the rim from the middle of the first channel.
        pin_type, pin_type_name: the pin to take.
        note: the note it sounds, in the order of the score; None where that is not known.
        source: the place of that note in its file.
        pitch_midi, pitch: of that note as written, number and name; of the drum key in a percussion part.
        deviation_ms: hole minus note, later is positive; None for a pin that holds a note on.
    """

    plate: int
    channel: int
    channel_name: str
    row: int
    row_name: str
    hole: int
    step: str
    along_mm: float
    across_mm: float
    pin_type: int
    pin_type_name: str
    note: int | None
    source: str | None
    pitch_midi: int | None
    pitch: str | None
    deviation_ms: float | None


def pin_rows(score: Score, wheel: Wheel, placement: Placement, pins: PinMap, first_note: int = 0) -> tuple[PinRow, ...]:
    """One row for each pin, in the order of the pin map: by channel, then place in the turn.

    Args:
        score: what was fitted: the song, or one turn of it.
        wheel: what it was fitted to.
        placement: its outcome.
        pins: its pin map.
        first_note: how many notes of the song come before the first of the score.
    """
    return tuple(_pin_row(score, wheel, placement, pins, number, first_note) for number in range(pins.pin_count))


def _pin_row(score: Score, wheel: Wheel, placement: Placement, pins: PinMap, number: int, first_note: int) -> PinRow:
    channel, plate, row, index, pin_type, note = (
        int(column[number]) for column in (pins.channel, pins.plate, pins.row, pins.index, pins.pin_type, pins.note)
    )
    return PinRow(
        plate=printed(plate),
        channel=printed(channel),
        channel_name=wheel.channels[channel].name,
        row=printed(row),
        row_name=wheel.rows[row].name,
        hole=printed(index),
        step=step_text(wheel, row, index),
        along_mm=rounded(along_plate_mm(wheel, row, index)),
        across_mm=rounded(across_rim_mm(wheel, channel, row)),
        pin_type=printed(pin_type),
        pin_type_name=wheel.pin_types[pin_type].name,
        note=None if note < 0 else printed(note + first_note),
        source=None if note < 0 else str(score.source(note)),
        pitch_midi=None if note < 0 else int(score.pitch_midi[note]),
        pitch=None if note < 0 else note_name(score, note),
        deviation_ms=_deviation_ms(placement, note, (plate, row, index)),
    )


def step_text(wheel: Wheel, row: int, index: int) -> str:
    """Where on its plate a hole is, in steps that count from 1: `1`, `2.5`, `4 2/3`.

    Args:
        wheel: that has the hole.
        row: its row, 0-based.
        index: its number in the row on a plate, 0-based.
    """
    return fraction_text(wheel.rows[row].position_steps(index) + 1)


def _deviation_ms(placement: Placement, note: int, hole: tuple[int, int, int]) -> float | None:
    if note < 0 or placement.outcome[note] != Outcome.PLACED:
        return None
    own = (int(placement.plate[note]), int(placement.row[note]), int(placement.index[note]))
    return rounded(placement.deviation_ms[note]) if own == hole else None
