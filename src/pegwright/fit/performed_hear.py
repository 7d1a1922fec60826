"""Following the beat by ear: onset by onset, keeping the few likeliest ways to hear what came so far.

Each way is a hole for every cluster of onsets and, given those, the beat with its uncertainty (a Kalman filter).

Source: A. T. Cemgil and B. Kappen, "Monte Carlo methods for tempo tracking and rhythm quantization", J. Artificial
Intelligence Research 18 (2003): discrete holes and a Gaussian beat for each of many hypotheses.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.fit.performed_steps import Steps
from pegwright.fit.performed_track import Pulse

REACH_QUARTERS = 0.45  # places further from an onset than this cannot be meant
REACH_SPREADS = 4.0  # with 3, one cluster in 400 lay too far from where it was meant, and the beat went with it
LONGEST_CLUSTER_S = 0.07
GUESSES = 20
HOPELESS = 9.0  # a guess so much less likely than the best, as a logarithm, is dropped
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
        fit: log likelihood of a cluster on the whole.
    """

    time_s: Floats
    hole_quarters: Floats
    spread_s: Floats
    pulse: Pulse
    fit: float


@dataclass(slots=True)
class _Guess:
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


class _Best(dict[tuple[int, int, int], _Guess]):
    """The best guess for each quarter, place and length of a quarter; hopeless ones are left out."""

    __slots__ = ("least",)

    def __init__(self) -> None:
        super().__init__()
        self.least = -math.inf

    def takes(self, key: tuple[int, int, int], score: float) -> bool:
        """Whether a score that is not hopeless (above `least`) is better than what stands at `key`."""
        rival = self.get(key)
        if rival is not None and score <= rival.score:
            return False
        self.least = max(self.least, score - HOPELESS)
        return True

    def ranked(self, width: int) -> list[_Guess]:
        """The best first, so many at most."""
        return [guess for guess in sorted(self.values(), key=_score, reverse=True)[:width] if guess.score > self.least]


def heard(
    onset_s: Floats,
    which: Ints,
    marks: Sequence[int],
    places: tuple[Fraction, ...],
    pulses: Sequence[tuple[float, Pulse]],
    player_s: float,
) -> Hearing:
    """Follow one or more pulses through onsets.

    Args:
        onset_s: shape (n,), seconds, rising.
        which: shape (n,), from `clusters`.
        marks: for each cluster, a number for what was struck.
        places: where holes lie in a quarter.
        pulses: how likely each is to begin with (a logarithm), and the pulse; all drift alike.
        player_s: standard deviation of onsets about their holes to begin with; it is learnt on the way.
    """
    steps, count = Steps(places), np.bincount(which)
    time = np.bincount(which, onset_s) / count
    guesses = [_start(number, prior, pulse) for number, (prior, pulse) in enumerate(pulses)]
    drift, noise = pulses[0][1].drift, player_s**2
    for index, (when, notes) in enumerate(zip(time.tolist(), count.tolist(), strict=True)):
        best, told = _Best(), steps.told_by(marks[index])
        for guess in guesses:
            _branch(guess, index, when, noise / notes, drift, steps, told, best)
        width = GUESSES if index >= OPENING_CLUSTERS else max(GUESSES, len(pulses))
        guesses = best.ranked(width)
        noise = _learn(steps, guesses[0], marks, noise)
    end = guess = guesses[0]
    found = []
    while guess.back is not None:
        if guess.cluster >= 0:
            found.append((guess.cluster, guess.quarter + steps.at[guess.place]))
        guess = guess.back
    chosen = np.array([cluster for cluster, _ in reversed(found)], dtype=np.int64)
    holes = np.array([hole for _, hole in reversed(found)])
    spread_s = math.sqrt(noise) / np.sqrt(count[chosen])
    return Hearing(time[chosen], holes, spread_s, pulses[guess.cluster][1], end.score / len(time))


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


def _score(guess: _Guess) -> float:
    return guess.score


def _start(number: int, prior: float, pulse: Pulse) -> _Guess:
    line, length = pulse.line_spread_s**2, pulse.quarter_spread_s**2
    return _Guess(prior, 0, -1, pulse.line_s, pulse.quarter_s, line, 0.0, length, None, number)


def _branch(
    guess: _Guess, index: int, when: float, noise: float, drift: float, steps: Steps, told: list[float], best: _Best
) -> None:
    """Put into `best` every place the cluster may mean if `guess` is right, and that it is a stray."""
    line, length, a, b, c = guess.line, guess.length, guess.a, guess.b, guess.c
    within = (when - line) / length
    reach = REACH_SPREADS * math.sqrt(a + 2 * b * within + c * within * within + noise) / length
    reach = min(REACH_QUARTERS, reach)
    weights, total = steps.after(guess.place)
    later, lowest, silent, at, count = 0, max(guess.place, 0), 0, steps.at, steps.count
    begun, strayed = guess.place >= 0, False
    while True:
        if within < 1 + reach:  # else the quarter is silent from here on
            wait = guess.score + max(0, silent - 1) * steps.silent
            begin = wait - total
            quarter, span = guess.quarter + silent, int(LENGTH_BINS * math.log(length))
            for place in range(bisect_left(at, within - reach, lowest), count):
                spot = at[place]
                if spot > within + reach:
                    break
                u, v = a + b * spot, b + c * spot
                variance, away = u + v * spot + noise, when - line - spot * length
                score = begin + weights[place + later] + told[place]
                score -= 0.5 * (away * away / variance + math.log(variance))
                if score <= best.least:
                    continue
                p, q, key = u / variance, v / variance, (quarter, place, span)
                if length + q * away > LEAST_QUARTER_S and best.takes(key, score):
                    best[key] = _Guess(
                        score, quarter, place, line + p * away, length + q * away, a - p * u, b - p * v, c - q * v,
                        guess, index, away * away / variance,
                    )  # fmt: skip
            if within < 1 and not strayed:
                # Silence is paid for by a stray too: else, once lost, nothing is as cheap as more strays.
                strayed, score, place = True, wait + STRAY_SCORE, guess.place if silent == 0 else -1
                key = quarter, place, span
                if score > best.least and best.takes(key, score):
                    best[key] = _Guess(score, quarter, place, line, length, a, b, c, guess, -1)
        if within < 1 - reach:
            return
        line += length
        a, b, c = a + 2 * b + c, b + c, c + (drift * length) ** 2
        silent += 1
        within = (when - line) / length
        later, lowest = (count if begun else 0), 0
