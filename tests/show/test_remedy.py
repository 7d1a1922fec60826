"""Remedies for late sets: each one that is told is tried again here, and does what it says."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import shows
from pegwright.show.plan import Aim, Plan, plan_show, same_order_least_worst
from pegwright.show.problem import Problem
from pegwright.show.remedy import remedies
from pegwright.show.time import WorkTimes, late_s
from pegwright.show.turns import turns_of

SLOW = WorkTimes(2.0, 3.0)


def titles(problem: Problem) -> list[str]:
    return [f"song {number}" for number in range(len(problem.songs))]


def late_with(
    problem: Problem, plan: Plan, song: int, more_times: int = 0, more_talk_s: float = 0.0
) -> tuple[float, ...]:
    """How late sets are if one song is played more often or followed by more talk."""
    old = problem.songs[song]
    turns = turns_of(old.turns.running, old.turns.times + more_times, problem.plate_sets)
    new = replace(old, turns=turns, time=replace(old.time, talk_s=old.time.talk_s + more_talk_s))
    songs = tuple(new if number == song else it for number, it in enumerate(problem.songs))
    return late_s(replace(problem, songs=songs).timetable(plan.order).carried, plan.needed_s)


@settings(max_examples=40)
@given(st.integers(0, 10**6), shows.runnings(6), st.integers(1, 3), st.integers(1, 3))
def test_every_remedy_that_is_told_works(
    seed: int, runnings: list[tuple[int, ...]], plate_sets: int, people: int
) -> None:
    times = replace(SLOW, people=people)
    problem = shows.show(seed, runnings, plate_sets, times=times, holes=30)
    plan = plan_show(problem, Aim.GIVEN)
    told = remedies(problem, plan, titles(problem))
    assert [late.number for late in told.late] == [number for number, late in enumerate(plan.late_s) if late > 0]
    for late in told.late:
        for remedy in late.remedies:
            if match := re.fullmatch(r"(\d+) people instead of \d+", remedy):
                for helpers, helps in ((int(match[1]), True), (int(match[1]) - 1, False)):
                    needed = [seconds * people / helpers for seconds in plan.needed_s]
                    assert (late_s(plan.table.carried, needed)[late.number] == 0) == helps
            elif match := re.fullmatch(r"song (\d+) played (\d+) more times?", remedy):
                song, more = int(match[1]), int(match[2])
                assert late_with(problem, plan, song, more_times=more)[late.number] == 0
                assert late_with(problem, plan, song, more_times=more - 1)[late.number] > 0
            else:
                match = re.fullmatch(r"(\d+) s more talk after song (\d+)", remedy)
                assert match, remedy
                assert late_with(problem, plan, int(match[2]), more_talk_s=int(match[1]))[late.number] == 0


@settings(max_examples=40)
@given(st.integers(0, 10**6), shows.runnings(5), st.integers(1, 3))
def test_remedies_for_the_whole_show_work(seed: int, runnings: list[tuple[int, ...]], plate_sets: int) -> None:
    problem = shows.show(seed, runnings, plate_sets, times=SLOW, holes=30, starts=3)
    plan = plan_show(problem, Aim.LEAST_WORK)
    late = sum(wait > 0 for wait in plan.late_s)
    told = remedies(problem, plan, titles(problem))
    for sentence in told.whole:
        if match := re.match(r"with (\d+) people", sentence):
            assert not any(late_s(plan.table.carried, [seconds / int(match[1]) for seconds in plan.needed_s]))
        else:
            other = plan_show(problem, Aim.LEAST_WORST)
            left = sum(wait > 0 for wait in other.late_s)
            assert left < late
            expected = f"leaves {left} set" if left else "has every set ready in time"
            assert expected in sentence
            assert f"moves {other.during:,} pin" in sentence
    if told.calmer:
        assert told.calmer.order == plan.order
        carried = told.calmer.table.carried
        assert len({(it.place, start) for it, start in zip(carried, told.calmer.starts, strict=True)}) == len(runnings)
        assert sum(wait > 0 for wait in told.calmer.late_s) < late


@settings(max_examples=10)
@given(st.integers(0, 10**6))
def test_a_further_set_of_plates_is_offered_where_it_helps(seed: int) -> None:
    def with_sets(count: int) -> Problem:
        return shows.show(seed, [(0,)] * 4, count, times=SLOW, holes=30, starts=3)

    problem = with_sets(2)
    plan = plan_show(problem, Aim.GIVEN)
    late = sum(wait > 0 for wait in plan.late_s)
    offered = [
        words for words in remedies(problem, plan, titles(problem), with_sets).whole if "sets of plates" in words
    ]
    tried = {
        count: sum(wait > 0 for wait in same_order_least_worst(with_sets(count), plan.order).late_s)
        for count in (3, 4, 5)
    }
    assert bool(offered) == (min(tried.values()) < late)
    for words in offered:
        match = re.match(r"with (\d) sets of plates instead of 2 this order (has every set|leaves (\d+) set)", words)
        assert match, words
        assert tried[int(match[1])] == int(match[3] or 0) == min(tried.values())


def test_a_show_in_time_needs_no_remedy() -> None:
    problem = shows.show(1, [(0,)] * 3, 2, times=WorkTimes(0.001, 0.001))
    told = remedies(problem, plan_show(problem, Aim.GIVEN), titles(problem))
    assert (told.late, told.whole, told.calmer) == ((), (), None)


def test_the_most_common_remedies_are_found() -> None:
    problem = shows.show(4, [(0,)] * 5, 2, times=SLOW, holes=60)
    told = remedies(problem, plan_show(problem, Aim.GIVEN), titles(problem))
    words = " ".join(remedy for late in told.late for remedy in late.remedies)
    assert told.late
    for remedy in ("people instead of 1", "more time", "more talk after"):
        assert remedy in words


@pytest.mark.parametrize("plate_sets", [1, 2])
def test_with_one_set_no_song_plays_meanwhile(plate_sets: int) -> None:
    problem = shows.show(2, [(0,)] * 4, plate_sets, times=SLOW, holes=60)
    told = remedies(problem, plan_show(problem, Aim.GIVEN), titles(problem))
    assert told.late
    played = any("played" in remedy for late in told.late for remedy in late.remedies)
    assert played == (plate_sets > 1)
