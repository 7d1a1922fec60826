"""The pins of a show: the maximum in plates at one time, what moves, and the wear of plates."""

from __future__ import annotations

from dataclasses import replace

from pegwright.draw.count_page import CountTable
from pegwright.json_value import Json
from pegwright.show.count import PinCount, pin_count
from pegwright.show.show import Show
from pegwright.units import plural, printed
from pegwright.write.count.data import need_rows
from pegwright.write.count.tables import needs_table, summed, verdict
from pegwright.write.count.text import TYPE_CELLS
from pegwright.write.csv_text import Cell
from pegwright.write.json_text import objects
from pegwright.write.tables import one_line

NEED_COLUMNS = ("pin_type", "pin_type_name", "most_at_once", "spares", "needed", "stock", "to_buy")
WEAR_COLUMNS = ("plate_set", "plate", "pulled", "set", "busiest_hole")


def pins_by_place(show: Show) -> PinCount:
    """Pins of everything that is pinned, by plate and channel; its needs are those of the whole show."""
    count = pin_count([pinned.pins for pinned in show.pinned], show.wheel, show.spares_percent)
    return replace(count, needs=show.needs)


def show_count_json(show: Show) -> dict[str, Json]:
    """Pins by type, with spares and what to buy, and the wear of plates, as keys of the plan."""
    return {
        "spares_percent": show.spares_percent,
        "to_buy": sum(need.to_buy for need in show.needs),
        "pin_types": objects(NEED_COLUMNS, need_rows(show.needs)),
        "plates": objects(WEAR_COLUMNS, _wear_rows(show)),
    }


def verdict_words(show: Show) -> str:
    """The maximum of pins in plates at one time, and what must be bought of them."""
    names = [one_line(need.name, TYPE_CELLS) for need in show.needs]
    return verdict(show.needs, names, " in plates at once at most, and ")


def show_count_tables(show: Show) -> tuple[CountTable, ...]:
    """Pins by type, by what is pinned, by what moves, and by plate, as tables of words."""
    titles = [f"{show.song_of(pinned).title} {pinned.letter}".strip() for pinned in show.pinned]
    swaps = [pinned.swap for pinned in show.pinned]
    moves = [(swap.pull.count, swap.set_pins.count, swap.stay.count) for swap in swaps]
    before = sum(pinned.before is None for pinned in show.pinned)
    first = f"the first {before} before the show" if before > 1 else "the first before the show"
    plates = [f"set {printed(plate.plate_set)} plate {printed(plate.plate)}" for plate in show.wear]
    wear = [(plate.pulled, plate.set_pins) for plate in show.wear]
    busiest = plural(max((plate.busiest_hole for plate in show.wear), default=0), "time")
    return (
        needs_table(show.needs, "at once", "at once: the maximum in the plates of all sets at one time"),
        summed(("Pinned for", "pull", "set", "stay"), titles, moves, remark=first),
        summed(("Plate", "pulled", "set"), plates, wear, remark=f"no hole is pinned more than {busiest}"),
    )


def _wear_rows(show: Show) -> list[tuple[Cell, ...]]:
    return [
        (printed(plate.plate_set), printed(plate.plate), plate.pulled, plate.set_pins, plate.busiest_hole)
        for plate in show.wear
    ]
