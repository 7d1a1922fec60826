"""A maker who knows the song answers what the report asks: how it goes on where it may be read otherwise."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.played.model import PLACES
from pegwright.played.result import PerformedResult
from pegwright.played.shifted import shifted

ABOUT = 10  # notes on either side of a place that are listened to
FEWEST = 4  # before it
SAME = 2  # notes between two places that are one
MOST = 25  # answers


def answered(result: PerformedResult, true: Ints, onset_ticks: Ints) -> tuple[PerformedResult, int]:
    """What is left after the answers, one after another, and how many there were.

    Each is the shift that the report offers, if it is right, or that the place is right as it is. Where neither is so,
    the place is left as it was.

    Args:
        result: as reported.
        true: shape (n,), units at the resolution of the result, -1 where it is not known.
        onset_ticks: shape (n,), as played.
    """
    order = np.flatnonzero(true >= 0)[np.argsort(onset_ticks[true >= 0], kind="stable")]
    looked: list[int] = []
    for _ in range(MOST):
        answer = _next_answer(result, true, order, looked)
        if answer is None:
            break
        result = shifted(result, *answer, PLACES)
    return result, len(looked)


def _next_answer(
    result: PerformedResult, true: Ints, order: NDArray[np.int64], looked: list[int]
) -> tuple[int, Fraction] | None:
    """The place of the first answer that can be given now, in units, and the shift; None where there is none.

    Args:
        result: as reported.
        true: shape (n,), units.
        order: of the notes that are known, in time.
        looked: places that were looked at; those looked at now are added.
    """
    apart = (true - result.onset_units)[order]
    for each in result.alternatives:
        unit = int(result.onset_units[each.note])
        place = int(np.searchsorted(result.onset_units[order], unit))
        if not FEWEST <= place < len(order) or any(abs(place - one) <= SAME for one in looked):
            continue
        looked.append(place)
        turn = Fraction(_usual(apart[place : place + ABOUT]) - _usual(apart[max(place - ABOUT, 0) : place]))
        here = [one.quarters for one in result.alternatives if result.onset_units[one.note] == unit]
        if turn / result.resolution in (0, *here):
            return unit, turn / result.resolution
    return None


def _usual(values: NDArray[np.int64]) -> int:
    """The most frequent of them."""
    value, count = np.unique(values, return_counts=True)
    return int(value[count.argmax()])
