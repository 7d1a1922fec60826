"""How a player goes from one onset to the next: the beat with its uncertainty, under several laws.

Tempo changes a little from note to note, and is drawn back to the tempo that it has had on the average; or a note is
held a little longer, the more so the longer it is, or the player stops for a while, and the beat goes on from the next
at the tempo before. How far onsets lie from the beat is learnt on the way.

Source: R. E. Kalman, "A new approach to linear filtering and prediction problems", J. Basic Engineering 82 (1960);
C. Raphael, "A hybrid graphical model for rhythmic parsing", Artificial Intelligence 137 (2002), for a tempo that is
followed together with the rhythm; both from memory.
"""

from __future__ import annotations

import math

from pegwright.columns import Floats
from pegwright.played.compiled import compiled

# Set, with those of the habits, places and looks, on the pieces for building (tests/benchmarks/bench_played.py).
NOISE_S = 0.013  # of an onset about the beat,
STEP_NOISE = 0.031  # and as a share of the step
FIRST_SEEN, FURTHEST = 14.0, 6.3  # onsets these count as; squares of distances, in variances, count no more than that
TEMPO_CHANGE = 0.035  # in half a second, as a share
USUAL_GAP_S = 0.5
HELD_SHARE, HELD_QUARTERS, HELD, HELD_S = 0.2, 0.21, 0.069, 0.087  # notes this long are held that often, by this share
STOP_SHARE, STOP_S = 0.033, 0.35  # and stops
RETURN_RATE, BASE_RATE = 0.55, 0.15  # a second: of tempo to its average, of the average to tempo
STAY_SHARE, STAY_S, LONGEST_CHORD_S = 0.097, 0.076, 0.15  # onsets that still belong to the chord before
STAY_PULL = 0.32
MIN_QUARTER_S, MAX_QUARTER_S = 0.12, 3.5
LOG_ROOT = 0.5 * math.log(2 * math.pi)
IMPOSSIBLE = -1e9

# What a beat consists of: when it was at the last onset; seconds a quarter; the logarithm of its average so far; the
# variance of the first, the covariance of the first two, the variance of the second; how rough the playing is, as a
# sum of squares of distances from the beat in variances, and of how many.
TIME, QUARTER, AVERAGE, VAR_TIME, COV, VAR_QUARTER, ROUGH, SEEN = range(8)
BEAT_PARTS = 8


@compiled
def begin(beat: Floats, time_s: float, quarter_s: float, spread_s: float) -> None:
    """Before anything is known of a beat but its tempo.

    Args:
        beat: shape (BEAT_PARTS,), to be filled.
        time_s: of the first onset.
        quarter_s: seconds a quarter.
        spread_s: standard deviation of this.
    """
    beat[TIME], beat[QUARTER], beat[AVERAGE] = time_s, quarter_s, math.log(quarter_s)
    beat[VAR_TIME], beat[COV], beat[VAR_QUARTER] = NOISE_S**2, 0.0, spread_s**2
    beat[ROUGH], beat[SEEN] = FIRST_SEEN, FIRST_SEEN


@compiled
def drawn_back(beat: Floats, gap_s: float) -> float:
    """Seconds a quarter that are expected after some time."""
    kept = math.exp(-RETURN_RATE * gap_s)
    return math.exp(kept * math.log(beat[QUARTER]) + (1 - kept) * beat[AVERAGE])


@compiled
def onset_variance(beat: Floats, step_s: float) -> float:
    """Of the time of an onset about the beat."""
    return float(beat[ROUGH] / beat[SEEN] * (NOISE_S**2 + (STEP_NOISE * step_s) ** 2))


