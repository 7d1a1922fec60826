"""What strikes on channels of their own are worth at every start, solved once for starts that are alike.

At another start the same strikes meet other holes, but mostly the same seen from each strike: rows repeat after a step
or two, and only seams and lost holes break that. So strikes are parted into clusters that cannot bear on one another at
any start, and a cluster that meets the same holes as some starts before is worth the same.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from pegwright.columns import Ints, firsts
from pegwright.fit.assign import assign_apart, parted
from pegwright.fit.gaps import Gaps
from pegwright.fit.quantise import Holes, Strikes
from pegwright.fit.turn import Turn
from pegwright.search.choices import Truths, Worth
from pegwright.search.worths import placed_worths

BACK = (1, 2, 3, 4)  # how many starts before a start may be like it; the one that serves most often is compared


class EveryStart(NamedTuple):
    """What strikes are worth at every start.

    Args:
        worth: columns of shape (s, starts).
        placed: the same shape, whether a strike has a hole.
        position: the same shape, where its pin trips, in ticks of the song.
    """

    worth: Worth
    placed: Truths
    position: Ints


def at_every_start(
    strikes: Strikes, lane: Ints, number: Ints, holes: Holes, gaps: Gaps, start_ticks: Ints, turn: Turn
) -> EveryStart:
    """Find what every strike is worth at every start where channels do not depend on one another.

    Args:
        strikes: each with a single channel, in order of lane, then onset.
        lane: shape (s,), rising; strikes of different lanes do not bear on one another, even on one channel.
        number: shape (s, starts), equal where a strike meets the same holes.
        holes: of the channels, for the first of the starts.
        gaps: least distances on each channel.
        start_ticks: shape (starts,), where on the turn tick 0 of the song falls.
        turn: reach, tolerance and length of the turn.
    """
    starts = len(start_ticks)
    reach, clear = turn.reach_ticks, gaps.greatest[strikes.channel]
    numbers, _ = parted(lane, strikes.onset - reach, strikes.onset + reach, clear, turn.turn_ticks)
    cluster = np.unique(numbers, return_inverse=True)[1]
    alike = _alike(number, cluster)[cluster]
    strike, start = np.nonzero(alike == np.arange(starts))
    onset = (strikes.onset[strike] + start_ticks[start] - start_ticks[0]) % turn.turn_ticks
    own = lane[strike] * starts + start
    order = np.lexsort([onset, own])
    strike, start, onset, own = strike[order], start[order], onset[order], own[order]
    turned = replace(strikes.some(strike), onset=onset, turn=own)
    chosen = assign_apart(turned, holes, gaps, turn, own)
    worth = placed_worths(turned, holes, chosen, turn, np.ones(len(chosen), dtype=bool))
    position = strikes.onset[strike] + (holes.position[chosen] - onset if len(holes.position) else 0)
    solved = np.empty(number.shape, dtype=np.int64)
    solved[strike, start] = np.arange(len(strike))
    place = np.take_along_axis(solved, alike, axis=1)
    return EveryStart(worth.at(place), chosen[place] >= 0, position[place])


def _alike(number: Ints, cluster: Ints) -> Ints:
    """Shape (clusters, starts): the first of the starts found to be like each start, for a cluster."""
    starts = number.shape[1]
    order = np.argsort(cluster, kind="stable")
    heads = np.flatnonzero(firsts(cluster[order]))
    alike = np.tile(np.arange(starts), (len(heads), 1))
    same = {
        back: np.logical_and.reduceat((number[:, back:] == number[:, :-back])[order], heads, axis=0)
        for back in BACK
        if back < starts
    }
    if same:
        back = max(same, key=lambda back: int(same[back].sum()))
        for start in range(back, starts):
            alike[:, start] = np.where(same[back][:, start - back], alike[:, start - back], start)
    return alike
