"""Whether the notes about a stop, and about a change of tempo, speak for it, and not the bars of all the rest alone.

Without a stop that there was the next notes lie on odd places, and what only the bars of the rest speak for is a beat
more or less in the music itself. Without a change of tempo that there was the music goes on in odd rhythms; where it
was as odd before, it is in triplets, and another tempo would make them eighths.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats
from pegwright.played.one_way import OneWay

STOP_S = 0.03  # from which a late note counts as a stop
SOON = 2, 16  # clusters before and after a stop within which it has to be likelier already
LEAST_CHANGE = 0.04  # of the logarithm of the tempo, from one cluster to the next
BEFORE = 6  # clusters before a change
SHARE = 0.4  # of what a change gains, by which the music has to be less likely after it than before, without it


def stops_show(halting: OneWay, even: OneWay) -> bool:
    """Whether the notes about the stops are likelier with them.

    Args:
        halting: the way with stops.
        even: that without.
    """
    ahead = np.diff(halting.so_far - even.so_far, prepend=0.0)
    near = np.zeros(len(ahead), dtype=np.bool_)
    for stop in np.flatnonzero(halting.waited_s > STOP_S).tolist():
        near[max(stop - SOON[0], 0) : stop + SOON[1]] = True
    return float(ahead[near].sum()) > 0


def change_shows(changing: OneWay, even: OneWay) -> bool:
    """Whether the music is less likely from the largest change of tempo on, without it, than it was before.

    Args:
        changing: the way with changes of tempo; where there is none to speak of it shows.
        even: that without.
    """
    change = np.abs(np.diff(np.log(changing.quarter_s)))
    if change.max(initial=0.0) < LEAST_CHANGE:
        return True
    last = int(change.argmax())  # cluster before it
    if last < BEFORE:
        return False
    before = (even.so_far[last] - even.so_far[0]) / last
    after = _mean_after(even.so_far, last)
    return bool(before - after > SHARE * (_mean_after(changing.so_far, last) - after))


def _mean_after(so_far: Floats, last: int) -> float:
    """Mean log likelihood of the clusters after one.

    Args:
        so_far: shape (c,), sums of it.
        last: the one.
    """
    return float((so_far[-1] - so_far[last]) / (len(so_far) - 1 - last))
