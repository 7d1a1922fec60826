"""A swap as plain text: what one person calls out while another pins, plate by plate."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from pegwright.draw.calls import CallGroup, calls
from pegwright.draw.swap_heading import stood_words
from pegwright.placement import PinMap
from pegwright.show.tally import SwapTally, tally
from pegwright.swapping import Moves, Swap
from pegwright.units import plural, printed
from pegwright.wheel import Wheel
from pegwright.write.tables import LINE_CELLS, one_line, paragraphs

CAUTION = "Stop the wheel and lock it before a plate is touched."
HOW = "One calls, one pins: the channel, then each step with its row. Pull all of a plate, then set."
TITLE_CELLS = 44
NAME_CELLS = 20
_INDENT = "  "


def swap_text(wheel: Wheel, swap: Swap, old: PinMap, new: PinMap, facts: Sequence[str] = ()) -> str:
    """The call list of a swap.

    Args:
        wheel: for the names of channels, rows and pin types.
        swap: what moves.
        old: what the plates carry.
        new: what they are to carry.
        facts: further lines of the heading, such as the set of plates and the time there is.
    """
    counted = tally(swap, wheel)
    titles = f"{one_line(old.title, TITLE_CELLS)} → {one_line(new.title, TITLE_CELLS)}"
    blocks = [[titles, swap_sums(swap), *facts, CAUTION, HOW]]
    blocks += [_plate(wheel, swap, counted, place) for place in range(wheel.plate_count)]
    return paragraphs(blocks)


def swap_sums(swap: Swap) -> str:
    """What moves in one line, such as `Pull 12, set 9, 31 stay: 43 pins before, 40 after; 3 plates change places`."""
    pull, set_pins, stay = swap.pull.count, swap.set_pins.count, swap.stay.count
    moved = f"{plural(swap.moved_plates, 'plate changes its place', 'plates change places')}"
    pins = f"{plural(pull + stay, 'pin')} before, {set_pins + stay:,} after"
    return (
        f"Pull {pull:,}, set {set_pins:,}, {stay:,} stay: {pins}; {moved if swap.moved_plates else 'no plate moves'}."
    )


def _plate(wheel: Wheel, swap: Swap, counted: SwapTally, place: int) -> list[str]:
    before, pull, put, after = (
        int(column[place].sum()) for column in (counted.before, counted.pull, counted.set_pins, counted.after)
    )
    lines = [
        f"Place {printed(place)}: {stood_words(swap, place)}",
        f"{_INDENT}{plural(before, 'pin')} before - {pull:,} pulled + {put:,} set = {after:,} after",
    ]
    if not pull and not put:
        return [*lines, f"{_INDENT}Nothing to pull, nothing to set."]
    types = len(np.unique(swap.set_pins.pin_type)) > 1
    left = counted.before[place] - counted.pull[place]
    lines += _calls(wheel, "Pull", swap.pull, place, types=False, counts=(counted.before[place], left))
    lines += _calls(wheel, "Set", swap.set_pins, place, types=types, counts=(left, counted.after[place]))
    return lines


def _calls(
    wheel: Wheel, what: str, moves: Moves, place: int, types: bool, counts: tuple[np.ndarray, np.ndarray]
) -> list[str]:
    groups = calls(wheel, moves, place, types)
    if not groups:
        return [f"{_INDENT}{what} nothing"]
    lines = [f"{_INDENT}{what} {plural(sum(len(group.calls) for group in groups), 'pin')}"]
    for group in groups:
        lines += _group(wheel, group, int(counts[0][group.channel]), int(counts[1][group.channel]))
    return lines


def _group(wheel: Wheel, group: CallGroup, was: int, becomes: int) -> list[str]:
    digits = len(str(len(wheel.channels)))
    name = one_line(wheel.channels[group.channel].name, NAME_CELLS)
    head = f"{2 * _INDENT}{printed(group.channel):>{digits}} {name} ({was} → {becomes}): "
    said = ", ".join(f"{call.step} {call.words}" for call in group.calls)
    return textwrap.wrap(said, LINE_CELLS, initial_indent=head, subsequent_indent=4 * _INDENT, break_on_hyphens=False)
