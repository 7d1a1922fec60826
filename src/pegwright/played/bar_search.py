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

from pegwright.columns import Floats, Ints, firsts
from pegwright.frozen import frozen
from pegwright.played.bar_habits import BarHabits
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
    """Every way on from a front; of shape (h, m), beside which each may stay in the chord.

    Args:
        score: shape (h, m + 1), the last of which stays.
        unit: hole of each step.
        place: which place of a quarter that is.
        steps: how each fits the time.
        quarter_s: shape (h,), seconds a quarter, as expected.
    """

    score: NDArray[np.float64]
    unit: Ints
    place: Ints
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
        rows = [still + time_s[0], quarter_s, np.log(quarter_s), still + NOISE_S**2, still, variance]
        score = np.array([start.score for start in starts]) + habits.arrival(0)[unit % habits.bar_units]
        self._fronts = [_Front(score, unit, habits.family[habits.place(unit)], BeatState(np.stack(rows)))]
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
        unit, family, beat = self._after(front, ways, before, way, when_s)
        score = flat[some]
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
        numbers: dict[int, int] = {}  # faster than sorting so few
        number = np.array([numbers.setdefault(each, len(numbers)) for each in key.tolist()])
        first = np.flatnonzero(firsts(np.maximum.accumulate(number)))
        return first[: self._kept], np.where(number < self._kept, number, -1)

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
        before, family = habits.place(front.unit)[:, None], front.family[:, None] + 1
        score = steps.score + habits.log_steps[family, before, place + count * (later > 0)]
        score += habits.silent * np.maximum(later - 1, 0) + front.score[:, None]
        score += habits.arrival(cluster)[unit % habits.bar_units]
        late_s = np.maximum(when_s - front.beat.time_s, 0.0)
        with_stay = np.full((len(score), len(self._offsets) + 1), IMPOSSIBLE)
        with_stay[:, :-1] = np.where(goes, score, IMPOSSIBLE)
        if gap_s < LONGEST_CHORD_S:
            with_stay[:, -1] = front.score + math.log(STAY_SHARE / STAY_S) - late_s / STAY_S
        return _WaysOn(with_stay, unit, place, steps, quarter_s)

    def _after(
        self, front: _Front, ways: _WaysOn, before: Ints, way: Ints, when_s: float
    ) -> tuple[Ints, Ints, BeatState]:
        """The holes, families and beats after some ways on.

        Args:
            front: the hypotheses.
            ways: from them.
            before: the hypothesis of each way.
            way: which of its ways.
            when_s: time of the onset.
        """
        width = len(self._offsets)
        stays = way == width
        goes = np.minimum(way, width - 1)
        at = before * width + goes
        unit, family = ways.unit.take(at), self._habits.family[ways.place.take(at)]
        family = np.where(family >= 0, family, front.family[before])
        beat = arrived(front.beat, ways.quarter_s, ways.steps, before, goes)
        if stays.any():
            own = before[stays]
            unit[stays], family[stays] = front.unit[own], front.family[own]
            beat.rows[:, stays] = front.beat.rows[:, own]
            beat.rows[0, stays] += STAY_PULL * (when_s - beat.rows[0, stays])
        np.clip(beat.rows[1], MIN_QUARTER_S, MAX_QUARTER_S, out=beat.rows[1])
        return unit, family, beat

    def _learn(self, cluster: int) -> None:
        """Learn from a cluster some way back, whose hole later clusters could still have changed."""
        if cluster <= DELAY:
            return
        at, following = 0, 0
        for parents in self._parents[: -DELAY - 1 : -1]:
            at, following = int(parents[at]), at
        unit = int(self._fronts[-DELAY - 1].unit[at])
        self._habits.learn(cluster - DELAY, unit, int(self._fronts[-DELAY].unit[following]))
