"""What each hypothesis learns of the song: steps, kinds of strikes at places of the bar, and what is like something."""

from __future__ import annotations

import numpy as np
import pytest

from pegwright.played.bar_habits import (
    BarHabits,
    inherit,
    learn,
    likeness_score,
    looks_score,
    most_likely,
    no_habits,
    rhythm_score,
    silent,
    step_total,
)
from pegwright.played.bar_places import BarPlaces, bar_places, metre_of, place_at
from pegwright.played.model import PLACES
from pegwright.played.struck import KINDS, Struck, struck_by
from played.test_free_beat import notes_at

CLUSTERS, BAR = 40, 96


def song() -> tuple[BarPlaces, Struck]:
    """Quarters, every fourth of which is a bass."""
    metre = metre_of("4/4")
    pitch = np.where(np.arange(CLUSTERS) % 4 == 0, 40, 70 + np.arange(CLUSTERS) % 4)
    return bar_places(PLACES, metre.bar_quarters, metre.beat_quarters), struck_by(
        notes_at(np.arange(CLUSTERS) / 2, pitch)
    )


def learnt(clusters: int, places: BarPlaces, struck: Struck) -> BarHabits:
    """By the first of two hypotheses: quarter after quarter from the bar line."""
    habits = no_habits(2, CLUSTERS, places)
    for cluster in range(clusters):
        learn(habits, 0, cluster, int(struck.mark[cluster]), 24 * cluster, places)
    return habits


def test_every_place_is_counted_once() -> None:
    places, struck = song()
    habits = learnt(20, places, struck)
    assert habits.struck[0].sum() == 20
    assert habits.marks.shape == (2, KINDS, BAR)
    assert habits.marks[0].sum(axis=0).tolist() == habits.struck[0].tolist()
    assert np.flatnonzero(habits.struck[0]).tolist() == [0, 24, 48, 72]
    assert habits.steps[0].sum() == pytest.approx(places.steps.sum() + 19)
    assert habits.silences[0, 1] - habits.silences[1, 1] == 19


def test_steps_that_were_made_are_likelier() -> None:
    places, struck = song()
    habits = learnt(20, places, struck)

    def score(which: int, hole: int) -> float:
        total = step_total(habits, which, place_at(places, 0))
        return rhythm_score(habits, which, 0, hole, -1, silent(habits, which), places) - total

    assert score(0, 24) > score(1, 24)
    assert score(0, 12) < score(1, 12)


def test_silent_quarters_are_likelier_where_there_were_some() -> None:
    places, _ = song()
    habits = no_habits(1, CLUSTERS, places)
    before = silent(habits, 0)
    for cluster in range(CLUSTERS):
        learn(habits, 0, cluster, 0, 96 * cluster, places)
    assert silent(habits, 0) > before


def test_a_kind_of_strike_is_expected_where_it_was() -> None:
    places, struck = song()
    habits = learnt(32, places, struck)
    bass = 32
    known = [looks_score(habits, 0, struck, bass, hole, places) for hole in (768, 792)]
    unknown = [looks_score(habits, 1, struck, bass, hole, places) for hole in (768, 792)]
    assert known[0] - known[1] > unknown[0] - unknown[1] + 0.3


def test_what_is_like_something_before_is_expected_at_its_place_in_the_bar() -> None:
    places, struck = song()
    habits, cluster = learnt(32, places, struck), 32
    scores = [likeness_score(habits, 0, struck, cluster, hole, places) for hole in (768, 792, 777)]
    assert scores[0] > scores[1] > scores[2]
    assert scores[0] > 0 > scores[2]


def test_no_way_to_a_cluster_is_likelier_by_what_it_looks_like_than_the_bound() -> None:
    """Ways that cannot come near the best are not looked at; none may be lost by that."""
    places, struck = song()
    habits = learnt(36, places, struck)
    for cluster in range(1, 37):
        scores = [
            looks_score(habits, which, struck, cluster, hole, places)
            + likeness_score(habits, which, struck, cluster, hole, places)
            for which in range(2)
            for hole in range(BAR)
        ]
        assert max(scores) <= most_likely(struck, cluster, places) + 1e-9


def test_nothing_is_like_the_first_cluster() -> None:
    places, struck = song()
    habits = no_habits(1, CLUSTERS, places)
    assert likeness_score(habits, 0, struck, 0, 24, places) == 0


def test_an_heir_has_what_its_parent_learnt_and_goes_on_for_itself() -> None:
    places, struck = song()
    habits, heirs = learnt(20, places, struck), no_habits(2, CLUSTERS, places)
    inherit(habits, 0, heirs, 1, 20)
    for own, of_heir in zip(habits, heirs, strict=True):
        assert np.array_equal(np.asarray(own)[0], np.asarray(of_heir)[1])
    learn(heirs, 1, 20, 0, 480, places)
    assert habits.struck[0].sum() == 20
    assert heirs.struck[1].sum() == 21
