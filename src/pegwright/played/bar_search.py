"""A search for the beat of a player whose tempo moves: place in the bar and tempo, onset by onset.

Many hypotheses are kept side by side, the best for each place in the bar, family of places and tempo; each has a beat
with its uncertainty. What they could not agree on shows in sums over all that were kept.

Source: L. R. Rabiner, "A tutorial on hidden Markov models", Proc. IEEE 77 (1989), for the sums; A. T. Cemgil and B.
Kappen, "Monte Carlo methods for tempo tracking and rhythm quantization", J. Artificial Intelligence Research 18 (2003),
for discrete holes and a Gaussian beat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.bar_habits import OTHER_FAMILY, BarHabits
from pegwright.played.bar_laws import NOISE_S, BeatState, StepLaws, arrived, rebased, steps_to
from pegwright.played.bar_sums import Edges, certainty_of_places

KEPT = 96  # hypotheses
DROP = 20.0  # below the best, in log likelihood, from which they are not kept
SIDEWAYS = 3  # places tried on either side of the nearest
TEMPO_STEP = 0.05  # tempi that differ by less, as a logarithm, are one
TEMPI = 200
FAMILIES = 3
DELAY = 6  # clusters after which a hole is learnt from
STAY_SHARE, STAY_S, LONGEST_CHORD_S = 0.15, 0.04, 0.15  # onsets that still belong to the chord before
STAY_PULL = 0.3
MIN_QUARTER_S, MAX_QUARTER_S = 0.12, 3.5
MIN_GAP_S = 1e-3
IMPOSSIBLE = -1e9
CANDIDATES = 2  # times as many as are kept


@frozen()
class Start:
    """Where a search may begin: logarithm of its chance, unit of the first onset in its bar, tempo and its spread."""

    score: float
    unit: int
    quarter_s: float
    spread: float


@frozen(eq=False)
class BarBeat:
    """The likeliest path; columns have shape (c,), one for each cluster of onsets.

    Args:
        unit: hole, in units from a bar line.
        quarter_s: seconds a quarter.
        certainty: 0..1, how probable the place in the bar is.
        fit: mean log likelihood of a cluster.
    """

    unit: Ints
    quarter_s: Floats
    certainty: Floats
    fit: float


@frozen(eq=False)
class _Front:
    """Hypotheses after an onset; columns of shape (h,)."""

    score: Floats
    unit: Ints
    family: Ints
    beat: BeatState


@frozen(eq=False)
class _WaysOn:
    """Every way on from a front; of shape (h, m + 1), the last of which stays in the chord."""

    score: NDArray[np.float64]
    unit: Ints
    family: Ints
    steps: StepLaws
    quarter_s: Floats


class BarSearch:
    """One search through a song.

    Args:
        habits: what the song does, learnt on the way.
        time_s: shape (c,), when clusters of onsets were struck, rising.
        starts: where it may begin.
        kept: hypotheses.
    """

    def __init__(self, habits: BarHabits, time_s: Floats, starts: Sequence[Start], kept: int = KEPT) -> None:
        self._habits, self._time_s, self._kept = habits, time_s, kept
        count = len(starts)
        unit = np.array([start.unit for start in starts])
        quarter_s = np.array([start.quarter_s for start in starts])
        variance = (quarter_s * np.array([start.spread for start in starts])) ** 2
        still = np.zeros(count)
        beat = BeatState(still + time_s[0], quarter_s, np.log(quarter_s), still + NOISE_S**2, still, variance)
        score = np.array([start.score for start in starts]) + habits.arrival(0)[unit % habits.bar_units]
        self._fronts = [_Front(score, unit, habits.family[habits.place(unit)], beat)]
        self._parents: list[Ints] = []
        self._edges: list[Edges] = []
        self._offsets = np.arange(-SIDEWAYS, SIDEWAYS + 1)
        self._total = 0.0

    def best(self) -> BarBeat:
        """Search to the end."""
        for cluster in range(1, len(self._time_s)):
            self._onward(cluster)
            self._learn(cluster)
        at, backwards = int(self._fronts[-1].score.argmax()), []
        for parents in [*self._parents[::-1], None]:
            backwards.append(at)
            at = at if parents is None else int(parents[at])
        path = backwards[::-1]
        unit = np.array([front.unit[at] for front, at in zip(self._fronts, path, strict=True)])
        quarter_s = np.array([front.beat.quarter_s[at] for front, at in zip(self._fronts, path, strict=True)])
        places = [front.unit % self._habits.bar_units for front in self._fronts]
        certainty = certainty_of_places(self._fronts[0].score, self._edges, places, path)
        return BarBeat(unit, quarter_s, certainty, self._total / len(path))

    def _onward(self, cluster: int) -> None:
        when_s = float(self._time_s[cluster])
        gap_s = max(when_s - float(self._time_s[cluster - 1]), MIN_GAP_S)
        front = self._fronts[-1]
        ways = self._ways(front, cluster, when_s, gap_s)
        flat = ways.score.ravel()
        some = self._likeliest(flat)
        before, way = np.divmod(some, ways.score.shape[1])
        beat = self._beat_after(front, ways, before, way, when_s)
        unit, family, score = ways.unit[before, way], ways.family[before, way], flat[some]
        chosen, after = self._merged(unit, family, beat)
        kept, best = after >= 0, float(score[0])
        local = (score - front.score[before])[kept].astype(np.float32)
        self._edges.append(Edges(before[kept].astype(np.int16), after[kept].astype(np.int16), local))
        self._parents.append(before[chosen])
        self._fronts.append(
            _Front(score[chosen] - best, unit[chosen], family[chosen], rebased(beat.taken(chosen), gap_s))
        )
        self._total += best

    def _likeliest(self, score: Floats) -> Ints:
        """Ways that may be kept, the likeliest first."""
        some, most = np.arange(len(score)), CANDIDATES * self._kept
        if len(score) > most:
            some = np.argpartition(-score, most - 1)[:most]
        some = some[score[some] > score[some].max() - DROP]
        likeliest: Ints = some[np.argsort(-score[some], kind="stable")]
        return likeliest

    def _merged(self, unit: Ints, family: Ints, beat: BeatState) -> tuple[Ints, Ints]:
        """The likeliest way to each place in the bar, family and tempo.

        Args:
            unit: shape (w,), where each way leads, the likeliest first.
            family: of each.
            beat: after each.

        Returns:
            The ways that are kept; and for each way, which of those it leads to, or -1.
        """
        tempo = np.rint(np.log(beat.quarter_s) / TEMPO_STEP).astype(np.int64) + TEMPI // 2
        key = ((unit % self._habits.bar_units) * FAMILIES + family + 1) * TEMPI + tempo
        _, first, group = np.unique(key, return_index=True, return_inverse=True)
        rank = np.argsort(first, kind="stable")[: self._kept]
        number = np.full(len(first), -1)
        number[rank] = np.arange(len(rank))
        return first[rank], number[group]

    def _ways(self, front: _Front, cluster: int, when_s: float, gap_s: float) -> _WaysOn:
        """Every way on, with its score."""
        habits, count = self._habits, len(self._habits.units)
        quarter_s = front.beat.drawn_back(gap_s)
        ahead = np.maximum(when_s - front.beat.time_s, MIN_GAP_S) / quarter_s * habits.resolution
        near = np.rint(front.unit + ahead).astype(np.int64)
        index = (near // habits.resolution * count + habits.nearest[near % habits.resolution])[:, None] + self._offsets
        quarter, place = np.divmod(index, count)
        unit = quarter * habits.resolution + habits.units[place]
        goes = unit > front.unit[:, None]
        lasts = np.where(goes, unit - front.unit[:, None], 1) / habits.resolution
        steps = steps_to(front.beat, quarter_s, lasts, when_s, gap_s)
        later = quarter - (front.unit // habits.resolution)[:, None]
        before = habits.place(front.unit)
        rhythm = habits.log_steps[before[:, None], place + count * (later > 0)]
        family = habits.family[place]
        other = (family >= 0) & (front.family[:, None] >= 0) & (family != front.family[:, None])
        score = steps.score + rhythm + habits.silent * np.maximum(later - 1, 0) - OTHER_FAMILY * other
        score = score + habits.arrival(cluster)[unit % habits.bar_units] + front.score[:, None]
        late_s = np.maximum(when_s - front.beat.time_s, 0.0)
        stay = front.score + math.log(STAY_SHARE / STAY_S) - late_s / STAY_S
        stay = stay if gap_s < LONGEST_CHORD_S else np.full(len(stay), IMPOSSIBLE)
        return _WaysOn(
            np.column_stack([np.where(goes, score, IMPOSSIBLE), stay]),
            np.column_stack([unit, front.unit]),
            np.column_stack([np.where(family >= 0, family, front.family[:, None]), front.family]),
            steps,
            quarter_s,
        )

    def _beat_after(self, front: _Front, ways: _WaysOn, before: Ints, way: Ints, when_s: float) -> BeatState:
        """The beat after some ways on."""
        width = ways.steps.lasts.shape[1]
        stays = way == width
        moved = arrived(front.beat, ways.quarter_s, ways.steps, (before, np.minimum(way, width - 1)))
        still = front.beat.taken(before)
        pulled = still.time_s + STAY_PULL * (when_s - still.time_s)
        return BeatState(
            np.where(stays, pulled, moved.time_s),
            np.clip(np.where(stays, still.quarter_s, moved.quarter_s), MIN_QUARTER_S, MAX_QUARTER_S),
            still.base,
            np.where(stays, still.var_time, moved.var_time),
            np.where(stays, still.cov, moved.cov),
            np.where(stays, still.var_quarter, moved.var_quarter),
        )

    def _learn(self, cluster: int) -> None:
        """Learn from a cluster some way back, whose hole later clusters could still have changed."""
        if cluster <= DELAY:
            return
        at, following = 0, 0
        for parents in self._parents[: -DELAY - 1 : -1]:
            at, following = int(parents[at]), at
        unit = int(self._fronts[-DELAY - 1].unit[at])
        self._habits.learn(cluster - DELAY, unit, int(self._fronts[-DELAY].unit[following]))
