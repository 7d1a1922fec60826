"""The order in which holes are drilled: channel by channel, all rows of a channel together."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from itertools import accumulate

import numpy as np

from pegwright.columns import Floats, Ints, distinct, frozen_ints
from pegwright.making import PatternHoles

_PLACES = 6  # decimals of mm to which places are compared, so that rounding does not decide the order


class DrillOrder(StrEnum):
    """How the drill goes from hole to hole.

    `one-way` reaches every hole from the same side along the plate, so that backlash moves all holes alike;
    `shortest` goes to and fro.
    """

    ONE_WAY = "one-way"
    SHORTEST = "shortest"


def drilling_order(holes: PatternHoles, among: Ints, order: DrillOrder) -> tuple[Ints, Ints]:
    """The order of some holes, and which of them begin a line.

    A line is a channel; fixing holes, which have none, are in lines of equal distance across the plate.

    Args:
        holes: of the pattern.
        among: indexes of the holes to be drilled, shape (n,).
        order: of the holes in a line.

    Returns:
        indexes of the holes in order, shape (n,); places in that order at which lines begin, shape (lines,), rising.
    """
    x_mm, y_mm = np.round(holes.x_mm, _PLACES), np.round(holes.y_mm, _PLACES)
    lines = []
    at = None
    for line in _lines(holes, among, y_mm):
        along = line[np.lexsort((y_mm[line], x_mm[line]))]
        if order is DrillOrder.SHORTEST:
            along = _shorter(holes, along, at)
            at = (float(holes.x_mm[along[-1]]), float(holes.y_mm[along[-1]]))
        lines.append(along)
    begins = list(accumulate((len(line) for line in lines[:-1]), initial=0))[: len(lines)]
    return frozen_ints(np.concatenate(lines) if lines else []), frozen_ints(begins)


def _lines(holes: PatternHoles, among: Ints, y_mm: Floats) -> Iterator[Ints]:
    """Fixing holes line by line from the upper edge, then the holes of each channel."""
    fixing = among[holes.channel[among] < 0]
    for height in np.unique(y_mm[fixing])[::-1].tolist():
        yield fixing[y_mm[fixing] == height]
    pins = among[holes.channel[among] >= 0]
    channel = holes.channel[pins]
    sorted_pins = pins[np.argsort(channel, kind="stable")]
    rising = holes.channel[sorted_pins]
    for number in distinct(channel).tolist():
        yield sorted_pins[np.searchsorted(rising, number) : np.searchsorted(rising, number, side="right")]


def _shorter(holes: PatternHoles, along: Ints, at: tuple[float, float] | None) -> Ints:
    """The shortest of a few ways through the holes of a line from where the drill is.

    The ways are along the plate with all rows at once, or row after row to and fro, each from either end.

    Args:
        holes: of the pattern.
        along: the line's holes along the plate.
        at: where the drill is, in mm; None where it does not matter.
    """
    rows = distinct(holes.row[along]).tolist()
    by_row = [along[holes.row[along] == row][:: -1 if place % 2 else 1] for place, row in enumerate(rows)]
    ways = [along, along[::-1]]
    if len(rows) > 1:
        joined = np.concatenate(by_row)
        back = np.concatenate([line[::-1] for line in by_row])
        ways += [joined, joined[::-1], back, back[::-1]]
    return min(ways, key=lambda way: _length_mm(holes, way, at))


def _length_mm(holes: PatternHoles, way: Ints, at: tuple[float, float] | None) -> float:
    x_mm, y_mm = holes.x_mm[way], holes.y_mm[way]
    if at is not None:
        x_mm, y_mm = np.concatenate([[at[0]], x_mm]), np.concatenate([[at[1]], y_mm])
    return round(float(np.hypot(np.diff(x_mm), np.diff(y_mm)).sum()), _PLACES)
