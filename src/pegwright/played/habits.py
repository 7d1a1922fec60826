"""What one song does, learnt from the song itself: its usual patterns, their order, its repeats and its chords.

The counted prior says what music does; a song has habits of its own. After each round of sums the expected counts are
added to the prior's (as in the expectation-maximisation algorithm), so a song without triplets soon gets none, and a
bar that comes again helps its repeat.

Source: A. P. Dempster, N. M. Laird and D. B. Rubin, "Maximum likelihood from incomplete data via the EM algorithm",
J. Royal Statistical Society B 39 (1977).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.likelihood import Onsets
from pegwright.played.model import TINY, RhythmModel

BLOCK_QUARTERS = 64  # whose pairs of patterns are in memory together
PRIOR_QUARTERS = 100.0  # the prior counts as much as this many quarters of the song
PRIOR_PAIRS = 60.0  # and as this many quarters after each pattern
USAGE_IN_PAIRS = 0.5  # share of the song's bare frequencies in what follows a pattern
ECHO_QUARTERS = (1, 2, 3, 4, 6, 8, 16)  # a quarter may repeat the one this number before, or predict the one after
CYCLE_QUARTERS = (3, 4, 6, 8, 16)  # or predict it by all other bars, or pairs of bars, at its place
ECHO_SHARE = 0.5
LEAST_ECHO_WEIGHT = 1e-4
LEAST_OWN_WEIGHT = 0.15
ECHO_FITS = 3
MIN_ECHO_SHARE = 0.005  # echoes of less weight are ignored
TOGETHER = 0.5  # chance that an onset belongs with the one before it, before anything is known
PRIOR_TOGETHER = 5.0
NEAR_SPREADS = 3.0  # onsets further apart say nothing about chords
STRAY_SPREADS = 3.0  # a stray counts for no more than this in the spread of the player
LEAST_PLAYER_S, MOST_PLAYER_S = 0.003, 0.06
LEAP = 0.25  # how far beyond the spread just measured the next round goes
LEAST_TOGETHER, MOST_TOGETHER = 0.03, 0.97
NEVER = 1e-6  # for two notes of one part and pitch: only where more come than there are holes


@frozen(eq=False)
class Habits:
    """What is expected of a song.

    Args:
        usage: shape (k,), how common each pattern is.
        follow: shape (k, k), how commonly one comes after another.
        echo: shape (quarters, k), what other quarters predict of this one, or None; rows sum to the share given to it.
        echo_weight: the weight of each kind of echo; the last is the share of `follow`.
        together: shape (n,), chance that an onset shares the hole of the one before.
    """

    usage: Floats
    follow: Floats
    echo: Floats | None
    echo_weight: Floats
    together: Floats

    def log_expected(self) -> NDArray[np.float32]:
        """Shape (quarters, k) or (k,): how likely each pattern is, whatever its neighbours are; natural logarithm."""
        return np.log(self.usage if self.echo is None else self.usage + self.echo, dtype=np.float32)

    def steps(self, kept: Ints, backward: bool = False) -> Iterator[NDArray[np.float64]]:
        """Chances of each pattern after each one of the quarter before, shape (quarters - 1, m, m).

        Some quarters at a time: those of a long song would take most of its memory.

        Args:
            kept: shape (quarters, m), patterns considered.
            backward: whether the last quarters come first.
        """
        spans = spans_of(len(kept) - 1)
        for first, past in reversed(spans) if backward else spans:
            step: NDArray[np.float64] = self.follow.take(_pair_places(kept[first : past + 1], len(self.follow)))
            if self.echo is not None:
                echo = self.echo[first + 1 : past + 1]
                step *= (1 - echo.sum(axis=1))[:, None, None]
                step += np.take_along_axis(echo, kept[first + 1 : past + 1], axis=1)[:, None, :]
            yield step


def spans_of(count: int) -> list[tuple[int, int]]:
    """Where each block of no more than `BLOCK_QUARTERS` begins and ends."""
    firsts = range(0, count, BLOCK_QUARTERS)
    return [(first, min(first + BLOCK_QUARTERS, count)) for first in firsts]


def _pair_places(kept: Ints, count: int) -> Ints:
    """Shape (quarters - 1, m, m): where each pair of neighbouring patterns is in a flat table of all pairs."""
    return kept[:-1, :, None] * count + kept[1:, None, :]


def first_habits(model: RhythmModel, onsets: Onsets) -> Habits:
    """The habits expected of any song."""
    together = _never_twice(onsets, np.full(len(onsets.voice), TOGETHER))
    return Habits(model.usage, model.follow, None, np.zeros(0), together)


def pairs_seen(model: RhythmModel, kept: Ints, pairs: Iterable[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Shape (k, k): how often each pattern is followed by each, by all their probabilities.

    Args:
        model: likely rhythms.
        kept: shape (quarters, m), patterns considered.
        pairs: shape (quarters - 1, m, m), probability of each pair, as many quarters at a time as in `spans_of`.
    """
    count = model.pattern_count
    seen = np.zeros(count * count)
    for (first, past), of_block in zip(spans_of(len(kept) - 1), pairs, strict=True):
        np.add.at(seen, _pair_places(kept[first : past + 1], count).ravel(), of_block.ravel())
    return seen.reshape(count, count)


