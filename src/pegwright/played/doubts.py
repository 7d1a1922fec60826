"""What is in doubt about the beat: ways through the song beside the one chosen, and how likely they are.

Who has listened and says how the song goes on at a place has settled it: ways that go on otherwise there count no more,
and what they disagreed about elsewhere with them.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, read_only
from pegwright.frozen import frozen
from pegwright.played.alternatives import NEAR_CLUSTERS, Alternative, of_reading, of_ways
from pegwright.played.drawn_ways import share_alike
from pegwright.played.free_beat import sure_beside

OF_FOLLOWED = 0.5  # what ways that were followed by themselves count together, beside all that were drawn
ABOUT = 64  # clusters on either side: where much is in doubt, no note is sure
FURTHEST_OVER = 1  # quarters that notes after a shift may come before those before it
ENOUGH = 10  # ways that go on as a user says; of fewer nothing can be said


Distance = TypeVar("Distance", np.int64, np.float64)


@frozen(eq=False)
class OtherWays:
    """Ways through a song beside the one chosen.

    Args:
        apart: shape (c, w), by how many units each has each cluster of onsets later, from anywhere.
        weight: shape (w,), how likely each is beside the others.
    """

    apart: Ints
    weight: Floats

    def known(self, before: int, after: int, units: Fraction) -> OtherWays:
        """Those that go on at a place as a user says, beside a way that does; where these are few, all as if they did.

        Args:
            before: the last cluster of onsets before the place.
            after: the first past the place.
            units: by how many the way chosen is moved there.
        """
        same = self.apart[after] - self.apart[before] == units
        if np.count_nonzero(same & (self.weight > 0)) < ENOUGH:
            same[:] = True
        return OtherWays(_unturned(self.apart[:, same], before, after), read_only(self.weight[same]))


@frozen(eq=False)
class Doubts:
    """What is in doubt about the beat of a song.

    Args:
        cluster: shape (n,), the cluster of onsets of each note.
        drawn: ways drawn from the search from either end, each as often as it is likely.
        followed: ways that were followed by themselves, and how likely each is as a whole beside the one chosen.
        tempo_moves: whether the likeliest player does anything but play evenly throughout.
        unit_quarters: quarters as written that a unit of ways lasts.
        other: shape (c,), by how many quarters another kind of player, nearly as likely, has each cluster later; None
            where there is none that counts otherwise.
    """

    cluster: Ints
    drawn: tuple[OtherWays, ...]
    followed: OtherWays
    tempo_moves: bool
    unit_quarters: Fraction
    other: Floats | None = None

    def sure(self) -> Floats:
        """Shape (c,), 0..1: how sure each place of the way chosen is.

        Where the tempo moves, how likely ways are as a whole counts as much as how often they are drawn. Of even
        playing fewer of the wrong notes would be in doubt by that.
        """
        sure: Floats = np.mean([share_alike(ways.apart, ways.weight) for ways in self.drawn], axis=0)
        if self.tempo_moves:
            sure = np.sqrt(sure * share_alike(self.followed.apart, self.followed.weight))
        sure = sure * np.sqrt(mean_about(sure, ABOUT))
        return sure if self.other is None else sure * sure_beside(self.other)

    def parted(self) -> tuple[Alternative, ...]:
        """The places at which other ways part from the one chosen, with numbers of clusters for those of notes."""
        unlike = (self.followed.apart != self.followed.apart[0]).any(axis=0)
        weight = np.where(unlike, self.followed.weight, 0.0)
        chances = [(self.followed.apart, OF_FOLLOWED * weight / (1 + weight.sum()))]
        of_drawn = (1 - OF_FOLLOWED) / len(self.drawn)
        chances += [(each.apart, of_drawn * each.weight / each.weight.sum()) for each in self.drawn]
        each_way = [(way, float(each)) for apart, chance in chances for way, each in zip(apart.T, chance, strict=True)]
        places = of_ways(each_way, self.unit_quarters)
        return places if self.other is None else (*places, *of_reading(self.other, self.sure()))

    def alternatives(self, onset_units: Ints, resolution: int, places: tuple[Fraction, ...]) -> tuple[Alternative, ...]:
        """Other readings from some notes on, in the order of the song; none by what is no distance between holes.

        Args:
            onset_units: shape (n,), the hole of each note.
            resolution: units a quarter.
            places: where holes lie within a quarter, in quarters.
        """
        distances = {(one - other) % 1 for one in places for other in places}
        movable = []
        for each in self.parted():
            if each.quarters % 1 in distances:
                note = self._note_to_move(each.note, int(each.quarters * resolution), onset_units, resolution)
                movable += [] if note is None else [(int(onset_units[note]), each.quarters, note)]
        kept: list[tuple[int, Fraction, int]] = []
        for at, quarters, note in sorted(movable):
            if not any(quarters == of_kept and at - before < resolution for before, of_kept, _ in kept):
                kept.append((at, quarters, note))
        return tuple(Alternative(note, quarters) for _, quarters, note in kept)

    def _note_to_move(self, cluster: int, units: int, onset_units: Ints, resolution: int) -> int | None:
        """The first note near a place that comes no sooner than those before it if it is moved, or hardly sooner.

        Who plays a note far from its hole at such a place has it put between the readings, and with it the place.

        Args:
            cluster: of onsets, from which on notes are moved.
            units: by how many.
            onset_units: shape (n,), the hole of each note.
            resolution: units a quarter.

        Returns:
            Its number; None where all would come sooner by more than a shift may move them, or before the song.
        """
        room = {}
        for first in range(cluster, cluster + NEAR_CLUSTERS):
            notes, before = np.flatnonzero(self.cluster == first), onset_units[self.cluster < first]
            if len(notes) and (moved := int(onset_units[notes].min()) + units) >= 0:
                earliest = int(notes[onset_units[notes].argmin()])
                room[earliest] = min(moved - int(before.max(initial=0)), 0)
        note = max(room, key=lambda note: (room[note], -note), default=None)
        return None if note is None or room[note] < -FURTHEST_OVER * resolution else note

    def settled_at(self, cluster: int, quarters: Fraction) -> Doubts:
        """What is left in doubt once a user has said how the song goes on at a place.

        Args:
            cluster: of onsets, the first that is moved.
            quarters: by how much all from there on come later than by the way chosen; 0 where that is right.
        """
        if not cluster:
            return self  # all are moved, and go on as they did
        last = len(self.followed.apart) - 1
        before, after = max(cluster - 1 - NEAR_CLUSTERS, 0), min(cluster + NEAR_CLUSTERS, last)
        units = quarters / self.unit_quarters
        drawn = tuple(ways.known(before, after, units) for ways in self.drawn)
        settled = replace(self, drawn=drawn, followed=self.followed.known(before, after, units))
        if self.other is None:
            return settled
        return replace(settled, other=_unturned(self.other, before, after))


def _unturned(apart: NDArray[Distance], before: int, after: int) -> NDArray[Distance]:
    """Shape (c,) or (c, w): distances that go on after a place as before it.

    Args:
        apart: as they were.
        before: the last cluster of onsets before the place.
        after: the first past it.
    """
    straight = apart.copy()
    straight[after:] -= apart[after] - apart[before]
    straight[before:after] = apart[before]
    return read_only(straight)


def mean_about(values: Floats, reach: int) -> Floats:
    """Shape (c,): mean of each value and those about it.

    Args:
        values: shape (c,).
        reach: how many on either side.
    """
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    first, past = np.maximum(at - reach, 0), np.minimum(at + reach + 1, len(values))
    mean: Floats = (total[past] - total[first]) / (past - first)
    return mean
