"""The calls of a swap: each pin by its channel, step and row."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import numpy as np

from pegwright.swapping import Moves
from pegwright.units import fraction_text, printed
from pegwright.wheel import Row, Wheel


@dataclass(frozen=True, slots=True)
class Call:
    """One pin as it is called.

    Args:
        step: its step on the plate, from 1, as a person reads it.
        words: its row, and its pin type where several are called.
    """

    step: str
    words: str


@dataclass(frozen=True, slots=True)
class CallGroup:
    """The calls of one channel (0-based), in the order of the plate."""

    channel: int
    calls: tuple[Call, ...]


def calls(wheel: Wheel, moves: Moves, plate: int, types: bool) -> tuple[CallGroup, ...]:
    """The calls of some moves on one plate, channel by channel.

    Args:
        wheel: for the names of rows and pin types.
        moves: pins to pull or to set.
        plate: the place, 0-based.
        types: whether pin types are called too.
    """
    keyed = []
    for pin in np.flatnonzero(moves.plate == plate).tolist():
        number, index = int(moves.row[pin]), int(moves.index[pin])
        row = wheel.rows[number]
        words = f"{row.name} {wheel.pin_types[int(moves.pin_type[pin])].name}" if types else row.name
        keyed.append((int(moves.channel[pin]), row.position_steps(index), number, Call(step_words(row, index), words)))
    keyed.sort(key=lambda pin: pin[:3])
    grouped = groupby(keyed, key=lambda pin: pin[0])
    return tuple(CallGroup(channel, tuple(call for *_, call in pins)) for channel, pins in grouped)


def step_words(row: Row, index: int) -> str:
    """The step that a hole lies in; where the row has several holes there, the place of the hole itself in steps."""
    place = row.position_steps(index)
    own = int(row.phases[index % len(row.phases)])
    alone = sum(int(phase) == own for phase in row.phases) == 1
    return str(printed(int(place))) if alone else fraction_text(place + 1)