@compiled
def step_score(
    beat: Floats, quarter_s: float, lasts: float, favour: float, when_s: float, gap_s: float
) -> tuple[float, bool]:
    """Judge a step by the time of the next onset.

    Args:
        beat: before it.
        quarter_s: the length of a quarter that is expected.
        lasts: quarters that it lasts.
        favour: by how much likelier it is than elsewhere that the player waits, a logarithm.
        when_s: time of the next onset.
        gap_s: time since the onset before.

    Returns:
        Logarithm of its likelihood; whether the note was held.
    """
    step_s = lasts * quarter_s
    late_s = when_s - beat[TIME] - step_s
    var_quarter = beat[VAR_QUARTER] + tempo_variance(quarter_s, gap_s)
    variance = beat[VAR_TIME] + 2 * lasts * beat[COV] + lasts * lasts * var_quarter + onset_variance(beat, step_s)
    usual = -0.5 * (late_s * late_s / variance + math.log(variance)) + math.log(1 - HELD_SHARE) - LOG_ROOT
    if late_s <= 0:
        return usual, False
    longer_s = HELD * step_s + HELD_S
    held = math.log(HELD_SHARE * min(lasts / HELD_QUARTERS, 1.0) / longer_s) - late_s / longer_s
    held = max(held, math.log(STOP_SHARE / STOP_S) - late_s / STOP_S) + favour
    return max(usual, held), held > usual


@compiled
def tempo_variance(quarter_s: float, gap_s: float) -> float:
    """Variance that the length of a quarter gains in some time."""
    return quarter_s * quarter_s * TEMPO_CHANGE**2 * gap_s / USUAL_GAP_S


@compiled
def stay_score(beat: Floats, when_s: float, gap_s: float) -> float:
    """Logarithm of the likelihood that an onset still belongs to the chord before.

    Args:
        beat: before it.
        when_s: time of the onset.
        gap_s: time since the onset before.
    """
    if gap_s >= LONGEST_CHORD_S:
        return IMPOSSIBLE
    return float(math.log(STAY_SHARE / STAY_S) - max(when_s - beat[TIME], 0.0) / STAY_S)


@compiled
def go(beat: Floats, quarter_s: float, lasts: float, held: bool, when_s: float, gap_s: float, after: Floats) -> None:
    """The beat after a step.

    Args:
        beat: before it.
        quarter_s: the length of a quarter that was expected.
        lasts: quarters that it lasts.
        held: whether the note was.
        when_s: time of the onset.
        gap_s: time since the onset before.
        after: shape (BEAT_PARTS,), to be filled.
    """
    step_s = lasts * quarter_s
    late_s = when_s - beat[TIME] - step_s
    var_quarter = beat[VAR_QUARTER] + tempo_variance(quarter_s, gap_s)
    var_time = beat[VAR_TIME] + 2 * lasts * beat[COV] + lasts * lasts * var_quarter
    cov = beat[COV] + lasts * var_quarter
    after[AVERAGE], after[ROUGH], after[SEEN] = beat[AVERAGE], beat[ROUGH], beat[SEEN]
    if held:
        after[TIME], after[QUARTER] = beat[TIME] + step_s + late_s, quarter_s
        after[VAR_TIME], after[COV], after[VAR_QUARTER] = NOISE_S**2, 0.0, var_quarter
    else:
        total = var_time + onset_variance(beat, step_s)
        pull, turn = var_time / total, cov / total
        after[TIME], after[QUARTER] = beat[TIME] + step_s + pull * late_s, quarter_s + turn * late_s
        after[VAR_TIME], after[COV] = var_time * (1 - pull), cov * (1 - pull)
        after[VAR_QUARTER] = var_quarter - turn * cov
        after[ROUGH] += min(late_s * late_s / total, FURTHEST) * beat[ROUGH] / beat[SEEN]
        after[SEEN] += 1
    _settle(after, gap_s)


@compiled
def stay(beat: Floats, when_s: float, gap_s: float, after: Floats) -> None:
    """The beat after an onset that still belongs to the chord before.

    Args:
        beat: before it.
        when_s: time of the onset.
        gap_s: time since the onset before.
        after: shape (BEAT_PARTS,), to be filled.
    """
    for part in range(BEAT_PARTS):
        after[part] = beat[part]
    after[TIME] += STAY_PULL * (when_s - beat[TIME])
    _settle(after, gap_s)


@compiled
def _settle(beat: Floats, gap_s: float) -> None:
    """Keep the tempo within bounds, and its average up to date."""
    beat[QUARTER] = min(max(beat[QUARTER], MIN_QUARTER_S), MAX_QUARTER_S)
    beat[AVERAGE] += (math.log(beat[QUARTER]) - beat[AVERAGE]) * (1 - math.exp(-BASE_RATE * gap_s))
