"""Holes and pins in words: as they are printed, and as they are read back."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pegwright.correct.values import Edit, HandPin, Hole, Verb
from pegwright.grid import Loss, edge_loss
from pegwright.units import printed
from pegwright.wheel import Wheel, step_name

_PLAIN_NAME = re.compile(r"[^,'\"():]+")  # of a channel that can be named in brackets after its number


def channel_words(wheel: Wheel, channel: int) -> str:
    """A channel by number and name: `channel 7 (chime F5)`."""
    name = wheel.channels[channel].name if channel < len(wheel.channels) else ""
    shown = f" ({name})" if _PLAIN_NAME.fullmatch(name) and " to " not in name else ""
    return f"channel {printed(channel)}{shown}"


def hole_words(wheel: Wheel, hole: Hole) -> str:
    """A hole as it is typed in an edit: `plate 3, channel 7 (chime F5), step 12.5 half`."""
    return f"plate {printed(hole.plate)}, {channel_words(wheel, hole.channel)}, {step_words(wheel, hole)}"


def step_words(wheel: Wheel, hole: Hole) -> str:
    """Where on its plate a hole is: `step 12.5 half`; by numbers where the wheel does not have its row."""
    if hole.row >= len(wheel.rows):
        return f"row {printed(hole.row)}, hole {printed(hole.number)}"
    row = wheel.rows[hole.row]
    return f"step {step_name(row, hole.number)} {row.name}"


def type_name(wheel: Wheel, pin_type: int) -> str:
    """The name of a pin type; its number where the wheel does not have it."""
    known = pin_type < len(wheel.pin_types)
    return wheel.pin_types[pin_type].name if known else f"pin type {printed(pin_type)}"


def pin_words(wheel: Wheel, pin: HandPin) -> str:
    """A pin with its hole: `plate 3, channel 7 (chime F5), step 12.5 half, late`."""
    return f"{hole_words(wheel, pin.hole)}, {type_name(wheel, pin.pin_type)}"


def edit_words(wheel: Wheel, edit: Edit) -> str:
    """An edit as it can be typed, without the letter of its set of plates."""

    def words(hole: Hole, pin_type: int | None) -> str:
        return hole_words(wheel, hole) if pin_type is None else pin_words(wheel, HandPin(hole, pin_type))

    first = f"{edit.verb} {words(edit.hole, edit.pin_type)}"
    return first if edit.to is None else f"{first} to {words(edit.to, edit.to_type)}"


def with_letter(letter: str, words: str) -> str:
    """Words with the letter of a set of plates before them: `B: remove ...`."""
    return f"{letter}: {words}" if letter else words


def is_there(wheel: Wheel, hole: Hole) -> bool:
    """Whether a wheel has a hole: its channel has the row, and no edge or declared loss takes it."""
    row = wheel.rows[hole.row]
    channel = wheel.channels[hole.channel]
    if row.name not in channel.rows or edge_loss(wheel, hole.row, hole.number) != Loss.NONE:
        return False
    return not any(
        (lost.row, lost.index) == (row.name, hole.number)
        and lost.plate in {None, hole.plate}
        and lost.channel in {None, channel.name}
        for lost in wheel.lost_here
    )


def inverse(edits: Sequence[Edit]) -> tuple[Edit, ...]:
    """The edits that undo some, which say the type of every pin; in the order in which they are made."""
    return tuple(_undone(edit) for edit in reversed(edits))


def _undone(edit: Edit) -> Edit:
    if edit.to is not None:
        return Edit(edit.letter, Verb.MOVE, edit.to, edit.to_type, edit.hole, edit.pin_type)
    verb = Verb.SET if edit.verb == Verb.REMOVE else Verb.REMOVE
    return Edit(edit.letter, verb, edit.hole, edit.pin_type)
