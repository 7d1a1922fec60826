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
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, firsts
from pegwright.frozen import frozen
from pegwright.played.bar_habits import BarHabits
from pegwright.played.bar_laws import BeatState, StepLaws, arrived, rebased, steps_to
from pegwright.played.bar_sums import Edges, certainty_of_places
from pegwright.played.next_holes import NextHoles, holes_about

KEPT = 64  # hypotheses
DROP = 14.0  # below the best, in log likelihood, from which they are not kept
TEMPO_STEP = 0.05  # tempi that differ by less, as a logarithm, are one
TEMPI = 200
FAMILIES = 3
DELAY = 6  # clusters after which a hole is learnt from
STAY_SHARE, STAY_S, LONGEST_CHORD_S = 0.13, 0.057, 0.15  # onsets that still belong to the chord before
STAY_PULL = 0.3
WAIT_FOR_BAR = 1.3  # how much likelier, as a logarithm, the player waits before a bar line than elsewhere
BAR_LINE_PASSED = 1.1  # cost of a bar line on which nothing is struck
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
    """Hypotheses after an onset; columns of shape (h,).

    Args:
        score: logarithm of their likelihoods, the best being 0.
        unit: hole of the onset.
        family: of places; -1 where it belongs to both.
        beat: at the onset.
    """

    score: Floats
    unit: Ints
    family: Ints
    beat: BeatState

    def taken(self, which: Ints) -> _Front:
        """Some of them, in another order."""
        beat = self.beat.taken(which)
        return _Front(self.score[which], self.unit[which], self.family[which], beat)


@frozen(eq=False)
class _WaysOn:
    """Every way on from a front; of shape (h, m), beside which each may stay in the chord.

    Args:
        score: shape (h, m + 1), the last of which stays.
        holes: those of each step.
        steps: how each fits the time.
        quarter_s: shape (h,), seconds a quarter, as expected.
    """

    score: NDArray[np.float64]
    holes: NextHoles
    steps: StepLaws
    quarter_s: Floats


