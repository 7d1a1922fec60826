"""Where a song begins on its wheel, as it is printed."""

from __future__ import annotations

from pegwright.grid import start_steps
from pegwright.placement import Placement
from pegwright.units import fraction_text, printed
from pegwright.wheel import Wheel


def start_of(wheel: Wheel, placement: Placement) -> tuple[int, str]:
    """Where the song begins: plate, and step of that plate, both counted from 1."""
    plate, step = divmod(start_steps(wheel, placement), wheel.steps_per_plate)
    return printed(int(plate)), fraction_text(step + 1)
