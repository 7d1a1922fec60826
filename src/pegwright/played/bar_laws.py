"""How a player goes from one onset to the next: the beat with its uncertainty, under several laws.

Tempo changes little from note to note, now and then more, and is drawn back to the tempo that it has had on the
average; or a note is held a little longer, the more so the longer it is, or the player stops for a while, and the beat
goes on from the next at the tempo before.

Source: R. E. Kalman, "A new approach to linear filtering and prediction problems", J. Basic Engineering 82 (1960);
C. Raphael, "A hybrid graphical model for rhythmic parsing", Artificial Intelligence 137 (2002), for a tempo that now
and then changes a lot; both from memory.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats
from pegwright.frozen import frozen

Table = NDArray[np.float64]

# Set by hand; checked on the building half of the bench (tests/benchmarks/bench_played.py).
NOISE_S = 0.009  # of an onset about the beat,
STEP_NOISE = 0.044  # and as a share of the step
NARROW, WIDE, WIDE_SHARE = 0.038, 0.062, 0.063  # change of tempo in half a second, as shares
USUAL_GAP_S = 0.5
HELD_SHARE, HELD_QUARTERS, HELD, HELD_S = 0.16, 0.5, 0.11, 0.043  # notes this long are held that often, by this share
STOP_SHARE, STOP_S = 0.026, 0.31  # and stops
RETURN_RATE, BASE_RATE = 0.83, 0.13  # a second: of tempo to its average, of the average to tempo
NEVER = -1e3
LOG_ROOT = 0.5 * math.log(2 * math.pi)


@frozen(eq=False)
class BeatState:
    """The beat of each hypothesis.

    Args:
        rows: shape (6, h): the time of the beat at the last onset; seconds a quarter; the logarithm of its average so
            far; then the variance of the first, the covariance of the first two, and the variance of the second.
    """

    rows: Table

    @property
    def time_s(self) -> Floats:
        """Shape (h,), of the beat at the last onset."""
        time_s: Floats = self.rows[0]
        return time_s

    @property
    def quarter_s(self) -> Floats:
        """Shape (h,), seconds a quarter."""
        quarter_s: Floats = self.rows[1]
        return quarter_s

    @classmethod
    def at_start(cls, time_s: float, quarter_s: Floats, spread_s: Floats) -> BeatState:
        """Before anything is known of the beat but its tempo.

        Args:
            time_s: of the first onset.
            quarter_s: shape (h,), seconds a quarter.
            spread_s: shape (h,), standard deviation of these.
        """
        still = np.zeros(len(quarter_s))
        rows = [still + time_s, quarter_s, np.log(quarter_s), still + NOISE_S**2, still, spread_s**2]
        return cls(np.stack(rows))

    def taken(self, which: NDArray[np.int64]) -> BeatState:
        """Some of the hypotheses, in another order."""
        return BeatState(self.rows.take(which, axis=1))

    def drawn_back(self, gap_s: float) -> Floats:
        """The length of a quarter that is expected after some time."""
        kept = math.exp(-RETURN_RATE * gap_s)
        expected: Floats = self.rows[1] ** kept * np.exp((1 - kept) * self.rows[2])
        return expected


@frozen(eq=False)
class StepLaws:
    """Ways to the next onset; shape (h, m).

    Args:
        score: logarithm of their likelihoods.
        late_s: the onset less the time expected for it.
        lasts: length in quarters.
        variance: of the time of an onset about the beat.
        drift: variance that the length of a quarter gains.
        held: whether the note was held.
    """

    score: Table
    late_s: Table
    lasts: Table
    variance: Table
    drift: Table
    held: NDArray[np.bool_]


def steps_to(beat: BeatState, quarter_s: Floats, lasts: Table, favour: Table, when_s: float, gap_s: float) -> StepLaws:
    """Judge steps by the time of the next onset.

    Args:
        beat: of each hypothesis.
        quarter_s: shape (h,), the length of a quarter that is expected.
        lasts: shape (h, m), quarters that each step lasts.
        favour: shape (h, m), by how much likelier it is than elsewhere that the player waits, a logarithm.
        when_s: time of the next onset.
        gap_s: time since the onset before.
    """
    step_s = lasts * quarter_s[:, None]
    time_s, _, _, var_time, cov, var_quarter = beat.rows[:, :, None]
    late_s = (when_s - time_s) - step_s
    variance = NOISE_S**2 + (STEP_NOISE * step_s) ** 2
    square = lasts * lasts
    known = var_time + 2 * lasts * cov + square * var_quarter + variance
    drift = (quarter_s**2 * (gap_s / USUAL_GAP_S))[:, None]
    late_square = late_s * late_s
    narrow, wide = known + square * (drift * NARROW**2), known + square * (drift * WIDE**2)
    usual = -0.5 * (late_square / narrow + np.log(narrow)) + math.log(1 - WIDE_SHARE - HELD_SHARE)
    moved = -0.5 * (late_square / wide + np.log(wide)) + math.log(WIDE_SHARE)
    longer_s = HELD * step_s + HELD_S
    held = np.log(HELD_SHARE * np.minimum(lasts / HELD_QUARTERS, 1.0) / longer_s) - late_s / longer_s
    held = np.maximum(held, math.log(STOP_SHARE / STOP_S) - late_s / STOP_S)
    held = np.where(late_s > 0, held + favour + LOG_ROOT, NEVER)
    best = np.maximum(usual, moved)
    drift = drift * np.where(moved > usual, WIDE**2, NARROW**2)
    return StepLaws(np.maximum(best, held) - LOG_ROOT, late_s, lasts, variance, drift, held > best)


def arrived(
    beat: BeatState, quarter_s: Floats, steps: StepLaws, before: NDArray[np.int64], place: NDArray[np.int64]
) -> BeatState:
    """The beat after some of the steps.

    Args:
        beat: of each hypothesis before.
        quarter_s: shape (h,), as expected.
        steps: from `steps_to`.
        before: the hypotheses.
        place: which step of each.
    """
    at = before * steps.lasts.shape[1] + place
    lasts, late_s, held = steps.lasts.take(at), steps.late_s.take(at), steps.held.take(at)
    time_s, _, average, var_time, cov, var_quarter = beat.rows.take(before, axis=1)
    length = quarter_s[before]
    var_quarter = var_quarter + steps.drift.take(at)
    var_time = var_time + 2 * lasts * cov + lasts**2 * var_quarter
    cov = cov + lasts * var_quarter
    total = var_time + steps.variance.take(at)
    pull, turn = var_time / total, np.where(held, 0.0, cov / total)
    return BeatState(
        np.stack(
            [
                time_s + lasts * length + np.where(held, 1.0, pull) * late_s,
                length + turn * late_s,
                average,
                np.where(held, NOISE_S**2, var_time * (1 - pull)),
                np.where(held, 0.0, cov * (1 - pull)),
                var_quarter - turn * cov,
            ]
        )
    )


def rebased(beat: BeatState, gap_s: float) -> BeatState:
    """With the average tempo as it is once some time has gone by."""
    rows = beat.rows.copy()
    rows[2] += (np.log(rows[1]) - rows[2]) * (1 - math.exp(-BASE_RATE * gap_s))
    return BeatState(rows)
