"""A song played by hand with all notes from a place on moved, as by another reading of its beat."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import frozen_floats, frozen_ints
from pegwright.played.beats import BeatTrack
from pegwright.played.result import PerformedResult, in_doubt
from pegwright.played.snap import nearest_holes


def shifted(
    result: PerformedResult, from_units: int, quarters: Fraction, places: tuple[Fraction, ...]
) -> PerformedResult:
    """The same holes, those from a place on moved, and what is in doubt once that is known.

    One that is moved between the holes of the wheel takes the nearest.

    Args:
        result: as it was.
        from_units: the place, in units from quarter 0.
        quarters: by how much later; negative is earlier, and 0 says that the place is right.
        places: where holes lie within a quarter.
    """
    later = result.onset_units >= from_units
    moved = nearest_holes(result.onset_units + int(quarters * result.resolution), places, result.resolution)
    after = replace(
        result,
        onset_units=frozen_ints(np.where(later, moved, result.onset_units)),
        beats=_with_shift(result.beats, from_units / result.resolution, float(quarters)),
    )
    if result.doubts is None or not later.any():
        return after
    return in_doubt(after, result.doubts.settled_at(int(result.doubts.cluster[later].min()), quarters), places)


def _with_shift(beats: BeatTrack, from_quarters: float, quarters: float) -> BeatTrack:
    """The beats from a place on moved; those before it that they would overtake are left out."""
    late = beats.quarters >= from_quarters
    late[-2:] = True  # a track has two beats at least
    begins = float(beats.quarters[late][0]) + quarters
    kept = late | (beats.quarters < min(begins, from_quarters))
    return BeatTrack(
        frozen_floats(beats.seconds[kept]), frozen_floats((beats.quarters + late * quarters)[kept]), beats.spread_s
    )
