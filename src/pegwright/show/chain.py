"""The best start of every pinning that a set of plates carries one after another: a shortest path, exact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.show.work import Works

BARRED = 1 << 60  # more than any work; two of them are still within an int64


@dataclass(frozen=True, slots=True)
class Chain:
    """What one set of plates carries in a show.

    Args:
        carried: the pinning it carries at the beginning, or empty plates; it has one start.
        pinnings: those of the songs, in order.
    """

    carried: int
    pinnings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """Work along a chain.

    Args:
        starts: which of its starts each pinning takes.
        before: work to pin the first one, before the show.
        during: work of each later one.
    """

    starts: tuple[int, ...]
    before: int
    during: tuple[int, ...]


def least_steps(chain: Chain, works: Works, barred: Sequence[NDArray[np.bool_]] = ()) -> Steps | None:
    """Choose the starts along a chain for least work during the show, then before it.

    On a tie the earlier start is taken, from the last pinning to the first.

    Args:
        chain: what the set carries.
        works: what every swap costs.
        barred: for each pinning after the first, shape (starts, starts), the swaps that may not be; empty for none.

    Returns:
        the steps; None where every way is barred.
    """
    pinnings = chain.pinnings
    if not pinnings:
        return Steps((), 0, ())
    first = works.between(chain.carried, pinnings[0])[0]
    weight = int(first.max()) + 1  # work during the show counts before any work ahead of it
    totals = [first.astype(np.int64)]
    for number, (old, new) in enumerate(pairwise(pinnings)):
        total = (totals[-1][:, None] + _step(works, old, new, number, barred, weight)).min(axis=0)
        totals.append(np.minimum(total, BARRED))
    if totals[-1].min() >= BARRED:
        return None
    starts = [int(totals[-1].argmin())]
    for number in range(len(pinnings) - 2, -1, -1):
        step = _step(works, pinnings[number], pinnings[number + 1], number, barred, weight)
        starts.insert(0, int((totals[number] + step[:, starts[0]]).argmin()))
    during = tuple(
        int(works.between(pinnings[n], pinnings[n + 1])[starts[n], starts[n + 1]]) for n in range(len(pinnings) - 1)
    )
    return Steps(tuple(starts), int(first[starts[0]]), during)


def least_worst(hurries: Sequence[Floats]) -> float:
    """The greatest hurry along a chain at the starts that keep it least; `hurries` as `barred` above."""
    if not hurries:
        return 0.0
    worst = np.zeros(len(hurries[0]))
    for hurry in hurries:
        worst = np.maximum(worst[:, None], hurry).min(axis=0)
    return float(worst.min())


def _step(works: Works, old: int, new: int, number: int, barred: Sequence[NDArray[np.bool_]], weight: int) -> Ints:
    scaled = works.between(old, new) * weight
    return np.where(barred[number], BARRED, scaled) if barred else scaled
