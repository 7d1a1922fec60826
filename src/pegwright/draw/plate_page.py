"""What the pages of a plate have in common: what they say beside pins, headings, feet, counts by step."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class SheetNotes:
    """What the sheets of a song say beside its pins.

    Args:
        set_name: of the set of plates, such as `A`; may be empty.
        start_steps: where on the turn the song begins; None where that is not known.
        remarks: for the foot of every page, such as `2 notes left out`.
        qr: a code for the corner, square rows of dark (True) and light modules; empty for none.
    """

    set_name: str = ""
    start_steps: Fraction | None = None
    remarks: tuple[str, ...] = ()
    qr: tuple[tuple[bool, ...], ...] = ()
