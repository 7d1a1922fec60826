"""What parts of a wheel are worth with the pitches of a song, at every start at a time.

A part is a component: a channel of its own, or channels that a limit or a shared pitch joins. What it is worth depends
only on which pitches of the song it sounds, on its kind (holes, gaps, limits), and on the start; and a start matters
only up to the period of the hole grid, which is a plate where all plates are alike. So each part is solved once for
all transpositions that ask the same of it.

A channel of its own is solved exactly for all starts at once. Joined channels are first bounded for all starts at once:
without limits, or each strike by itself where pitches are shared. Where the bound keeps the limits it is the worth
itself; other starts are solved when they are asked for, group by group (see `groups.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, groupby, pairwise
from typing import NamedTuple, TypeAlias

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, among, distinct
from pegwright.fit.arrange import PRIORITY_WEIGHT, Choices, note_priorities, sound_keys
from pegwright.fit.assign import assign_apart
from pegwright.fit.coupled import components
from pegwright.fit.gaps import Gaps, gaps_of
from pegwright.fit.limits import Limit, limits_of, overfull
from pegwright.fit.quantise import Holes, Rim, Strikes, lay_out_lines, nearest, pairs_in_reach
from pegwright.fit.turn import Turn
from pegwright.grid import meant_grid
from pegwright.score import Score
from pegwright.search.choices import Worth
from pegwright.search.groups import Groups, Known, Patterns, patterns_of, renamed
from pegwright.search.prices import options_of, priced_at, rules_of
from pegwright.search.worths import placed_worths, worths_of
from pegwright.wheel import Wheel

Keys: TypeAlias = tuple[int, ...]  # of the song: a part's pitch or percussion key, see `Parts.key`
LaidOut: TypeAlias = dict[tuple[object, ...], Holes]  # by rim, lines and starts
Bound: TypeAlias = tuple[Worth, Ints]  # of strikes, and the start of each
Demand: TypeAlias = tuple[tuple[Choices, Keys], ...]  # sets of channels with the keys that they sound

MANY = 100  # strikes of a group; fewer are solved about as fast as they are priced
TOGETHER = 50_000  # strikes that are bounded in one pass; a bound on memory


class PartDemand(NamedTuple):
    """A part of the wheel and what it is asked to sound.

    Args:
        channels: of the wheel, those that sound something, in wheel order.
        gaps: least distances on each of them.
        limits: on strikes of several of them, channels by their places in `channels`.
        demand: likewise.
    """

    channels: list[int]
    gaps: Gaps
    limits: tuple[Limit, ...]
    demand: Demand

    @property
    def shared(self) -> bool:
        """Whether any key has more than one channel to choose from."""
        return any(len(choices) > 1 for choices, _ in self.demand)


class Parts:
    """The parts of a wheel and what they are worth with the pitches they sound.

    Args:
        score, wheel, options: as in a fit.
        turn: of those, starting at 0.
        steps: shape (starts,), the starts that differ, from 0 to below the period of the hole grid.
        laid_out: holes that were laid out for other turns of the song; those of this one are added.
    """

    def __init__(
        self, score: Score, wheel: Wheel, options: FitOptions, turn: Turn, steps: Ints, laid_out: LaidOut
    ) -> None:
        self.start_count = len(steps)
        self.limits = limits_of(wheel, turn)
        self.key = sound_keys(score)
        self._channel_count = len(wheel.channels)
        self.turn, self._gaps, self._grid = turn, gaps_of(wheel, turn), meant_grid(wheel)
        step_ticks = turn.turn_ticks // wheel.turn_steps
        self._start_ticks = [step * step_ticks for step in steps.tolist()]
        self._weight = PRIORITY_WEIGHT * note_priorities(score, options) + score.velocity
        self._done: dict[tuple[object, ...], WheelPart] = {}
        self._rim, self._laid_out = Rim.of(turn), laid_out
        self._kind_of, self._channel_of_kind = self._kinds()
        self._strikes_of: dict[Keys, tuple[Ints, Ints]] = {}
        self._onsets = distinct(turn.onset_ticks[turn.onset_ticks < turn.turn_ticks])
        self._patterns: dict[int, Patterns] = {}
        self._known: Known = {}

    def of(self, keys_of: dict[Choices, Keys]) -> list[WheelPart]:
        """The parts that sound something, given which keys each set of channels sounds; one for all that are alike."""
        component = components(self._channel_count, self.limits, list(keys_of)).tolist()
        by_component: dict[int, list[Choices]] = {}
        for choices in keys_of:
            by_component.setdefault(component[choices[0]], []).append(choices)
        demands = [
            self._demand_of(
                [channel for channel in range(self._channel_count) if component[channel] == head], keys_of, sets
            )
            for head, sets in by_component.items()
        ]
        wanted = [(self._likeness(part), part) for part in demands]
        new = {key: part for key, part in wanted if key not in self._done}
        for (key, part), bound in zip(new.items(), self.bounds(list(new.values())), strict=True):
            self._done[key] = WheelPart(self, part, bound)
        return [self._done[key] for key, _ in wanted]

    def _demand_of(self, channels: list[int], keys_of: dict[Choices, Keys], sets: list[Choices]) -> PartDemand:
        """What some channels are asked for."""
        sounding = sorted({channel for choices in sets for channel in choices})
        place = {channel: number for number, channel in enumerate(sounding)}
        limits = tuple(
            renamed(limit, place) for limit in self.limits if any(channel in channels for channel in limit.channels)
        )
        demand: Demand = tuple(sorted((tuple(place[on] for on in choices), keys_of[choices]) for choices in sets))
        return PartDemand(sounding, self._gaps.of(sounding), limits, demand)

    def _kinds(self) -> tuple[list[int], list[int]]:
        """A number for each channel of the wheel, equal where holes and gaps are, and the first channel of each."""
        gaps, numbers = self._gaps, dict[tuple[object, ...], int]()
        likeness = zip(
            map(id, self._grid.lines), (of.tobytes() for of in gaps.between), gaps.least.tolist(), strict=True
        )
        kind_of = [numbers.setdefault(like, len(numbers)) for like in likeness]
        return kind_of, [kind_of.index(kind) for kind in range(len(numbers))]

    def _likeness(self, part: PartDemand) -> tuple[object, ...]:
        """Equal for parts that are worth the same."""
        return tuple(self._kind_of[channel] for channel in part.channels), part.limits, part.demand

    def holes(self, channels: list[int], starts: list[int]) -> Holes:
        """The holes of some channels at some starts, start by start; laid out once for equal lines."""
        lines = [self._grid.lines[channel] for _ in starts for channel in channels]
        start_ticks = [self._start_ticks[start] for start in starts for _ in channels]
        key = (self._rim, *map(id, lines), *start_ticks)
        if key not in self._laid_out:
            self._laid_out[key] = lay_out_lines(lines, start_ticks, self._grid.resolution, self._rim)
        return self._laid_out[key]

    def strikes(self, demand: Demand, channel_count: int, starts: int) -> Strikes:
        """The strikes of keys within the turn, again for every start on channels of its own.

        Args:
            demand: sets of channels with the keys that they sound.
            channel_count: channels of the part.
            starts: number of starts.
        """
        columns = []
        for number, (_, keys) in enumerate(demand):
            onset, weight = self._struck(keys)
            columns.append((np.full(len(onset), number), onset, weight))
        choice, onset, weight = (np.concatenate(column) for column in zip(*columns, strict=True))
        start = np.repeat(np.arange(starts), len(choice))
        choice = start * len(demand) + np.tile(choice, starts)
        choices = tuple(
            tuple(number * channel_count + channel for channel in channels)
            for number in range(starts)
            for channels, _ in demand
        )
        first_channel = np.array([channels[0] for channels in choices], dtype=np.int64)[choice]
        nothing = np.full(len(choice), -1)
        return Strikes(
            nothing, first_channel, np.tile(onset, starts), np.tile(weight, starts), nothing, choice, choices
        )

    def _struck(self, keys: Keys) -> tuple[Ints, Ints]:
        """Onset and weight of each strike of some keys within the turn, the weight being the greatest of its notes."""
        if keys not in self._strikes_of:
            turn = self.turn
            here = among(self.key, keys) & (turn.onset_ticks < turn.turn_ticks)
            onset, weight = turn.onset_ticks[here], self._weight[here]
            order = np.lexsort([-weight, onset])
            onset, first = np.unique(onset[order], return_index=True)
            self._strikes_of[keys] = onset, weight[order][first]
        return self._strikes_of[keys]

    def bounds(self, demands: Sequence[PartDemand]) -> list[Bound]:
        """Of each part every strike at every start, start by start: its worth if settled, else bounds; its start.

        Parts without shared pitches are bounded many in one pass, since each takes little beside the pass itself.
        """
        strikes = [self.strikes(part.demand, len(part.channels), self.start_count) for part in demands]
        apart = [number for number, part in enumerate(demands) if not part.shared]
        up_to = accumulate(len(strikes[number].onset) for number in apart)
        bound_of: dict[int, Bound] = {}
        for _, together in groupby(zip(apart, up_to, strict=True), lambda of: of[1] // TOGETHER):
            numbers = [number for number, _ in together]
            bounds = self._bounds_apart(
                [demands[number] for number in numbers], [strikes[number] for number in numbers]
            )
            bound_of.update(zip(numbers, bounds, strict=True))
        return [
            bound_of[number] if number in bound_of else self._bound_shared(part, strikes[number])
            for number, part in enumerate(demands)
        ]

    def _bound_shared(self, part: PartDemand, strikes: Strikes) -> Bound:
        """The bound of a part where pitches are shared: each strike by itself."""
        holes = self.holes(part.channels, list(range(self.start_count)))
        chosen = nearest(pairs_in_reach(strikes, holes, self.turn))
        worth = placed_worths(strikes, holes, chosen, self.turn, np.zeros(len(chosen), dtype=bool))
        return worth, strikes.channel // len(part.channels)

    def _bounds_apart(self, demands: Sequence[PartDemand], strikes: Sequence[Strikes]) -> list[Bound]:
        """The bounds of parts without shared pitches: without their limits, and settled where that keeps them."""
        starts, kinds, turn = self.start_count, len(self._channel_of_kind), self.turn
        part = np.repeat(np.arange(len(demands)), [len(own.onset) for own in strikes])
        own, onset, weight = (
            np.concatenate([getattr(of, name) for of in strikes]) for name in ("channel", "onset", "weight")
        )
        width = np.array([len(of.channels) for of in demands], dtype=np.int64)
        before = np.cumsum(width) - width
        start, channel = np.divmod(own, width[part])
        kind_of = np.array([self._kind_of[channel] for of in demands for channel in of.channels], dtype=np.int64)
        kind, nothing = start * kinds + kind_of[before[part] + channel], np.full(len(own), -1)
        each = tuple((number,) for number in range(starts * kinds))
        together = Strikes(nothing, kind, onset, weight, nothing, kind, each, part)
        holes = self.holes(self._channel_of_kind, list(range(starts)))
        chosen = assign_apart(
            together, holes, self._gaps.of(self._channel_of_kind * starts), turn, before[part] * starts + own
        )
        settled = np.ones(len(chosen), dtype=bool)
        spans = [slice(*span) for span in pairwise([0, *accumulate(len(own.onset) for own in strikes)])]
        for of, span in zip(demands, spans, strict=True):
            for limit in of.limits:
                here = span.start + np.flatnonzero(chosen[span] >= 0)
                stand = channel[here], holes.position[chosen[here]], turn.turn_ticks, start[here]
                settled[here[overfull(limit, *stand)]] = False
        worth = placed_worths(together, holes, chosen, turn, settled)
        return [(worth.at(span), start[span]) for span in spans]

    def groups(self, channels: list[int], gaps: Gaps, limits: tuple[Limit, ...], strikes: Strikes) -> Groups:
        """The groups of a part with some channels.

        Args:
            channels: of the part.
            gaps: least distances on each of them.
            limits: on strikes of several of them.
            strikes: of the part at one start.
        """
        lines = [self._grid.lines[channel] for channel in channels]
        for line, channel in zip(lines, channels, strict=True):
            if id(line) not in self._patterns:
                holes = self.holes([channel], list(range(self.start_count)))
                self._patterns[id(line)] = patterns_of(self._onsets, self.start_count, holes, self.turn)
        kinds = [self._kind_of[channel] for channel in channels]
        patterns = [self._patterns[id(line)] for line in lines]
        onset = np.searchsorted(self._onsets, strikes.onset)
        return Groups(strikes, onset, patterns, kinds, gaps.greatest, limits, self.turn.turn_ticks, self._known)


class WheelPart:
    """Channels that do not depend on others, with what they are demands to sound."""

    def __init__(self, parts: Parts, demands: PartDemand, bound: Bound) -> None:
        self._parts, self._part_demand = parts, demands
        self._channels, self._gaps, self._limits, self._demand = demands
        self._groups: Groups | None = None
        self._priced: set[int] = set()  # starts
        worth, start = bound
        self.worth = worth.sums(start, parts.start_count)

    def tighten(self, start: int) -> int:
        """Lower the bounds of all starts by the prices of one, once; how many strikes that took.

        Nothing is done where it would take about as long to solve the start.
        """
        parts, count, groups = self._parts, len(self._channels), self._groups_of_part()
        which = np.flatnonzero(groups.unsettled(start)[groups.of_strike])
        if start in self._priced or np.bincount(groups.of_strike[which]).max(initial=0) < MANY:
            return 0
        self._priced.add(start)
        one = options_of(self._strikes().some(which), parts.holes(self._channels, [start]), count, parts.turn)
        holes = parts.holes(self._channels, list(range(parts.start_count)))
        everywhere = options_of(parts.strikes(self._demand, count, parts.start_count), holes, count, parts.turn)
        rules = rules_of(self._gaps, self._limits, parts.turn.turn_ticks)
        priced = priced_at(one, everywhere, rules, parts.turn.turn_ticks)
        room = np.bincount(groups.of_strike[which[priced.strike]], weights=priced.room, minlength=groups.count)
        starts, place = parts.start_count, self._place(groups)
        beyond = np.bincount(place, weights=priced.beyond, minlength=groups.count * starts).reshape(-1, starts)
        groups.tighten(*priced.split((beyond + room[:, None]).astype(np.int64)))
        self.worth = groups.worth()
        return len(which)

    def settle(self, start: int) -> int:
        """Solve one start exactly, and what of the others is alike; how many strikes that took."""
        parts, groups = self._parts, self._groups_of_part()
        which = np.flatnonzero(groups.unsettled(start)[groups.of_strike])
        if len(which):
            holes, strikes = parts.holes(self._channels, [start]), self._strikes().some(which)
            groups.settle(start, which, worths_of(strikes, holes, self._gaps, self._limits, parts.turn))
        self.worth = groups.worth()
        return len(which)

    def _strikes(self) -> Strikes:
        return self._parts.strikes(self._demand, len(self._channels), 1)

    def _groups_of_part(self) -> Groups:
        """The groups, each with its bounds."""
        if self._groups is None:
            groups = self._parts.groups(self._channels, self._gaps, self._limits, self._strikes())
            bounds = self._parts.bounds([self._part_demand])[0][0].sums(
                self._place(groups), groups.count * self._parts.start_count
            )
            alone = np.repeat(np.bincount(groups.of_strike, minlength=groups.count) == 1, self._parts.start_count)
            settled = bounds.settled | alone
            groups.begin(replace(bounds, settled=settled, proved=settled))
            self._groups = groups
        return self._groups

    def _place(self, groups: Groups) -> Ints:
        """Of every strike at every start, one start after another: its place in a column of groups times starts."""
        starts, of = self._parts.start_count, groups.of_strike
        place: Ints = np.tile(of, starts) * starts + np.repeat(np.arange(starts), len(of))
        return place
