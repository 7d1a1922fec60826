"""Every pin with all its data, for the data files."""

from __future__ import annotations

from pegwright.columns import tuples
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.song import FittedTurn, PinnedTurn, PinNote
from pegwright.tell.report import note_name
from pegwright.units import pitch_name, printed
from pegwright.wheel import Channel, Wheel
from pegwright.write.csv_text import Cell
from pegwright.write.json_text import rounded
from pegwright.write.pin_map.columns import HOLE_COLUMNS, NOTE_COLUMNS, PIN_COLUMNS, hole_cells

__all__ = ["HOLE_COLUMNS", "NOTE_COLUMNS", "PIN_COLUMNS", "hole_cells", "pin_rows"]


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


def map_rows(turn: PinnedTurn, wheel: Wheel) -> list[tuple[Cell, ...]]:
    """The same for pins whose score is not known, each with what its pin map says of its note.

    Args:
        turn: by its pins.
        wheel: what it is pinned on.
    """
    pins = turn.pins
    columns = tuples(pins.channel, pins.plate, pins.row, pins.index, pins.pin_type)
    cells = [
        (note.number, note.source, *_pitches(note), note.deviation_ms)
        for note in turn.notes or [PinNote()] * len(columns)
    ]
    return [
        (printed(plate), *hole_cells(wheel, channel, row, hole, kind), *of_note)
        for (channel, plate, row, hole, kind), of_note in zip(columns, cells, strict=True)
    ]


def _pitches(note: PinNote) -> tuple[Cell, ...]:
    """The written pitch of a note and that of the channel that sounds it, each as number and name."""
    return note.written_pitch_midi, note.written_pitch, note.channel_pitch_midi, note.channel_pitch


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
