"""Whether the columns of a placement fit its score and its wheel, so that the rules can be checked."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from pegwright.check.subject import Subject
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

COLUMNS = ("outcome", "channel", "plate", "row", "index", "pin_type", "deviation_ticks", "deviation_ms", "unison")


def shape(score: Score, wheel: Wheel, placement: Placement) -> Iterator[str]:
    """Counts and hashes, and bounds of what holds for all notes.

    Args:
        score: what was fitted.
        wheel: what it was fitted to.
        placement: to check.
    """
    for name in COLUMNS:
        if len(getattr(placement, name)) != score.note_count:
            yield f"column {name} has {len(getattr(placement, name))} items for {score.note_count} notes"
            return
    if (placement.score_sha256, placement.wheel_sha256) != (score.sha256, wheel.sha256):
        yield "the placement is of another score or another wheel"
    if not _is_whole(score.resolution, wheel, placement.resolution):
        yield f"resolution {placement.resolution} does not make score and wheel whole"
        return
    turn = wheel.turn_quarters * placement.resolution
    if not 0 <= placement.start_ticks < turn:
        yield f"start {placement.start_ticks} is outside the turn of {turn} ticks"
    if not 0 <= 2 * placement.reach_ticks < turn:
        yield f"reach {placement.reach_ticks} is not below half a turn of {turn} ticks"


def columns(subject: Subject) -> Iterator[str]:
    """Bounds of every column, and whether notes have holes where they need them."""
    yield from _bounds(subject)
    yield from _holes(subject)


@lru_cache(maxsize=4)  # the turns of a song are checked one after another
def _is_whole(score_resolution: int, wheel: Wheel, resolution: int) -> bool:
    """Whether every tick of the score and every hole of the wheel is a whole tick at a resolution."""
    places = [phase for row in wheel.rows for phase in row.phases] + [each.advance_steps for each in wheel.channels]
    steps = [wheel.step_quarters, *(place * wheel.step_quarters for place in places)]
    return resolution % score_resolution == 0 and all((step * resolution).denominator == 1 for step in steps)


def _bounds(subject: Subject) -> Iterator[str]:
    """Every number in a column is the number of something that exists."""
    wheel, ends = subject.wheel, np.array(subject.firsts[1:], dtype=np.int64)
    counts = {
        "outcome": len(Outcome),
        "channel": len(wheel.channels),
        "plate": wheel.plate_count,
        "row": len(wheel.rows),
        "pin_type": len(wheel.pin_types),
        "unison": ends[subject.turn],  # of the note's own turn
    }
    for name, count in counts.items():
        column = getattr(subject.placement, name)
        minimum = 0 if name == "outcome" else -1
        yield from subject.each((column < minimum) | (column >= count), f"has a {name} that does not exist")


def _holes(subject: Subject) -> Iterator[str]:
    """A note has a hole and a pin where it is placed, and nowhere else."""
    placement, placed = subject.placement, subject.placement.outcome == Outcome.PLACED
    for name in ("plate", "row", "index", "pin_type"):
        column = getattr(placement, name)
        yield from subject.each(placed & (column < 0), f"is placed without a {name}")
        yield from subject.each(~placed & (column != -1), f"is left out and has a {name}")
    yield from subject.each(placed & (placement.channel < 0), "is placed without a channel")
