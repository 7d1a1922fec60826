"""From a path to notes: the hole of every onset, how sure it is, and repeats kept apart."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.played.likelihood import Onsets, by_rank, density
from pegwright.played.model import TINY, RhythmModel, log_odds
from pegwright.played.path import RhythmPath


def nearest_holes(units: Ints, places: tuple[Fraction, ...], resolution: int) -> Ints:
    """Shape (n,): the hole of the wheel nearest to each place.

    Args:
        units: shape (n,), places, of which there may be no hole.
        places: where holes lie in a quarter.
        resolution: units in a quarter.
    """
    inside = np.array([int(place * resolution) for place in places])
    holes = np.concatenate([inside - resolution, inside, inside + resolution])
    at = units % resolution
    nearest: Ints = units - at + holes[np.abs(at[:, None] - holes).argmin(axis=1)]
    return nearest


def holes_of(path: RhythmPath) -> Ints:
    """Shape (n,): the place of each onset, in units from quarter 0: the best way to deal them out along the path.

    As in `pattern_likelihoods`, one rank of onsets at a time for all quarters, those with most onsets first.
    """
    model, onsets, note = path.model, path.onsets, np.arange(len(path.onsets.quarters))
    quarter = np.searchsorted(path.split, note, side="right") - 1
    side = np.clip(quarter - np.floor(onsets.quarters).astype(np.int64) + 1, 0, 2)
    slots, size = model.slot[path.pattern[quarter]], model.size[path.pattern[quarter]]
    score = log_odds(path.near[note[:, None], side[:, None], slots])
    score[np.arange(slots.shape[1]) >= size[:, None]] = -np.inf
    stay, go = log_odds(path.together)[:, None], log_odds(1 - path.together)[:, None]
    _, first, count = np.unique(quarter, return_index=True, return_counts=True)
    order, having = by_rank(count)
    first = first[order]
    moved = np.zeros(score.shape, dtype=bool)
    best = np.full((len(first), slots.shape[1]), -np.inf)
    best[:, 0] = score[first, 0]
    for rank, active in list(enumerate(having))[1:]:
        dealt, same = first[:active] + rank, best[:active] + stay[first[:active] + rank]
        onward = np.full(same.shape, -np.inf)
        onward[:, 1:] = best[:active, :-1] + go[dealt]
        moved[dealt] = onward > same
        best[:active] = np.maximum(same, onward) + score[dealt]
    slot, reached = np.zeros(len(note), dtype=np.int64), size[first] - 1
    for rank, active in reversed(list(enumerate(having))):
        dealt = first[:active] + rank
        slot[dealt] = reached[:active]
        reached[:active] -= moved[dealt, reached[:active]]
    return quarter * model.resolution + model.places[slots[note, slot]]


def certainty_of(path: RhythmPath, hole: Ints) -> Floats:
    """Shape (n,), 0..1: how probable each onset's hole is, over all patterns considered for its quarter."""
    model, count = path.model, len(hole)
    quarter, unit = np.divmod(hole, model.resolution)
    place = np.searchsorted(model.places, unit)
    side = np.clip(1 + quarter - np.floor(path.onsets.quarters).astype(np.int64), 0, 2)
    near = path.near
    member = model.member[path.kept]  # quarters, m, p
    occupied = np.matmul(path.certainty[:, None], member)[:, 0]
    here = near[np.arange(count), side]
    inside = np.matmul(member[quarter], here[:, :, None])[:, :, 0]
    outside = np.zeros(count)
    for step in (-1, 1):
        beside = quarter + step
        seen = (beside >= 0) & (beside < len(occupied)) & (side + step >= 0) & (side + step <= 2)
        outside[seen] += (near[seen, side[seen] + step] * occupied[beside[seen]]).sum(axis=1)
    mine = member[quarter, :, place] * here[np.arange(count), place][:, None]
    share = mine / np.maximum(inside + outside[:, None], TINY)
    sure: Floats = np.clip((path.certainty[quarter] * share).sum(axis=1), 0.0, 1.0)
    return sure


def apart(onsets: Onsets, model: RhythmModel, hole: Ints) -> Ints:
    """Move one of two notes of the same part and pitch that share a hole to the likeliest free hole beside it.

    The path forbids this for neighbours in time; it can still happen across a third note.

    Args:
        onsets: in order of time.
        model: what places there are.
        hole: shape (n,), the hole of each onset, in units.
    """
    order = np.lexsort([onsets.quarters, onsets.voice])
    voice, at = onsets.voice[order], hole[order].copy()
    for index in np.flatnonzero((voice[1:] == voice[:-1]) & (at[1:] <= at[:-1])):
        early, late = order[index], order[index + 1]
        before = int(at[index - 1]) if index and voice[index - 1] == voice[index] else -1
        more = index + 2 < len(at) and voice[index + 2] == voice[index]
        after = int(at[index + 2]) if more else onsets.quarter_count * model.resolution
        lower, higher = _beside(model, int(at[index]), -1), _beside(model, int(at[index]), 1)
        ways = []
        if lower > before:
            ways.append((_fit(onsets, model, early, lower) + _fit(onsets, model, late, int(at[index])), index, lower))
        if higher < after:
            ways.append(
                (_fit(onsets, model, early, int(at[index])) + _fit(onsets, model, late, higher), index + 1, higher)
            )
        if ways:
            _, moved, place = max(ways)
            at[moved] = place
    return at[np.argsort(order)]


def _beside(model: RhythmModel, unit: int, step: int) -> int:
    """The next place after a unit (`step` 1), or the last one before it (-1)."""
    quarter, within = divmod(unit, model.resolution)
    place = int(np.searchsorted(model.places, within)) + step
    more, place = divmod(place, len(model.places))
    return (quarter + more) * model.resolution + int(model.places[place])


def _fit(onsets: Onsets, model: RhythmModel, note: int, unit: int) -> float:
    away_s = (onsets.quarters[note] - unit / model.resolution) * onsets.quarter_s[note]
    return float(np.log(density(np.array(away_s), onsets.spread_s[note])))