def learnt(
    model: RhythmModel,
    onsets: Onsets,
    habits: Habits,
    kept: Ints,
    certainty: Floats,
    follow: NDArray[np.float64],
) -> Habits:
    """Habits updated by one more round over the song.

    Args:
        model: likely rhythms.
        onsets: in order of time.
        habits: as they were.
        kept: shape (quarters, m), patterns considered.
        certainty: shape (quarters, m), their probabilities.
        follow: from `pairs_seen`; changed in place.
    """
    count = model.pattern_count
    seen = np.zeros((onsets.quarter_count, count))
    np.put_along_axis(seen, kept, certainty, axis=1)
    usage = (seen.sum(axis=0) + PRIOR_QUARTERS * model.usage) / (onsets.quarter_count + PRIOR_QUARTERS)
    quarters_after = follow.sum(axis=1, keepdims=True) + PRIOR_PAIRS
    follow += PRIOR_PAIRS * (1 - USAGE_IN_PAIRS) * model.follow
    follow += PRIOR_PAIRS * USAGE_IN_PAIRS * usage
    follow /= quarters_after
    own: list[NDArray[np.float64]] = [usage[kept[:1]]]
    for first, past in spans_of(len(kept) - 1):
        after = follow.take(_pair_places(kept[first : past + 1], count))
        own.append(np.matmul(certainty[first:past, None], after)[:, 0])
    echo, weight = _echo(seen, kept, certainty, np.concatenate(own), habits.echo_weight)
    together = _together(model, onsets, kept[np.arange(len(kept)), certainty.argmax(axis=1)])
    return replace(habits, usage=usage, follow=follow, echo=echo, echo_weight=weight, together=together)


