"""Every pin with all its data, for the data files."""

from __future__ import annotations

from pegwright.columns import tuples
from pegwright.grid import across_rim_mm, along_plate_mm
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.song import FittedTurn
from pegwright.tell.report import note_name
from pegwright.units import pitch_name, printed
from pegwright.wheel import Channel, Wheel, step_name
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


def pin_rows(turn: FittedTurn, wheel: Wheel) -> list[tuple[Cell, ...]]:
    """One row for each pin, in the order of the pin map: by channel, then place in the turn.

    Args:
        turn: the song, or one turn of it.
        wheel: what it was fitted to.

    Returns:
        `PIN_COLUMNS`: the plate, the hole and its pin, then the note that it sounds, all from 1: its number in the
        song, its place in its file, its pitch as written (number and name; of the drum key in a percussion part), the
        pitch of the channel that sounds it, and hole minus note, later is positive. What is not known is None, and so
        is the deviation of a pin that holds a note on.
    """
    pins = turn.pins
    columns = tuples(pins.channel, pins.plate, pins.row, pins.index, pins.pin_type, pins.note)
    return [
        (
            printed(plate),
            *hole_cells(wheel, channel, row, hole, kind),
            *_note_cells(turn, wheel, note, (channel, plate, row, hole)),
        )
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
        the step is where on the plate the hole is, see `step_name`; lengths are along the rim from the plate's first
        step, and across the rim from the middle of the first channel.
    """
    return (
        printed(channel),
        wheel.channels[channel].name,
        printed(row),
        wheel.rows[row].name,
        printed(index),
        step_name(wheel.rows[row], index),
        rounded(along_plate_mm(wheel, row, index)),
        rounded(across_rim_mm(wheel, channel, row)),
        printed(pin_type),
        wheel.pin_types[pin_type].name,
    )


def _note_cells(turn: FittedTurn, wheel: Wheel, note: int, hole: tuple[int, int, int, int]) -> tuple[Cell, ...]:
    """The note of a pin in a hole (channel, plate, row, index)."""
    if note < 0:
        return (None,) * len(NOTE_COLUMNS)
    score = turn.score
    written = (int(score.pitch_midi[note]), note_name(score, note))
    own = _channel_pitch(turn, wheel.channels[hole[0]], note)
    deviation = _deviation_ms(turn.placement, note, hole[1:])
    return (printed(note + turn.first_note), str(score.source(note)), *written, *own, deviation)


def _channel_pitch(turn: FittedTurn, channel: Channel, note: int) -> tuple[int, str]:
    """The pitch, or the percussion key, by which a channel sounds a note: what transposing and folding made of it."""
    score, placement, written = turn.score, turn.placement, int(turn.score.pitch_midi[note])
    if score.parts[int(score.part[note])].percussion:
        key = dict(placement.drum_keys).get(written, written)
        return key, drum_key_name(key)
    wanted = written + placement.transpose_semitones
    own = [pitch for pitch in channel.pitches if (pitch - wanted) % 12 == 0] or [wanted]
    pitch = min(own, key=lambda pitch: (abs(pitch - wanted), pitch))
    return pitch, pitch_name(pitch)


def _deviation_ms(placement: Placement, note: int, hole: tuple[int, int, int]) -> float | None:
    own = (int(placement.plate[note]), int(placement.row[note]), int(placement.index[note]))
    placed_here = placement.outcome[note] == Outcome.PLACED and own == hole
    return rounded(placement.deviation_ms[note]) if placed_here else None
