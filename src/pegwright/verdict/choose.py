"""The best transposition and start of a song of several turns, proved against the bounds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import TypeAlias

from pegwright.fit.options import FitOptions
from pegwright.fit.search import Choice, search_turns
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.verdict.bounds import bounds_of
from pegwright.wheel import Wheel

Placements: TypeAlias = tuple[Placement, ...]
Place: TypeAlias = Callable[[int, int], Placements]  # transposition in semitones, start in steps


@dataclass(frozen=True, slots=True)
class Chosen:
    """The best choice.

    Args:
        choice: what it is, and what it is worth.
        gap: as `Search.gap`: how much more weight another could place at most where the search was stopped; else None.
    """

    choice: Choice
    gap: int | None = None


def best_choice(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, transpositions: Sequence[int], place: Place
) -> Chosen:
    """The transposition and start of the greatest total weight, then the least total cost, as `Search.best` ranks.

    The most hopeful choice is tried first: if it is worth its bound, it has won. Otherwise all starts of every
    transposition that could still be better are searched, strike limits and shared pitches included.

    Args:
        turns: of one song, at least one; all begin on the same step of the turn.
        wheel: the wheel.
        options: what the choice does not change.
        transpositions: semitones, each once, 0 among them.
        place: the placements of the turns at a choice.

    Raises:
        UsageError: the options do not suit score or wheel.
    """
    bounds = bounds_of(turns, wheel, options, transpositions)
    best = _worth(0, 0, place)
    hoped = next(bounds.hopeful())
    if _rank(best) <= _rank(hoped):
        return Chosen(best)
    first = _worth(hoped.transpose_semitones, hoped.start_steps, place)
    if first == hoped:
        return Chosen(first)
    best = min(best, first, key=_rank)
    better = takewhile(lambda hoped: _rank(hoped) < _rank(best), bounds.hopeful())
    transpositions = sorted({hoped.transpose_semitones for hoped in better})
    if not transpositions:
        return Chosen(best)
    search = search_turns(turns, wheel, options, transpositions, range(bounds.period_steps), best_few=1)
    found = search.best()
    best = min(best, _worth(found.transpose_semitones, found.start_steps, place), key=_rank)
    gap = search.gap()
    more = None if gap is None else found.weight + gap - best.weight
    return Chosen(best, more if more is None or more >= 0 else None)


def _rank(choice: Choice) -> tuple[int, int, int, int, int]:
    semitones = choice.transpose_semitones
    return -choice.weight, choice.cost_ticks, abs(semitones), -semitones, choice.start_steps


def _worth(semitones: int, start_steps: int, place: Place) -> Choice:
    placements = place(semitones, start_steps)
    weight = sum(placement.weight for placement in placements)
    return Choice(semitones, start_steps, weight, sum(placement.cost_ticks for placement in placements))
