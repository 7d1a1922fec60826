"""The dynamic programme on the cyclic turn, by itself, against every choice there is."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import accumulate, cycle, islice, pairwise, product

import pytest

from pegwright.columns import frozen_ints
from pegwright.fit import cyclic
from pegwright.fit.cyclic import Spacing, spaced_ways
from pegwright.fit.problem import LEFT_OUT, Ways
from pegwright.fit.quantise import Holes
from thorough import cases

TURN_TICKS, MARGIN_TICKS = 30, 3
STRETCH_TICKS = TURN_TICKS + 2 * MARGIN_TICKS + 1  # as short as it may be
Case = tuple[Spacing, Ways, list[int]]


def holes_of(places: list[list[int]]) -> Holes:
    """A list of holes from the places of those of each channel, rising."""
    channel = [number for number, of_channel in enumerate(places) for _ in of_channel]
    position = [place for of_channel in places for place in of_channel]
    key = [number * STRETCH_TICKS + MARGIN_TICKS + place for number, place in zip(channel, position, strict=True)]
    none = frozen_ints([0] * len(key))
    return Holes(
        key=frozen_ints(key),
        position=frozen_ints(position),
        channel=frozen_ints(channel),
        row=none,
        place=frozen_ints(range(len(key))),
        pin=none,
        past=frozen_ints(list(accumulate(map(len, places)))),
        stretch_ticks=STRETCH_TICKS,
        margin_ticks=MARGIN_TICKS,
        pin_count=1,
    )


def spans_of(chance: random.Random, first: int, past: int) -> list[tuple[int, int]]:
    """Which holes each strike of a cluster may take: neighbours in the list, neither end before the last strike's."""
    spans, low, end = [], first, first
    for _ in range(chance.randint(1, 4)):
        low = min(low + chance.randint(0, 2), past - 1)
        end = min(max(end, low + chance.randint(1, 4)), past)
        spans.append((low, end))
    return spans


def case_of(
    places: list[list[int]], clusters: list[tuple[int, list[tuple[int, int]]]], gaps: list[int], merits: Sequence[int]
) -> Case:
    """Clusters, each with its channel and the holes that its strikes may take.

    Args:
        places: of the holes of each channel.
        clusters: channel, and for each strike the first of its holes and the one after its last.
        gaps: of each channel, in ticks.
        merits: of the ways, taken in turn.
    """
    strikes = [(number, channel, span) for number, (channel, spans) in enumerate(clusters) for span in spans]
    hole = [hole for _, _, span in strikes for hole in range(*span)]
    counts = [past - low for _, _, (low, past) in strikes]
    ways = Ways(
        first=frozen_ints([0, *accumulate(counts)]),
        strike=frozen_ints([strike for strike, count in enumerate(counts) for _ in range(count)]),
        hole=frozen_ints(hole),
        aims=(),
    )
    spacing = Spacing(
        cluster=frozen_ints([number for number, _, _ in strikes]),
        channel=frozen_ints([channel for _, channel, _ in strikes]),
        gap_ticks=frozen_ints(gaps),
        holes=holes_of(places),
        turn_ticks=TURN_TICKS,
    )
    return spacing, ways, list(islice(cycle(merits), len(hole)))


def contested(chance: random.Random) -> Case:
    """Clusters on a few channels, up to four strikes each, with so few merits that many choices are equal."""
    places = [sorted(chance.sample(range(-MARGIN_TICKS, TURN_TICKS + MARGIN_TICKS), 8)) for _ in range(3)]
    clusters = []
    for _ in range(chance.randint(1, 4)):
        channel = chance.randrange(3)
        clusters.append((channel, spans_of(chance, 8 * channel, 8 * channel + 8)))
    gaps = [chance.choice([1, 3, 7, 12]) for _ in places]
    return case_of(places, clusters, gaps, [chance.randint(1, 3) for _ in range(64)])


def best_of(case: Case, cluster: int) -> list[int]:
    """The greatest total of a cluster's pins that keep the gap, also round the turn; of equals the earliest ways."""
    spacing, ways, merit = case
    strikes = [strike for strike, number in enumerate(spacing.cluster.tolist()) if number == cluster]
    gap = int(spacing.gap_ticks[spacing.channel[strikes[0]]])
    place = spacing.holes.position[ways.hole].tolist()
    ways_of_strikes = []
    for strike in strikes:
        first, past = ways.first[strike : strike + 2].tolist()
        ways_of_strikes.append([*range(first, past), LEFT_OUT])  # an earlier hole before a later one, both before none

    def total(choice: tuple[int, ...]) -> int:
        taken = [way for way in choice if way != LEFT_OUT]
        if not taken:
            return 0
        round_the_turn = [place[way] for way in (*taken, taken[0])]
        round_the_turn[-1] += TURN_TICKS
        apart = all(other - one >= gap for one, other in pairwise(round_the_turn))
        return sum(merit[way] for way in taken) if apart else -1

    first_best: tuple[int, ...] = max(product(*ways_of_strikes), key=total)
    return list(first_best)


def test_equals_every_choice_tried() -> None:
    chance = random.Random("cyclic")  # noqa: S311  # cases for a test, not secrets
    left_out = round_the_end = 0
    for _ in range(cases(400, 4000)):
        case = contested(chance)
        spacing, ways, merit = case
        expected = [way for cluster in range(int(spacing.cluster[-1]) + 1) for way in best_of(case, cluster)]
        assert spaced_ways(spacing, ways, merit) == expected
        left_out += expected.count(LEFT_OUT)
        last = spacing.holes.position[ways.hole[-1]] - spacing.holes.position[ways.hole[0]]
        round_the_end += int(last > TURN_TICKS - spacing.gap_ticks[spacing.channel[0]])
    assert left_out > 400
    assert round_the_end > 50


@pytest.mark.parametrize(
    ("place", "spans", "sweeps"),
    [
        ([0, 10, 23], [(0, 2), (1, 3)], 1),  # the last may stand with any head
        ([0, 10, 24], [(0, 2), (1, 3)], 2),  # not with the one at 0
        ([0, 1, 23, 24], [(0, 2), (2, 4)], 2),  # but with the one at 1
        ([0, 1, 23, 25], [(0, 2), (0, 2), (2, 4)], 3),  # with neither; two strikes may have the same head
    ],
)
def test_the_programme_is_run_again_only_for_heads_that_bar_holes(
    monkeypatch: pytest.MonkeyPatch, place: list[int], spans: list[tuple[int, int]], sweeps: int
) -> None:
    """Pins are 7 of 30 ticks apart, so that none may stand more than 23 after the head."""
    started, sweep = [], cyclic._sweep

    def counted(steps: cyclic._Steps, merit: list[int], start: int, stop: int, to_go: list[int]) -> list[int]:
        started.append(start)
        return sweep(steps, merit, start, stop, to_go)

    monkeypatch.setattr(cyclic, "_sweep", counted)
    if sweeps == 1:
        monkeypatch.delattr(cyclic, "_round")  # such a cluster does not go round the end
    case = case_of([place], [(0, spans)], [7], [1, 2])
    assert spaced_ways(*case) == best_of(case, 0)
    assert len(started) == sweeps
