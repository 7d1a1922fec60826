"""The cost of every possible swap of a show: the minimum work between any two pinnings at any of their starts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, frozen_ints

MAX_LISTED = 720  # exchanges of plates: up to all those of six plates, listing them is faster than assigning them
PinTypes: TypeAlias = NDArray[np.uint8]


class Works:
    """The minimum work between pinnings, each table computed when it is first needed.

    Work is counted in pins pulled plus pins set and is the same either way.

    Args:
        tables: for each pinning its pins at each of its starts, shape (starts, plates, holes): 0, or
            pin type + 1, as `swap.plate_table` gives them.
        allowed: shape (plates, places) of 0 and 1: which plate may take which place.
    """

    def __init__(self, tables: Sequence[PinTypes], allowed: Ints) -> None:
        self._tables = tables
        self._allowed = allowed
        self._between: dict[tuple[int, int], Ints] = {}
        self._types = sorted({int(kind) for table in tables for kind in np.unique(table)} - {0})
        self._pins: dict[int, Ints] = {}
        self._flat: dict[int, list[NDArray[np.float32]]] = {}
        self._exchanges = _exchanges(allowed)

    def pins(self, pinning: int) -> Ints:
        """Pins of a pinning at each of its starts, shape (starts,)."""
        if pinning not in self._pins:
            self._pins[pinning] = frozen_ints(np.count_nonzero(self._tables[pinning], axis=(1, 2)))
        return self._pins[pinning]

    def starts(self, pinning: int) -> int:
        """How many starts a pinning has."""
        return len(self._tables[pinning])

    def between(self, old: int, new: int) -> Ints:
        """The minimum work from each start of one pinning to each of another, shape (starts, starts)."""
        if (old, new) not in self._between:
            if (new, old) in self._between:
                return frozen_ints(self._between[new, old].T)
            self._between[old, new] = self._minimum(old, new)
        return self._between[old, new]

    def in_place(self, old: int, new: int) -> Ints:
        """The same with every plate kept in its place."""
        shared = np.trace(self._shared(old, new), axis1=2, axis2=3)
        return frozen_ints(self._together(old, new) - 2 * shared.astype(np.int64))

    def _minimum(self, old: int, new: int) -> Ints:
        shared = self._shared(old, new)
        if self._exchanges is None:
            staying = _assigned(shared, self._allowed)
        else:
            pairs = shared.reshape(-1, self._allowed.size)
            staying = (pairs @ self._exchanges).max(axis=1).reshape(shared.shape[:2])
        return frozen_ints(self._together(old, new) - 2 * staying.astype(np.int64))

    def _together(self, old: int, new: int) -> Ints:
        return self.pins(old)[:, None] + self.pins(new)[None, :]

    def _shared(self, old: int, new: int) -> NDArray[np.float32]:
        """Pins that stay if a plate of the old pinning becomes one of the new: (starts, starts, plates, plates)."""
        # float32 counts exactly to 16 million, and its product is by far the fastest
        products = [one @ other.T for one, other in zip(self._by_type(old), self._by_type(new), strict=True)]
        total = np.sum(products, axis=0) if products else np.zeros(())
        shape = (*self._tables[old].shape[:2], *self._tables[new].shape[:2])
        return np.ascontiguousarray(np.broadcast_to(total, _flat_shape(shape)).reshape(shape).transpose(0, 2, 1, 3))

    def _by_type(self, pinning: int) -> list[NDArray[np.float32]]:
        if pinning not in self._flat:
            table = self._tables[pinning]
            flat = table.reshape(-1, table.shape[2])
            self._flat[pinning] = [(flat == kind).astype(np.float32) for kind in self._types]
        return self._flat[pinning]


def _flat_shape(shape: tuple[int, int, int, int]) -> tuple[int, int]:
    return shape[0] * shape[1], shape[2] * shape[3]


def _exchanges(allowed: Ints) -> NDArray[np.float32] | None:
    """Every allowed exchange as a column of 0 and 1, shape (plates * places, exchanges); None if there are too many."""
    places = len(allowed)
    exchanges: list[tuple[int, ...]] = [()]
    for place in range(places):
        exchanges = [
            (*taken, plate)
            for taken in exchanges
            for plate in np.flatnonzero(allowed[:, place]).tolist()
            if plate not in taken
        ]
        if len(exchanges) > MAX_LISTED:
            return None
    table = np.zeros((places, places, len(exchanges)), dtype=np.float32)
    for number, plates in enumerate(exchanges):
        table[list(plates), range(places), number] = 1
    return table.reshape(-1, len(exchanges))


def _assigned(shared: NDArray[np.float32], allowed: Ints) -> NDArray[np.float32]:
    """The maximum of the pins that can stay over all allowed exchanges, for each pair of starts, by assignment."""
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415  # heavy, and needed only for wheels of many plates

    # A barred exchange must lose against any allowed one.
    scored = np.where(allowed == 1, shared, -float(shared.max(initial=0) * len(allowed) + 1)).astype(np.float64)
    staying = [
        scored_pair[linear_sum_assignment(scored_pair, maximize=True)].sum()
        for scored_pair in scored.reshape(-1, *allowed.shape)
    ]
    return np.array(staying, dtype=np.float32).reshape(shared.shape[:2])
