"""Remedies for sets of plates that are not ready in time: each is tried on the show before it is reported."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from pegwright.frozen import frozen
from pegwright.show.plan import Aim, Plan, plan_show, same_order_least_worst
from pegwright.show.problem import Problem, ShowSong
from pegwright.show.time import Carried, late_s
from pegwright.show.turns import turns_of
from pegwright.units import plural

MAX_PEOPLE = 8  # beyond these no one would do it
MAX_MORE_TIMES = 5
MAX_MORE_TALK_S = 300
MAX_MORE_SETS = 3


@frozen()
class Late:
    """One set of plates that is not ready in time.

    Args:
        number: among what is carried.
        remedies: what would have it ready, each by itself.
    """

    number: int
    remedies: tuple[str, ...]


@frozen()
class ShowRemedies:
    """What would help a show.

    Args:
        late: each set that is late, with what would help it.
        whole: what would help all of them, or some.
        calmer: the same order with the starts of the minimum worst hurry, if that has more sets ready.
    """

    late: tuple[Late, ...]
    whole: tuple[str, ...]
    calmer: Plan | None


def remedies(
    problem: Problem, plan: Plan, titles: Sequence[str], with_sets: Callable[[int], Problem] | None = None
) -> ShowRemedies:
    """Try possible remedies.

    Args:
        problem: the show.
        plan: its plan.
        titles: of the songs of the problem.
        with_sets: the same show with another number of sets of plates; None where none is to be tried.
    """
    numbers = [number for number, late in enumerate(plan.late_s) if late > 0]
    if not numbers:
        return ShowRemedies((), (), None)
    each = tuple(Late(number, tuple(_for_one(problem, plan, number, titles))) for number in numbers)
    whole = []
    people = _people(plan, numbers, problem)
    if people is not None:
        whole.append(f"with {people} people instead of {problem.times.people} every set is ready in time")
    if with_sets is not None:
        whole += _more_sets(problem.plate_sets, plan, len(numbers), with_sets)
    calmer = same_order_least_worst(problem, plan.order)
    if plan.aim != Aim.LEAST_WORST:
        other = plan_show(problem, Aim.LEAST_WORST)
        if _late_count(other) < len(numbers):
            whole.append(f'order = "{Aim.LEAST_WORST}" {effect(other)}')
    return ShowRemedies(each, tuple(whole), calmer if _late_count(calmer) < len(numbers) else None)


def _more_sets(sets: int, plan: Plan, late: int, with_sets: Callable[[int], Problem]) -> Iterator[str]:
    """The minimum number of sets with which all are ready in time in the same order, else that with the fewest late.

    Args:
        sets: owned now.
        plan: of the show with these.
        late: how many sets are late in it.
        with_sets: see `remedies`.
    """
    best: tuple[int, str] = (late, "")
    for count in range(sets + 1, sets + MAX_MORE_SETS + 1):
        other = same_order_least_worst(with_sets(count), plan.order)
        if _late_count(other) < best[0]:
            best = (_late_count(other), f"with {count} sets of plates instead of {sets} this order {effect(other)}")
        if not best[0]:
            break
    if best[1]:
        yield best[1]


def effect(other: Plan) -> str:
    """What another plan does for a show: `has every set ready in time and moves 1,234 pins during the show`."""
    left = _late_count(other)
    ready = "has every set ready in time" if not left else f"leaves {plural(left, 'set')} late"
    return f"{ready} and moves {plural(other.during, 'pin')} during the show"


def _late_count(plan: Plan) -> int:
    return sum(late > 0 for late in plan.late_s)


def _for_one(problem: Problem, plan: Plan, number: int, titles: Sequence[str]) -> list[str]:
    helpful = []
    people = _people(plan, [number], problem)
    if people is not None:
        helpful.append(f"{people} people instead of {problem.times.people}")
    again = _more_times(problem, plan, number)
    if again is not None:
        song, times = again
        helpful.append(f"{titles[song]} played {plural(times, 'more time')}")
    place = plan.table.carried[number].place - 1
    if place >= 0:
        song = plan.order[place]
        talk_s = math.ceil(plan.late_s[number])
        time = replace(problem.songs[song].time, talk_s=problem.songs[song].time.talk_s + talk_s)
        late = _late_with(problem, plan, {song: replace(problem.songs[song], time=time)})
        if talk_s <= MAX_MORE_TALK_S and late[number] == 0:
            helpful.append(f"{talk_s} s more talk after {titles[song]}")
    return helpful


def _people(plan: Plan, numbers: Sequence[int], problem: Problem) -> int | None:
    """The minimum number of people with whom these sets are ready."""
    now = problem.times.people
    for people in range(now + 1, MAX_PEOPLE + 1):
        late = late_s(plan.table.carried, [seconds * now / people for seconds in plan.needed_s])
        if not any(late[number] for number in numbers):
            return people
    return None


def _more_times(problem: Problem, plan: Plan, number: int) -> tuple[int, int] | None:
    """The song to be played again while a set is pinned, and how often, for the minimum additional time."""
    late = plan.table.carried[number]
    best: tuple[float, int, int] | None = None
    for place in _places_between(plan.table.carried, late):
        song = plan.order[place]
        turns = problem.songs[song].turns
        more = None if turns.swaps_within else _least_times(problem, plan, number, song)
        if more is not None:
            music_s = more * len(turns.running) * problem.songs[song].time.turn_s
            best = min(best or (math.inf, 0, 0), (music_s, song, more))
    return best and best[1:]


def _least_times(problem: Problem, plan: Plan, number: int, song: int) -> int | None:
    """How many more times of a song would have a set ready, by bisection: more of them leave more time."""

    def ready(more: int) -> bool:
        turns = problem.songs[song].turns
        longer = turns_of(turns.running, turns.times + more, problem.plate_sets)
        return _late_with(problem, plan, {song: replace(problem.songs[song], turns=longer)})[number] == 0

    if not ready(MAX_MORE_TIMES):
        return None
    return bisect_left(range(1, MAX_MORE_TIMES), True, key=ready) + 1


def _places_between(carried: Sequence[Carried], late: Carried) -> range:
    before = 0 if late.before is None else carried[late.before].place + 1
    return range(before, late.place)


def _late_with(problem: Problem, plan: Plan, changed: dict[int, ShowSong]) -> tuple[float, ...]:
    """How late each set is if some songs change in nothing but their times."""
    songs = tuple(changed.get(number, song) for number, song in enumerate(problem.songs))
    return late_s(replace(problem, songs=songs).timetable(plan.order).carried, plan.needed_s)
