"""A beam search for the beat: onset by onset, keeping the few likeliest hypotheses about what came so far.

Each hypothesis is a hole for every cluster of onsets and, given those, the beat with its uncertainty (a Kalman filter).

Source: A. T. Cemgil and B. Kappen, "Monte Carlo methods for tempo tracking and rhythm quantization", J. Artificial
Intelligence Research 18 (2003): discrete holes and a Gaussian beat for each of many hypotheses.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from fractions import Fraction
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.steps import Steps
from pegwright.played.track import Pulse

REACH_QUARTERS = 0.45  # places farther from an onset than this are not considered
REACH_SPREADS = 4.0  # with 3, one cluster in 400 lay too far from where it was meant, and the beat was lost
GUESSES = 16
MAX_DEFICIT = 8.0  # a guess this far below the best, in log likelihood, is dropped
LENGTH_BINS = 40.0  # guesses whose quarters differ by less than one part in this number are one guess
OPENING_CLUSTERS = 8  # until then every starting pulse may stay
MIN_QUARTER_S = 0.1  # 600 a minute
LEARNING_DELAY = 4  # clusters
MOST_STRAIN = 9.0
PRIOR_CLUSTERS = 40.0  # the spread assumed so far counts as much as this many clusters
LEAST_PLAYER_S, MOST_PLAYER_S = 0.008, 0.04
STRAY_SCORE = -9.0  # a cluster that lies at no place


@frozen(eq=False)
class BeatHypothesis:
    """Clusters of onsets with the holes they were assigned to; columns have shape (c,).

    Args:
        time_s: mean time.
        hole_quarters: hole, in quarters from quarter 0.
        spread_s: standard deviation of the time about the hole.
        pulse: the initial pulse that fits best.
        fit: mean log likelihood of a cluster; minus infinity where the search was stopped.
        so_far: shape (clusters,), log likelihood from the beginning to each cluster, strays included.
    """

    time_s: Floats
    hole_quarters: Floats
    spread_s: Floats
    pulse: Pulse
    fit: float
    so_far: Floats


class _Guess(NamedTuple):
    """One hypothesis about the onsets so far: the last hole, the line of its quarter, and the guess it came from.

    `place` is -1 where no place of the quarter is known to be struck yet: at the start, and after a stray.
    `a`, `b`, `c` are the variance of the line, its covariance with the quarter's length, and the variance of that.
    `cluster` is what lies on the hole: -1 for a stray; for a start, the number of its pulse. `strain` is the square of
    how far it lay from there, in expected standard deviations.
    """

    score: float
    quarter: int
    place: int
    line: float
    length: float
    a: float
    b: float
    c: float
    back: _Guess | None
    cluster: int
    strain: float = 1.0


_Best = dict[tuple[int, int, int], _Guess]  # the best guess for each quarter, place and (binned) length of a quarter
_SCORE = itemgetter(0)


def follow_pulses(
    onset_s: Floats,
    which: Ints,
    marks: Sequence[int],
    places: tuple[Fraction, ...],
    pulses: Sequence[tuple[float, Pulse]],
    player_s: float,
    beam: int = GUESSES,
    at_least: Floats | None = None,
) -> BeatHypothesis:
    """Follow one or more pulses through onsets.

    Args:
        onset_s: shape (n,), seconds, rising.
        which: shape (n,), from `chords.clusters`.
        marks: for each cluster, a number for what was struck.
        places: where holes lie in a quarter.
        pulses: how likely each is to begin with (a logarithm), and the pulse; all drift alike.
        player_s: standard deviation of onsets about their holes to begin with; it is learnt on the way.
        beam: guesses kept, once there are clusters enough to distinguish pulses.
        at_least: shape (clusters,), log likelihoods from the beginning; the search is stopped where it falls below.
    """
    steps, count = Steps(places), np.bincount(which)
    time = np.bincount(which, onset_s) / count
    guesses = []
    for number, (prior, pulse) in enumerate(pulses):
        line, length = pulse.line_spread_s**2, pulse.quarter_spread_s**2
        guesses.append(_Guess(prior, 0, -1, pulse.line_s, pulse.quarter_s, line, 0.0, length, None, number))
    drift, noise = pulses[0][1].drift, player_s**2
    for index, (when, notes) in enumerate(zip(time.tolist(), count.tolist(), strict=True)):
        best: _Best = {}
        by_mark, minimum = steps.log_ratios(marks[index]), -math.inf
        for guess in guesses:
            minimum = _branch(guess, index, when, noise / notes, drift, steps, by_mark, best, minimum)
        width = beam if index >= OPENING_CLUSTERS else max(GUESSES, len(pulses))
        guesses = sorted((guess for guess in best.values() if guess[0] > minimum), key=_SCORE, reverse=True)[:width]
        if at_least is not None and guesses[0].score < at_least[index]:
            fit = -math.inf
            break
        noise = _learn(steps, guesses[0], marks, noise)
    else:
        fit = guesses[0].score / len(time)
    guess = guesses[0]
    assigned, so_far = [], []
    while guess.back is not None:
        so_far.append(guess.score)
        if guess.cluster >= 0:
            assigned.append((guess.cluster, guess.quarter + steps.at[guess.place]))
        guess = guess.back
    chosen = np.array([cluster for cluster, _ in reversed(assigned)], dtype=np.int64)
    holes = np.array([hole for _, hole in reversed(assigned)])
    spread_s = math.sqrt(noise) / np.sqrt(count[chosen])
    return BeatHypothesis(time[chosen], holes, spread_s, pulses[guess.cluster][1], fit, np.array(so_far[::-1]))


def _learn(steps: Steps, leader: _Guess, marks: Sequence[int], noise: float) -> float:
    """Learn from a cluster a few before the last, whose hole later clusters could still have changed.

    Returns:
        The variance of onsets about their holes, updated.
    """
    learnt_from: _Guess | None = leader
    for _ in range(LEARNING_DELAY):
        learnt_from = learnt_from.back if learnt_from is not None else None
    before = learnt_from.back if learnt_from is not None else None
    if learnt_from is None or before is None or learnt_from.cluster < 0 or before.place < 0:
        return noise
    steps.learn(before.place, learnt_from.quarter - before.quarter, learnt_from.place, marks[learnt_from.cluster])
    noise *= 1 + (min(learnt_from.strain, MOST_STRAIN) - 1) / PRIOR_CLUSTERS
    return min(max(noise, LEAST_PLAYER_S**2), MOST_PLAYER_S**2)


def _branch(
    guess: _Guess,
    index: int,
    when: float,
    noise: float,
    drift: float,
    steps: Steps,
    by_mark: list[float],
    best: _Best,
    minimum: float,
) -> float:
    """Put into `best` every place at which the cluster may lie if `guess` is right, and that it is a stray.

    The innermost loop of the search, so it is written for speed: plain numbers, nothing looked up twice.

    Returns:
        The score below which guesses are dropped: `minimum`, or higher after a better guess.
    """
    wait, quarter, place, line, length, a, b, c = guess[:8]
    at, count, log, rival_of, new = steps.at, steps.count, math.log, best.get, tuple.__new__
    weights, total = steps.after(place)
    within = (when - line) / length
    reach = min(REACH_QUARTERS, REACH_SPREADS * math.sqrt(a + within * (b + b + c * within) + noise) / length)
    later, lowest, strays = 0, max(place, 0), True
    while True:
        since = when - line
        within = since / length
        if within < 1 + reach:  # else the quarter is silent from here on
            begin, span = wait - total, int(LENGTH_BINS * log(length))
            for then in range(bisect_left(at, within - reach, lowest), bisect_right(at, within + reach)):
                spot = at[then]
                u, v, away = a + b * spot, b + c * spot, since - spot * length
                variance = u + v * spot + noise
                pull = away / variance
                score = begin + weights[then + later] + by_mark[then] - 0.5 * (away * pull + log(variance))
                if score > minimum:
                    key = quarter, then, span
                    rival = rival_of(key)
                    if (rival is None or score > rival[0]) and length + v * pull > MIN_QUARTER_S:
                        minimum = max(minimum, score - MAX_DEFICIT)
                        p, q = u / variance, v / variance
                        best[key] = new(_Guess, (score, quarter, then, line + u * pull, length + v * pull, a - p * u,
                                                 b - p * v, c - q * v, guess, index, away * pull))  # fmt: skip
            if strays and within < 1:
                # A stray has the cost of silence too: otherwise, once the beat is lost, more strays would cost least.
                strays = False
                stray = _Guess(wait + STRAY_SCORE, quarter, place, line, length, a, b, c, guess, -1)
                minimum = _put(stray, span, best, minimum)
        if within < 1 - reach:
            return minimum
        if quarter > guess[1]:
            wait += steps.silent
        if place >= 0:
            later = count
        line += length
        a, b, c = a + b + b + c, b + c, c + (drift * length) ** 2
        quarter, place, lowest = quarter + 1, -1, 0


def _put(guess: _Guess, span: int, best: _Best, minimum: float) -> float:
    """Put a guess into `best` if it is better than what is there; return the score below which guesses are dropped."""
    key = guess.quarter, guess.place, span
    rival = best.get(key)
    if guess.score <= minimum or (rival is not None and guess.score <= rival.score):
        return minimum
    best[key] = guess
    return max(minimum, guess.score - MAX_DEFICIT)
