"""The beat track that fits best once the hole of every onset is known.

The state is the time of a beat line and the seconds of a quarter there; a quarter's length wanders from one quarter to
the next like a random walk, without bound.

Source: the linear dynamic model of tempo is that of A. T. Cemgil, B. Kappen, P. Desain and H. Honing, "On tempo
tracking: tempogram representation and Kalman filtering", J. New Music Research 29 (2000); the smoother is that of
H. E. Rauch, F. Tung and C. T. Striebel, "Maximum likelihood estimates of linear dynamic systems", AIAA J. 3 (1965).
"""

from __future__ import annotations

import math

import numpy as np

from pegwright.columns import Floats
from pegwright.frozen import frozen
from pegwright.played.doubts import Doubts

MIN_SHARE = 0.05  # of a quarter at the start


@frozen()
class Pulse:
    """Where a beat is expected to begin.

    Args:
        line_s: time of quarter 0.
        quarter_s: seconds a quarter.
        line_spread_s, quarter_spread_s: standard deviations of the two.
        drift: standard deviation of the change of a quarter's length from one to the next, as a share.
    """

    line_s: float
    quarter_s: float
    line_spread_s: float
    quarter_spread_s: float
    drift: float


@frozen(eq=False)
class Track:
    """Times of beat lines, as far as they are known.

    Args:
        line_s: shape (b,), seconds, of quarters 0, 1, 2 ...
        spread_s: shape (b,), standard deviations.
        holes: shape (n,), the quarters on which notes lie, where the beat was followed together with them; else None.
        doubts: what is in doubt about the beat; None where bars were not followed.
        kept: whether the file's own beat was kept, though it had only to begin.
        tempo_open: whether nothing that was given says in which note values the beat is to be written.
        bar_quarters: how many quarters a bar lasts, or the fewest bars that last whole quarters together; 1 where bars
            were not followed.
    """

    line_s: Floats
    spread_s: Floats
    holes: Floats | None = None
    doubts: Doubts | None = None
    kept: bool = False
    tempo_open: bool = False
    bar_quarters: int = 1


# Time of a line, length of its quarter, variance of the line, covariance of the two, variance of the length.
_State = tuple[float, float, float, float, float]


def smoothed(onset_s: Floats, hole_quarters: Floats, player_s: Floats, pulse: Pulse, quarter_count: int) -> Track:
    """The likeliest beat lines, given the hole of every onset.

    Args:
        onset_s: shape (n,), seconds.
        hole_quarters: shape (n,), quarters from quarter 0.
        player_s: shape (n,), standard deviation of each onset about its hole.
        pulse: what is known of the beginning, and how the tempo wanders.
        quarter_count: lines 0 to this are returned.
    """
    quarter = np.clip(np.floor(hole_quarters).astype(np.int64), 0, quarter_count - 1)
    within, weight = hole_quarters - quarter, 1 / player_s**2
    moments = np.stack([weight, weight * within, weight * within**2, weight * onset_s, weight * within * onset_s])
    sums = np.stack([np.bincount(quarter, moment, quarter_count) for moment in moments]).T.tolist()
    state: _State = (pulse.line_s, pulse.quarter_s, pulse.line_spread_s**2, 0.0, pulse.quarter_spread_s**2)
    before, after = [], []
    for index in range(quarter_count + 1):
        before.append(state)
        state = _updated(state, *sums[index]) if index < quarter_count else state
        after.append(state)
        state = _advanced(state, pulse.drift)
    state = after[-1]
    lines = [state]
    for index in range(quarter_count - 1, -1, -1):
        state = _looking_back(after[index], before[index + 1], state)
        lines.append(state)
    lines.reverse()
    line_s, spread_s = np.array([state[0] for state in lines]), [math.sqrt(max(state[2], 0.0)) for state in lines]
    # Onsets that contradict each other can put a line before an earlier one; lines must rise.
    floor = np.arange(len(line_s)) * MIN_SHARE * pulse.quarter_s
    rising = np.maximum.accumulate(line_s - floor) + floor
    return Track(rising, np.array(spread_s))


def _advanced(state: _State, drift: float) -> _State:
    """The next line, before any onset of its quarter is known."""
    line, length, a, b, c = state
    return line + length, length, a + 2 * b + c, b + c, c + (drift * length) ** 2


def _updated(state: _State, w0: float, w1: float, w2: float, y0: float, y1: float) -> _State:
    """The same line once its quarter's onsets are known: sums of weights by powers of place, and of weighted times."""
    if w0 == 0:
        return state
    line, length, a, b, c = state
    det = a * c - b * b
    ia, ib, ic = c / det + w0, -b / det + w1, a / det + w2
    det = ia * ic - ib * ib
    a, b, c = ic / det, -ib / det, ia / det
    away, turned = y0 - w0 * line - w1 * length, y1 - w1 * line - w2 * length
    return line + a * away + b * turned, length + b * away + c * turned, a, b, c


def _looking_back(now: _State, predicted: _State, then: _State) -> _State:
    """What a line is known to be once the next one (`then`) is known, which had been predicted as `predicted`."""
    line, length, a, b, c = now
    _, _, pa, pb, pc = predicted
    det = pa * pc - pb * pb
    # Gain: covariance of this line with the next, times the inverse of what had been predicted for it.
    g00, g01 = ((a + b) * pc - b * pb) / det, (b * pa - (a + b) * pb) / det
    g10, g11 = ((b + c) * pc - c * pb) / det, (c * pa - (b + c) * pb) / det
    away, turned = then[0] - predicted[0], then[1] - predicted[1]
    da, db, dc = then[2] - pa, then[3] - pb, then[4] - pc
    return (
        line + g00 * away + g01 * turned,
        length + g10 * away + g11 * turned,
        a + g00 * (g00 * da + g01 * db) + g01 * (g00 * db + g01 * dc),
        b + g00 * (g10 * da + g11 * db) + g01 * (g10 * db + g11 * dc),
        c + g10 * (g10 * da + g11 * db) + g11 * (g10 * db + g11 * dc),
    )
