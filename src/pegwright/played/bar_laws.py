"""How a player goes from one onset to the next: the beat with its uncertainty, under several laws.

Tempo changes a little from note to note. A player whose tempo moves is drawn back to the tempo that it has had on the
average, holds a note a little longer, the more so the longer it is, or stops for a while, and the beat goes on from the
next at the tempo before. How far onsets lie from the beat is learnt on the way.

Source: R. E. Kalman, "A new approach to linear filtering and prediction problems", J. Basic Engineering 82 (1960);
C. Raphael, "A hybrid graphical model for rhythmic parsing", Artificial Intelligence 137 (2002), for a tempo that is
followed together with the rhythm; both from memory.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from pegwright.columns import Floats
from pegwright.played.compiled import compiled_in_place


class Laws(NamedTuple):
    """How one kind of player plays, who holds nothing unless it is said; compiled functions can read a named tuple.

    Args:
        noise_s: standard deviation of an onset about the beat,
        step_noise: and as a share of the step.
        tempo_change: of tempo in half a second, as a share.
        sudden: whether tempo changes at the beginning of a step, not little by little throughout it.
        start_spread: standard deviation of the logarithm of a tempo that was given for the start.
        held_share: how often a note is held,
        held_quarters: if it is this long or longer;
        held, held_s: by this share of its length, and these seconds, on the average.
        stop_share: how often the player stops,
        stop_s: for how long on the average.
        return_rate: a second, of tempo to its average.
        change_share: how often the tempo becomes another at once,
        change_spread: and the standard deviation of that change, as a share.
    """

    noise_s: float
    step_noise: float
    tempo_change: float
    sudden: bool
    start_spread: float
    held_share: float = 0.0
    held_quarters: float = 1.0
    held: float = 0.0
    held_s: float = 1.0
    stop_share: float = 0.0
    stop_s: float = 1.0
    return_rate: float = 0.0
    change_share: float = 0.0
    change_spread: float = 0.1


# Set, with those of the habits, places and looks, on the pieces for building (tests/benchmarks/bench_played.py).
MOVING = Laws(
    noise_s=0.013,
    step_noise=0.031,
    tempo_change=0.035,
    sudden=True,
    start_spread=0.06,
    held_share=0.1,
    held_quarters=0.21,
    held=0.069,
    held_s=0.087,
    stop_share=0.06,
    stop_s=0.35,
    return_rate=0.55,
)
EVEN = Laws(noise_s=0.015, step_noise=0.0, tempo_change=0.008, sudden=False, start_spread=0.045)
# As even, but for another tempo now and then; or for stops, and a slow step or two before them. As one whose tempo
# moves, but who seldom stops or holds a note. Set by hand, checked on other pieces.
CHANGING = EVEN._replace(change_share=0.01)
HALTING = EVEN._replace(held_share=0.003, held_quarters=0.21, held=0.05, held_s=0.15, stop_share=0.002, stop_s=0.4)
SUPPLE = MOVING._replace(held_share=0.005, stop_share=0.002)
USUAL, HELD, CHANGED = range(3)  # how a step was played: HELD, or the player stopped; CHANGED to another tempo
FIRST_SEEN, FURTHEST = 14.0, 6.3  # onsets these count as; squares of distances, in variances, count no more than that
USUAL_GAP_S = 0.5
BASE_RATE = 0.15  # a second: of the average of tempo to tempo
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


@compiled_in_place
def begin(laws: Laws, beat: Floats, time_s: float, quarter_s: float, spread_s: float) -> None:
    """Before anything is known of a beat but its tempo.

    Args:
        laws: of the player.
        beat: shape (BEAT_PARTS,), to be filled.
        time_s: of the first onset.
        quarter_s: seconds a quarter.
        spread_s: standard deviation of this.
    """
    beat[TIME], beat[QUARTER], beat[AVERAGE] = time_s, quarter_s, math.log(quarter_s)
    beat[VAR_TIME], beat[COV], beat[VAR_QUARTER] = laws.noise_s**2, 0.0, spread_s**2
    beat[ROUGH], beat[SEEN] = FIRST_SEEN, FIRST_SEEN


@compiled_in_place
def drawn_back(laws: Laws, beat: Floats, gap_s: float) -> float:
    """Seconds a quarter that are expected after some time.

    Args:
        laws: of the player.
        beat: before it.
        gap_s: the time.
    """
    kept = math.exp(-laws.return_rate * gap_s)
    return math.exp(kept * math.log(beat[QUARTER]) + (1 - kept) * beat[AVERAGE])


@compiled_in_place
def onset_variance(laws: Laws, beat: Floats, step_s: float) -> float:
    """Of the time of an onset about the beat.

    Args:
        laws: of the player.
        beat: before it.
        step_s: how long the step to it is.
    """
    return float(beat[ROUGH] / beat[SEEN] * (laws.noise_s**2 + (laws.step_noise * step_s) ** 2))


@compiled_in_place
def step_score(
    laws: Laws, beat: Floats, quarter_s: float, lasts: float, favour: float, when_s: float, gap_s: float
) -> tuple[float, int]:
    """Judge a step by the time of the next onset.

    Args:
        laws: of the player.
        beat: before it.
        quarter_s: the length of a quarter that is expected.
        lasts: quarters that it lasts.
        favour: by how much likelier it is than elsewhere that the player waits, a logarithm.
        when_s: time of the next onset.
        gap_s: time since the onset before.

    Returns:
        Logarithm of its likelihood; how it was played.
    """
    step_s = lasts * quarter_s
    late_s = when_s - beat[TIME] - step_s
    variance = time_variance(laws, beat, quarter_s, lasts, gap_s) + onset_variance(laws, beat, step_s)
    best, how = _off(late_s, variance) + math.log(1 - laws.held_share) - LOG_ROOT, USUAL
    if laws.change_share > 0:
        variance += (step_s * laws.change_spread) ** 2
        changed = _off(late_s, variance) + math.log(laws.change_share) - LOG_ROOT
        if changed > best:
            best, how = changed, CHANGED
    if late_s <= 0 or laws.held_share <= 0:
        return best, how
    longer_s = laws.held * step_s + laws.held_s
    held = math.log(laws.held_share * min(lasts / laws.held_quarters, 1.0) / longer_s) - late_s / longer_s
    held = max(held, math.log(laws.stop_share / laws.stop_s) - late_s / laws.stop_s) + favour
    return (held, HELD) if held > best else (best, how)


@compiled_in_place
def _off(late_s: float, variance: float) -> float:
    """Logarithm of how likely a normal error is, but for LOG_ROOT."""
    return -0.5 * (late_s * late_s / variance + math.log(variance))


@compiled_in_place
def tempo_variance(laws: Laws, quarter_s: float, gap_s: float) -> float:
    """Variance that the length of a quarter gains in some time.

    Args:
        laws: of the player.
        quarter_s: the length.
        gap_s: the time.
    """
    return quarter_s * quarter_s * laws.tempo_change**2 * gap_s / USUAL_GAP_S


@compiled_in_place
def time_variance(laws: Laws, beat: Floats, quarter_s: float, lasts: float, gap_s: float) -> float:
    """Variance of when the beat is after a step.

    Args:
        laws: of the player.
        beat: before it.
        quarter_s: the length of a quarter that is expected.
        lasts: quarters that the step lasts.
        gap_s: the time until then.
    """
    gained = tempo_variance(laws, quarter_s, gap_s)
    var_quarter = beat[VAR_QUARTER] + (gained if laws.sudden else gained / 3)  # the integral of a random walk
    return float(beat[VAR_TIME] + 2 * lasts * beat[COV] + lasts * lasts * var_quarter)


@compiled_in_place
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


@compiled_in_place
def go(
    laws: Laws, beat: Floats, quarter_s: float, lasts: float, how: int, when_s: float, gap_s: float, after: Floats
) -> None:
    """The beat after a step.

    Args:
        laws: of the player.
        beat: before it.
        quarter_s: the length of a quarter that was expected.
        lasts: quarters that it lasts.
        how: it was played.
        when_s: time of the onset.
        gap_s: time since the onset before.
        after: shape (BEAT_PARTS,), to be filled.
    """
    step_s = lasts * quarter_s
    late_s = when_s - beat[TIME] - step_s
    gained = tempo_variance(laws, quarter_s, gap_s)
    at_once = (quarter_s * laws.change_spread) ** 2 if how == CHANGED else 0.0
    var_quarter = beat[VAR_QUARTER] + at_once + gained
    var_time = time_variance(laws, beat, quarter_s, lasts, gap_s) + lasts * lasts * at_once
    cov = beat[COV] + lasts * (beat[VAR_QUARTER] + at_once + (gained if laws.sudden else gained / 2))
    after[AVERAGE], after[ROUGH], after[SEEN] = beat[AVERAGE], beat[ROUGH], beat[SEEN]
    if how == HELD:
        after[TIME], after[QUARTER] = beat[TIME] + step_s + late_s, quarter_s
        after[VAR_TIME], after[COV], after[VAR_QUARTER] = laws.noise_s**2, 0.0, var_quarter
    else:
        total = var_time + onset_variance(laws, beat, step_s)
        pull, turn = var_time / total, cov / total
        after[TIME], after[QUARTER] = beat[TIME] + step_s + pull * late_s, quarter_s + turn * late_s
        after[VAR_TIME], after[COV] = var_time * (1 - pull), cov * (1 - pull)
        after[VAR_QUARTER] = var_quarter - turn * cov
        after[ROUGH] += min(late_s * late_s / total, FURTHEST) * beat[ROUGH] / beat[SEEN]
        after[SEEN] += 1
    _settle(after, gap_s)


@compiled_in_place
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


@compiled_in_place
def _settle(beat: Floats, gap_s: float) -> None:
    """Keep the tempo within bounds, and its average up to date."""
    beat[QUARTER] = min(max(beat[QUARTER], MIN_QUARTER_S), MAX_QUARTER_S)
    beat[AVERAGE] += (math.log(beat[QUARTER]) - beat[AVERAGE]) * (1 - math.exp(-BASE_RATE * gap_s))
