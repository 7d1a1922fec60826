"""What a song does in its bars, learnt on the way: steps from place to place, and what is struck at which place.

The bar is followed together with the rhythm, so that a slip costs for as long as it lasts: what was struck before at a
place of the bar is then struck at another. Every hypothesis learns for itself, for what one takes for the first beat of
the bar is the second by another.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.played.bar_places import BarPlaces, place_at
from pegwright.played.compiled import compiled, compiled_in_place
from pegwright.played.model import TINY
from pegwright.played.phrases import no_waits
from pegwright.played.steps import PRIOR_SILENCE
from pegwright.played.struck import KINDS, Struck

OF_KIND, OF_ALIKE = 0.56, 0.77  # weights of what kinds of strikes did, and of what is like something before
PRIOR_MARKS = 9.1  # how many strikes the usual counts as: for kinds of strikes,
PRIOR_ALIKE = 1.7  # and for what is like something before
IN_BEAT = 0.27  # weight of the same place in the beat, beside the same one in the bar
CHANCE_IN_BAR, CHANCE_IN_BEAT = 0.12, 0.3  # shares of clusters that lie on the same place by chance
MOST_SILENT = 0.9
OTHER_FAMILY = 2.5  # cost, as a logarithm, of going on in triplets after halves of eighths, or the reverse
BAR_LINE_PASSED = 0.99  # cost of a bar line on which nothing is struck
LONG_SILENCE, LONG_BARS = 8, 3  # quarters and bar lines from which a silence may last as long as it likes

Counts = NDArray[np.float32]


class BarHabits(NamedTuple):
    """Counts for each hypothesis, which is the first axis; a named tuple, which compiled functions can read and write.

    Args:
        last: shape (h,), hole of the last cluster, in units.
        at: shape (h, c), place in the bar of each cluster so far, in units.
        struck: shape (h, bar_units), how often each place was.
        marks: shape (h, KINDS, bar_units), the same for each kind of strike.
        steps: shape (h, p, 2 p), steps from place to place, within a quarter and into the next.
        silences: shape (h, 2), quarters without an onset, and quarters.
        waits: where the player waited, as in `phrases`.
    """

    last: NDArray[np.int64]
    at: NDArray[np.int16]
    struck: Counts
    marks: Counts
    steps: Counts
    silences: Counts
    waits: Counts


def no_habits(hypotheses: int, clusters: int, places: BarPlaces) -> BarHabits:
    """Before anything is learnt.

    Args:
        hypotheses: their number.
        clusters: of onsets in the song.
        places: of the bar.
    """
    steps = np.repeat(places.steps.astype(np.float32)[None], hypotheses, axis=0)
    silences = np.tile(np.array([places.silence, 1.0], dtype=np.float32) * PRIOR_SILENCE, (hypotheses, 1))
    return BarHabits(
        last=np.zeros(hypotheses, dtype=np.int64),
        at=np.zeros((hypotheses, clusters), dtype=np.int16),
        struck=np.zeros((hypotheses, places.bar_units), dtype=np.float32),
        marks=np.zeros((hypotheses, KINDS, places.bar_units), dtype=np.float32),
        steps=steps,
        silences=silences,
        waits=no_waits(hypotheses, places),
    )


@compiled_in_place
def inherit(habits: BarHabits, parent: int, heirs: BarHabits, heir: int, clusters: int) -> None:
    """Copy what a hypothesis has learnt.

    Args:
        habits: of the parents.
        parent: whose.
        heirs: the habits to be filled.
        heir: whose.
        clusters: how many have holes.
    """
    heirs.last[heir] = habits.last[parent]
    for cluster in range(clusters):  # loops, for slices would take longer to compile than all the rest
        heirs.at[heir, cluster] = habits.at[parent, cluster]
    for unit in range(habits.struck.shape[1]):
        heirs.struck[heir, unit] = habits.struck[parent, unit]
    for mark in range(habits.marks.shape[1]):
        for unit in range(habits.marks.shape[2]):
            heirs.marks[heir, mark, unit] = habits.marks[parent, mark, unit]
    for place in range(habits.steps.shape[1]):
        for after in range(habits.steps.shape[2]):
            heirs.steps[heir, place, after] = habits.steps[parent, place, after]
    if habits.waits[parent, 0] + heirs.waits[heir, 0] > 0:  # who plays evenly never waits
        for part in range(habits.waits.shape[1]):
            heirs.waits[heir, part] = habits.waits[parent, part]
    for part in range(habits.silences.shape[1]):
        heirs.silences[heir, part] = habits.silences[parent, part]


@compiled_in_place
def learn(habits: BarHabits, which: int, cluster: int, mark: int, unit: int, places: BarPlaces) -> None:
    """Count a cluster, by one hypothesis.

    Args:
        habits: of all.
        which: the hypothesis.
        cluster: its number.
        mark: what kind of strike it is.
        unit: its hole.
        places: of the bar.
    """
    at, before = unit % places.bar_units, habits.last[which] if cluster else unit
    habits.last[which], habits.at[which, cluster] = unit, at
    habits.struck[which, at] += 1
    habits.marks[which, mark, at] += 1
    if unit <= before:
        return
    count, resolution = len(places.units), places.resolution
    first = before // resolution * count + places.nearest[before % resolution]
    last = unit // resolution * count + places.nearest[unit % resolution]
    if last <= first:
        return  # both lie nearest to the same place: no step of the wheel
    quarters = last // count - first // count
    habits.steps[which, first % count, last % count + (count if quarters else 0)] += 1
    if quarters:
        habits.silences[which, 0] += quarters - 1
        habits.silences[which, 1] += quarters


@compiled_in_place
def silent(habits: BarHabits, which: int) -> float:
    """Logarithm of the chance that a quarter has no onset, by one hypothesis."""
    return math.log(min(habits.silences[which, 0] / habits.silences[which, 1], MOST_SILENT))


@compiled_in_place
def step_total(habits: BarHabits, which: int, place: int) -> float:
    """Logarithm of how many steps were counted from a place, by one hypothesis.

    Args:
        habits: of all hypotheses.
        which: one of them.
        place: index of the place in a quarter.
    """
    return math.log(habits.steps[which, place].sum())


@compiled_in_place
def rhythm_score(
    habits: BarHabits, which: int, unit: int, hole: int, family: int, of_quarter: float, places: BarPlaces
) -> float:
    """Logarithm of the chance of a step by the places alone, but for `step_total`.

    Args:
        habits: of all hypotheses.
        which: one of them.
        unit: the hole that it comes from.
        hole: the one that it goes to.
        family: of the places it used last.
        of_quarter: as `silent`.
        places: of the bar.
    """
    place, count = place_at(places, hole), len(places.units)
    later = hole // places.resolution - unit // places.resolution
    score = math.log(habits.steps[which, place_at(places, unit), place + (count if later else 0)] + TINY)
    if later > 1:
        score += of_quarter * min(later - 1, LONG_SILENCE)
    if family >= 0 and places.family[place] >= 0 and places.family[place] != family:
        score -= OTHER_FAMILY
    return score - BAR_LINE_PASSED * min((hole - 1) // places.bar_units - unit // places.bar_units, LONG_BARS)


@compiled_in_place
def looks_score(habits: BarHabits, which: int, struck: Struck, cluster: int, hole: int, places: BarPlaces) -> float:
    """How much likelier a hole is by what a cluster looks like, a logarithm.

    Args:
        habits: of all hypotheses.
        which: one of them.
        struck: the clusters.
        cluster: one of them.
        hole: on which it may lie.
        places: of the bar.
    """
    at, usual = hole % places.bar_units, struck.usual[cluster]
    own, every = habits.marks[which, struck.mark[cluster], at], habits.struck[which, at]
    kind = math.log((own + PRIOR_MARKS * usual) / ((every + PRIOR_MARKS) * usual))
    return float(struck.weight[cluster] * places.strength[at] + OF_KIND * kind)


@compiled_in_place
def likeness_score(habits: BarHabits, which: int, struck: Struck, cluster: int, hole: int, places: BarPlaces) -> float:
    """The same by where clusters like it lay.

    Args:
        habits: of all hypotheses.
        which: one of them.
        struck: the clusters.
        cluster: one of them.
        hole: on which it may lie.
        places: of the bar.
    """
    seen, total, at = 0.0, 0.0, hole % places.bar_units
    for index in range(struck.first_alike[cluster], struck.first_alike[cluster + 1]):
        other, weight = habits.at[which, struck.alike[index]], struck.likeness[index]
        total += weight
        if other == at:
            seen += weight
        if places.in_beat[other] == places.in_beat[at]:
            seen += IN_BEAT * weight
    return _of_alike(seen, total)


@compiled
def most_likely(struck: Struck, cluster: int, places: BarPlaces) -> float:
    """A bound of what places, looks and likeness together add to any way to a cluster, a logarithm.

    Args:
        struck: the clusters.
        cluster: one of them.
        places: of the bar.
    """
    weight, total = struck.weight[cluster], 0.0
    looks = max(weight * places.strength.max(), weight * places.strength.min())
    for index in range(struck.first_alike[cluster], struck.first_alike[cluster + 1]):
        total += struck.likeness[index]
    return float(looks - OF_KIND * math.log(struck.usual[cluster]) + _of_alike(total * (1 + IN_BEAT), total))


@compiled_in_place
def _of_alike(seen: float, total: float) -> float:
    """How much likelier a place is where this much of all that is like a cluster lay there, a logarithm; 0 for none."""
    chance = total * (CHANCE_IN_BAR + IN_BEAT * CHANCE_IN_BEAT)
    return OF_ALIKE * math.log((PRIOR_ALIKE + seen) / (PRIOR_ALIKE + chance)) if total else 0.0
