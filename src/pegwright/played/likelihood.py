"""How well each pattern explains the onsets of each quarter, given where the beats lie.

Onsets are taken in order of time. Within a quarter they are dealt out to the places of a pattern in order, each place
getting at least one, and the likelihoods of all ways to deal are added up. Where one quarter ends and the next begins
is open too: each beat line has a few candidate splits, so an early downbeat is not lost to the quarter before it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.model import RhythmModel

FIRST_PLAYER_S = 0.025
STRAY_SHARE = 0.003  # onsets that stray: the heavier tail of the normal law;
ROUGH_STRAY_SHARE = 0.01  # more of them where onsets on the whole lie
ROUGH_S = 0.022  # farther from their holes than this
STRAY_WIDTH = 3.0  # times the usual spread
FLOOR = 1e-8  # of the peak; nothing is impossible
SPLIT_REACH_SPREADS = 2.5
MIN_SPLIT_REACH = 3.5 / 24  # quarters either side of a beat line
MOST_SPLIT_REACH = 0.25
MAX_SPLIT_WINDOW = 24  # onsets looked at round one beat line
BETWEEN_LINES = 1.5 / 24  # quarters before a beat line: half-way to the last half-step hole


@frozen(eq=False)
class Onsets:
    """Notes in order of time, seen from a beat track; columns have shape (n,).

    Args:
        quarters: where the beat track puts each onset, in quarters from 0, rising.
        quarter_s: seconds a quarter there.
        track_s: standard deviation of the beat track itself there, in seconds; 0 where it is given exactly.
        voice: equal for notes that cannot be struck together: same part and pitch.
        line: equal for notes of one musical line: the part, or the percussion key.
        quarter_count: quarters in all; every onset lies below.
        player_s: standard deviation of the player's onsets about their holes, in seconds; learnt round by round.
    """

    quarters: Floats
    quarter_s: Floats
    track_s: Floats
    voice: Ints
    line: Ints
    quarter_count: int
    player_s: float = FIRST_PLAYER_S

    @property
    def spread_s(self) -> NDArray[np.float64]:
        """Shape (n,): standard deviation of onsets about their holes as the track shows them, in seconds."""
        return np.sqrt(self.player_s**2 + self.track_s**2)


def density(distance_s: NDArray[np.float64], spread_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Likelihood of an onset at a distance from its hole, relative to the usual part's peak."""
    exponent = -0.5 * (distance_s / spread_s) ** 2
    stray = np.where(spread_s > ROUGH_S, ROUGH_STRAY_SHARE, STRAY_SHARE)
    usual = (1 - stray) * np.exp(exponent)
    likely: NDArray[np.float64] = usual + stray / STRAY_WIDTH * np.exp(exponent / STRAY_WIDTH**2) + FLOOR
    return likely


def closeness(model: RhythmModel, onsets: Onsets) -> NDArray[np.float64]:
    """Shape (n, 3, p): density of each onset at each place of the quarter before, its own, and the next.

    Divided by the maximum for each onset, so that products of many stay in range.
    """
    within = (onsets.quarters - np.floor(onsets.quarters))[:, None, None]
    place = model.places / model.resolution + np.array([-1.0, 0.0, 1.0])[:, None]
    table = density((within - place) * onsets.quarter_s[:, None, None], onsets.spread_s[:, None, None])
    table /= table.max(axis=(1, 2), keepdims=True)
    return table


def by_rank(count: Ints) -> tuple[Ints, list[int]]:
    """For taking one onset at a time from all quarters at once.

    Args:
        count: shape (quarters,), onsets of each.

    Returns:
        The quarters, those with most onsets first; and how many of these have a first onset, a second, and so on.
    """
    order = np.argsort(-count, kind="stable")
    return order, np.searchsorted(-count[order], -np.arange(count.max(initial=0))).tolist()


def rough_scores(model: RhythmModel, onsets: Onsets, near: NDArray[np.float64]) -> NDArray[np.float32]:
    """Shape (quarters, k): a rough log likelihood of each pattern, to drop improbable ones.

    Args:
        model: likely rhythms.
        onsets: in order of time.
        near: shape (n, 3, p), from `closeness`.
    """
    member = model.member.T.astype(np.float32)  # enough for a rough score, in half the time
    outside = near[:, 0].max(axis=1) + near[:, 2].max(axis=1) + FLOOR
    each = near[:, 1].astype(np.float32) @ member
    each += outside.astype(np.float32)[:, None]
    np.log(each, out=each)
    quarter = np.floor(onsets.quarters).astype(np.int64)
    first = np.searchsorted(quarter, np.arange(onsets.quarter_count + 1))
    filled = np.flatnonzero(first[1:] > first[:-1])
    order, having = by_rank(np.diff(first))
    total = np.zeros((onsets.quarter_count, model.pattern_count), dtype=np.float32)
    for rank, active in enumerate(having):  # a sum by quarter; `np.add.reduceat` takes twice as long
        total[:active] += each[first[order[:active]] + rank]
    score = total[np.argsort(order)]
    struck = np.full((onsets.quarter_count, len(model.places)), FLOOR)
    closest = np.maximum.reduceat(near, first[filled], axis=0)
    for step in (-1, 0, 1):  # a place may have been struck early, or late into the next quarter
        seen = filled + step
        inside = (seen >= 0) & (seen < onsets.quarter_count)
        struck[seen[inside]] = np.maximum(struck[seen[inside]], closest[inside, step + 1])
    score += np.log(struck).astype(np.float32) @ member
    return score


