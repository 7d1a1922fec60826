"""Where two readings of the beat part, and how one is turned into the other there."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.played.beats import BeatTrack
from pegwright.played.result import PerformedResult

PARTS = 12  # of a quarter: two readings differ by sixteenths, thirds, or sums of these
FURTHEST = 2 * PARTS  # beyond which a reading has lost count
STEADY_NOTES = 12  # that differ by the same amount, before it is reported
AROUND = 4  # notes on either side over which single onsets are evened out
UNSURE = 0.75  # mean confidence from which on a stretch is sure


@frozen()
class Alternative:
    """A place from which on another reading of the beat puts all notes elsewhere, as far as the two differ there.

    Args:
        note: number of the first note, in order of time.
        quarters: by how much the notes from there on lie later than in the reading chosen; negative is earlier.
    """

    note: int
    quarters: Fraction


def alternatives(result: PerformedResult) -> tuple[Alternative, ...]:
    """The places where two readings that ran beside each other begin to do so at another distance.

    Args:
        result: its notes in order of time.
    """
    if result.other_quarters is None or len(result.onset_units) < STEADY_NOTES:
        return ()
    each = np.round(result.other_quarters * PARTS).astype(np.int64)
    apart = np.round(_evened(result.other_quarters) * PARTS).astype(np.int64)
    ends = [*(np.flatnonzero(np.diff(apart)) + 1).tolist(), len(apart)]
    runs = zip([0, *ends[:-1]], ends, strict=True)
    steady = [(first, past) for first, past in runs if past - first >= STEADY_NOTES]
    slips = []
    for before, after in pairwise(steady):
        parts = int(apart[after[0]] - apart[before[0]])
        unsure = min(float(result.confidence[slice(*run)].mean()) for run in (before, after)) < UNSURE
        if parts and abs(parts) <= FURTHEST and unsure:
            slips.append(Alternative(_turn(each, apart, before, after), Fraction(parts, PARTS)))
    return tuple(slips)


def _turn(each: Ints, apart: Ints, before: tuple[int, int], after: tuple[int, int]) -> int:
    """The first note at the new distance: medians may have it some notes early or late.

    Args:
        each: shape (n,), distances of notes.
        apart: the same, evened out.
        before: first of the notes at the old distance, and the one past the last.
        after: the same at the new one.
    """
    turns = range(max(before[0], before[1] - AROUND), min(after[1], after[0] + AROUND) + 1)
    old, new = each == apart[before[0]], each == apart[after[0]]
    return max(turns, key=lambda turn: int(old[turns[0] : turn].sum() + new[turn : turns[-1]].sum()))


def _evened(values: Floats) -> NDArray[np.float64]:
    """The median of each value and its neighbours."""
    padded = np.pad(np.array(values), AROUND, mode="edge")
    medians: NDArray[np.float64] = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND + 1), axis=1)
    return medians


def shifted(
    result: PerformedResult, from_units: int, quarters: Fraction, places: tuple[Fraction, ...]
) -> PerformedResult:
    """The same holes, those from a place on moved; one that is moved between the holes of the wheel takes the nearest.

    Args:
        result: as it was.
        from_units: the place, in units from quarter 0.
        quarters: by how much later; negative is earlier.
        places: where holes lie within a quarter.
    """
    later = result.onset_units >= from_units
    moved = np.where(later, _nearest(result.onset_units + int(quarters * result.resolution), places, result), 0)
    other = result.other_quarters
    return replace(
        result,
        onset_units=frozen_ints(np.where(later, moved, result.onset_units)),
        beats=_with_shift(result.beats, from_units / result.resolution, float(quarters)),
        other_quarters=None if other is None else frozen_floats(other - later * float(quarters)),
    )


def _nearest(units: Ints, places: tuple[Fraction, ...], result: PerformedResult) -> Ints:
    inside = np.array([int(place * result.resolution) for place in places])
    holes = np.concatenate([inside - result.resolution, inside, inside + result.resolution])
    at = units % result.resolution
    nearest: Ints = units - at + holes[np.abs(at[:, None] - holes).argmin(axis=1)]
    return nearest


def _with_shift(beats: BeatTrack, from_quarters: float, quarters: float) -> BeatTrack:
    """The beats from a place on moved; those before it that they would overtake are left out."""
    late = beats.quarters >= from_quarters
    late[-2:] = True  # a track has two beats at least
    begins = float(beats.quarters[late][0]) + quarters
    kept = late | (beats.quarters < min(begins, from_quarters))
    return BeatTrack(
        frozen_floats(beats.seconds[kept]), frozen_floats((beats.quarters + late * quarters)[kept]), beats.spread_s
    )
