"""How wide text may be where it is printed: on a terminal, or in a pipe or a file."""

from __future__ import annotations

import os
import re
import sys

NARROWEST_CELLS, WIDEST_CELLS = 60, 100  # a test compares the second with write/tables.py, which --help must not load
WIDTH_VARIABLE = "COLUMNS"


def text_width(*, err: bool = False) -> int:
    """Cells of a line: those that COLUMNS gives, or the terminal has, from 60 to 100; 100 for a pipe or a file.

    Args:
        err: for stderr.
    """
    given = os.environ.get(WIDTH_VARIABLE, "")
    cells = int(given) if re.fullmatch("[0-9]{1,6}", given) else 0
    return min(max(cells or _terminal_cells(err=err), NARROWEST_CELLS), WIDEST_CELLS)


def _terminal_cells(*, err: bool) -> int:
    stream = sys.stderr if err else sys.stdout
    try:
        return os.get_terminal_size(stream.fileno()).columns or WIDEST_CELLS
    except (OSError, ValueError, AttributeError):  # a pipe, a file, or no stream at all
        return WIDEST_CELLS
