"""A search for the beat of a player whose tempo moves: place in the bar and tempo, onset by onset.

Many hypotheses are kept side by side, the best for each place in four bars, family of places and tempo; each has a beat
with its uncertainty, and habits of the song that it learnt for itself. Four bars and not one, for where phrases end is
among these habits, and of two ways that meet on one place of the bar, bars apart, either may be right about that.

Source: A. T. Cemgil and B. Kappen, "Monte Carlo methods for tempo tracking and rhythm quantization", J. Artificial
Intelligence Research 18 (2003), for discrete holes and a Gaussian beat, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.bar_fronts import (
    CANDIDATES,
    WAYS,
    Front,
    Given,
    Start,
    Trace,
    WaysOn,
    first_front,
    room_for_front,
    room_for_ways,
    trace_from,
)
from pegwright.played.bar_habits import (
    inherit,
    learn,
    likeness_score,
    looks_score,
    most_likely,
    rhythm_score,
    silent,
    step_total,
)
from pegwright.played.bar_laws import (
    BEAT_PARTS,
    HELD,
    IMPOSSIBLE,
    MAX_QUARTER_S,
    MIN_QUARTER_S,
    MOVING,
    QUARTER,
    TIME,
    Laws,
    drawn_back,
    go,
    stay,
    stay_score,
    step_score,
)
from pegwright.played.bar_places import BarPlaces, place_at
from pegwright.played.compiled import compiled, compiled_in_place
from pegwright.played.next_holes import BEHIND, HOLES, next_holes
from pegwright.played.phrases import LONGEST, WAITED_S, learn_wait, wait_favour
from pegwright.played.struck import Struck

KEPT = 48  # hypotheses
DROP = 11.0  # below the best, in log likelihood, from which they are not kept
TEMPO_STEP = 0.05  # tempi that differ by less, as a logarithm, are one
FAMILIES = 3
WAIT_FOR_BAR = 0.96  # how much likelier, as a logarithm, the player waits before a bar line than elsewhere
MIN_GAP_S = 1e-3

# Tempi are numbered from the shortest quarter that the laws allow to the longest.
SHORTEST_NUMBER, LONGEST_NUMBER = (round(math.log(bound) / TEMPO_STEP) for bound in (MIN_QUARTER_S, MAX_QUARTER_S))
TEMPI = LONGEST_NUMBER - SHORTEST_NUMBER + 1

Slots = NDArray[np.int32]


@frozen(eq=False)
class BarBeat:
    """The likeliest path; columns have shape (c,), one for each cluster of onsets.

    Args:
        unit: hole, in units from a bar line.
        quarter_s: seconds a quarter.
        path: number of the hypothesis.
        fit: mean log likelihood of a cluster.
        trace: all that was kept.
    """

    unit: Ints
    quarter_s: Floats
    path: Ints
    fit: float
    trace: Trace


def search_bars(
    places: BarPlaces,
    struck: Struck,
    starts: Sequence[Start],
    laws: Laws = MOVING,
    kept: int = KEPT,
    *,
    from_end: bool = False,
) -> BarBeat:
    """The likeliest beat through a song.

    Args:
        places: of the bar.
        struck: clusters of onsets.
        starts: where it may begin.
        laws: of the player.
        kept: hypotheses.
        from_end: whether the onsets come in reverse order, so that a player waits after the next.
    """
    given = given_to_search(places, struck, laws, kept, from_end=from_end)
    hypotheses, clusters = max(kept, len(starts)), len(given.gap_s)
    front, spare = first_front(hypotheses, given, starts), room_for_front(hypotheses, given)
    trace = trace_from(front, len(starts), given)
    total, best = _search(given, front, spare, room_for_ways(hypotheses), trace)
    path, at = _back(trace, best), np.arange(clusters)
    unit, quarter_s = trace.unit[at, path].astype(np.int64), trace.quarter_s[at, path].astype(np.float64)
    return BarBeat(unit, quarter_s, path, total / clusters, trace)


def given_to_search(
    places: BarPlaces, struck: Struck, laws: Laws, kept: int = KEPT, *, from_end: bool = False
) -> Given:
    """What a search is about; see `search_bars`.

    Args:
        places: of the bar.
        struck: clusters of onsets.
        laws: of the player.
        kept: hypotheses.
        from_end: whether the onsets come in reverse order.
    """
    gap_s = np.maximum(np.diff(struck.time_s, prepend=struck.time_s[0]), MIN_GAP_S)
    return Given(places, struck, gap_s, laws, kept, from_end)


@compiled
def _search(given: Given, front: Front, spare: Front, ways: WaysOn, trace: Trace) -> tuple[float, int]:
    """Search to the end.

    Args:
        given: to the search.
        front: hypotheses after the first cluster.
        spare: room for as many more.
        ways: room for ways on.
        trace: to be filled.

    Returns:
        Log likelihood; the likeliest hypothesis at the end.
    """
    total, count = 0.0, trace.kept[0]
    keys = LONGEST * given.places.bar_units * FAMILIES * TEMPI
    slots = np.zeros((keys, 2), np.int32)
    for cluster in range(1, len(given.gap_s)):
        best, bound = IMPOSSIBLE, most_likely(given.struck, cluster, given.places)
        for which in range(count):
            best = max(best, _look_on(given, cluster, front, which, ways, best - DROP - bound))
        order = _likeliest(ways.score[:count].ravel(), best - DROP, CANDIDATES * given.kept)
        count = _keep(given, cluster, front, spare, ways, order, trace, slots)
        for which in range(count):
            spare.score[which] -= best
        front, spare = spare, front
        total += best
    return total, int(front.score[:count].argmax())


@compiled_in_place
def _look_on(given: Given, cluster: int, front: Front, which: int, ways: WaysOn, least: float) -> float:
    """Every way on from one hypothesis, with its score.

    Args:
        given: to the search.
        cluster: the next one.
        front: hypotheses.
        which: one of them.
        ways: to be filled.
        least: below which a way is hopeless by its time or its rhythm.

    Returns:
        The best score.
    """
    beat, unit = front.beat[which], front.unit[which]
    quarter_s = ways.quarter_s[which] = drawn_back(given.laws, beat, given.gap_s[cluster])
    passed = max(given.struck.time_s[cluster] - beat[TIME], MIN_GAP_S) / quarter_s
    next_holes(given.places, unit, round(unit + passed * given.places.resolution), ways.unit[which])
    return judge(given, cluster, front, which, ways, least)


@compiled_in_place
def judge(given: Given, cluster: int, front: Front, which: int, ways: WaysOn, least: float) -> float:
    """The score of every way on from one hypothesis, and of staying in the chord; see `_look_on`.

    Args:
        given: to the search.
        cluster: the next one.
        front: hypotheses.
        which: one of them.
        ways: with the tempo, and holes that come into question; scores to be filled.
        least: below which a way is hopeless by its time or its rhythm.
    """
    places, struck, habits = given.places, given.struck, front.habits
    beat, unit, family = front.beat[which], front.unit[which], front.family[which]
    when_s, gap_s, quarter_s = struck.time_s[cluster], given.gap_s[cluster], ways.quarter_s[which]
    of_quarter, total = silent(habits, which), step_total(habits, which, place_at(places, unit))
    ways.unit[which, HOLES] = unit
    best = ways.score[which, HOLES] = front.score[which] + stay_score(beat, when_s, gap_s)
    for way in range(HOLES):
        hole = ways.unit[which, way]
        if hole == BEHIND:
            ways.score[which, way] = IMPOSSIBLE
            continue
        before = unit if given.from_end else hole
        favour = WAIT_FOR_BAR if before % places.bar_units == 0 else 0.0
        lasts = (hole - unit) / places.resolution
        if when_s - beat[TIME] > lasts * quarter_s:  # who is not late did not wait
            favour += wait_favour(habits.waits, which, before, places.bar_units, places.resolution)
        score, how = step_score(given.laws, beat, quarter_s, lasts, favour, when_s, gap_s)
        score += front.score[which]
        if score <= least:
            ways.score[which, way] = IMPOSSIBLE
            continue
        score += rhythm_score(habits, which, unit, hole, family, of_quarter, places) - total
        if score <= least:
            ways.score[which, way] = IMPOSSIBLE
            continue
        score += looks_score(habits, which, struck, cluster, hole, places)
        score += likeness_score(habits, which, struck, cluster, hole, places)
        ways.score[which, way], ways.how[which, way] = score, how
        best = max(best, score)
    return float(best)


@compiled
def _likeliest(score: Floats, least: float, most: int) -> Ints:
    """Ways that may be kept, the likeliest first.

    Args:
        score: of all.
        least: of those that may.
        most: how many.
    """
    some = np.flatnonzero(score > least)
    return some[np.argsort(-score[some], kind="mergesort")[:most]]


@compiled_in_place
def _keep(
    given: Given, cluster: int, front: Front, heirs: Front, ways: WaysOn, order: Ints, trace: Trace, slots: Slots
) -> int:
    """Keep the likeliest way to each place in a phrase, family and tempo.

    Args:
        given: to the search.
        cluster: to which the ways lead.
        front: from where.
        heirs: to be filled.
        ways: all of them.
        order: those that may be kept, the likeliest first.
        trace: to be filled.
        slots: shape (keys, 2), the last cluster at which each key was used, and by which heir.

    Returns:
        How many are kept.
    """
    places, beat, count, edge = given.places, ways.after, 0, 0
    for index in order:
        which, way = index // WAYS, index % WAYS
        unit, family = ways.unit[which, way], go_on(given, cluster, front, ways, index)
        tempo = round(math.log(beat[QUARTER]) / TEMPO_STEP) - SHORTEST_NUMBER
        key = ((unit % (LONGEST * places.bar_units)) * FAMILIES + family + 1) * TEMPI + tempo
        if slots[key, 0] != cluster:
            slots[key, 0], slots[key, 1] = cluster, (count if count < given.kept else BEHIND)
            if count < given.kept:
                heirs.score[count], heirs.unit[count], heirs.family[count] = ways.score[which, way], unit, family
                for part in range(BEAT_PARTS):
                    heirs.beat[count, part] = beat[part]
                inherit(front.habits, which, heirs.habits, count, cluster)
                if way < HOLES and ways.how[which, way] == HELD:
                    step_s = (unit - front.unit[which]) / places.resolution * ways.quarter_s[which]
                    if given.struck.time_s[cluster] - front.beat[which, TIME] - step_s > WAITED_S:
                        before = front.unit[which] if given.from_end else unit
                        learn_wait(heirs.habits.waits, count, before, places.bar_units, places.resolution)
                learn(heirs.habits, count, cluster, given.struck.mark[cluster], unit, places)
                trace.unit[cluster, count], trace.quarter_s[cluster, count] = unit, beat[QUARTER]
                trace.parent[cluster, count] = which
                count += 1
        if slots[key, 1] != BEHIND:
            trace.before[cluster, edge], trace.after[cluster, edge] = which, slots[key, 1]
            trace.step[cluster, edge] = unit - front.unit[which]
            trace.score[cluster, edge] = ways.score[which, way] - front.score[which]
            edge += 1
    trace.kept[cluster], trace.edges[cluster] = count, edge
    return count


@compiled_in_place
def go_on(given: Given, cluster: int, front: Front, ways: WaysOn, index: int) -> int:
    """Go one way, to the beat after it.

    Args:
        given: to the search.
        cluster: to which it leads.
        front: from where.
        ways: all of them; the beat after it is to be filled.
        index: number of the way, over all hypotheses.

    Returns:
        The family of places.
    """
    which, way = index // WAYS, index % WAYS
    when_s, gap_s = given.struck.time_s[cluster], given.gap_s[cluster]
    if way == HOLES:
        stay(front.beat[which], when_s, gap_s, ways.after)
        return int(front.family[which])
    places, unit = given.places, ways.unit[which, way]
    lasts = (unit - front.unit[which]) / places.resolution
    beat, how = front.beat[which], ways.how[which, way]
    go(given.laws, beat, ways.quarter_s[which], lasts, how, when_s, gap_s, ways.after)
    own = places.family[place_at(places, unit)]
    return int(own if own >= 0 else front.family[which])


@compiled
def _back(trace: Trace, best: int) -> Ints:
    """Shape (c,): the hypotheses on the path to the last."""
    path = np.zeros(len(trace.kept), np.int64)
    for cluster in range(len(path) - 1, -1, -1):
        path[cluster] = best
        best = trace.parent[cluster, best]
    return path
