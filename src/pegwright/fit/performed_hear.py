"""Following the beat by ear: onset by onset, keeping the few likeliest ways to hear what came so far.

Each way is a hole for every cluster of onsets and, given those, the beat with its uncertainty (a Kalman filter).

Source: A. T. Cemgil and B. Kappen, "Monte Carlo methods for tempo tracking and rhythm quantization", J. Artificial
Intelligence Research 18 (2003): discrete holes and a Gaussian beat for each of many hypotheses.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.fit.performed_steps import Steps
from pegwright.fit.performed_track import Pulse

REACH_QUARTERS = 0.45  # places further from an onset than this cannot be meant
REACH_SPREADS = 4.0  # with 3, one cluster in 400 lay too far from where it was meant, and the beat went with it
LONGEST_CLUSTER_S = 0.07
GUESSES = 16
HOPELESS = 8.0  # a guess so much less likely than the best, as a logarithm, is dropped
LENGTH_BINS = 40.0  # guesses whose quarters differ by less than one part in so many are one guess
OPENING_CLUSTERS = 8  # until then every starting pulse may stay
LEAST_QUARTER_S = 0.1  # 600 a minute
SECOND_THOUGHTS = 4  # clusters
MOST_STRAIN = 9.0
PRIOR_STRAIN = 40.0  # the spread supposed so far counts as much as this many clusters
LEAST_PLAYER_S, MOST_PLAYER_S = 0.008, 0.04
STRAY_SCORE = -9.0  # a cluster that means no place


def clusters(onset_s: Floats, voice: Ints, gap_s: float) -> Ints:
    """Shape (n,): which cluster each onset is in; onsets that nearly coincide share one, unless a voice strikes twice.

    Args:
        onset_s: shape (n,), seconds, rising.
        voice: shape (n,), equal for notes that cannot be struck together.
        gap_s: onsets further apart than this are not of one cluster.
    """
    which, cluster, began, before, inside = [], -1, 0.0, -math.inf, set[int]()
    for onset, own in zip(onset_s.tolist(), voice.tolist(), strict=True):
        if onset - before > gap_s or onset - began > LONGEST_CLUSTER_S or own in inside:
            cluster, began, inside = cluster + 1, onset, set()
        before = onset
        inside.add(own)
        which.append(cluster)
    return np.array(which, dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Hearing:
    """Clusters of onsets with the holes they were heard on; columns have shape (c,).

    Args:
        time_s: mean time.
        hole_quarters: hole, in quarters from quarter 0.
        spread_s: standard deviation of the time about the hole.
        pulse: the beginning that proved right.
        fit: log likelihood of a cluster on the whole; minus infinity where the hearing was given up.
        so_far: shape (clusters,), log likelihood from the beginning to each cluster, strays included.
    """

    time_s: Floats
    hole_quarters: Floats
    spread_s: Floats
    pulse: Pulse
    fit: float
    so_far: Floats


class _Guess(NamedTuple):
    """One way to hear the onsets so far: the last hole, the line of its quarter, and the guess it came from.

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


def heard(
    onset_s: Floats,
    which: Ints,
    marks: Sequence[int],
    places: tuple[Fraction, ...],
    pulses: Sequence[tuple[float, Pulse]],
    player_s: float,
    most: int = GUESSES,
    at_least: Floats | None = None,
) -> Hearing:
    """Follow one or more pulses through onsets.

    Args:
        onset_s: shape (n,), seconds, rising.
        which: shape (n,), from `clusters`.
        marks: for each cluster, a number for what was struck.
        places: where holes lie in a quarter.
        pulses: how likely each is to begin with (a logarithm), and the pulse; all drift alike.
        player_s: standard deviation of onsets about their holes to begin with; it is learnt on the way.
        most: guesses kept, once enough has been heard to tell pulses apart.
        at_least: shape (clusters,), log likelihoods from the beginning; the hearing is given up where it falls below.
    """
    steps, count = Steps(places), np.bincount(which)
    time = np.bincount(which, onset_s) / count
    guesses = [_start(number, prior, pulse) for number, (prior, pulse) in enumerate(pulses)]
    drift, noise = pulses[0][1].drift, player_s**2
    for index, (when, notes) in enumerate(zip(time.tolist(), count.tolist(), strict=True)):
        best: _Best = {}
        told, least = steps.told_by(marks[index]), -math.inf
        for guess in guesses:
            least = _branch(guess, index, when, noise / notes, drift, steps, told, best, least)
        width = most if index >= OPENING_CLUSTERS else max(GUESSES, len(pulses))
        guesses = sorted((guess for guess in best.values() if guess[0] > least), key=_SCORE, reverse=True)[:width]
        if at_least is not None and guesses[0].score < at_least[index]:
            fit = -math.inf
            break
        noise = _learn(steps, guesses[0], marks, noise)
    else:
        fit = guesses[0].score / len(time)
    guess = guesses[0]
    found, so_far = [], []
    while guess.back is not None:
        so_far.append(guess.score)
        if guess.cluster >= 0:
            found.append((guess.cluster, guess.quarter + steps.at[guess.place]))
        guess = guess.back
    chosen = np.array([cluster for cluster, _ in reversed(found)], dtype=np.int64)
    holes = np.array([hole for _, hole in reversed(found)])
    spread_s = math.sqrt(noise) / np.sqrt(count[chosen])
    return Hearing(time[chosen], holes, spread_s, pulses[guess.cluster][1], fit, np.array(so_far[::-1]))


