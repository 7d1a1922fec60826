"""A swap as data: JSON (`schema/swap-1.json`), and CSV with one pin a line."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from pegwright.grid import across_rim_mm, along_plate_mm
from pegwright.json_value import Json
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.show.tally import tally
from pegwright.swapping import Moves, Swap
from pegwright.units import printed
from pegwright.wheel import Wheel
from pegwright.write.csv_text import csv_bytes
from pegwright.write.json_text import json_bytes, rounded
from pegwright.write.pin_map.json import wheel_json
from pegwright.write.pin_map.rows import step_text

FORMAT = "pegwright swap"
VERSION = 1
COLUMNS = (
    "place",
    "came_from",
    "action",
    "channel",
    "channel_name",
    "row",
    "row_name",
    "hole",
    "step",
    "along_mm",
    "across_mm",
    "pin_type",
    "pin_type_name",
)
PULL, SET = "pull", "set"


def swap_json(wheel: Wheel, swap: Swap, old: PinMap, new: PinMap) -> bytes:
    """The swap with every pin that moves, the same bytes for the same input.

    Args:
        wheel: the wheel.
        swap: what moves.
        old: what the plates carry.
        new: what they are to carry.
    """
    return json_bytes(
        {
            "format": FORMAT,
            "version": VERSION,
            "wheel": wheel_json(wheel),
            "old": _map(old),
            "new": _map(new),
            "pull_count": swap.pull.count,
            "set_count": swap.set_pins.count,
            "stay_count": swap.stay.count,
            "moved_plates": swap.moved_plates,
            "plates": _plates(wheel, swap),
        }
    )


def swap_csv(wheel: Wheel, swap: Swap) -> bytes:
    """One line for each pin that moves: by place, all pulls before all sets, by channel, along the plate."""
    rows = [
        (printed(place), printed(before), action, *pin.values())
        for place, before in enumerate(swap.came_from)
        for action, moves in ((PULL, swap.pull), (SET, swap.set_pins))
        for pin in _pins(wheel, moves, place)
    ]
    return csv_bytes(COLUMNS, rows)


def _map(pins: PinMap) -> dict[str, Json]:
    return {
        "title": pins.title,
        "map_sha256": pin_map_sha256(pins),
        "score_sha256": pins.score_sha256,
        "pin_count": pins.pin_count,
    }


def _plates(wheel: Wheel, swap: Swap) -> list[Json]:
    counted = tally(swap, wheel)
    return [
        {
            "place": printed(place),
            "came_from": printed(before),
            "before_count": int(counted.before[place].sum()),
            "after_count": int(counted.after[place].sum()),
            "channels": [
                {
                    "channel": printed(channel),
                    "channel_name": wheel.channels[channel].name,
                    "before": int(counted.before[place, channel]),
                    "pull": int(counted.pull[place, channel]),
                    "set": int(counted.set_pins[place, channel]),
                    "after": int(counted.after[place, channel]),
                }
                for channel in np.flatnonzero(counted.before[place] + counted.after[place]).tolist()
            ],
            "pull": list(_pins(wheel, swap.pull, place)),
            "set": list(_pins(wheel, swap.set_pins, place)),
        }
        for place, before in enumerate(swap.came_from)
    ]


def _pins(wheel: Wheel, moves: Moves, place: int) -> Iterator[dict[str, str | int | float]]:
    """The pins that move on one plate, by channel, then along the plate, then row."""
    pins: list[tuple[int, Fraction, int, int, int]] = []
    for pin in np.flatnonzero(moves.plate == place).tolist():
        channel, row, index, pin_type = (
            int(column[pin]) for column in (moves.channel, moves.row, moves.index, moves.pin_type)
        )
        pins.append((channel, wheel.rows[row].position_steps(index), row, index, pin_type))
    for channel, _, row, index, pin_type in sorted(pins):
        yield {
            "channel": printed(channel),
            "channel_name": wheel.channels[channel].name,
            "row": printed(row),
            "row_name": wheel.rows[row].name,
            "hole": printed(index),
            "step": step_text(wheel, row, index),
            "along_mm": rounded(along_plate_mm(wheel, row, index)),
            "across_mm": rounded(across_rim_mm(wheel, channel, row)),
            "pin_type": printed(pin_type),
            "pin_type_name": wheel.pin_types[pin_type].name,
        }
