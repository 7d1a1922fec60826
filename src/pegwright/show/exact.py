"""The playing order with the minimum work, proved: a dynamic programme over sets of songs.

Work arises along the strands of a show only (see `problem`). Put end to end, the strands are one sequence in which the
links between two strands cost nothing, so the best order is a shortest path through all visits (Held and Karp). Its
state holds which songs are placed, the last visit, and the start of its song. Songs whose place is known stand in that
sequence from the beginning: those that open or close the show and, where songs couple the strands, those that take
several sets of plates, for which every place is tried.

Such a song stands in the sequence several times and must have the same start each time. Where it may differ, the result
is a floor. The floors of all placings are kept in a queue and the lowest is refined: at first every link has its own
best starts; then every visit has one start; then the starts of a song that differ are divided into
two halves with one of them in each. The first in the queue with one start for each song is the best (branch and bound).

Source: M. Held, R. M. Karp, A dynamic programming approach to sequencing problems, J. SIAM 10 (1962)
    196-210; A. H. Land, A. G. Doig, An automatic method of solving discrete programming problems, Econometrica 28
    (1960) 497-520 (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import permutations

from pegwright.frozen import frozen
from pegwright.show.problem import Problem
from pegwright.show.sequence import FREE, Domains, Filled, Sequencer, Template
from pegwright.show.turns import sets_taken

MAX_STEPS = 6_000_000_000  # of the innermost loop: about 15 seconds, 12 songs of 192 starts each


@frozen()
class BestOrder:
    """The result of the dynamic programme.

    Args:
        order: the playing order with the minimum work, or where the steps did not suffice, one to begin a search from.
        floor: a lower bound on the work of every order during the show.
        proved: whether `order` is the best.
    """

    order: tuple[int, ...]
    floor: int
    proved: bool


@dataclass(frozen=True, slots=True, order=True)
class _Part:
    """Some of all plans: those with several songs in given places, and with some of the starts of each.

    Args:
        floor: a lower bound on the cost of all of them.
        serial: when it was queued, to order equal ones.
        exactness: 0 if every link had its own best starts, 1 if every visit had one start.
        places: the songs in given places.
        domains: for some of those the starts that they may have; all for the others.
        filled: the plan that costs the floor.
    """

    floor: int
    serial: int
    exactness: int
    places: tuple[tuple[int, int], ...]
    domains: Domains
    filled: Filled


def exact_steps(problem: Problem) -> int:
    """The minimum number of steps of `exact_order`, precise enough to compare it with `MAX_STEPS`."""
    bound, free = _bound_and_free(problem)
    tried = math.perm(len(problem.songs) - len(problem.fixed_places()), len(bound))
    return tried * _fill_steps(problem, len(free), _most_starts(problem) if problem.independent else 1)


def exact_order(problem: Problem, max_steps: int = MAX_STEPS) -> BestOrder:
    """The playing order with the minimum work during the show, then the minimum before it.

    Its starts are those of `starts.least_work`. On a tie the song that comes first in the song set is put
    last in its strand.

    Args:
        problem: the show; `exact_steps` is within `max_steps`.
        max_steps: when to stop, where songs couple the strands.
    """
    bound, free = _bound_and_free(problem)
    fine = Sequencer(problem, free, coarse=False)
    if problem.independent:
        places = problem.fixed_places()
        filled = fine.fill(_template(problem, places), {})
        return BestOrder(_order(problem, places, filled), filled.cost // problem.weight, True)
    return _search(problem, bound, fine, Sequencer(problem, free, coarse=True), max_steps)


def _search(problem: Problem, bound: Sequence[int], fine: Sequencer, coarse: Sequencer, max_steps: int) -> BestOrder:
    """Refine the part with the lowest floor until it is a plan, or the steps are used up."""
    queue: list[_Part] = []
    for places in _placings(problem, bound):
        filled = coarse.fill(_template(problem, places), {})
        queue.append(_Part(filled.cost, len(queue), 0, tuple(places.items()), (), filled))
    heapify(queue)
    steps, serial = exact_steps(problem), len(queue)
    each = _fill_steps(problem, len(fine.free), _most_starts(problem))
    while True:
        part = heappop(queue)
        places = dict(part.places)
        odd = _at_odds(problem, part.filled) if part.exactness else None
        proved = part.exactness == 1 and odd is None
        if proved or steps + each > max_steps:
            return BestOrder(_order(problem, places, part.filled), part.floor // problem.weight, proved)
        for domains in [part.domains] if odd is None else _halves(problem, part.domains, *odd):
            filled = fine.fill(_template(problem, places), dict(domains))
            floor = max(part.floor, filled.cost)
            heappush(queue, _Part(floor, serial, 1, part.places, domains, filled))
            steps, serial = steps + each, serial + 1


def _at_odds(problem: Problem, filled: Filled) -> tuple[int, int, int] | None:
    """A song with two different starts, and these; None if every song has one."""
    starts: dict[int, int] = {}
    for visit, start in zip(filled.visits, filled.starts, strict=True):
        song = problem.visits[visit].song
        if starts.setdefault(song, start) != start:
            return song, *sorted((starts[song], start))  # type: ignore[return-value]
    return None


def _halves(problem: Problem, domains: Domains, song: int, low: int, high: int) -> Iterator[Domains]:
    """The starts of a song in two halves, one with the low start and one with the high one."""
    others = dict(domains)
    allowed = others.pop(song, tuple(range(problem.starts(song))))
    rest = [start for start in allowed if start not in (low, high)]
    middle = len(rest) // 2
    for half in ([low, *rest[:middle]], [*rest[middle:], high]):
        yield tuple(sorted((others | {song: tuple(sorted(half))}).items()))


def _most_starts(problem: Problem) -> int:
    return max(problem.starts(song) for song in range(len(problem.songs)))


def _fill_steps(problem: Problem, free: int, starts: int) -> int:
    """Steps to fill one sequence; numpy's overhead of a call equals some thousand steps."""
    calls = len(problem.visits) * max(1, free) ** 2 * 3000
    return (1 << min(free, 60)) * free**2 * starts**2 // 4 + calls


