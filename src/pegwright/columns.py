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
