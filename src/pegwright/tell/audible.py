"""How audible a moved note is. Guides from laboratory studies, not pass marks.

Sources:
    A. Friberg, J. Sundberg, "Time discrimination in a monotonic, isochronous sequence", Journal of the
    Acoustical Society of America 98(5), 1995, 2524-2531 (volume and pages from memory): one displaced
    tone is noticed from 6 ms where the inter-onset interval is below about 240 ms, and from 2.5 % of it above.
    The same authors' report in STL-QPSR 33(4), 1992, 97-108: about 10 ms, and about 5 %.
    I. J. Hirsh, "Auditory perception of temporal order", JASA 31, 1959, 759-767, as quoted by C. Watson 2004: the
    order of two sounds is heard from about 20 ms. No published flam threshold was found, so this stands in for one.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, firsts, frozen_floats, frozen_ints
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.units import ticks_to_ms

SHORT_IOI_MS = 240.0
LONGEST_IOI_MS = 1000.0  # no longer interval is extrapolated to, nor where a part has a single onset
FLAM_RISK_MS = 20.0
NOT_PLACED = -1


class Audibility(IntEnum):
    """How likely a listener is to notice that a note was moved; higher is worse."""

    EXACT = 0  # not moved, or within the file's own rounding
    UNHEARD = 1
    SLIGHT = 2
    AUDIBLE = 3

    @property
    def words(self) -> str:
        """The plain word that every output uses."""
        return self.name.lower()


def unheard_limit_ms(ioi_ms: Floats) -> Floats:
    """The maximum move that should go unheard, for each inter-onset interval in ms.

    Source: Friberg and Sundberg 1995, see the module.
    """
    return np.where(ioi_ms < SHORT_IOI_MS, 6.0, 0.025 * ioi_ms)


def slight_limit_ms(ioi_ms: Floats) -> Floats:
    """The maximum move that should be no more than slight, for each inter-onset interval in ms.

    Source: Friberg and Sundberg 1992, see the module.
    """
    return np.where(ioi_ms < SHORT_IOI_MS, 10.0, 0.05 * ioi_ms)


def inter_onset_ms(score: Score, us_per_quarter: int) -> Floats:
    """Shape (n,): from each note to the nearest other onset of its part, in ms at a tempo, at most a second."""
    order = np.lexsort([score.onset_ticks, score.part])
    part, onset = score.part[order], score.onset_ticks[order]
    new = firsts(part, onset)
    part, onset, of_note = part[new], onset[new], np.empty_like(order)
    of_note[order] = np.cumsum(new) - 1
    ms_per_tick = ticks_to_ms(1, score.resolution, us_per_quarter)
    gap = np.where(part[1:] == part[:-1], np.diff(onset) * ms_per_tick, np.inf)
    nearest = np.minimum(np.append(np.inf, gap), np.append(gap, np.inf))
    return frozen_floats(np.minimum(nearest, LONGEST_IOI_MS)[of_note])


def move_audibility(moved_ms: Floats, ioi_ms: Floats) -> Ints:
    """An `Audibility` for each move, early or late, beside its inter-onset interval; both of one shape."""
    size_ms = np.abs(moved_ms)
    return (size_ms > 0).astype(np.int64) + (size_ms > unheard_limit_ms(ioi_ms)) + (size_ms > slight_limit_ms(ioi_ms))


def audibility(score: Score, placement: Placement) -> Ints:
    """Shape (n,): an `Audibility` for each placed note, `NOT_PLACED` for the others."""
    level = move_audibility(placement.deviation_ms, inter_onset_ms(score, placement.us_per_quarter))
    return frozen_ints(np.where(placement.outcome == Outcome.PLACED, level, NOT_PLACED))


def flam_spread_ms(score: Score, placement: Placement) -> tuple[Ints, Floats]:
    """How far apart notes sound that are meant together on different channels.

    Returns:
        The distinct onsets of placed notes in ticks of the score, rising, and for each the time from
        its earliest strike to its latest, in ms; `FLAM_RISK_MS` and more is a risk of a flam.
    """
    placed = placement.outcome == Outcome.PLACED
    onset, deviation = score.onset_ticks[placed], placement.deviation_ms[placed]
    distinct, first = np.unique(onset, return_index=True)
    if not len(distinct):
        return frozen_ints([]), frozen_floats([])
    spread: NDArray[np.float64] = np.maximum.reduceat(deviation, first) - np.minimum.reduceat(deviation, first)
    return frozen_ints(distinct), frozen_floats(spread)
