"""Long silences, which say nothing about the beat: taken out before a performance is followed, and put back after.

Following a beat takes time and memory for every quarter, sounding or not, and a file of two notes can be hours long.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.played.beats import BeatTrack

LONGEST_QUARTERS = 16  # of silence that is followed through: four bars of 4/4
KEPT_QUARTERS = LONGEST_QUARTERS // 2  # on either side of what is taken out


@frozen(eq=False)
class Silences:
    """What was taken out of a performance; columns have shape (s,), rising.

    Args:
        at_s: when each was, in the seconds of what is left.
        length_s: how long each was.
    """

    at_s: Floats
    length_s: Floats

    def shortened(self, seconds: Floats) -> Floats:
        """Times of notes without the silences before them, in seconds."""
        ends_s = self.at_s + np.cumsum(self.length_s)
        return frozen_floats(seconds - self._sum(self.length_s, ends_s, seconds))

    def restored(self, beats: BeatTrack, seconds: Floats, units: Ints, resolution: int) -> tuple[BeatTrack, Ints]:
        """Put the silences back, each as long as the whole quarters nearest to its length.

        Args:
            beats: the beat track without the silences.
            seconds: shape (n,), when each note was played, without the silences.
            units: shape (n,), its hole.
            resolution: units a quarter.

        Returns:
            The beat track and the holes, with the silences.
        """
        quarters = np.round(self.length_s / beats.quarter_s_at(self.at_s))
        track = BeatTrack(
            frozen_floats(beats.seconds + self._sum(self.length_s, self.at_s, beats.seconds)),
            frozen_floats(beats.quarters + self._sum(quarters, self.at_s, beats.seconds)),
            beats.spread_s,
        )
        later = self._sum(quarters, self.at_s, seconds).astype(np.int64)
        return track, frozen_ints(units + later * resolution)

    @staticmethod
    def _sum(lengths: Floats, at_s: Floats, seconds: Floats) -> Floats:
        """For each time the lengths of all silences before it together."""
        return np.append(0.0, np.cumsum(lengths))[np.searchsorted(at_s, seconds, side="left")]


def silences_of(seconds: Floats, guide: BeatTrack) -> tuple[Silences, BeatTrack]:
    """Find the silences longer than `LONGEST_QUARTERS` and take them out of the guide, whole quarters each.

    Args:
        seconds: shape (n,), when each note was played, rising.
        guide: the beat track to measure them by.

    Returns:
        The silences, and the guide without them.
    """
    quarter = np.floor(guide.quarters_at(seconds))
    before = np.flatnonzero(np.diff(quarter) > LONGEST_QUARTERS)
    begin, end = quarter[before] + KEPT_QUARTERS, quarter[before + 1] - KEPT_QUARTERS
    begin_s, end_s = guide.seconds_at(begin), guide.seconds_at(end)
    length_s, removed = end_s - begin_s, end - begin
    silences = Silences(frozen_floats(begin_s - np.cumsum(length_s) + length_s), frozen_floats(length_s))
    if not len(before):
        return silences, guide
    inside = np.searchsorted(end_s, guide.seconds, side="left")
    kept = ~(guide.seconds >= np.append(begin_s, np.inf)[inside])
    earlier = np.searchsorted(end_s, guide.seconds[kept], side="left")
    lengths_s, quarters = np.append(0.0, np.cumsum(length_s)), np.append(0.0, np.cumsum(removed))
    # A quarter on either side keeps the tempo there, whatever the guide says inside the silence.
    place = np.concatenate(
        [guide.quarters[kept] - quarters[earlier], *(begin - quarters[:-1] + by for by in (-1, 0, 1))]
    )
    at = np.concatenate(
        [
            guide.seconds[kept] - lengths_s[earlier],
            guide.seconds_at(begin - 1) - lengths_s[:-1],
            silences.at_s,
            guide.seconds_at(end + 1) - lengths_s[1:],
        ]
    )
    place, first = np.unique(place, return_index=True)
    return silences, BeatTrack(frozen_floats(at[first]), frozen_floats(place), guide.spread_s)
