"""The beat of a player whose tempo moves: a chain over all onsets, whose state is the place in a quarter and the tempo.

Every state is kept to the end, so that a slip costs for as long as it lasts and what comes later can decide against it.
Each state carries the time of its beat along its best path, so that one late onset does not move the beat by as much.

Source: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for the path and for the sums.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.free_tempo import Narrow, PlaceSteps, Table, TempoBand, TempoMoves
from pegwright.played.model import TINY

STAY_SHARE, STAY_S = 0.15, 0.04  # an onset that still belongs to the chord before, later by this time on average
LONGEST_CHORD_S = 0.15
STAY_PULL = 0.3  # share by which such an onset moves the beat
MIN_GAP_S = 0.001
LEAST_NOISE_S, MOST_NOISE_S = 0.008, 0.03
SHIFT_TO_NOISE = 2.4


@frozen(eq=False)
class FreeBeat:
    """The likeliest path; columns have shape (c,), one for each cluster of onsets.

    Args:
        place: index into the places.
        quarter_s: seconds a quarter.
        hole_quarters: from quarter 0.
        certainty: 0..1, how probable the step from the cluster before is, over all paths from its place; 1 at first.
        fit: mean log likelihood of a cluster.
        noise_s: standard deviation of onsets about the beat, by the half that lie nearest.
    """

    place: Ints
    quarter_s: Floats
    hole_quarters: Floats
    certainty: Floats
    fit: float
    noise_s: float


@frozen(eq=False)
class _Reached:
    """How states at one cluster were reached; shape (p, k)."""

    place: NDArray[np.int8]
    tempo: NDArray[np.int8]
    quarters: Narrow
    shift_s: Narrow


@frozen(eq=False)
class _WaysOn:
    """All ways to one cluster: by a move, shape (p, p, k) after a change of tempo; and by staying, shape (p, k)."""

    move: Narrow | NDArray[np.float16]
    stay: Narrow | None
    gap_s: float

    def kept(self) -> _WaysOn:
        """In half the memory, for those of a whole song; likely ways lose less than a hundredth of their chance."""
        return replace(self, move=self.move.astype(np.float16))


@frozen(eq=False)
class _Front:
    """Logarithm of the best path to each state, and the time of its beat; shape (p, k)."""

    score: Narrow
    beat_s: Table


def follow_freely(
    time_s: Floats, accent: Table, places: PlaceSteps, band: TempoBand, start: Table, *, sums: bool = False
) -> FreeBeat:
    """The likeliest path through clusters of onsets.

    Args:
        time_s: shape (c,), rising.
        accent: shape (c, p), how much likelier each place is by what was struck there, as a logarithm.
        places: where onsets lie in a quarter.
        band: the tempi.
        start: shape (p, k), logarithm of the chance of each state at the first onset.
        sums: whether the certainty of each step is computed; else it is 1.
    """
    moves = TempoMoves(places, band)
    accented = accent.astype(np.float32)
    front = _Front((start + accent[0][:, None]).astype(np.float32), np.full(start.shape, time_s[0]))
    steps: list[_Reached] = []
    ways: list[_WaysOn] = []
    fit = 0.0
    for index in range(1, len(time_s)):
        gap_s = float(time_s[index] - time_s[index - 1])
        front, step, way = _onward(front, float(time_s[index]), gap_s, moves, band)
        score = front.score + accented[index][:, None]
        highest = float(score.max())
        front, fit = _Front(score - highest, front.beat_s), fit + highest
        steps.append(step)
        if sums:
            ways.append(way.kept())
    place, tempo, quarters, shift_s = _traced(front, steps)
    hole = places.quarters[place[0]] + np.concatenate([[0.0], np.cumsum(quarters)])
    certainty = np.ones(len(place))
    if sums and len(place) > 1:
        certainty[1:] = _certainty(ways, accent, start, band, (place, quarters))
    return FreeBeat(place, band.quarter_s[tempo], hole, certainty, fit / len(time_s), _noise_s(shift_s[quarters > 0]))


def _onward(
    front: _Front, when_s: float, gap_s: float, moves: TempoMoves, band: TempoBand
) -> tuple[_Front, _Reached, _WaysOn]:
    """From one cluster to the next.

    Tables are read by places in them laid flat, which is faster than several indexes for each.
    """
    count, tempi = front.score.shape
    flat = np.arange(count * tempi).reshape(count, tempi)
    changed = front.score[:, None, :] + band.change(gap_s).T
    from_tempo = changed.argmax(axis=2)
    score = changed.take(flat * tempi + from_tempo)
    beat_s = front.beat_s.take(flat - np.arange(tempi) + from_tempo)
    move = moves.onward(np.maximum(when_s - beat_s, MIN_GAP_S))
    total = score[:, None, :] + move.score
    from_place = total.argmax(axis=0)
    way, before = from_place * flat.size + flat, from_place * tempi + np.arange(tempi)
    best, quarters, shift_s = total.take(way), move.quarters.take(way), move.shift_s.take(way)
    arrived_s, from_tempo = beat_s.take(before) + quarters * band.quarter_s + shift_s, from_tempo.take(before)
    stay = None
    if gap_s < LONGEST_CHORD_S:
        late_s = np.maximum(when_s - front.beat_s, 0.0)
        stay = (math.log(STAY_SHARE / STAY_S) - late_s / STAY_S).astype(np.float32)
        stays = front.score + stay > best
        best = np.where(stays, front.score + stay, best)
        quarters = np.where(stays, 0, quarters)
        arrived_s = np.where(stays, front.beat_s + STAY_PULL * (when_s - front.beat_s), arrived_s)
        from_place = np.where(stays, np.arange(count)[:, None], from_place)
        from_tempo = np.where(stays, np.arange(tempi), from_tempo)
    step = _Reached(from_place.astype(np.int8), from_tempo.astype(np.int8), quarters, shift_s)
    return _Front(best, arrived_s), step, _WaysOn(move.score, stay, gap_s)


def _traced(front: _Front, steps: Sequence[_Reached]) -> tuple[Ints, Ints, Floats, Floats]:
    """Places, tempi, and from each cluster to the next: quarters, how far the beat was moved; along the best path."""
    place, tempo = divmod(int(front.score.argmax()), front.score.shape[1])
    places, tempi, quarters, shift_s = [place], [tempo], [], []
    for step in reversed(steps):
        quarters.append(float(step.quarters[place, tempo]))
        shift_s.append(float(step.shift_s[place, tempo]))
        place, tempo = int(step.place[place, tempo]), int(step.tempo[place, tempo])
        places.append(place)
        tempi.append(tempo)
    return np.array(places[::-1]), np.array(tempi[::-1]), np.array(quarters[::-1]), np.array(shift_s[::-1])


def _noise_s(shift_s: Floats) -> float:
    """Of the share that moves the beat, about half, to the whole; and from the median to a standard deviation."""
    if len(shift_s) == 0:
        return MOST_NOISE_S
    return min(max(SHIFT_TO_NOISE * float(np.median(np.abs(shift_s))), LEAST_NOISE_S), MOST_NOISE_S)


def _certainty(
    ways: Sequence[_WaysOn], accent: Table, start: Table, band: TempoBand, path: tuple[Ints, Floats]
) -> Floats:
    """Shape (c - 1,): how probable each step of the path is, by sums over all paths from both ends.

    Args:
        ways: to each cluster but the first.
        accent: shape (c, p), as in `follow_freely`.
        start: shape (p, k), logarithms.
        band: the tempi.
        path: places, and quarters from each cluster to the next.
    """
    weight = np.exp(accent)[:, :, None]
    left = [_whole(np.exp(start) * weight[0])]
    for way, here in zip(ways, weight[1:], strict=True):
        changed = left[-1] @ np.exp(band.change(way.gap_s))
        total = (changed[:, None, :] * np.exp(way.move)).sum(axis=0)
        if way.stay is not None:
            total += left[-1] * np.exp(way.stay)
        left.append(_whole(total * here))
    right, certainty = np.ones(start.shape), np.ones(len(ways))
    place, quarters = path
    for index in range(len(ways) - 1, -1, -1):
        way, ahead, before, after = ways[index], right * weight[index + 1], place[index], place[index + 1]
        change, move = np.exp(band.change(way.gap_s)), np.exp(way.move)
        total = (move * ahead).sum(axis=1) @ change.T
        stays = np.zeros(start.shape) if way.stay is None else ahead * np.exp(way.stay)
        from_here = left[index][before]
        moved = (move[before, after] * ahead[after]) @ change.T
        mine = from_here @ (moved if quarters[index] > 0 else stays[before])
        certainty[index] = mine / max(float(from_here @ (total + stays)[before]), TINY)
        right = _whole(total + stays)
    return certainty


def _whole(values: Table) -> Table:
    whole: Table = values / values.sum()
    return whole
