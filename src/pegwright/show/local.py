"""A good playing order for more songs than can be planned exactly: local search with small changes.

The changes are tried in a fixed order and the first that helps is taken, so the result is the same on every run. Songs
that follow each other on one set of plates are `stride` places apart: some changes keep to such places.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from typing import TypeAlias

Order: TypeAlias = tuple[int, ...]
Cost: TypeAlias = Callable[[Order], tuple[float, ...]]  # compared like tuples

_KICKS = 30


def improved(
    order: Order,
    cost: Cost,
    stride: int,
    fixed: Sequence[int],
    floor: Cost | None = None,
    max_trials: int | None = None,
) -> Order:
    """The order after small changes for as long as one reduces the cost.

    Args:
        order: where to begin.
        cost: what to minimise.
        stride: places from a song to the next one on the same set of plates.
        fixed: places whose song must stay.
        floor: a lower bound on the cost, if that is faster to compute; it affects nothing but the time.
        max_trials: after how many changes to stop; None for as long as it takes.
    """
    changes = _changes(len(order), stride, frozenset(fixed))
    best = cost(order)
    unhelped = trials = 0
    while unhelped < len(changes):
        for change in changes:
            trial = tuple([order[place] for place in change])
            unhelped, trials = unhelped + 1, trials + 1
            if (floor is None or floor(trial) < best) and (reached := cost(trial)) < best:
                order, best, unhelped = trial, reached, 0
            if trials == max_trials:
                return order
            if unhelped == len(changes):
                break
    return order


def improved_often(order: Order, cost: Cost, stride: int, fixed: Sequence[int], max_trials: int) -> Order:
    """The best of many searches, each from the best order so far with a few songs exchanged.

    Args:
        order: where to begin.
        cost: what to minimise.
        stride: as in `improved`.
        fixed: places whose song must stay.
        max_trials: in all the searches together.
    """
    count = 0

    def counted(trial: Order) -> tuple[float, ...]:
        nonlocal count
        count += 1
        return cost(trial)

    best = improved(order, counted, stride, fixed, max_trials=max_trials)
    places = [place for place in range(len(order)) if place not in fixed]
    for kick in range(_KICKS if len(places) > 3 else 0):
        if count >= max_trials:
            break
        trial = improved(_kicked(best, kick, places), counted, stride, fixed, max_trials=max_trials - count)
        if cost(trial) < cost(best):
            best = trial
    return best


@lru_cache(maxsize=16)
def _changes(count: int, stride: int, fixed: frozenset[int]) -> tuple[Order, ...]:
    """Every small change: for each place of the new order, the place its song comes from."""
    places = [place for place in range(count) if place not in fixed]
    changes = [_put(count, (one, other), (other, one)) for one, other in combinations(places, 2)]
    for step in sorted({1, stride}):
        for residue in range(step):
            changes += _changes_along(count, [place for place in places if place % step == residue])
    return tuple(dict.fromkeys(changes))


def _changes_along(count: int, track: list[int]) -> Iterator[Order]:
    """Every section reversed, and every song moved elsewhere, along some places."""
    for first in range(len(track)):
        for past in range(first + 3, len(track) + 1):
            yield _put(count, track[first:past], track[first:past][::-1])
    for taken in range(len(track)):
        rest = track[:taken] + track[taken + 1 :]
        for place in range(len(track)):
            if abs(place - taken) > 1:
                yield _put(count, track, [*rest[:place], track[taken], *rest[place:]])


def _put(count: int, places: Sequence[int], sources: Sequence[int]) -> Order:
    change = list(range(count))
    for place, source in zip(places, sources, strict=True):
        change[place] = source
    return tuple(change)


def _kicked(order: Order, kick: int, places: Sequence[int]) -> Order:
    """Three songs far apart change places; the number of the kick says which ones."""
    third = len(places) // 3
    apart = 1 + kick % max(1, third)
    first = kick * 7 % len(places)
    one, other, another = (places[(first + part * apart) % len(places)] for part in range(3))
    change = _put(len(order), (one, other, another), (other, another, one))
    return tuple(order[place] for place in change)