def _learn(steps: Steps, leader: _Guess, marks: Sequence[int], noise: float) -> float:
    """Learn from a cluster a few before the last, on which the leader has had time to change its mind.

    Returns:
        The variance of onsets about their holes, put right a little.
    """
    heard_on: _Guess | None = leader
    for _ in range(SECOND_THOUGHTS):
        heard_on = heard_on.back if heard_on is not None else None
    before = heard_on.back if heard_on is not None else None
    if heard_on is None or before is None or heard_on.cluster < 0 or before.place < 0:
        return noise
    steps.learn(before.place, heard_on.quarter - before.quarter, heard_on.place, marks[heard_on.cluster])
    noise *= 1 + (min(heard_on.strain, MOST_STRAIN) - 1) / PRIOR_STRAIN
    return min(max(noise, LEAST_PLAYER_S**2), MOST_PLAYER_S**2)


def _start(number: int, prior: float, pulse: Pulse) -> _Guess:
    line, length = pulse.line_spread_s**2, pulse.quarter_spread_s**2
    return _Guess(prior, 0, -1, pulse.line_s, pulse.quarter_s, line, 0.0, length, None, number)


def _branch(
    guess: _Guess,
    index: int,
    when: float,
    noise: float,
    drift: float,
    steps: Steps,
    told: list[float],
    best: _Best,
    least: float,
) -> float:
    """Put into `best` every place the cluster may mean if `guess` is right, and that it is a stray.

    This is the innermost loop of listening, so it is written for speed: plain numbers, nothing looked up twice.

    Returns:
        The score from which a guess is not hopeless: `least`, or higher where a better guess was found.
    """
    wait, quarter, place, line, length, a, b, c = guess[:8]
    at, count, log, rival_of, new = steps.at, steps.count, math.log, best.get, tuple.__new__
    weights, total = steps.after(place)
    since = when - line
    within = since / length
    reach = REACH_SPREADS * math.sqrt(a + within * (b + b + c * within) + noise) / length
    reach = min(REACH_QUARTERS, reach)
    later, lowest, strays = 0, max(place, 0), True
    while True:
        if within < 1 + reach:  # else the quarter is silent from here on
            begin, span = wait - total, int(LENGTH_BINS * log(length))
            for then in range(bisect_left(at, within - reach, lowest), bisect_right(at, within + reach)):
                spot = at[then]
                u, v, away = a + b * spot, b + c * spot, since - spot * length
                variance = u + v * spot + noise
                pull = away / variance
                score = begin + weights[then + later] + told[then] - 0.5 * (away * pull + log(variance))
                if score > least:
                    key = quarter, then, span
                    rival = rival_of(key)
                    if (rival is None or score > rival[0]) and length + v * pull > LEAST_QUARTER_S:
                        least = max(least, score - HOPELESS)
                        p, q = u / variance, v / variance
                        best[key] = new(
                            _Guess,
                            (
                                score, quarter, then, line + u * pull, length + v * pull, a - p * u, b - p * v,
                                c - q * v, guess, index, away * pull,
                            ),
                        )  # fmt: skip
            if strays and within < 1:
                # Silence is paid for by a stray too: else, once lost, nothing is as cheap as more strays.
                strays, score, key = False, wait + STRAY_SCORE, (quarter, place, span)
                rival = rival_of(key)
                if score > least and (rival is None or score > rival[0]):
                    least = max(least, score - HOPELESS)
                    best[key] = _Guess(score, quarter, place, line, length, a, b, c, guess, -1)
        if within < 1 - reach:
            return least
        if quarter > guess[1]:
            wait += steps.silent
        if place >= 0:
            later = count
        line += length
        a, b, c = a + b + b + c, b + c, c + (drift * length) ** 2
        quarter, place, lowest = quarter + 1, -1, 0
        since = when - line
        within = since / length
