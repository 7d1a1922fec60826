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
    """One strike: its note, when it is wanted, what it weighs, and the channels that can sound it."""

    note: int
    onset: int
    weight: int
    channels: tuple[int, ...]


@dataclass(frozen=True)
class Taken:
    """Where a strike goes: unwrapped place, channel and hole."""

    at: int
    channel: int
    hole: Hole


Assignment: TypeAlias = tuple[Taken | None, ...]


@dataclass(frozen=True)
class Coupled:
    """All channels of a wheel and its strikes, in order of onset, then channels."""

    wheel: Wheel
    channels: list[Problem]
    strikes: list[Asked]
    rule: str

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

    def preferred(self, channels: tuple[int, ...], chosen: Sequence[Taken | None]) -> list[int]:
        """Channels in the order that the rule asks for after the strikes before."""
        struck = [taken.channel for taken in chosen if taken is not None]
        if self.rule == "alternate":
            last = {channel: number for number, channel in enumerate(struck, start=1)}
            return sorted(channels, key=lambda channel: (last.get(channel, 0), channel))
        return list(channels)

    def assignments(self) -> Iterator[Assignment]:
        """Every way to pin the strikes that breaks no rule, those first that earlier strikes would rather have."""
        chosen: list[Taken | None] = []

        def extend(number: int) -> Iterator[Assignment]:
            if number == len(self.strikes):
                yield tuple(chosen)
                return
            strike = self.strikes[number]
            for channel in self.preferred(strike.channels, chosen):
                on = self.channels[channel]
                for at, hole in on.choices(strike.onset):
                    others = [taken for taken in chosen if taken is not None]
                    free = all(on.apart(hole, other.hole) for other in others if other.channel == channel)
                    taken = Taken(at, channel, hole)
                    if free and self.within_limits([*others, taken]):
                        chosen.append(taken)
                        yield from extend(number + 1)
                        chosen.pop()
            chosen.append(None)
            yield from extend(number + 1)
            chosen.pop()

        return extend(0)

    def value(self, assignment: Assignment) -> tuple[int, int, int, int]:
        """Weight placed, minus cost, minus odd pins, minus distance: the greater the better."""
        weight = cost = odd = distance = 0
        for strike, taken in zip(self.strikes, assignment, strict=True):
            if taken is not None:
                weight += strike.weight
                away = abs(taken.at - strike.onset)
                cost += max(0, away - self.channels[0].tolerance)
                odd += taken.hole.odd
                distance += away
        return weight, -cost, -odd, -distance

    def keeps_order(self, assignment: Assignment) -> bool:
        """Whether the pins of each channel come in the order of their notes, once round."""
        for channel in range(len(self.channels)):
            pins = [
                (strike.onset, taken.at)
                for strike, taken in zip(self.strikes, assignment, strict=True)
                if taken is not None and taken.channel == channel
            ]
            places = [at for _, at in sorted(pins)]
            if any(one >= other for one, other in pairwise(places)):
                return False
            if places and places[-1] >= places[0] + self.channels[0].turn:
                return False
        return True

    def best(self) -> tuple[tuple[int, int, int, int], Assignment]:
        """The greatest value of all, and the first assignment in order of strikes and holes that has it."""
        greatest, of_all, first = (-1, 0, 0, 0), (0, 0, 0, 0), None
        for assignment in self.assignments():
            worth = self.value(assignment)
            of_all = max(of_all, worth)
            if worth > greatest and self.keeps_order(assignment):
                greatest, first = worth, assignment
        assert first is not None
        assert greatest == of_all, "crossing pins did better than pins in order"
        return greatest, first


def coupled(
    score: Score, wheel: Wheel, resolution: int, start: Fraction, us_per_quarter: int, rule: str = "prefer"
) -> Coupled:
    """The problem of a whole wheel."""
    channels = [
        problem(score, wheel, number, resolution, start, us_per_quarter) for number in range(len(wheel.channels))
    ]
    best: dict[tuple[int, tuple[int, ...]], tuple[int, int]] = {}
    for note in range(score.note_count):
        onset = int(score.onset_ticks[note]) * (resolution // score.resolution)
        pitch = int(score.pitch_midi[note])
        sounding = tuple(number for number, channel in enumerate(wheel.channels) if pitch in channel.pitches)
        if sounding and onset < channels[0].turn:
            weight = 128 + int(score.velocity[note])
            best[onset, sounding] = max(best.get((onset, sounding), (0, 0)), (weight, -note))
    strikes = [
        Asked(-best[onset, sounding][1], onset, best[onset, sounding][0], sounding) for onset, sounding in sorted(best)
    ]
    return Coupled(wheel, channels, strikes, rule)