def split_candidates(onsets: Onsets, most: int) -> Ints:
    """Shape (quarters + 1, most): at each beat line, onsets that may be the first past it; -1 where there are fewer.

    The widest gaps near the line, and always the split half-way to the last hole before it.
    """
    count, lines = len(onsets.quarters), np.arange(onsets.quarter_count + 1)
    spread = float(np.mean(onsets.spread_s / onsets.quarter_s))
    reach = min(MOST_SPLIT_REACH, max(MIN_SPLIT_REACH, SPLIT_REACH_SPREADS * spread))
    low, high = np.searchsorted(onsets.quarters, lines - reach), np.searchsorted(onsets.quarters, lines + reach)
    width = min(int((high - low).max()) + 1, MAX_SPLIT_WINDOW)
    candidate = np.minimum(low[:, None] + np.arange(width), count)
    allowed = low[:, None] + np.arange(width) <= high[:, None]
    allowed[0] &= candidate[0] == 0
    allowed[-1] &= candidate[-1] == count
    padded = np.concatenate([[-1.0], onsets.quarters, [onsets.quarter_count + 1.0]])
    gap = padded[candidate + 1] - padded[candidate]
    gap[candidate == np.searchsorted(onsets.quarters, lines - BETWEEN_LINES)[:, None]] += 10.0
    gap[~allowed] = -1.0
    if width > most:
        best = np.argpartition(-gap, most - 1, axis=1)[:, :most]
        candidate, gap = np.take_along_axis(candidate, best, axis=1), np.take_along_axis(gap, best, axis=1)
    return np.where(gap >= 0, candidate, -1)


def pattern_likelihoods(
    model: RhythmModel, onsets: Onsets, near: NDArray[np.float64], chosen: Ints, splits: Ints, together: Floats
) -> NDArray[np.float64]:
    """Likelihood of each chosen pattern in each quarter, for every split at its start and end.

    Onsets are dealt one rank at a time to all quarters at once; quarters with most onsets come first, so that those
    still being dealt to are a slice. For each pattern of a quarter there is a cell for "no place reached yet" and one
    for each of its places, side by side in one long row: an onset stays in its cell or moves to the next.

    Args:
        model: likely rhythms.
        onsets: in order of time.
        near: from `closeness`.
        chosen: shape (quarters, m), pattern numbers.
        splits: shape (quarters + 1, c), from `split_candidates`.
        together: shape (n,), chance that an onset shares the place of the onset before it.

    Returns:
        Shape (quarters, m, c, c): the third axis is the split at the start, the fourth that at the end.
    """
    start, end = splits[:-1], splits[1:]
    first = np.where(start >= 0, start, len(together) + 1).min(axis=1)
    count = np.maximum(end.max(axis=1) - first, 0)
    order, having = by_rank(count)
    chosen, start, end, first = chosen[order], start[order], end[order], first[order]
    own = np.floor(onsets.quarters).astype(np.int64)
    size, places, beside = model.size[chosen], near.shape[2], near.reshape(-1, near.shape[2])
    full = (np.cumsum(size + 1) - 1).reshape(size.shape)
    close_to = np.full((*size.shape, int(size.max()) + 1), places)  # no onset is close to the first cell
    close_to[:, :, 1:] = model.slot[chosen][:, :, : close_to.shape[2] - 1]
    close_to += np.arange(len(size))[:, None, None] * (places + 1)
    close_to = close_to[np.arange(close_to.shape[2]) <= size[:, :, None]]
    dealt = np.zeros((start.shape[1], len(close_to)))
    result = np.zeros((start.shape[1], start.shape[1], *size.shape))
    for rank, active in enumerate([*having, 0]):
        row, column = np.nonzero(start - first[:, None] == rank)
        dealt[column[:, None], full[row] - size[row]] = 1.0
        row, column = np.nonzero(end - first[:, None] == rank)
        result[:, column, row] = dealt[:, full[row]]  # the ways in which every place has an onset
        if active == 0:
            break
        note = first[:active] + rank
        weight = np.zeros((active, places + 1))
        weight[:, :places] = beside[3 * note + 1 + np.maximum(np.minimum(order[:active] - own[note], 1), -1)]
        stay, cells = together[note][:, None], int(full[active - 1, -1]) + 1
        moved = dealt[:, : cells - 1] * (weight * (1 - stay)).ravel()[close_to[1:cells]]
        dealt[:, :cells] *= (weight * stay).ravel()[close_to[:cells]]
        dealt[:, 1:cells] += moved
    return result.take(np.argsort(order), axis=2).transpose(2, 3, 0, 1)
