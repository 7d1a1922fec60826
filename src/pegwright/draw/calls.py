"""The calls of a swap: each pin by its channel, step and row."""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter

from pegwright.columns import tuples
from pegwright.frozen import frozen
from pegwright.swapping import Moves
from pegwright.wheel import Wheel, step_name


@frozen()
class Call:
    """One pin as it is called.

    Args:
        step: its step on the plate, from 1, as a person reads it.
        words: its row where the wheel has several, and its pin type where several are called; may be empty.
    """

    step: str
    words: str


@frozen()
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

    def call(number: int, index: int, pin_type: int) -> Call:
        row = wheel.rows[number]
        words = [*([row.name] if len(wheel.rows) > 1 else []), *([wheel.pin_types[pin_type].name] if types else [])]
        return Call(step_name(row, index), " ".join(words))

    grouped = groupby(pins_on(wheel, moves, plate), key=itemgetter(0))
    return tuple(CallGroup(channel, tuple(call(*pin) for _, *pin in pins)) for channel, pins in grouped)


def pins_on(wheel: Wheel, moves: Moves, plate: int) -> list[tuple[int, ...]]:
    """Channel, row, index and type of the pins that move on one plate, by channel, then along the plate, then row.

    Args:
        wheel: its rows.
        moves: pins to pull or to set.
        plate: the place, 0-based.
    """
    here = moves.plate == plate
    pins = tuples(moves.channel[here], moves.row[here], moves.index[here], moves.pin_type[here])
    return sorted(pins, key=lambda pin: (pin[0], wheel.rows[pin[1]].position_steps(pin[2]), pin))
