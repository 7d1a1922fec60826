"""What the notes left out of a piece lack, and whether that, added to the wheel, lets the whole piece in."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.verdict.choose import Placements
from pegwright.verdict.things import FINER_ROWS, Lacking, Thing, row_things, with_things
from pegwright.wheel import Wheel

Bools: TypeAlias = NDArray[np.bool_]

MOST_THINGS = 5  # a piece that lacks more is far from going in, and the proof is not tried


@dataclass(frozen=True, slots=True)
class Lacks:
    """What is lacking.

    Args:
        things: sorted.
        let_in: whether the piece was fitted to the wheel with these things and every note sounds.
    """

    things: tuple[Thing, ...]
    let_in: bool


def lacks_of(
    turns: Sequence[Score], placements: Placements, wheel: Wheel, place_on: Callable[[Wheel], Placements]
) -> Lacks:
    """Work out what a piece lacks.

    A note without a channel lacks a channel for its pitch; a note off the grid lacks the first of `row_things` with
    a hole within its reach. With these added, further notes may turn out to lack something, until every note
    sounds or something is left that no channel and no row cures.

    Args:
        turns: of one song.
        placements: of those, on the wheel as it is.
        wheel: the wheel.
        place_on: the placements of the same turns on another wheel, otherwise alike.
    """
    things: set[Thing] = set()
    while True:
        further, curable = _wanted(turns, placements, wheel)
        things |= further
        if not curable or not further or len(things) > MOST_THINGS:
            return Lacks(_sorted(things), let_in=curable and not further)
        placements = place_on(with_things(wheel, things))


def left_out(placement: Placement) -> Bools:
    """Shape (n,): notes that do not sound, neither by a pin of their own nor by one that they share."""
    silent: Bools = (placement.outcome != Outcome.PLACED) & ~shared(placement)
    return silent


def shared(placement: Placement) -> Bools:
    """Shape (n,): notes without a pin of their own that another note's pin sounds."""
    sounded: Bools = (placement.outcome == Outcome.HOLE_USED) & (placement.unison >= 0)
    sounded[sounded] = placement.outcome[placement.unison[sounded]] == Outcome.PLACED
    return sounded


def _wanted(turns: Sequence[Score], placements: Placements, wheel: Wheel) -> tuple[set[Thing], bool]:
    """What left-out notes lack, and whether every one of them lacks something that can be added."""
    things: set[Thing] = set()
    curable = True
    for score, placement in zip(turns, placements, strict=True):
        out = left_out(placement)
        no_channel, off_grid = (out & (placement.outcome == it) for it in (Outcome.NO_CHANNEL, Outcome.OFF_GRID))
        things |= _channels(score, placement, no_channel)
        rows, every = _rows(score, placement, off_grid, wheel)
        things |= rows
        curable &= every and not np.any(out & ~no_channel & ~off_grid)
    return things, curable


def _channels(score: Score, placement: Placement, notes: Bools) -> set[Thing]:
    drum = score.percussion_notes()
    pitches = np.unique(score.pitch_midi[notes & ~drum] + placement.transpose_semitones).tolist()
    keys = np.unique(score.pitch_midi[notes & drum]).tolist()
    within = {Thing(Lacking.PITCH, pitch) for pitch in pitches}
    return within | {Thing(Lacking.DRUM_KEY, key) for key in keys}


def _rows(score: Score, placement: Placement, notes: Bools, wheel: Wheel) -> tuple[set[Thing], bool]:
    """For each note the first row with a hole within reach, and whether every note has one."""
    candidates = row_things(wheel)
    longest = math.lcm(*(thing.period_steps for thing in candidates))
    fineness = math.lcm(*FINER_ROWS, *(phase.denominator for row in wheel.rows for phase in row.phases))
    step_units = int(wheel.step_quarters * placement.resolution) * fineness
    onset = score.onset_ticks[notes] * (placement.resolution // score.resolution)
    place = np.unique((onset + placement.start_ticks) * fineness % (longest * step_units))
    found: set[Thing] = set()
    for thing in candidates:
        if not len(place):
            break
        holes = np.array([int(phase * step_units) for phase in thing.phases], dtype=np.int64)
        near = _distance(place, holes, thing.period_steps * step_units) <= placement.reach_ticks * fineness
        if np.any(near):
            found.add(thing)
            place = place[~near]
    return found, not len(place)


def _distance(place: Ints, holes: Ints, period: int) -> Ints:
    """From each place to the nearest of holes that repeat with a period."""
    after = (place[:, None] - holes) % period
    nearest: Ints = np.minimum(after, period - after).min(axis=1)
    return nearest


def _sorted(things: set[Thing]) -> tuple[Thing, ...]:
    return tuple(sorted(things, key=Thing.order))
