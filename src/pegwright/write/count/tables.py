"""The pin count as tables of words, for every format that people read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pegwright.columns import Ints
from pegwright.draw.count_page import CountTable
from pegwright.running import letter
from pegwright.show.count import Need, PinCount
from pegwright.units import listed, plural, printed


def count_tables(count: PinCount, song: str) -> tuple[CountTable, ...]:
    """Pins by type, song or set of plates (if several), plate and channel; each table adds up to the same total.

    Channels without a pin have no line but are counted below; pin types that are not used have no column.

    Args:
        count: of pins.
        song: name of the song, where all that is counted is one, with its sets of plates; else empty.
    """
    used = [number for number, row in enumerate(count.by_channel) if row.any()]
    without = len(count.channels) - len(used)
    return (
        needs_table(count.needs),
        *_by_song(count, song),
        _split(
            count,
            "Channel",
            [count.channels[number] for number in used],
            count.by_channel[used],
            [str(printed(number)) for number in used],
            f"{plural(without, 'other channel')} without a pin" if without else "",
        ),
    )


def _by_song(count: PinCount, song: str) -> list[CountTable]:
    """Pins by song or set of plates, if there are several, and by plate; each plate of each set has its own line.

    Args:
        count: of pins.
        song: as for `count_tables`.
    """
    several, plates = len(count.songs), range(len(count.by_plate))
    names = [f"plate {printed(plate)}" for plate in plates]
    if several < 2:
        return [_split(count, "Plate", names, count.by_plate)]
    if not song:
        return [_split(count, "Song", count.songs, count.by_song), _split(count, "Plate", names, count.by_plate)]
    sets = [f"set {letter(pinning)}" for pinning in range(several)]
    own = count.pins.sum(axis=2).reshape(several * len(plates), -1)
    return [
        _split(count, "Plates", sets, count.by_song),
        _split(count, "Plate", [f"{each} {name}" for each in sets for name in names], own),
    ]


def songs_words(count: PinCount, song: str) -> str:
    """What is counted: one song by its name, with its sets of plates if it takes several, or how many songs.

    Args:
        count: of pins.
        song: name of the song, where all that is counted is one; else empty.
    """
    several = len(count.songs)
    if not song:
        return plural(several, "song") if several != 1 else count.songs[0]
    return f"{song}, sets of plates {listed([letter(pinning) for pinning in range(several)])}" if several > 1 else song


def verdict(needs: Sequence[Need], names: Iterable[str], between: str = " and ") -> str:
    """What is needed, and what must be bought of it.

    Args:
        needs: of each pin type.
        names: of the pin types.
        between: pins and spares.
    """
    short = [f"{need.to_buy:,} {name}" for need, name in zip(needs, names, strict=True) if need.to_buy]
    pins = plural(sum(need.pins for need in needs), "pin")
    spares = plural(sum(need.spares for need in needs), "spare")
    return f"{pins}{between}{spares}: " + (f"to buy: {', '.join(short)}" if short else "the stock is enough")


def spares_words(count: PinCount) -> str:
    """How spares were counted."""
    return f"{count.spares_percent:g} % spares of each type, rounded up"


def needs_table(needs: Sequence[Need], pins: str = "pins", remark: str = "") -> CountTable:
    """What is needed of each pin type.

    Args:
        needs: of each pin type.
        pins: the head of the column of pins.
        remark: below the table.
    """
    rows = [(need.pins, need.spares, need.needed, need.stock, need.to_buy) for need in needs]
    head = ("Pin type", pins, "spares", "needed", "in stock", "to buy")
    return summed(head, [need.name for need in needs], rows, remark=remark)


def _split(
    count: PinCount, what: str, names: Sequence[str], pins: Ints, numbers: Sequence[str] = (), remark: str = ""
) -> CountTable:
    """A line for each name, with a column for each pin type that is used at all."""
    used = [number for number, need in enumerate(count.needs) if need.pins]
    if len(used) < 2:
        return summed((what, "pins"), names, pins.sum(axis=1, keepdims=True).tolist(), numbers, remark)
    types = [count.needs[number].name for number in used]
    rows = pins[:, used].tolist()
    return summed((what, *types, "all"), names, [(*row, sum(row)) for row in rows], numbers, remark)


def summed(
    head: tuple[str, ...],
    names: Sequence[str],
    rows: Sequence[Sequence[int]],
    numbers: Sequence[str] = (),
    remark: str = "",
) -> CountTable:
    """A table with its totals.

    Args:
        head: names of its columns, the first that of the names.
        names: one for each row.
        rows: as many numbers each as there are further columns.
        numbers: one for each row, printed before its name; empty for none.
        remark: below the table.
    """
    total = [sum(column) for column in zip(*rows, strict=True)] or [0] * (len(head) - 1)
    lines = tuple((name, *(f"{number:,}" for number in row)) for name, row in zip(names, rows, strict=True))
    return CountTable(head, lines, ("total", *(f"{number:,}" for number in total)), tuple(numbers), remark)
