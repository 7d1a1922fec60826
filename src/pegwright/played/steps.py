"""How likely the next onset's place is, after the last one: as the model says, then as this song does."""

from __future__ import annotations

import math
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


class Steps:
    """Log chances of the next onset's place; they are learnt on the way, so one object serves one search.

    Args:
        places: where holes lie in a quarter, in quarters.
    """

    def __init__(self, places: tuple[Fraction, ...]) -> None:
        model = rhythm_model(places)
        self.at: list[float] = (model.places / model.resolution).tolist()
        self.count = len(self.at)
        first, table = _chances(places)
        self.first: list[float] = np.log(first).tolist()
        self._weight: list[list[float]] = (PRIOR_STEPS * table).tolist()
        self._total: list[float] = (PRIOR_STEPS * table.sum(axis=1)).tolist()
        self._log_weight: list[list[float]] = np.log(PRIOR_STEPS * table).tolist()
        self._log_total = [math.log(total) for total in self._total]
        share = table.sum(axis=0).reshape(2, self.count).sum(axis=0)
        share /= share.sum()
        self._struck: list[float] = (PRIOR_MARKS * share).tolist()
        self._log_struck = [math.log(each) for each in self._struck]
        self._marks: dict[int, tuple[list[float], list[float]]] = {}
        self._mark_total: dict[int, float] = {}
        self._onsets = PRIOR_MARKS
        self._base = list(self._struck)
        silent = max(1 - float(first.sum()), MIN_CHANCE)
        self._silent, self._quarters = PRIOR_SILENCE * silent, PRIOR_SILENCE
        self.silent = math.log(silent)

    def after(self, place: int) -> tuple[list[float], float]:
        """Log weights of places in the same quarter, then in the next one, and the logarithm to take away from each."""
        if place < 0:
            return self.first, 0.0
        return self._log_weight[place], self._log_total[place]

    def log_ratios(self, mark: int) -> list[float]:
        """How much likelier each place is for onsets with this mark, as logarithms."""
        if mark not in self._marks:
            self._marks[mark] = (list(self._base), [math.log(each) for each in self._base])
            self._mark_total[mark] = PRIOR_MARKS
        usual = math.log(self._onsets) - math.log(self._mark_total[mark])
        return [own - all_of + usual for own, all_of in zip(self._marks[mark][1], self._log_struck, strict=True)]

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
        step = then + self.count * min(quarters, 1)
        self._weight[place][step] += 1.0
        self._log_weight[place][step] = math.log(self._weight[place][step])
        self._total[place] += 1.0
        self._log_total[place] = math.log(self._total[place])
        weight, log_weight = self._marks[mark]
        weight[then] += 1.0
        log_weight[then] = math.log(weight[then])
        self._mark_total[mark] += 1.0
        self._struck[then] += 1.0
        self._log_struck[then] = math.log(self._struck[then])
        self._onsets += 1.0


@lru_cache(maxsize=8)
def _chances(places: tuple[Fraction, ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
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
