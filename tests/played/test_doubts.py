"""What is in doubt about the beat, and what is left of it once a user has said how the song goes on at a place."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.columns import Ints, frozen_floats, frozen_ints
from pegwright.played.alternatives import Alternative
from pegwright.played.doubts import Doubts, OtherWays, mean_about
from pegwright.played.model import PLACES
from pegwright.played.quantise import put_on_holes
from pegwright.read import read_score
from pegwright.score import LOW_CONFIDENCE
from played.test_free_beat import right_but_for_a_shift, stumbling

UNITS, CLUSTERS = 24, 90
EIGHTH, QUARTER = Fraction(1, 2), Fraction(1)


def later(*turns: tuple[int, int]) -> Ints:
    """Shape (c,): how far a way is from the one chosen that goes on later by some units from some clusters on."""
    number = np.arange(CLUSTERS)
    return frozen_ints(sum((units * (number >= at) for at, units in turns), np.zeros(CLUSTERS)))


def in_question(*ways: tuple[Ints, int]) -> Doubts:
    """Each way so many times, among those drawn from either end and those that were followed."""
    apart = np.stack([way for way, times in ways for _ in range(times)], axis=1)
    all_ways = OtherWays(frozen_ints(apart), frozen_floats(np.ones(apart.shape[1])))
    return Doubts(frozen_ints(np.arange(CLUSTERS)), (all_ways, all_ways), all_ways, True, Fraction(1, UNITS))


BOTH = in_question((later(), 60), (later((50, 12)), 20), (later((20, 24), (50, 12)), 20))


def places(doubts: Doubts) -> list[tuple[int, Fraction]]:
    return [(each.note, each.quarters) for each in doubts.parted()]


def test_what_ways_disagree_about_is_in_doubt() -> None:
    assert places(BOTH) == [(20, QUARTER), (50, EIGHTH)]
    assert BOTH.sure().max() < 0.9
    assert in_question((later(), 20)).sure().tolist() == [1.0] * CLUSTERS


@pytest.mark.parametrize(
    ("cluster", "quarters", "left"),
    [
        (50, Fraction(0), []),  # who is right there is right at 20
        (50, EIGHTH, [(20, QUARTER)]),
        (20, QUARTER, [(50, EIGHTH)]),  # of those that do so, all go on later at 50 too
        (20, Fraction(0), [(50, EIGHTH)]),
        (52, EIGHTH, [(20, QUARTER)]),  # a user hears it a note or two late
    ],
)
def test_ways_that_go_on_otherwise_than_a_user_says_count_no_more(
    cluster: int, quarters: Fraction, left: list[tuple[int, Fraction]]
) -> None:
    settled = BOTH.settled_at(cluster, quarters)
    assert places(settled) == left
    if not left:
        assert settled.sure().tolist() == [1.0] * CLUSTERS


def test_where_all_ways_left_go_on_otherwise_than_the_one_chosen_it_is_not_sure_at_all() -> None:
    sure = BOTH.settled_at(20, QUARTER).sure()
    assert sure[:50].min() > 0.7
    assert sure[50:].tolist() == [0.0] * 40


def test_where_hardly_any_way_goes_on_so_the_rest_is_as_much_in_doubt_as_before() -> None:
    settled = BOTH.settled_at(70, QUARTER)
    assert places(settled) == places(BOTH)
    assert settled.sure().tolist() == BOTH.sure().tolist()


def test_all_in_turn_leave_nothing_in_doubt() -> None:
    assert BOTH.settled_at(20, Fraction(0)).settled_at(50, EIGHTH).sure().tolist() == [1.0] * CLUSTERS
    assert BOTH.settled_at(20, QUARTER).settled_at(50, EIGHTH).sure().tolist() == [1.0] * CLUSTERS
    assert BOTH.settled_at(50, EIGHTH).settled_at(20, QUARTER).sure().tolist() == [1.0] * CLUSTERS


def test_a_whole_song_moved_says_nothing() -> None:
    assert BOTH.settled_at(0, QUARTER) is BOTH


@pytest.mark.parametrize("quarters", [Fraction(0), EIGHTH])
def test_another_kind_of_player_is_settled_likewise(quarters: Fraction) -> None:
    doubts = replace(in_question((later(), 20)), other=frozen_floats(later((50, 12)) / UNITS))
    assert places(doubts) == [(50, EIGHTH)]
    assert doubts.sure()[49:51].tolist() == [1.0, 0.5]
    settled = doubts.settled_at(50, quarters)
    assert settled.sure().tolist() == [1.0] * CLUSTERS
    assert not settled.parted()


def test_notes_of_a_cluster_have_its_other_readings_and_the_grid_holds_them() -> None:
    doubts = replace(BOTH, cluster=frozen_ints(np.repeat(np.arange(CLUSTERS), 2)))
    units = frozen_ints(12 * np.repeat(np.arange(CLUSTERS), 2))
    assert doubts.alternatives(units, UNITS, PLACES) == (Alternative(40, QUARTER), Alternative(100, EIGHTH))
    assert doubts.alternatives(units, UNITS, (Fraction(0),)) == (Alternative(40, QUARTER),), (
        "of a wheel without eighths"
    )
    for times, held in ((-1, (Alternative(40, -QUARTER), Alternative(100, -EIGHTH))), (-4, ())):
        followed, drawn = (OtherWays(times * ways.apart, ways.weight) for ways in (doubts.followed, doubts.drawn[0]))
        early = replace(doubts, followed=followed, drawn=(drawn, drawn))
        assert early.alternatives(units, UNITS, PLACES) == held, "two quarters and more would be far before other notes"


def test_no_reading_is_offered_that_begins_before_the_song() -> None:
    early = in_question((later(), 20), (later((12, -24)), 20))
    units = frozen_ints(np.arange(CLUSTERS))
    assert not early.alternatives(units, UNITS, PLACES)
    assert early.alternatives(units + 24, UNITS, PLACES)


def test_readings_come_in_the_order_in_which_they_begin_once_each_has_room() -> None:
    """The first has no room before its fourth cluster, where the beat is beside a note played far from its hole."""
    doubts = in_question((later(), 20), (later((20, -48)), 20), (later((22, 24)), 20))
    units = frozen_ints(12 * np.arange(CLUSTERS) + 48 * (np.arange(CLUSTERS) >= 23))
    assert [each.note for each in doubts.alternatives(units, UNITS, PLACES)] == [22, 23]


def test_what_a_maker_settles_is_in_doubt_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """The player stops now and then; the maker takes what is right and confirms the rest, in the order of the song."""
    monkeypatch.syspath_prepend(str(Path(__file__).parents[1] / "benchmarks"))
    from played_answers import answered  # a folder of scripts

    doubted = np.zeros(2)
    for seed in range(4):
        performance, true = stumbling(read_score(SONGS / "turnstile-tango.mid")[0], seed)
        result = put_on_holes(performance, None, Beat.FOLLOW)
        after, _ = answered(result, true * result.resolution // UNITS, performance.onset_ticks)
        for number, each in enumerate((result, after)):
            right = right_but_for_a_shift(each.onset_units, true)
            doubted[number] += (each.confidence[right] < LOW_CONFIDENCE).mean()
    assert doubted[1] < 0.5 * doubted[0]


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30), st.integers(0, 40))
def test_the_mean_about_each_value_is_that_of_those_within_reach(values: list[float], reach: int) -> None:
    means = mean_about(np.array(values), reach)
    for at, mean in enumerate(means.tolist()):
        assert mean == pytest.approx(np.mean(values[max(0, at - reach) : at + reach + 1]))
