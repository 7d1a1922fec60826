"""Long silences, which say nothing about the beat: taken out before a performance is followed, and put back after.

Following a beat takes time and memory for every quarter, sounding or not, and a file of two notes can be hours long.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen
from pegwright.played.beats import BeatTrack

# Of silence that is followed through, in quarters: where all came to more than QUARTERS_A_NOTE, the second.
LONGEST_QUARTERS, LEAST_QUARTERS = 256, 16
QUARTERS_A_NOTE = 8
KEPT_QUARTERS = 4  # before what is taken out
TAKEN_QUARTERS = 12  # which whole numbers of are taken out: bars of 4/4, of 3/4 and of 6/8


@frozen(eq=False)
class Silences:
    """What was taken out of a performance; columns have shape (s,), rising.

    Args:
        at_s: when each was, in the seconds of what is left.
        length_s: how long each was.
        quarters: how many quarters the guide has in each.
    """

    at_s: Floats
    length_s: Floats
    quarters: Ints

    def shortened(self, seconds: Floats) -> Floats:
        """Times of notes without the silences before them, in seconds."""
        ends_s = self.at_s + np.cumsum(self.length_s)
        return frozen_floats(seconds - self._sum(self.length_s, ends_s, seconds))

    def counted(self, beats: BeatTrack, bar_quarters: int) -> Ints:
        """Shape (s,): the whole bars that come nearest to the length of each, in quarters.

        What follows was found on its place in the bar, and keeps it so.

        Args:
            beats: the beat track without the silences.
            bar_quarters: length of a bar.
        """
        bars: Ints = np.round(self.length_s / beats.quarter_s_at(self.at_s) / bar_quarters).astype(np.int64)
        return bars * bar_quarters

    def restored(
        self, beats: BeatTrack, seconds: Floats, units: Ints, resolution: int, quarters: Ints
    ) -> tuple[BeatTrack, Ints]:
        """Put the silences back.

        Args:
            beats: the beat track without the silences.
            seconds: shape (n,), when each note was played, without the silences.
            units: shape (n,), its hole.
            resolution: units a quarter.
            quarters: shape (s,), of each silence.

        Returns:
            The beat track and the holes, with the silences.
        """
        track = BeatTrack(
            frozen_floats(beats.seconds + self._sum(self.length_s, self.at_s, beats.seconds)),
            frozen_floats(beats.quarters + self._sum(quarters, self.at_s, beats.seconds)),
            beats.spread_s,
        )
        later = self._sum(quarters, self.at_s, seconds).astype(np.int64)
        return track, frozen_ints(units + later * resolution)

    @staticmethod
    def _sum(lengths: Floats | Ints, at_s: Floats, seconds: Floats) -> Floats:
        """For each time the lengths of all silences before it together."""
        return np.append(0.0, np.cumsum(lengths))[np.searchsorted(at_s, seconds, side="left")]


def silences_of(seconds: Floats, guide: BeatTrack, *, counted: bool = False) -> tuple[Silences, BeatTrack]:
    """Find long silences and take them out of the guide, whole numbers of TAKEN_QUARTERS each.

    Args:
        seconds: shape (n,), when each note was played, rising.
        guide: the beat track to measure them by.
        counted: whether the guide says how long they last, so that they need not be followed.

    Returns:
        The silences, and the guide without them.
    """
    quarter = np.floor(guide.quarters_at(seconds))
    gaps = np.diff(quarter)
    few = np.minimum(gaps, LONGEST_QUARTERS).sum() <= QUARTERS_A_NOTE * len(seconds)
    longest = LONGEST_QUARTERS if few and not counted else LEAST_QUARTERS
    before = np.flatnonzero(gaps > longest)
    removed = TAKEN_QUARTERS * np.ceil((gaps[before] - longest) / TAKEN_QUARTERS)
    begin = quarter[before] + KEPT_QUARTERS
    end = begin + removed
    begin_s, end_s = guide.seconds_at(begin), guide.seconds_at(end)
    length_s = end_s - begin_s
    silences = Silences(
        frozen_floats(begin_s - np.cumsum(length_s) + length_s),
        frozen_floats(length_s),
        frozen_ints(removed.astype(np.int64)),
    )
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
