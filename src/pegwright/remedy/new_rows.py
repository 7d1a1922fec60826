"""Rows of holes that a wheel could be given: which, and where each lies across its channel.

Holes of one row must be as far apart as their pins need; a row that is too dense is shared out among several. Holes of
different rows may be nearer, if they do not run into each other: a new row lies beside the others where it must.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import chain
from typing import TypeAlias

import numpy as np

from pegwright.grid import LENGTH_SLACK_MM
from pegwright.wheel import Wheel

FINER_ROWS = (1, 2, 3, 4, 5, 6, 8)  # parts of a step that a row may be added for, the simplest first
SHARES = range(1, 17)  # rows among which the holes of one are shared out
LATERAL_PLACES = 1  # decimals of a distance across the rim, in mm
Places: TypeAlias = tuple[tuple[Fraction, ...], int]  # phases and period of a row, as in `Row`


@lru_cache(maxsize=8)
def new_rows(wheel: Wheel) -> tuple[Places, ...]:
    """Rows that channels could be given: the wheel's own, then finer parts of a step; no place more than once."""
    longest = math.lcm(*(row.period_steps for row in wheel.rows))
    rows = [(row.phases, row.period_steps) for row in wheel.rows]
    taken = {place for row in rows for place in _written_out(*row, longest)}
    for parts in FINER_ROWS:
        places = [Fraction(place, parts) for place in range(parts * longest)]
        new = tuple(place for place in places if place not in taken)
        if new:
            rows += _shared_out(new, longest, wheel)
            taken.update(new)
    return tuple(rows)


def laterals_mm(wheel: Wheel, phases: Sequence[Fraction], period_steps: int) -> tuple[float, ...]:
    """Distances across the rim at which the holes of a new row run into no others, the nearest to the first row first.

    Args:
        wheel: with the rows that there are.
        phases: of the new row.
        period_steps: of the new row.
    """
    own_mm = wheel.rows[0].lateral_mm
    barred = []
    for row in wheel.rows:
        longest = math.lcm(row.period_steps, period_steps)
        ours, others = (
            _written_out(*each, longest) for each in ((phases, period_steps), (row.phases, row.period_steps))
        )
        along_mm = _nearest_steps(ours, others, longest) * wheel.step_mm
        beside_mm = math.sqrt(max(0.0, wheel.geometry.hole_diameter_mm**2 - along_mm**2))
        if beside_mm > LENGTH_SLACK_MM:
            barred.append((row.lateral_mm - beside_mm, row.lateral_mm + beside_mm))
    fine = 10**LATERAL_PLACES
    ends = [end for low, high in barred for end in (math.floor(low * fine) / fine, math.ceil(high * fine) / fine)]
    free = [place for place in {own_mm, *ends} if not any(low < place < high for low, high in barred)]
    return tuple(sorted(free, key=lambda place: (abs(place - own_mm), -place)))


def _nearest_steps(ours: Sequence[Fraction], others: Sequence[Fraction], steps: int) -> float:
    """The distance of the nearest two places of a period."""
    away = np.abs(np.array(ours, dtype=float)[:, None] - np.array(others, dtype=float))
    return float(np.minimum(away, steps - away).min())


def _written_out(phases: Sequence[Fraction], period_steps: int, steps: int) -> tuple[Fraction, ...]:
    return tuple(start + phase for start in range(0, steps, period_steps) for phase in phases)


def _shared_out(places: tuple[Fraction, ...], steps: int, wheel: Wheel) -> list[Places]:
    """These places as one row, or as the fewest whose pins do not touch; none where there is no such."""
    needed_mm = wheel.geometry.apart_mm - LENGTH_SLACK_MM
    for shares, longer in chain.from_iterable(((count, steps), (count, steps * count)) for count in SHARES):
        if longer == steps or not wheel.steps_per_plate % longer:
            written = _written_out(places, steps, longer)
            rows = [written[first::shares] for first in range(shares) if written[first::shares]]
            if all(gap * wheel.step_mm >= needed_mm for row in rows for gap in _gaps(row, longer)):
                return [_shortest(row, longer) for row in rows]
    return []


def _gaps(places: Sequence[Fraction], steps: int) -> Iterator[float]:
    """From each place to the next, round the end of the period."""
    for place, following in zip(places, (*places[1:], places[0] + steps), strict=True):
        yield float(following - place)


def _shortest(places: tuple[Fraction, ...], steps: int) -> Places:
    """A row of these places, with the shortest period that gives them."""
    for period in range(1, steps):
        phases = tuple(place for place in places if place < period)
        if steps % period == 0 and _written_out(phases, period, steps) == places:
            return phases, period
    return places, steps
