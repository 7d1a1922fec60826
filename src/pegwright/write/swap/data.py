"""A swap as data: JSON (`schema/swap-1.json`), and CSV with one pin a line."""

from __future__ import annotations

import numpy as np

from pegwright.draw.calls import pins_on
from pegwright.json_value import Json
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.show.tally import tally
from pegwright.swapping import Moves, Swap
from pegwright.units import printed
from pegwright.wheel import Wheel
from pegwright.write.csv_text import Cell, csv_bytes
from pegwright.write.json_text import json_file, objects
from pegwright.write.pin_map.json import wheel_json
from pegwright.write.pin_map.rows import HOLE_COLUMNS, hole_cells

FORMAT = "pegwright swap"
VERSION = 1
COLUMNS = ("place", "came_from", "action", *HOLE_COLUMNS)
PULL, SET = "pull", "set"


def swap_json(wheel: Wheel, swap: Swap, old: PinMap, new: PinMap) -> bytes:
    """The swap with every pin that moves, the same bytes for the same input.

    Args:
        wheel: the wheel.
        swap: what moves.
        old: what the plates carry.
        new: what they are to carry.
    """
    document: dict[str, Json] = {
        "wheel": wheel_json(wheel),
        "old": _map(old),
        "new": _map(new),
        "pull_count": swap.pull.count,
        "set_count": swap.set_pins.count,
        "stay_count": swap.stay.count,
        "moved_plates": swap.moved_plates,
        "plates": _plates(wheel, swap),
    }
    return json_file(FORMAT, VERSION, document)


def swap_csv(wheel: Wheel, swap: Swap) -> bytes:
    """One line for each pin that moves: by place, all pulls before all sets, by channel, along the plate."""
    rows = [
        (printed(place), printed(before), action, *pin)
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
            "pull": objects(HOLE_COLUMNS, _pins(wheel, swap.pull, place)),
            "set": objects(HOLE_COLUMNS, _pins(wheel, swap.set_pins, place)),
        }
        for place, before in enumerate(swap.came_from)
    ]


def _pins(wheel: Wheel, moves: Moves, place: int) -> list[tuple[Cell, ...]]:
    """The pins that move on one plate, by channel, then along the plate, then row."""
    return [hole_cells(wheel, *pin) for pin in pins_on(wheel, moves, place)]