def _bound_and_free(problem: Problem) -> tuple[list[int], list[int]]:
    """Songs of which every place is tried one by one, and songs that the programme places."""
    ends = problem.fixed_places().values()
    others = [song for song in range(len(problem.songs)) if song not in ends]
    if problem.independent:
        return [], others
    bound = [song for song in others if problem.songs[song].turns.slot_count > 1]
    return bound, [song for song in others if song not in bound]


def _placings(problem: Problem, bound: Sequence[int]) -> Iterator[dict[int, int]]:
    """Every way to give places to the songs that the programme does not place."""
    ends = problem.fixed_places()
    open_places = [place for place in range(len(problem.songs)) if place not in ends]
    for places in permutations(open_places, len(bound)):
        yield ends | dict(zip(places, bound, strict=True))


def _template(problem: Problem, places: dict[int, int]) -> Template:
    """The strands end to end: for each link its strand, and the visit there or `FREE`."""
    firsts = problem.first_visits
    strands: list[list[tuple[int, int]]] = [[] for _ in range(problem.strand_count)]
    for place, taken in enumerate(_taken(problem, places)):
        for slot, strand in enumerate(taken):
            strands[strand].append((strand, firsts[places[place]] + slot if place in places else FREE))
    return [link for strand in strands for link in strand]


def _order(problem: Problem, places: dict[int, int], filled: Filled) -> tuple[int, ...]:
    """The playing order of a sequence."""
    songs = iter(problem.visits[visit].song for visit in filled.visits)
    at = dict(places)
    taken = _taken(problem, places)
    for strand in range(problem.strand_count):
        for place in range(len(problem.songs)):
            if strand in taken[place]:
                at[place] = next(songs)
    return tuple(at[place] for place in range(len(problem.songs)))


def _taken(problem: Problem, places: dict[int, int]) -> tuple[tuple[int, ...], ...]:
    """The strands that each place takes; a free one takes one strand, whichever song stands there."""
    songs = problem.songs
    if problem.independent:
        return tuple((place % problem.independent,) for place in range(len(songs)))
    one_set = next((song.turns for song in songs if song.turns.slot_count == 1), songs[0].turns)
    turns = [songs[places[place]].turns if place in places else one_set for place in range(len(songs))]
    return sets_taken(turns, problem.plate_sets)
