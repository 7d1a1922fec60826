"""Cautions as paragraphs of text."""

from __future__ import annotations

import textwrap

from pegwright.cautions import CHANGE, TOUCH
from pegwright.write.tables import LINE_CELLS


def caution_lines(cells: int = LINE_CELLS) -> list[str]:
    """What warns people who work on the wheel, in lines of at most that many cells."""
    return textwrap.wrap(f"Caution. {' '.join(TOUCH)}", cells)


def change_caution_lines(cells: int = LINE_CELLS) -> list[str]:
    """What warns people who change the wheel."""
    return textwrap.wrap(f"Caution. {CHANGE}", cells)
