"""The pin count as JSON for programs (`schema/pin-count-1.json`)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pegwright.json_value import Json
from pegwright.note_count import NoteCount
from pegwright.show.count import Need, PinCount
from pegwright.units import printed
from pegwright.write.csv_text import Cell
from pegwright.write.json_text import json_file, objects
from pegwright.write.note_count import note_count_json

FORMAT = "pegwright pin count"
VERSION = 1

NEED_COLUMNS = ("pin_type", "pin_type_name", "pins", "spares", "needed", "stock", "to_buy")
PLACE_COLUMNS = ("song", "title", "plate", "channel", "channel_name", "pin_type", "pin_type_name", "pins")


def count_json(count: PinCount, notes: NoteCount | None = None) -> bytes:
    """Both tables and the total, the same bytes for the same count; `notes` are those of the song, where it is one."""
    document: dict[str, Json] = {
        "wheel_name": count.wheel_name,
        "songs": list(count.songs),
        **({} if notes is None else {"count": note_count_json(notes)}),
        "spares_percent": count.spares_percent,
        "pin_count": count.total,
        "to_buy": count.to_buy,
        "pin_types": objects(NEED_COLUMNS, need_rows(count.needs)),
        "places": objects(PLACE_COLUMNS, _place_rows(count)),
    }
    return json_file(FORMAT, VERSION, document)


def need_rows(needs: Sequence[Need]) -> list[tuple[Cell, ...]]:
    """What is needed of each pin type, a row for each."""
    return [
        (printed(number), need.name, need.pins, need.spares, need.needed, need.stock, need.to_buy)
        for number, need in enumerate(needs)
    ]


def _place_rows(count: PinCount) -> list[tuple[Cell, ...]]:
    return [
        (
            printed(song),
            count.songs[song],
            printed(plate),
            printed(channel),
            count.channels[channel],
            printed(pin_type),
            count.needs[pin_type].name,
            int(count.pins[song, plate, channel, pin_type]),
        )
        for song, plate, channel, pin_type in np.argwhere(count.pins).tolist()
    ]
