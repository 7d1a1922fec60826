"""The pin count as a page of plain text."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.columns import Ints
from pegwright.show.count import PinCount
from pegwright.units import plural, printed
from pegwright.write.tables import LINE_CELLS, one_line, text_table

NAME_CELLS = 28
TYPE_CELLS = 12


def count_text(count: PinCount) -> str:
    """What to buy, then pins by type, song (if several), plate and channel; each table adds up to the same total."""
    songs = [one_line(title, NAME_CELLS) for title in count.songs]
    plates = [f"plate {printed(plate)}" for plate in range(len(count.by_plate))]
    digits = len(str(len(count.channels)))
    channels = [f"{printed(i):{digits}} {one_line(name, NAME_CELLS)}" for i, name in enumerate(count.channels)]
    used = [number for number, row in enumerate(count.by_channel) if row.any()]
    blocks = [
        _heading(count),
        _needs(count),
        *([_split(count, "Song", songs, count.by_song)] if len(songs) > 1 else []),
        _split(count, "Plate", plates, count.by_plate),
        _split(count, "Channel", [channels[number] for number in used], count.by_channel[used]),
    ]
    without = len(channels) - len(used)
    if without:
        blocks[-1].append(f"{plural(without, 'other channel')} without a pin")
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _heading(count: PinCount) -> list[str]:
    song = one_line(count.songs[0], LINE_CELLS) if len(count.songs) == 1 else plural(len(count.songs), "song")
    short = [f"{need.to_buy:,} {one_line(need.name, TYPE_CELLS)}" for need in count.needs if need.to_buy]
    verdict = f"to buy: {', '.join(short)}" if short else "the stock is enough"
    pins = f"{plural(count.total, 'pin')} and {plural(sum(need.spares for need in count.needs), 'spare')}"
    return [
        f"{pins}: {verdict}",
        song,
        f"{one_line(count.wheel_name, LINE_CELLS // 2)}, {count.spares_percent:g} % spares of each type, rounded up",
    ]


def _needs(count: PinCount) -> list[str]:
    rows = [(need.pins, need.spares, need.needed, need.stock, need.to_buy) for need in count.needs]
    names = [one_line(need.name, NAME_CELLS) for need in count.needs]
    return _summed(["Pin type", "pins", "spares", "needed", "in stock", "to buy"], names, rows)


def _split(count: PinCount, what: str, names: Sequence[str], pins: Ints) -> list[str]:
    """A line for each name, with a column for each pin type that is used at all."""
    used = [number for number, need in enumerate(count.needs) if need.pins]
    if len(used) < 2:
        return _summed([what, "pins"], names, pins.sum(axis=1, keepdims=True).tolist())
    types = [one_line(count.needs[number].name, TYPE_CELLS) for number in used]
    rows = pins[:, used].tolist()
    return _summed([what, *types, "all"], names, [(*row, sum(row)) for row in rows])


def _summed(header: Sequence[str], names: Sequence[str], rows: Sequence[Sequence[int]]) -> list[str]:
    total = [sum(column) for column in zip(*rows, strict=True)] or [0] * (len(header) - 1)
    lines = [(name, *(f"{number:,}" for number in row)) for name, row in zip(names, rows, strict=True)]
    return text_table(header, [*lines, ("total", *(f"{number:,}" for number in total))])
