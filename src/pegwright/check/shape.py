"""Whether the columns of a placement fit its score and its wheel, so that the rules can be checked."""

from __future__ import annotations

from collections.abc import Iterator

from pegwright.check.sentences import each
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.wheel import Wheel

COLUMNS = ("outcome", "channel", "plate", "row", "index", "pin_type", "deviation_ticks", "deviation_ms", "unison")


def shape(score: Score, wheel: Wheel, placement: Placement) -> Iterator[str]:
    """Counts, hashes and bounds of every column.

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
    if not _is_whole(score, wheel, placement.resolution):
        yield f"resolution {placement.resolution} does not make score and wheel whole"
        return
    turn = wheel.turn_quarters * placement.resolution
    if not 0 <= placement.start_ticks < turn:
        yield f"start {placement.start_ticks} is outside the turn of {turn} ticks"
    if not 0 <= 2 * placement.reach_ticks < turn:
        yield f"reach {placement.reach_ticks} is not below half a turn of {turn} ticks"
    yield from _bounds(score, wheel, placement)
    yield from _holes(score, placement)


def _is_whole(score: Score, wheel: Wheel, resolution: int) -> bool:
    """Whether every tick of the score and every hole of the wheel is a whole tick at a resolution."""
    steps = [wheel.step_quarters, *(phase * wheel.step_quarters for row in wheel.rows for phase in row.phases)]
    return resolution % score.resolution == 0 and all((step * resolution).denominator == 1 for step in steps)


def _bounds(score: Score, wheel: Wheel, placement: Placement) -> Iterator[str]:
    """Every number in a column is the number of something that exists."""
    counts = {
        "outcome": len(Outcome),
        "channel": len(wheel.channels),
        "plate": wheel.plate_count,
        "row": len(wheel.rows),
        "pin_type": len(wheel.pin_types),
        "unison": score.note_count,
    }
    for name, count in counts.items():
        column = getattr(placement, name)
        minimum = 0 if name == "outcome" else -1
        yield from each(score, (column < minimum) | (column >= count), f"has a {name} that does not exist")


def _holes(score: Score, placement: Placement) -> Iterator[str]:
    """A note has a hole and a pin where it is placed, and nowhere else."""
    placed = placement.outcome == Outcome.PLACED
    for name in ("plate", "row", "index", "pin_type"):
        column = getattr(placement, name)
        yield from each(score, placed & (column < 0), f"is placed without a {name}")
        yield from each(score, ~placed & (column != -1), f"is left out and has a {name}")
    yield from each(score, placed & (placement.channel < 0), "is placed without a channel")