class BarSearch:
    """One search through a song.

    Args:
        habits: what the song does, learnt on the way.
        time_s: shape (c,), when clusters of onsets were struck, rising.
        starts: where it may begin.
        kept: hypotheses.
        from_end: whether the onsets come in reverse order, so that a player waits after the next.
    """

    def __init__(
        self,
        habits: BarHabits,
        time_s: Floats,
        starts: Sequence[Start],
        kept: int = KEPT,
        *,
        from_end: bool = False,
    ) -> None:
        self._habits, self._time_s, self._kept, self._from_end = habits, time_s, kept, from_end
        unit = np.array([start.unit for start in starts])
        quarter_s = np.array([start.quarter_s for start in starts])
        beat = BeatState.at_start(float(time_s[0]), quarter_s, quarter_s * np.array([start.spread for start in starts]))
        score = np.array([start.score for start in starts]) + habits.arrival(0)[unit % habits.bar_units]
        self._fronts = [_Front(score, unit, habits.family[habits.place(unit)], beat)]
        self._parents: list[Ints] = []
        self._edges: list[Edges] = []
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
        some = self._likeliest(ways.score.ravel())
        before, way = np.divmod(some, ways.score.shape[1])
        reached = self._after(front, ways, before, way, when_s)
        chosen, after = self._merged(reached)
        kept, best = after >= 0, float(reached.score[0])
        local = (reached.score - front.score[before])[kept].astype(np.float32)
        self._edges.append(Edges(before[kept].astype(np.int16), after[kept].astype(np.int16), local))
        self._parents.append(before[chosen])
        onward = reached.taken(chosen)
        self._fronts.append(replace(onward, score=onward.score - best, beat=rebased(onward.beat, gap_s)))
        self._total += best

    def _likeliest(self, score: Floats) -> Ints:
        """Ways that may be kept, the likeliest first."""
        some, most = np.arange(len(score)), CANDIDATES * self._kept
        if len(score) > most:
            some = np.argpartition(-score, most - 1)[:most]
        some = some[score[some] > score[some].max() - DROP]
        likeliest: Ints = some[np.argsort(-score[some], kind="stable")]
        return likeliest

    def _merged(self, reached: _Front) -> tuple[Ints, Ints]:
        """The likeliest way to each place in the bar, family and tempo.

        Args:
            reached: where the ways lead, the likeliest first.

        Returns:
            The ways that are kept; and for each way, which of those it leads to, or -1.
        """
        tempo = np.rint(np.log(reached.beat.quarter_s) / TEMPO_STEP).astype(np.int64) + TEMPI // 2
        key = ((reached.unit % self._habits.bar_units) * FAMILIES + reached.family + 1) * TEMPI + tempo
        numbers: dict[int, int] = {}  # faster than sorting so few
        number = np.array([numbers.setdefault(each, len(numbers)) for each in key.tolist()])
        first = np.flatnonzero(firsts(np.maximum.accumulate(number)))
        return first[: self._kept], np.where(number < self._kept, number, -1)

    def _ways(self, front: _Front, cluster: int, when_s: float, gap_s: float) -> _WaysOn:
        """Every way on, with its score."""
        habits = self._habits
        quarter_s = front.beat.drawn_back(gap_s)
        expected = np.maximum(when_s - front.beat.time_s, MIN_GAP_S) / quarter_s * habits.resolution
        holes = holes_about(habits, front.unit, np.rint(front.unit + expected).astype(np.int64))
        lasts = np.where(holes.ahead, holes.unit - front.unit[:, None], 1) / habits.resolution
        resumed = front.unit[:, None] if self._from_end else holes.unit
        favour = WAIT_FOR_BAR * (resumed % habits.bar_units == 0)
        steps = steps_to(front.beat, quarter_s, lasts, favour, when_s, gap_s)
        score = steps.score + self._rhythm(front, holes) + habits.arrival(cluster)[holes.unit % habits.bar_units]
        score += front.score[:, None]
        with_stay = np.full((len(score), score.shape[1] + 1), IMPOSSIBLE)
        with_stay[:, :-1] = np.where(holes.ahead, score, IMPOSSIBLE)
        if gap_s < LONGEST_CHORD_S:
            late_s = np.maximum(when_s - front.beat.time_s, 0.0)
            with_stay[:, -1] = front.score + math.log(STAY_SHARE / STAY_S) - late_s / STAY_S
        return _WaysOn(with_stay, holes, steps, quarter_s)

    def _rhythm(self, front: _Front, holes: NextHoles) -> NDArray[np.float64]:
        """Logarithm of the chance of each way by the places alone, and by what bar lines it passes."""
        habits, count = self._habits, len(self._habits.units)
        later = holes.quarter - (front.unit // habits.resolution)[:, None]
        family, before = front.family[:, None] + 1, habits.place(front.unit)[:, None]
        score: NDArray[np.float64] = habits.log_steps[family, before, holes.place + count * (later > 0)]
        passed = (holes.unit - 1) // habits.bar_units - (front.unit // habits.bar_units)[:, None]
        score += habits.silent * np.maximum(later - 1, 0) - BAR_LINE_PASSED * passed
        return score

    def _after(self, front: _Front, ways: _WaysOn, before: Ints, way: Ints, when_s: float) -> _Front:
        """The hypotheses after some ways on.

        Args:
            front: those before.
            ways: from them.
            before: the hypothesis of each way.
            way: which of its ways.
            when_s: time of the onset.
        """
        holes, width = ways.holes, ways.holes.unit.shape[1]
        stays = way == width
        goes = np.minimum(way, width - 1)
        at = before * width + goes
        unit, family = holes.unit.take(at), self._habits.family[holes.place.take(at)]
        family = np.where(family >= 0, family, front.family[before])
        beat = arrived(front.beat, ways.quarter_s, ways.steps, before, goes)
        if stays.any():
            own = before[stays]
            unit[stays], family[stays] = front.unit[own], front.family[own]
            beat.rows[:, stays] = front.beat.rows[:, own]
            beat.rows[0, stays] += STAY_PULL * (when_s - beat.rows[0, stays])
        np.clip(beat.rows[1], MIN_QUARTER_S, MAX_QUARTER_S, out=beat.rows[1])
        return _Front(ways.score[before, way], unit, family, beat)

    def _learn(self, cluster: int) -> None:
        """Learn from a cluster some way back, whose hole later clusters could still have changed."""
        if cluster <= DELAY:
            return
        at, following = 0, 0
        for parents in self._parents[: -DELAY - 1 : -1]:
            at, following = int(parents[at]), at
        unit = int(self._fronts[-DELAY - 1].unit[at])
        self._habits.learn(cluster - DELAY, unit, int(self._fronts[-DELAY].unit[following]))
