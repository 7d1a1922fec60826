"""The load round the turn, as text for a terminal and as data for the report."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from pegwright.json_value import Json
from pegwright.load import Load, LoadPlace, SetLoad, more_words
from pegwright.placement import PinMap
from pegwright.units import fraction_text, least_doubled, printed
from pegwright.wheel import Wheel, step_name
from pegwright.write.json_text import rounded
from pegwright.write.tables import LINE_CELLS, Line, TextTable, cells_of, cut_to, names_line, one_line, paragraphs

LISTED = 5  # worst places before "and N more"
NAME_CELLS, BAR_CELLS = 28, 12
BARS = "▁▂▃▄▅▆▇█"
NOTHING = "·"
_INDENT, _GAP = "  ", "   "


def load_text(wheel: Wheel, sets: Sequence[SetLoad], width: int = LINE_CELLS) -> str:
    """For each set of plates a table of its loads, bars round the turn, and the worst places.

    Args:
        wheel: for its plates, steps and names of channels.
        sets: those that the song takes, in the order in which they first play.
        width: cells of a line.
    """
    blocks: list[list[Line]] = [["Load: how many pins trip within a time of one another, all round the turn"]]
    for of_set in sets:
        if of_set.words:
            blocks.append([of_set.words])
        blocks.append(_table(of_set.loads))
        if of_set.pins.pin_count:
            blocks += _bars(wheel, of_set, width)
        blocks += [_worst(wheel, load) for load in of_set.loads if load.strike_count]
    return paragraphs(blocks, width)


def load_json(wheel: Wheel, sets: Sequence[SetLoad]) -> list[Json]:
    """The same as data, with the load at every pin; everything counts from 1."""
    return [
        {
            "set": of_set.letter or None,
            "turns": [printed(turn) for turn in of_set.turns],
            "loads": [_load_json(wheel, of_set.pins, load) for load in of_set.loads],
        }
        for of_set in sets
    ]


def _table(loads: Sequence[Load]) -> list[Line]:
    rows = [
        (
            one_line(load.heading, NAME_CELLS),
            f"{load.strike_count:,}",
            f"{load.window_ms:g} ms",
            f"{load.mean:.2f}",
            f"{load.maximum:,}",
            "" if load.limit is None else f"{load.limit:,}",
            "" if load.headroom is None else f"{load.headroom:,}",
        )
        for load in loads
    ]
    header = ("", "Strikes", "Window", "Mean", "Most", "Limit", "Headroom")
    return [TextTable(header, rows, below=((3,), (1,)))]


def _bars(wheel: Wheel, of_set: SetLoad, width: int) -> list[list[Line]]:
    """A line a plate and a mark a step, as many loads side by side as a line has room for."""
    margin = len(f"plate {wheel.plate_count} ")
    together = math.ceil(wheel.steps_per_plate / (width - margin))  # steps in a mark
    count = math.ceil(wheel.steps_per_plate / together)
    shown = [load for load in of_set.loads if load.strike_count]
    heads = [f"{one_line(load.heading, NAME_CELLS)}, █ = {load.full:,}" for load in shown]
    wide = max(count, *map(cells_of, heads))
    beside = max(1, (width - margin + len(_GAP)) // (wide + len(_GAP)))
    ruler = _ruler(wheel.steps_per_plate, together, count)
    blocks: list[list[Line]] = []
    for first in range(0, len(shown), beside):
        group = shown[first : first + beside]
        bars = [_marks(wheel, of_set.pins, load, together, count) for load in group]
        lines = [("", heads[first : first + beside]), ("", [ruler] * len(group))]
        lines += [(f"plate {printed(plate)}", [marks[plate] for marks in bars]) for plate in range(wheel.plate_count)]
        rows = [(label, _GAP.join(cut_to(cell, wide) for cell in cells)) for label, cells in lines]
        blocks.append([f"{label:{margin}}{row}".rstrip() for label, row in rows])
    return blocks


def _marks(wheel: Wheel, pins: PinMap, load: Load, together: int, count: int) -> list[str]:
    """For each plate its steps as bars: the fullest window that begins with a pin in them."""
    most = np.zeros((wheel.plate_count, count), dtype=np.int64)
    steps = [
        int(wheel.rows[row].position_steps(index)) // together
        for row, index in zip(pins.row[load.pin].tolist(), pins.index[load.pin].tolist(), strict=True)
    ]
    np.maximum.at(most, (pins.plate[load.pin], np.array(steps, dtype=np.int64)), load.strikes)
    return ["".join(_mark(strikes, load.full) for strikes in of_plate) for of_plate in most.tolist()]


def _mark(strikes: int, full: int) -> str:
    return BARS[math.ceil(len(BARS) * strikes / full) - 1] if strikes else NOTHING


def _ruler(steps: int, together: int, count: int) -> str:
    """Numbers of steps over the marks, as many as there is room for."""
    every = least_doubled(lambda every: every // together >= max(4, len(str(steps)) + 2))
    line = ""
    for step in range(0, steps, every):
        number = str(printed(step))
        place = step // together
        if place + len(number) <= count:
            line = line.ljust(place) + number
    return line


def _worst(wheel: Wheel, load: Load) -> list[Line]:
    if not load.worst:
        return [f"{one_line(load.heading, NAME_CELLS)}: no two strikes within {load.window_ms:g} ms"]
    places = load.worst[:LISTED]
    names = [names_line([wheel.channels[channel].name for channel in place.channels]) for place in places]
    rows = [(*_cells(place), one_line(words, 4 * LINE_CELLS)) for place, words in zip(places, names, strict=True)]
    header = ("Strikes", "Plate", "Step", "Bar", "Beat", "Channels")
    lines: list[Line] = [f"Worst places, {one_line(load.name, NAME_CELLS)}"]
    lines.append(TextTable(header, rows, left=(5,), indent=_INDENT))
    more = more_words(load, LISTED)
    return [*lines, f"{_INDENT}{more}"] if more else lines


def _cells(place: LoadPlace) -> tuple[str, ...]:
    source = place.source
    return (
        f"{place.strikes:,}",
        str(printed(place.plate)),
        fraction_text(place.step + 1),
        one_line(source.bar, BAR_CELLS) if source else "",
        fraction_text(source.beat) if source else "",
    )


def _load_json(wheel: Wheel, pins: PinMap, load: Load) -> dict[str, Json]:
    return {
        "name": load.name,
        "channels": [wheel.channels[channel].name for channel in load.channels],
        "window_ms": rounded(load.window_ms),
        "limit": load.limit,
        "headroom": load.headroom,
        "strikes": load.strike_count,
        "most": load.maximum,
        "mean": rounded(load.mean),
        "worst": [_place_json(wheel, place) for place in load.worst],
        "pins": [
            {
                "plate": printed(int(pins.plate[pin])),
                "step": step_name(wheel.rows[int(pins.row[pin])], int(pins.index[pin])),
                "trip_ms": rounded(load.trip_ms[number]),
                "channel_name": wheel.channels[int(pins.channel[pin])].name,
                "strikes": int(load.strikes[number]),
            }
            for number, pin in enumerate(load.pin.tolist())
        ],
    }


def _place_json(wheel: Wheel, place: LoadPlace) -> dict[str, Json]:
    return {
        "strikes": place.strikes,
        "plate": printed(place.plate),
        "step": fraction_text(place.step + 1),
        "trip_ms": rounded(place.trip_ms),
        "bar": place.source.bar if place.source else None,
        "beat": fraction_text(place.source.beat) if place.source else None,
        "channels": [wheel.channels[channel].name for channel in place.channels],
    }
