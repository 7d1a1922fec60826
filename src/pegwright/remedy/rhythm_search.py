"""The rhythm of a bar that changes least for the ear, of all that its holes allow.

What is compared is the time from each onset of the bar to the next, also from the last onset before the bar and to the
first one after it. A change of such an interval counts in units of the maximum change that goes unheard beside an
interval of that length (see `unheard_limit_ms`), and the sum of their squares is the harm. Squares, since what is
noticed of several independent changes adds up so.

Source: D. M. Green, J. A. Swets, "Signal Detection Theory and Psychophysics", 1966, on the integration of independent
observations (from memory); that intervals of a bar are taken as independent is our simplification.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from functools import lru_cache
from heapq import heappop, heappush
from typing import NamedTuple, Protocol, TypeAlias

import numpy as np

from pegwright.frozen import frozen
from pegwright.remedy.budget import Budget
from pegwright.tell.audible import LONGEST_IOI_MS, unheard_limit_ms
from pegwright.units import ticks_to_ms

THOUSANDTHS = 1000  # of what goes unheard: harm is counted in whole numbers, so that equal is equal
US_PER_MS = 1000
PAIRS_PER_UNIT = 20  # of places, whose intervals are compared
PLACES_PER_UNIT = 4  # that are tried for the next onset
_MOVED_ROOM = 1 << 48  # above any sum of distances, which decides between rhythms of equal harm
Places: TypeAlias = tuple[int, ...]  # one for each onset of a bar, in ticks, rising
_NEVER: int | None = None


class Neighbour(NamedTuple):
    """An onset outside the bar: where it is written, and where it sounds."""

    written_ticks: int
    sounding_ticks: int


class Room(Protocol):
    """What the strikes of a bar leave one another."""

    def pair_allowed(self, first: int, place: int, later: int, other: int) -> bool:
        """Whether two onsets can have two places.

        Args:
            first: number of the one.
            place: of it, in ticks.
            later: number of the other.
            other: its place.
        """

    def within_limits(self, first: int, places: Sequence[int]) -> bool:
        """Whether some onsets in a row, the first by its number, can have their places, by rules on more than two."""


@frozen(eq=False)
class RhythmProblem:
    """The onsets of a bar, and where they could be.

    Args:
        written_ticks: the onsets as they are written, rising.
        places: for each of them where holes allow it, whatever the others do; rising.
        resolution, us_per_quarter: what a tick is, and the tempo.
        before, after: the nearest onsets outside the bar; None where there is none.
        room: what the strikes leave one another.
    """

    written_ticks: Places
    places: tuple[Places, ...]
    resolution: int
    us_per_quarter: int
    room: Room = field(repr=False)
    before: Neighbour | None = None
    after: Neighbour | None = None

    def changes(self, places: Sequence[int]) -> list[tuple[int, int]]:
        """Every interval between neighbouring onsets with those places, in ticks: as it is written, and as it is."""
        written, rhythm = list(self.written_ticks), list(places)
        for at, neighbour in ((0, self.before), (len(written) + 1, self.after)):
            if neighbour is not None:
                written.insert(at, neighbour.written_ticks)
                rhythm.insert(at, neighbour.sounding_ticks)
        return list(zip(np.diff(written).tolist(), np.diff(rhythm).tolist(), strict=True))

    def harm(self, places: Sequence[int]) -> int:
        """The sum of the squares of all changes of intervals, in thousandths of what goes unheard."""
        return sum(self.interval_harm(*change) for change in self.changes(places))

    def interval_harm(self, written_ticks: int, new_ticks: int) -> int:
        """The square of the change of one interval, in thousandths of what goes unheard."""
        unheard_us = _unheard_us(written_ticks, self.resolution, self.us_per_quarter)
        change_us = abs(new_ticks - written_ticks) * self.us_per_quarter // self.resolution
        return (THOUSANDTHS * change_us // unheard_us) ** 2

    @property
    def pairs(self) -> int:
        """How many pairs of places of neighbouring onsets there are."""
        return sum(len(one) * len(other) for one, other in zip(self.places, self.places[1:], strict=False))


@lru_cache(maxsize=256)
def _unheard_us(ticks: int, resolution: int, us_per_quarter: int) -> int:
    """The maximum change that goes unheard beside an interval of some ticks, to the microsecond."""
    interval_ms = min(ticks_to_ms(ticks, resolution, us_per_quarter), LONGEST_IOI_MS)
    return round(float(unheard_limit_ms(np.array(interval_ms))) * US_PER_MS)


def times_unheard(harm: int) -> float:
    """A harm as a number of times what goes unheard."""
    return math.sqrt(harm) / THOUSANDTHS


def best_rhythm(problem: RhythmProblem, budget: Budget) -> Places | None:
    """The places of least harm that are allowed, of equals those with the least movement, then the earliest.

    Rhythms are looked at best first (A*): the least harm of what comes after a place, whatever onsets that are no
    neighbours leave one another, bounds every beginning of a rhythm from below; so the first whole one is the best.

    Args:
        problem: the bar.
        budget: the work that may be done.

    Returns:
        None where no rhythm is allowed, or the work was spent before.
    """
    if not all(problem.places) or not budget.take(1 + problem.pairs // PAIRS_PER_UNIT):
        return None
    ahead = _least_ahead(problem)
    open_rhythms: list[tuple[int, Places]] = [
        (cost + least, (place,))
        for place, least in ahead[0].items()
        if (cost := _edge_cost(problem, place, first=True)) is not None
    ]
    open_rhythms.sort()
    while open_rhythms:
        bound, rhythm = heappop(open_rhythms)
        number = len(rhythm)
        if not problem.room.within_limits(0, rhythm):
            continue
        if number == len(problem.written_ticks):
            return rhythm
        if not budget.take(1 + len(ahead[number]) // PLACES_PER_UNIT):
            return None
        spent = bound - ahead[number - 1][rhythm[-1]]
        for place, least in ahead[number].items():
            step = _step_cost(problem, number, rhythm[-1], place)
            if step is not None and _has_room(problem, rhythm, place):
                heappush(open_rhythms, (spent + step + least, (*rhythm, place)))
    return None


def _least_ahead(problem: RhythmProblem) -> list[dict[int, int]]:
    """For each onset the least cost of what comes after each place; places that nothing can follow are left out."""
    last = len(problem.places) - 1
    ends = ((place, _edge_cost(problem, place, first=False)) for place in problem.places[last])
    ahead = [{place: cost for place, cost in ends if cost is not None}]
    for number in range(last, 0, -1):
        least = {}
        for place in problem.places[number - 1]:
            costs = [
                step + rest
                for later, rest in ahead[0].items()
                if (step := _step_cost(problem, number, place, later)) is not None
            ]
            if costs:
                least[place] = min(costs)
        ahead.insert(0, least)
    return ahead


def _step_cost(problem: RhythmProblem, number: int, place: int, later: int) -> int | None:
    """What it costs that an onset comes at a place after the onset before it; None where it cannot.

    Args:
        problem: the bar.
        number: of the later onset.
        place: of the onset before it.
        later: its own.
    """
    if later <= place or not problem.room.pair_allowed(number - 1, place, number, later):
        return _NEVER
    written = problem.written_ticks[number] - problem.written_ticks[number - 1]
    return problem.interval_harm(written, later - place) * _MOVED_ROOM + _moved(problem, number, later)


def _edge_cost(problem: RhythmProblem, place: int, first: bool) -> int | None:
    """The same for the interval to the first onset of the bar, or from its last one, beyond the bar line."""
    number = 0 if first else len(problem.places) - 1
    neighbour = problem.before if first else problem.after
    moved = _moved(problem, number, place) if first else 0
    if neighbour is None:
        return moved
    sign = 1 if first else -1
    interval = sign * (place - neighbour.sounding_ticks)
    written = sign * (problem.written_ticks[number] - neighbour.written_ticks)
    return problem.interval_harm(written, interval) * _MOVED_ROOM + moved if interval > 0 else _NEVER


def _moved(problem: RhythmProblem, number: int, place: int) -> int:
    return abs(place - problem.written_ticks[number])


def _has_room(problem: RhythmProblem, rhythm: Places, place: int) -> bool:
    """Whether the onsets that are no neighbours of the next leave it room at a place."""
    return all(problem.room.pair_allowed(number, other, len(rhythm), place) for number, other in enumerate(rhythm[:-1]))
