"""One way through a song, judged by the whole of it.

Of ways that meet on one place of the bar at one tempo a search keeps the likeliest by what they did until then. Which
of several whole ways is right the whole song says better: each is followed by itself here, with habits of its own, and
two things are seen of the whole alone. Bars have rhythms in common, and all waits together lie whole phrases apart,
where a search from onset to onset sees only those so far.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.bar_fronts import Front, Given, Start, WaysOn, first_front, room_for_ways
from pegwright.played.bar_habits import learn
from pegwright.played.bar_laws import BEAT_PARTS, HELD, IMPOSSIBLE, QUARTER, TIME, drawn_back
from pegwright.played.bar_search import go_on, judge
from pegwright.played.compiled import compiled, compiled_in_place
from pegwright.played.next_holes import BEHIND, HOLES
from pegwright.played.phrases import WAITED_S, learn_wait, phrases_gain

RHYTHMS = 0.5  # weight of what the rhythms of the bars cost
FAR_BEHIND = 60.0  # logarithm of how much less likely a way is that cannot become the likeliest
NUMBERS, MODULUS = 1_000_003, 2**31 - 1  # by which rhythms are numbered: two have the same once in 10^9


@frozen(eq=False)
class OneWay:
    """A way through a song; columns have shape (c,), one for each cluster of onsets.

    Args:
        start: where it begins.
        unit: hole, in units from a bar line.
        quarter_s: seconds a quarter.
        waited_s: how long the player waited before each.
        so_far: logarithm of its likelihood up to each cluster.
        score: logarithm of how likely the whole is.
    """

    start: Start
    unit: Ints
    quarter_s: Floats
    waited_s: Floats
    so_far: Floats
    score: float


def follow_way(given: Given, start: Start, unit: Ints, best: OneWay | None = None) -> OneWay:
    """One way by itself.

    Args:
        given: to the search that it comes from.
        start: of the way.
        unit: shape (c,), of each cluster, from a bar line.
        best: another; a way that falls far behind it is not followed to the end, and has a score of -inf.
    """
    quarter_s, waited_s, so_far = np.zeros((3, len(unit)))
    least = np.full(len(unit), -math.inf) if best is None else best.so_far - FAR_BEHIND
    front = first_front(1, given, [start])
    score = -math.inf
    if _along(given, front, room_for_ways(1), _Along(unit, least, quarter_s, waited_s, so_far)):
        score = float(so_far[-1]) - RHYTHMS * rhythms_cost(unit, given.places.bar_units)
        score += phrases_gain(unit[waited_s > WAITED_S], given.places)
    return OneWay(start, unit, quarter_s, waited_s, so_far, score)


@compiled
def rhythms_cost(unit: Ints, bar_units: int) -> float:
    """How much it takes to say which of its rhythms each bar has, as a logarithm: 0 where all have the same.

    Args:
        unit: shape (c,), of clusters, from a bar line, rising.
        bar_units: length of a bar.
    """
    rhythm, bars = np.zeros(len(unit), np.int64), 0
    for cluster in range(len(unit)):
        if cluster == 0 or unit[cluster] // bar_units > unit[cluster - 1] // bar_units:
            bars += 1
        if cluster == 0 or unit[cluster] > unit[cluster - 1]:
            rhythm[bars - 1] = (rhythm[bars - 1] * NUMBERS + unit[cluster] % bar_units + 1) % MODULUS
    rhythms, cost, first = np.sort(rhythm[:bars]), 0.0, 0
    for past in range(1, bars + 1):
        if past == bars or rhythms[past] != rhythms[first]:
            cost -= (past - first) * math.log((past - first) / bars)
            first = past
    return cost


class _Along(NamedTuple):
    """What is followed, and what is found on the way; columns have shape (c,).

    Args:
        unit: of each cluster.
        least: logarithm of the likelihood below which it is given up.
        quarter_s: seconds a quarter, to be filled.
        waited_s: how long the player waited before each, to be filled.
        so_far: logarithm of the likelihood, to be filled.
    """

    unit: Ints
    least: Floats
    quarter_s: Floats
    waited_s: Floats
    so_far: Floats


@compiled_in_place
def _along(given: Given, front: Front, ways: WaysOn, along: _Along) -> bool:
    """Follow one way.

    Args:
        given: to the search.
        front: one hypothesis, after the first cluster.
        ways: room for its ways on.
        along: the way.

    Returns:
        Whether it was followed to the end.
    """
    places = given.places
    along.quarter_s[0], along.so_far[0] = front.beat[0, QUARTER], front.score[0]
    for cluster in range(1, len(along.unit)):
        before, hole = front.unit[0], along.unit[cluster]
        way = 0 if hole > before else HOLES
        ways.unit[0] = BEHIND
        if way == 0:
            ways.unit[0, way] = hole
        ways.quarter_s[0] = drawn_back(given.laws, front.beat[0], given.gap_s[cluster])
        judge(given, cluster, front, 0, ways, IMPOSSIBLE)
        if ways.score[0, way] < along.least[cluster]:
            return False
        if way == 0 and ways.how[0, way] == HELD:
            step_s = (hole - before) / places.resolution * ways.quarter_s[0]
            along.waited_s[cluster] = given.struck.time_s[cluster] - front.beat[0, TIME] - step_s
        if along.waited_s[cluster] > WAITED_S:
            learn_wait(front.habits.waits, 0, hole, places.bar_units, places.resolution)
        front.family[0] = go_on(given, cluster, front, ways, way)
        front.score[0], front.unit[0] = ways.score[0, way], hole
        for part in range(BEAT_PARTS):
            front.beat[0, part] = ways.after[part]
        learn(front.habits, 0, cluster, given.struck.mark[cluster], hole, places)
        along.quarter_s[cluster], along.so_far[cluster] = front.beat[0, QUARTER], front.score[0]
    return True
