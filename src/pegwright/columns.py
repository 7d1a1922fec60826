"""Read-only numpy columns, the form in which notes, holes and pins are held."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Ints: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]


def frozen_ints(values: object) -> Ints:
    """A read-only int64 column made from any sequence of whole numbers."""
    column = np.array(values, dtype=np.int64)
    column.setflags(write=False)
    return column


def frozen_floats(values: object) -> Floats:
    """A read-only float64 column made from any sequence of numbers."""
    column = np.array(values, dtype=np.float64)
    column.setflags(write=False)
    return column


def window_ends(at: Ints, length: int, turn: int) -> Ints:
    """For windows round a turn, the place past the last that each holds; the end of a window is not part of it.

    Args:
        at: places on the turn, shape (n,), rising, from 0 to below the turn; a window begins with each.
        length: of a window, above 0.
        turn: once round, in the same whole units.

    Returns:
        shape (n,), indexes into the places followed by themselves a turn later; no window goes on beyond those.
    """
    ends: Ints = np.searchsorted(np.concatenate([at, at + turn]), at + length)
    return ends
