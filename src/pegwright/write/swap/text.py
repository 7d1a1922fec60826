"""A swap as plain text: what one person calls out while another pins, plate by plate."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.columns import Ints, distinct
from pegwright.draw.calls import CallGroup, calls
from pegwright.draw.swap_heading import moved_counts, stood_words
from pegwright.placement import PinMap
from pegwright.show.tally import SwapTally, tally
from pegwright.swapping import Swap
from pegwright.units import plural, printed
from pegwright.wheel import Wheel
from pegwright.write.cautions import TOUCH_LINE
from pegwright.write.tables import KEPT, LINE_CELLS, one_line, paragraphs

PULL_FIRST = " Pull all of a plate, then set."
HOW = f"One calls, one pins: the channel, then each step with its row.{PULL_FIRST}"
TITLE_CELLS = 44
NAME_CELLS = 20
_INDENT = "  "


def swap_text(
    wheel: Wheel, swap: Swap, old: PinMap, new: PinMap, facts: Sequence[str] = (), width: int = LINE_CELLS
) -> str:
    """The call list of a swap.

    Args:
        wheel: for the names of channels, rows and pin types.
        swap: what moves.
        old: what the plates carry.
        new: what they are to carry.
        facts: further lines of the heading, such as the set of plates and the time there is.
        width: cells of a line.
    """
    counted = tally(swap, wheel)
    titles = f"{one_line(old.title, TITLE_CELLS)} → {one_line(new.title, TITLE_CELLS)}"
    how = HOW if len(wheel.rows) > 1 else HOW.replace(" with its row", "")
    bare = not old.pin_count and not swap.moved_plates
    how, plate = (how.replace(PULL_FIRST, ""), _bare_plate) if bare else (how, _plate)
    blocks = [[titles, swap_sums(swap), *facts, how], [TOUCH_LINE]]
    blocks += [plate(wheel, swap, counted, place) for place in range(wheel.plate_count)]
    return paragraphs(blocks, width)


def swap_sums(swap: Swap) -> str:
    """What moves in one line, such as `Pull 12, set 9, 31 stay: 43 pins before, 40 after; 3 plates change places`."""
    pull, set_pins, stay = swap.pull.count, swap.set_pins.count, swap.stay.count
    if not pull and not stay and not swap.moved_plates:
        return f"Set {plural(set_pins, 'pin')} on empty plates."
    moved = plural(swap.moved_plates, "plate changes its place", "plates change places")
    pins = f"{plural(pull + stay, 'pin')} before, {set_pins + stay:,} after"
    plates = moved if swap.moved_plates else "no plate moves"
    return f"Pull {pull:,}, set {set_pins:,}, {stay:,} stay: {pins}; {plates}."


def _plate(wheel: Wheel, swap: Swap, counted: SwapTally, place: int) -> list[str]:
    pull, put, stay = moved_counts(swap, place)
    sums = f"{plural(pull + stay, 'pin')} before - {pull:,} pulled + {put:,} set = {put + stay:,} after"
    lines = [f"Place {printed(place)}: {stood_words(swap, place)}", f"{_INDENT}{sums}"]
    if not pull and not put:
        return [*lines, f"{_INDENT}Nothing to pull, nothing to set."]
    types = len(distinct(swap.set_pins.pin_type)) > 1
    left = counted.before[place] - counted.pull[place]
    lines += _calls(wheel, "Pull", calls(wheel, swap.pull, place, types=False), counted.before[place], left)
    lines += _calls(wheel, "Set", calls(wheel, swap.set_pins, place, types), left, counted.after[place])
    return lines


def _bare_plate(wheel: Wheel, swap: Swap, counted: SwapTally, place: int) -> list[str]:
    """A plate that carries nothing, where no plate changes its place."""
    types = len(distinct(swap.set_pins.pin_type)) > 1
    groups = calls(wheel, swap.set_pins, place, types)
    first, *lines = _calls(wheel, "set", groups, None, counted.after[place])
    return [f"Place {printed(place)}: {first.strip()}", *lines]


def _calls(wheel: Wheel, verb: str, groups: Sequence[CallGroup], was: Ints | None, becomes: Ints) -> list[str]:
    """All pulls or all sets of a plate; `was` and `becomes` are its pins by channel, `was` None if it carries none."""
    pins = plural(sum(len(group.calls) for group in groups), "pin") if groups else "nothing"
    lines = [f"{_INDENT}{verb} {pins}"]
    digits = len(str(len(wheel.channels)))
    for group in groups:
        name = one_line(wheel.channels[group.channel].name, NAME_CELLS)
        counts = "" if was is None else f" ({was[group.channel]} → {becomes[group.channel]})"
        head = f"{2 * _INDENT}{printed(group.channel):>{digits}} {name}{counts}: "
        said = ", ".join(f"{call.step} {call.words}".rstrip().replace(" ", KEPT) for call in group.calls)
        lines.append(head + said)
    return lines
