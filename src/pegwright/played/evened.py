"""Beats that were tapped or annotated: their jitter is smoothed out, and the tempo between them made to move evenly.

Between two beats a player who slows down does not keep one tempo: with straight lines between beats, the middle of a
quarter lies off by an eighth of what the next quarter differs.

Source: E. T. Whittaker, "On a new method of graduation", Proc. Edinburgh Mathematical Society 41 (1923), for smoothing
by a penalty on differences; F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM J.
Numerical Analysis 17 (1980), for curves that never run backwards. Both from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, frozen_floats
from pegwright.played.beats import BeatTrack

TEMPO_CHANGE = 0.12  # from one quarter to the next, as a share of its length: the scale of what is smoothed away
SUDDEN = 2.0  # scales from which a change of tempo is taken for meant, and smoothed less and less
ROUNDS = 3
POINTS = 8  # of the curve between two beats
LEAST_BEATS = 3


def evened(track: BeatTrack) -> BeatTrack:
    """The same beats without the jitter of taps, and with points between them on a smooth curve; exact from then on."""
    if len(track.seconds) < LEAST_BEATS:
        return BeatTrack(track.seconds, track.quarters)
    seconds = _smoothed(track) if track.spread_s > 0 else np.array(track.seconds)
    return _curve(seconds, np.array(track.quarters))


def _smoothed(track: BeatTrack) -> NDArray[np.float64]:
    """Times of the beats without jitter, in seconds; as given where smoothing would let two beats change places."""
    from scipy.linalg import solveh_banded  # noqa: PLC0415  # heavy, and needed for taps alone

    given, apart = np.array(track.seconds), np.diff(track.quarters)
    slopes = np.diff(given) / apart
    scale = TEMPO_CHANGE * np.sqrt(slopes[1:] * slopes[:-1] * (apart[1:] + apart[:-1]) / 2)
    first, last = 1 / apart[:-1] / scale, 1 / apart[1:] / scale
    rows, seconds = np.stack([first, -first - last, last]), given
    for _ in range(ROUNDS):
        change = (rows * np.stack([seconds[:-2], seconds[1:-1], seconds[2:]])).sum(axis=0)
        weight = 1 / (1 + (change / SUDDEN) ** 2)
        seconds = solveh_banded(_normal_equations(rows, weight, track.spread_s), given / track.spread_s**2)
    return seconds if (np.diff(seconds) > 0).all() else given


def _normal_equations(rows: Floats, weight: Floats, spread_s: float) -> NDArray[np.float64]:
    """The upper bands of a symmetric matrix, as `scipy.linalg.solveh_banded` takes them."""
    count = rows.shape[1] + 2
    bands = np.zeros((3, count))
    bands[2] = 1 / spread_s**2
    for left in range(3):
        for right in range(left, 3):
            bands[2 - right + left, right : right + count - 2] += weight * rows[left] * rows[right]
    return bands


def _curve(seconds: NDArray[np.float64], quarters: NDArray[np.float64]) -> BeatTrack:
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415  # heavy, and needed for given beats alone

    # A beat more on either side, so that the track goes on at the tempo of its first and last beats.
    seconds = np.concatenate([[2 * seconds[0] - seconds[1]], seconds, [2 * seconds[-1] - seconds[-2]]])
    quarters = np.concatenate([[2 * quarters[0] - quarters[1]], quarters, [2 * quarters[-1] - quarters[-2]]])
    share = np.arange(POINTS) / POINTS
    between = np.append((seconds[:-1, None] + share * np.diff(seconds)[:, None]).ravel(), seconds[-1])
    at = PchipInterpolator(seconds, quarters)(between)
    kept = np.append(True, (np.diff(at) > 0) & (np.diff(between) > 0))
    rising = np.append(True, np.diff(np.maximum.accumulate(at[kept])) > 0)
    return BeatTrack(frozen_floats(between[kept][rising]), frozen_floats(at[kept][rising]))
