"""An exhaustive solver for tiny songs on channels that depend on one another, made straight from the rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TypeAlias

from exhaustive import Hole, Problem, problem
from pegwright.score import Score
from pegwright.wheel import Wheel


@dataclass(frozen=True)
class Asked:
    """One strike: its note, when it is wanted, what it weighs, and the channel that sounds it."""

    note: int
    onset: int
    weight: int
    channel: int


@dataclass(frozen=True)
class Taken:
    """Where a strike goes: unwrapped place, channel and hole."""

    at: int
    channel: int
    hole: Hole


Assignment: TypeAlias = tuple[Taken | None, ...]


@dataclass(frozen=True)
class Coupled:
    """All channels of a wheel with their strikes, in order of onset, then channel."""

    wheel: Wheel
    channels: list[Problem]
    strikes: list[Asked]

    def within_limits(self, chosen: Sequence[Taken]) -> bool:
        """Whether every window that begins with a strike has no more strikes than each limit allows."""
        for limit in self.wheel.strike_limits:
            names = [self.wheel.channels[taken.channel].name for taken in chosen]
            places = [taken.hole.at for taken, name in zip(chosen, names, strict=True) if name in limit.channels]
            turn, us_per_tick = self.channels[0].turn, self.channels[0].us_per_tick
            for first in places:
                later = [(place - first) % turn for place in places]
                if sum(apart == 0 or apart * us_per_tick < limit.window_ms * 1000 for apart in later) > limit.strikes:
                    return False
        return True

    def assignments(self) -> Iterator[Assignment]:
        """Every way to pin the strikes that breaks no rule, those with earlier holes for earlier strikes first."""
        chosen: list[Taken | None] = []

        def extend(number: int) -> Iterator[Assignment]:
            if number == len(self.strikes):
                yield tuple(chosen)
                return
            strike = self.strikes[number]
            on = self.channels[strike.channel]
            for at, hole in on.choices(strike.onset):
                others = [taken for taken in chosen if taken is not None]
                free = all(on.apart(hole, other.hole) for other in others if other.channel == strike.channel)
                taken = Taken(at, strike.channel, hole)
                if free and self.within_limits([*others, taken]):
                    chosen.append(taken)
                    yield from extend(number + 1)
                    chosen.pop()
            chosen.append(None)
            yield from extend(number + 1)
            chosen.pop()

        return extend(0)

    def value(self, assignment: Assignment) -> tuple[int, int, int]:
        """Weight placed, minus cost, minus distance: the greater the better."""
        weight = cost = distance = 0
        for strike, taken in zip(self.strikes, assignment, strict=True):
            if taken is not None:
                weight += strike.weight
                away = abs(taken.at - strike.onset)
                cost += max(0, away - self.channels[0].tolerance)
                distance += away
        return weight, -cost, -distance

    def keeps_order(self, assignment: Assignment) -> bool:
        """Whether the pins of each channel come in the order of their notes, once round."""
        for channel in range(len(self.channels)):
            places = [taken.at for taken in assignment if taken is not None and taken.channel == channel]
            if any(one >= other for one, other in pairwise(places)):
                return False
            if places and places[-1] >= places[0] + self.channels[0].turn:
                return False
        return True

    def best(self) -> tuple[tuple[int, int, int], Assignment]:
        """The greatest value of all, and the first assignment in order of strikes and holes that has it."""
        greatest, of_all, first = (-1, 0, 0), (0, 0, 0), None
        for assignment in self.assignments():
            worth = self.value(assignment)
            of_all = max(of_all, worth)
            if worth > greatest and self.keeps_order(assignment):
                greatest, first = worth, assignment
        assert first is not None
        assert greatest == of_all, "crossing pins did better than pins in order"
        return greatest, first


def coupled(score: Score, wheel: Wheel, resolution: int, start: Fraction, us_per_quarter: int) -> Coupled:
    """The problem of a whole wheel, each channel of which must sound pitches of its own."""
    channels = [
        problem(score, wheel, number, resolution, start, us_per_quarter) for number in range(len(wheel.channels))
    ]
    strikes = [
        Asked(note, onset, weight, number)
        for number, channel in enumerate(channels)
        for note, onset, weight in channel.strikes
    ]
    return Coupled(wheel, channels, sorted(strikes, key=lambda strike: (strike.onset, strike.channel)))
