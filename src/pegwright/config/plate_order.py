"""Which set of plates a file is about, and which plate stands at each place of the rim."""

from __future__ import annotations

from pegwright.config.checks import whole
from pegwright.config.fields import Table
from pegwright.units import listed, plural
from pegwright.wheel import Wheel


def read_set(top: Table, wheel: Wheel) -> int:
    """The number of the set, from 1; the first if not given."""
    return top.value("set", whole(1, wheel.plate_sets, "the set that was measured"), 1, default=1)


def read_order(top: Table, wheel: Wheel) -> tuple[int, ...]:
    """The number of the plate at each place, from 1, each once; empty if not given."""
    if not top.has("order"):
        return ()
    count = wheel.plate_count
    order = top.several("order", whole(1, count, "plates by their places on the rim"), 1, count)
    missing = [str(number) for number in range(1, count + 1) if number not in order]
    if missing and top.faults.none_in("order"):
        message = f"has {plural(len(order), 'plate')} of {count}, without {listed(missing)}"
        top.fault("order", message, "give every plate once")
    return order