@frozen(eq=False)
class _Cycle:
    """For each quarter, what was seen in total at the same place of all other cycles of some length.

    Args:
        place: shape (quarters,), place in the cycle.
        others: shape (quarters,), how many other cycles there are.
        seen: shape (length, k), seen at each place, the quarter itself too, over the number of others.
    """

    place: Ints
    others: Ints
    seen: NDArray[np.float64]

    @classmethod
    def of(cls, seen: NDArray[np.float64], length: int) -> _Cycle:
        """The cycles of `length` quarters."""
        quarters, count = seen.shape
        padded = np.zeros((-(-quarters // length) * length, count))
        padded[:quarters] = seen
        place = np.arange(quarters) % length
        others = np.maximum(np.bincount(place, minlength=length) - 1, 1)
        return cls(place, others[place], padded.reshape(-1, length, count).sum(axis=0) / others[:, None])

    def predicted(self, kept: Ints, certainty: Floats) -> NDArray[np.float64]:
        """Shape (quarters, m): what the other cycles predict of the patterns considered."""
        predicted: NDArray[np.float64] = self.seen.take(self.place[:, None] * self.seen.shape[1] + kept)
        predicted -= certainty / self.others[:, None]
        return predicted

    def add_to(self, echo: NDArray[np.float64], seen: NDArray[np.float64], share: float) -> None:
        """Add a share of the predictions to an echo.

        Args:
            echo: shape (quarters, k), changed in place.
            seen: shape (quarters, k), what each quarter itself shows.
            share: of the whole echo.
        """
        echo += (share * self.seen)[self.place]
        echo -= (share / self.others)[:, None] * seen


def _echo(
    seen: NDArray[np.float64], kept: Ints, certainty: Floats, own: NDArray[np.float64], weight: Floats
) -> tuple[NDArray[np.float64] | None, NDArray[np.float64]]:
    """Mix the predictions of other quarters, each kind of echo by how well it predicted the song so far."""
    quarters = len(seen)
    apart = np.array([few for few in ECHO_QUARTERS if few < quarters], dtype=np.int64)
    apart = np.concatenate([apart, -apart])
    cycles = [_Cycle.of(seen, few) for few in CYCLE_QUARTERS if 2 * few <= quarters]
    if len(apart) == 0:
        return None, weight
    if len(weight) == 0:
        kinds = len(apart) + len(cycles)
        weight = np.array([ECHO_SHARE / kinds] * kinds + [1 - ECHO_SHARE])
    weight = _echo_weight(seen, kept, certainty, own, weight, apart.tolist(), cycles)
    return _mixed(seen, weight, apart.tolist(), cycles), weight


def _echo_weight(
    seen: NDArray[np.float64],
    kept: Ints,
    certainty: Floats,
    own: NDArray[np.float64],
    weight: Floats,
    apart: list[int],
    cycles: list[_Cycle],
) -> NDArray[np.float64]:
    """How well each kind of echo predicted the song, and what the pattern before did, in sum 1.

    Args:
        seen: shape (quarters, k), what each quarter shows.
        kept: shape (quarters, m), patterns considered.
        certainty: shape (quarters, m), their probabilities.
        own: shape (quarters, m), predicted by the pattern before.
        weight: as it was.
        apart: how many quarters before or after, of each kind of that sort.
        cycles: the other kinds.
    """
    predicted = np.zeros((len(apart) + len(cycles) + 1, *kept.shape))
    for of_kind, few in zip(predicted, apart, strict=False):
        target, origin = _apart(few)
        of_kind[target] = np.take_along_axis(seen[origin], kept[target], axis=1)
    for of_kind, cycle in zip(predicted[len(apart) :], cycles, strict=False):
        of_kind[:] = cycle.predicted(kept, certainty)
    predicted[-1] = own
    for _ in range(ECHO_FITS):
        ratio = certainty / np.maximum(np.tensordot(weight, predicted, axes=1), 1e-12)
        weight = weight * np.tensordot(predicted, ratio, axes=2)
        weight = np.maximum(weight / max(weight.sum(), TINY), LEAST_ECHO_WEIGHT)
        weight[-1] = max(weight[-1], LEAST_OWN_WEIGHT)
        weight /= weight.sum()
    return weight


def _apart(few: int) -> tuple[slice, slice]:
    """The quarters that have one `few` quarters before them, or after them where it is negative, and those."""
    return (slice(few, None), slice(None, -few)) if few > 0 else (slice(None, few), slice(-few, None))


def _mixed(seen: NDArray[np.float64], weight: Floats, apart: list[int], cycles: list[_Cycle]) -> NDArray[np.float64]:
    echo = np.zeros_like(seen)
    for share, few in zip(weight, apart, strict=False):
        target, origin = _apart(few)
        if share > MIN_ECHO_SHARE:
            echo[target] += share * seen[origin]
    for share, cycle in zip(weight[len(apart) :], cycles, strict=False):
        if share > MIN_ECHO_SHARE:
            cycle.add_to(echo, seen, share)
    return echo


def _together(model: RhythmModel, onsets: Onsets, pattern: Ints) -> Floats:
    """How often, line by line, an onset lies on the hole of the onset before it.

    The onset before may be of another line, though this line struck just before that: a line that hardly strikes
    chords of its own will not be on that hole twice.
    """
    quarter, place = np.nonzero(model.member[pattern])
    struck = quarter + model.places[place] / model.resolution
    line, count = onsets.line, int(onsets.line.max()) + 1
    gap_s = np.diff(onsets.quarters) * onsets.quarter_s[1:]
    close = (gap_s < NEAR_SPREADS * onsets.player_s) & (onsets.voice[1:] != onsets.voice[:-1])
    pair = line[:-1] * count + line[1:]
    hole = np.searchsorted((struck[1:] + struck[:-1]) / 2, onsets.quarters)
    same = (hole[1:] == hole[:-1]).astype(np.float64)
    overall = (same[close].sum() + PRIOR_TOGETHER * TOGETHER) / (np.count_nonzero(close) + PRIOR_TOGETHER)
    yes = np.bincount(pair[close], same[close], count * count)
    total = np.bincount(pair[close], minlength=count * count)
    share = np.clip((yes + PRIOR_TOGETHER * overall) / (total + PRIOR_TOGETHER), LEAST_TOGETHER, MOST_TOGETHER)
    together = np.concatenate([[TOGETHER], share[pair]])
    again, same_again = _again(onsets, hole)
    own_yes, own_count = np.bincount(line[again], same_again, count), np.bincount(line[again], minlength=count)
    own = np.clip((own_yes + PRIOR_TOGETHER * TOGETHER) / (own_count + PRIOR_TOGETHER), LEAST_TOGETHER, MOST_TOGETHER)
    together[again] = np.minimum(together[again], own[line[again]])
    return _never_twice(onsets, together)


def _again(onsets: Onsets, hole: Ints) -> tuple[Ints, NDArray[np.float64]]:
    """Onsets closely after another of their own line, and 1.0 where both lie on one hole."""
    order = np.argsort(onsets.line, kind="stable")
    before, after = order[:-1], order[1:]
    gap_s = (onsets.quarters[after] - onsets.quarters[before]) * onsets.quarter_s[after]
    close = (onsets.line[before] == onsets.line[after]) & (gap_s < NEAR_SPREADS * onsets.player_s)
    return after[close], (hole[after] == hole[before])[close].astype(np.float64)


def player_spread(
    model: RhythmModel, onsets: Onsets, near: NDArray[np.float64], kept: Ints, certainty: Floats
) -> float:
    """How far the player's onsets lie from their holes, as a standard deviation in seconds.

    Args:
        model: likely rhythms.
        onsets: in order of time.
        near: shape (n, 3, p), from `closeness`.
        kept: shape (quarters, m), patterns considered.
        certainty: shape (quarters, m), their probabilities.
    """
    occupied = np.zeros((onsets.quarter_count + 2, len(model.places)))
    occupied[1:-1] = np.matmul(certainty[:, None], model.member[kept])[:, 0]
    quarter = np.floor(onsets.quarters).astype(np.int64)
    share = near * occupied[quarter[:, None] + np.arange(3)]
    share /= share.sum(axis=(1, 2), keepdims=True) + 1e-12
    place = model.places / model.resolution + np.array([-1.0, 0.0, 1.0])[:, None]
    away_s = ((onsets.quarters - quarter)[:, None, None] - place) * onsets.quarter_s[:, None, None]
    most_s = STRAY_SPREADS * onsets.spread_s[:, None, None]
    away_s = np.clip(away_s, -most_s, most_s)
    square = float((share * away_s**2).sum(axis=(1, 2)).mean() - (onsets.track_s**2).mean())
    spread = float(np.sqrt(max(square, 0.0)))
    ahead = spread * (spread / onsets.player_s) ** LEAP  # the sums still depend on the spread they were computed with
    return float(np.clip(ahead, LEAST_PLAYER_S, MOST_PLAYER_S))


def _never_twice(onsets: Onsets, together: NDArray[np.float64]) -> Floats:
    together[1:][onsets.voice[1:] == onsets.voice[:-1]] = NEVER
    return together
