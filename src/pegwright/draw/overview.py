"""The show overview: one line a song, with the swap that makes ready for it and the time there is for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pegwright.draw.paper import Paper
from pegwright.drawing import Page


@dataclass(frozen=True, slots=True)
class OverviewRow:
    """One song of a show and the swap that makes its plates ready.

    Args:
        position: in playing order, 0-based.
        title: of the song.
        set_name: of the set of plates that plays it, such as `A`.
        start_text: where on the turn it begins, as a person reads it; may be empty.
        transpose_semitones: as fitted.
        us_per_quarter: its tempo.
        duration_s: how long it plays.
        pull, set_pins, stay: pins of its swap; `set_pins` and `stay` together stand in its plates.
        needed_s: what the swap takes.
        available_s: the time there is for it during the show; None where it is done before the show.
    """

    position: int
    title: str
    set_name: str
    start_text: str
    transpose_semitones: int
    us_per_quarter: int
    duration_s: float
    pull: int
    set_pins: int
    stay: int
    needed_s: float
    available_s: float | None


def overview_pages(title: str, wheel_name: str, rows: Sequence[OverviewRow], paper: Paper) -> tuple[Page, ...]:
    """The overview of a show, over as many pages as its songs need.

    Args:
        title: of the show.
        wheel_name: for the heading.
        rows: in playing order.
        paper: held with its long side across.
    """
    raise NotImplementedError
