"""How likely the next onset's place is, after the last one: as the model says, then as this song does."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pegwright.played.model import rhythm_model

MIN_CHANCE = 1e-3
STAY_CHANCE = 0.3  # one chord may be split into two clusters
PRIOR_MARKS = 10.0  # how many onsets the model counts as: for marks,
PRIOR_SILENCE = 20.0  # for silent quarters,
PRIOR_STEPS = 25.0  # and for steps from one place


@dataclass(slots=True)
class _Counts:
    """Weights of places, their logarithms and their sum."""

    weights: list[float]
    logs: list[float]
    total: float

    def add(self, place: int) -> None:
        """Count an onset at a place."""
        self.weights[place] += 1.0
        self.logs[place] = math.log(self.weights[place])
        self.total += 1.0


class Steps:
    """Log chances of the next onset's place; they are learnt on the way, so one object serves one search.

    Args:
        places: where holes lie in a quarter, in quarters.
    """

    def __init__(self, places: tuple[Fraction, ...]) -> None:
        model = rhythm_model(places)
        self.at: list[float] = (model.places / model.resolution).tolist()
        self.count = len(self.at)
        first, table = chances(places)
        self.first: list[float] = np.log(first).tolist()
        weights, totals = PRIOR_STEPS * table, PRIOR_STEPS * table.sum(axis=1)
        rows = zip(weights.tolist(), np.log(weights).tolist(), totals.tolist(), strict=True)
        self._from = [_Counts(*row) for row in rows]
        share = table.sum(axis=0).reshape(2, self.count).sum(axis=0)
        share /= share.sum()
        self._share: list[float] = (PRIOR_MARKS * share).tolist()
        self._all = self._no_onsets()
        self._marks: dict[int, _Counts] = {}
        silent = max(1 - float(first.sum()), MIN_CHANCE)
        self._silent, self._quarters = PRIOR_SILENCE * silent, PRIOR_SILENCE
        self.silent = math.log(silent)

    def after(self, place: int) -> tuple[list[float], float]:
        """Log weights of places in the same quarter, then in the next one, and the logarithm to take away from each."""
        if place < 0:
            return self.first, 0.0
        return self._from[place].logs, math.log(self._from[place].total)

    def _no_onsets(self) -> _Counts:
        return _Counts(list(self._share), [math.log(each) for each in self._share], PRIOR_MARKS)

    def log_ratios(self, mark: int) -> list[float]:
        """How much likelier each place is for onsets with this mark, as logarithms."""
        own = self._marks.setdefault(mark, self._no_onsets())
        usual = math.log(self._all.total) - math.log(own.total)
        return [of_mark - of_all + usual for of_mark, of_all in zip(own.logs, self._all.logs, strict=True)]

    def learn(self, place: int, quarters: int, then: int, mark: int) -> None:
        """Count an onset after another.

        Args:
            place: of the earlier onset, as an index into `at`.
            quarters: from the quarter of the earlier onset to that of the later.
            then: place of the later onset.
            mark: what was struck at the later onset.
        """
        if quarters:
            self._silent += quarters - 1
            self._quarters += quarters
            self.silent = math.log(self._silent / self._quarters)
        self._from[place].add(then + self.count * min(quarters, 1))
        self._marks[mark].add(then)
        self._all.add(then)


@lru_cache(maxsize=8)
def chances(places: tuple[Fraction, ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Chance that each place is the first of a quarter; and of each step, within a quarter and into the next."""
    model = rhythm_model(places)
    count = len(model.places)
    first, last, inside = np.zeros(count), np.zeros(count), np.zeros((count, count))
    for usage, size, slot in zip(model.usage, model.size, model.slot, strict=True):
        if size:
            first[slot[0]] += usage
            last[slot[size - 1]] += usage
            np.add.at(inside, (slot[: size - 1], slot[1:size]), usage)
    every = (inside.sum(axis=1) + last)[:, None] + MIN_CHANCE
    here, there = inside / every + MIN_CHANCE, last[:, None] / every * first + MIN_CHANCE
    np.fill_diagonal(here, STAY_CHANCE)
    return first + MIN_CHANCE, np.concatenate([here, there], axis=1)
