"""Read-only numpy columns, the form in which notes, holes and pins are held."""

from __future__ import annotations

from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

Ints: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]
Scalar = TypeVar("Scalar", bound=np.generic)


def frozen_ints(values: object) -> Ints:
    """A read-only int64 column made from any sequence of whole numbers."""
    return read_only(np.array(values, dtype=np.int64))


def frozen_floats(values: object) -> Floats:
    """A read-only float64 column made from any sequence of numbers."""
    return read_only(np.array(values, dtype=np.float64))


def read_only(column: NDArray[Scalar]) -> NDArray[Scalar]:
    """The same column, read-only from now on; for one that nobody else writes to."""
    column.setflags(write=False)
    return column


def tuples(*columns: NDArray[Any]) -> list[tuple[Any, ...]]:
    """The rows of columns of one length, as Python's own numbers, which are faster to work with one by one."""
    return list(zip(*(column.tolist() for column in columns), strict=True))


def firsts(*columns: NDArray[Scalar]) -> NDArray[np.bool_]:
    """Which rows of sorted columns of one length differ from the row before; the first does."""
    first: NDArray[np.bool_] = np.arange(len(columns[0])) == 0
    for column in columns:
        first[1:] |= column[1:] != column[:-1]
    return first


def window_ends(at: Ints, length: int, turn: int) -> Ints:
    """The end of each window round a turn: the index after its last place; a window does not include its end.

    Args:
        at: places on the turn, shape (n,), rising, from 0 to below the turn; a window begins with each.
        length: of a window, above 0.
        turn: length of a turn, in the same whole units.

    Returns:
        shape (n,), indexes into the places followed by themselves a turn later; at most 2 n.
    """
    ends: Ints = np.searchsorted(np.concatenate([at, at + turn]), at + length)
    return ends


def runs(first: Ints, counts: Ints) -> Ints:
    """The indexes `first`, `first + 1` and so on of runs of these lengths, one run after another.

    Args:
        first: of each run, shape (n,).
        counts: lengths of the runs, shape (n,), 0 or more.
    """
    indexes: Ints = np.arange(counts.sum()) + np.repeat(first - np.cumsum(counts) + counts, counts)
    return indexes
