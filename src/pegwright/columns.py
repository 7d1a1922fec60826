"""Read-only numpy columns, the form in which notes, holes and pins are held; and sequences made of them on demand."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate, chain
from typing import Any, TypeAlias, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

Ints: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]
Scalar = TypeVar("Scalar", bound=np.generic)
Item_co = TypeVar("Item_co", covariant=True)
BATCH = 256  # items made together


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


def distinct(column: Ints) -> Ints:
    """The values of a column, rising, each once; `numpy.unique` loads the module of masked arrays for the same."""
    rising = np.sort(column)
    return rising[firsts(rising)]


def looked_up(column: Ints, value_of: Callable[[int], Scalar | int], kind: type[Scalar]) -> NDArray[Scalar]:
    """What belongs to each number of a column, asked for once for each number that occurs, however many there could be.

    Args:
        column: shape (n,).
        value_of: the value that belongs to a number.
        kind: of the values.
    """
    numbers = distinct(column)
    return np.array([value_of(number) for number in numbers.tolist()], dtype=kind)[np.searchsorted(numbers, column)]


def among(column: Ints, values: Sequence[int] | Ints) -> NDArray[np.bool_]:
    """Which of a column of whole numbers are among some; all are 0 or more, and small enough for a table of them."""
    listed = np.zeros(max(int(column.max(initial=-1)), *values, -1) + 1, dtype=bool)
    listed[list(values)] = True
    return listed[column]


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


class OnDemand(Sequence[Item_co]):
    """A sequence whose items are made, some together, each time that they are asked for; none is kept.

    Args:
        numbers: shape (n,), of the items.
        make: the items of some of the numbers.

    >>> squares = OnDemand(np.arange(1_000_000), lambda numbers: [number**2 for number in numbers.tolist()])
    >>> len(squares), squares[999], list(squares[2:5])
    (1000000, 998001, [4, 9, 16])
    """

    def __init__(self, numbers: Ints, make: Callable[[Ints], Sequence[Item_co]]) -> None:
        self.numbers, self.make = numbers, make

    def __len__(self) -> int:
        return len(self.numbers)

    @overload
    def __getitem__(self, place: int) -> Item_co: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Item_co]: ...
    def __getitem__(self, place: int | slice) -> Item_co | Sequence[Item_co]:
        if isinstance(place, slice):
            return OnDemand(self.numbers[place], self.make)
        return self.make(self.numbers[[place]])[0]

    def __iter__(self) -> Iterator[Item_co]:
        for first in range(0, len(self.numbers), BATCH):
            yield from self.make(self.numbers[first : first + BATCH])


class JoinedSequence(Sequence[Item_co]):
    """Sequences one after another, as one; a slice is a tuple.

    >>> JoinedSequence([(1, 2), (), (3,)])[1:]
    (2, 3)
    """

    def __init__(self, parts: Sequence[Sequence[Item_co]]) -> None:
        self.parts = tuple(parts)
        self._ends = list(accumulate(map(len, self.parts)))

    def __len__(self) -> int:
        return self._ends[-1] if self._ends else 0

    @overload
    def __getitem__(self, place: int) -> Item_co: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Item_co, ...]: ...
    def __getitem__(self, place: int | slice) -> Item_co | tuple[Item_co, ...]:
        if isinstance(place, slice):
            return tuple(self[at] for at in range(len(self))[place])
        at = range(len(self))[place]
        part = bisect_right(self._ends, at)
        return self.parts[part][at - self._ends[part]]  # the end counted backwards

    def __iter__(self) -> Iterator[Item_co]:
        return chain.from_iterable(self.parts)
