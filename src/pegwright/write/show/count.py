"""The pins of a show: the maximum in plates at one time, what moves, and the wear of plates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pegwright.draw.count_page import CountTable
from pegwright.json_value import Json
from pegwright.show.count import PinCount, pin_count
from pegwright.show.show import Pinned, Show
from pegwright.units import plural, printed
from pegwright.write.count.tables import spares_words
from pegwright.write.count.text import TYPE_CELLS, table_lines
from pegwright.write.csv_text import csv_bytes
from pegwright.write.json_text import json_bytes, rounded
from pegwright.write.tables import LINE_CELLS, one_line

FORMAT = "pegwright show count"
VERSION = 1
NEED_COLUMNS = ("pin_type", "pin_type_name", "most_at_once", "spares", "needed", "stock", "to_buy")
MOVE_COLUMNS = (
    "pinning",
    "place",
    "title",
    "letter",
    "plate_set",
    "pull",
    "set",
    "stay",
    "pin_count",
    "needed_s",
    "available_s",
    "waits_s",
)
WEAR_COLUMNS = ("plate_set", "plate", "pulled", "set", "busiest_hole")


def pins_by_place(show: Show) -> PinCount:
    """Pins of everything that is pinned, by plate and channel; its needs are those of the whole show."""
    return replace(
        pin_count([pinned.pins for pinned in show.pinned], show.wheel, show.spares_percent), needs=show.needs
    )


def show_count_csv(show: Show) -> bytes:
    """What is needed of each pin type, and what to buy: one line for each, no totals."""
    return csv_bytes(NEED_COLUMNS, _need_rows(show))


def show_moves_csv(show: Show) -> bytes:
    """One line for everything that is pinned, with the pins that move and the time there is."""
    return csv_bytes(MOVE_COLUMNS, _move_rows(show))


def show_wear_csv(show: Show) -> bytes:
    """One line for each plate, with the pins that were pulled from it and set in it over the show."""
    return csv_bytes(WEAR_COLUMNS, _wear_rows(show))


def show_count_json(show: Show) -> bytes:
    """The three tables, the same bytes for the same show."""

    def objects(columns: Sequence[str], rows: Sequence[tuple[str | int | float | None, ...]]) -> list[Json]:
        return [dict(zip(columns, row, strict=True)) for row in rows]

    return json_bytes(
        {
            "format": FORMAT,
            "version": VERSION,
            "title": show.title,
            "wheel_name": show.wheel.name,
            "spares_percent": show.spares_percent,
            "to_buy": sum(need.to_buy for need in show.needs),
            "pin_types": objects(NEED_COLUMNS, _need_rows(show)),
            "pinnings": objects(MOVE_COLUMNS, _move_rows(show)),
            "plates": objects(WEAR_COLUMNS, _wear_rows(show)),
        }
    )


def show_count_text(show: Show) -> str:
    """What to buy, then the tables, each with its total."""
    heading = [
        verdict_words(show),
        one_line(show.title, LINE_CELLS),
        f"{one_line(show.wheel.name, LINE_CELLS // 2)}, {spares_words(pins_by_place(show))}",
    ]
    blocks = [heading, *(table_lines(table) for table in show_count_tables(show))]
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def verdict_words(show: Show) -> str:
    """The maximum of pins in plates at one time, and what must be bought of them."""
    short = [f"{need.to_buy:,} {one_line(need.name, TYPE_CELLS)}" for need in show.needs if need.to_buy]
    pins = plural(sum(need.pins for need in show.needs), "pin")
    spares = plural(sum(need.spares for need in show.needs), "spare")
    buy = f"to buy: {', '.join(short)}" if short else "the stock is enough"
    return f"{pins} in plates at once at most, and {spares}: {buy}"


def show_count_tables(show: Show) -> tuple[CountTable, ...]:
    """Pins by type, by what is pinned, by what moves, and by plate, as tables of words."""
    needs = [(need.pins, need.spares, need.needed, need.stock, need.to_buy) for need in show.needs]
    swaps = [pinned.swap for pinned in show.pinned]
    moves = [(swap.pull.count, swap.set_pins.count, swap.stay.count) for swap in swaps]
    wear = [(plate.pulled, plate.set_pins) for plate in show.wear]
    busiest = max((plate.busiest_hole for plate in show.wear), default=0)
    before = sum(pinned.before is None for pinned in show.pinned)
    plates = [f"set {printed(plate.plate_set)} plate {printed(plate.plate)}" for plate in show.wear]
    return (
        _summed(
            ("Pin type", "at once", "spares", "needed", "in stock", "to buy"),
            [need.name for need in show.needs],
            needs,
            "at once: the maximum in the plates of all sets at one time",
        ),
        _summed(
            ("Pinned for", "pull", "set", "stay"),
            [_named(show, pinned) for pinned in show.pinned],
            moves,
            f"the first {before} before the show" if before > 1 else "the first before the show",
        ),
        _summed(
            ("Plate", "pulled", "set"),
            plates,
            wear,
            f"no hole is pinned more than {plural(busiest, 'time')}",
        ),
    )


def _named(show: Show, pinned: Pinned) -> str:
    return f"{show.song_of(pinned).title} {pinned.letter}".strip()


def _summed(head: tuple[str, ...], names: Sequence[str], rows: Sequence[Sequence[int]], remark: str) -> CountTable:
    total = [sum(column) for column in zip(*rows, strict=True)] or [0] * (len(head) - 1)
    lines = tuple((name, *(f"{number:,}" for number in row)) for name, row in zip(names, rows, strict=True))
    return CountTable(head, lines, ("total", *(f"{number:,}" for number in total)), remark=remark)


def _need_rows(show: Show) -> list[tuple[str | int, ...]]:
    return [
        (printed(number), need.name, need.pins, need.spares, need.needed, need.stock, need.to_buy)
        for number, need in enumerate(show.needs)
    ]


def _move_rows(show: Show) -> list[tuple[str | int | float | None, ...]]:
    return [
        (
            printed(number),
            printed(pinned.place),
            show.song_of(pinned).title,
            pinned.letter or None,
            printed(pinned.plate_set),
            pinned.swap.pull.count,
            pinned.swap.set_pins.count,
            pinned.swap.stay.count,
            pinned.pins.pin_count,
            rounded(pinned.needed_s),
            None if pinned.available_s is None else rounded(pinned.available_s),
            rounded(pinned.late_s),
        )
        for number, pinned in enumerate(show.pinned)
    ]


def _wear_rows(show: Show) -> list[tuple[int, ...]]:
    return [
        (printed(plate.plate_set), printed(plate.plate), plate.pulled, plate.set_pins, plate.busiest_hole)
        for plate in show.wear
    ]
