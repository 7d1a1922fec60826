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
from itertools import accumulate, groupby, pairwise, starmap
from typing import NamedTuple, TypeAlias

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints, among, distinct
from pegwright.fit.arrange import PRIORITY_WEIGHT, Choices, note_priorities, sound_keys
from pegwright.fit.coupled import components
from pegwright.fit.gaps import Gaps, gaps_of
from pegwright.fit.limits import Limit, limits_of, overfull
from pegwright.fit.quantise import Holes, Rim, Strikes, lay_out_lines, nearest, pairs_in_reach
from pegwright.fit.turn import Turn
from pegwright.grid import meant_grid
from pegwright.score import Score
from pegwright.search.choices import Worth
from pegwright.search.every_start import at_every_start
from pegwright.search.groups import Groups, Known, OnTurn, Patterns, patterns_of, renamed
from pegwright.search.prices import options_of, priced_at, rules_of
from pegwright.search.worths import placed_worths, worths_of
from pegwright.wheel import Wheel

Keys: TypeAlias = tuple[int, ...]  # of the song: a part's pitch or percussion key, see `Parts.key`
LaidOut: TypeAlias = dict[tuple[object, ...], Holes]  # by rim, lines and starts
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
        self._start_ticks = steps * step_ticks
        self._weight = PRIORITY_WEIGHT * note_priorities(score, options) + score.velocity
        self._done: dict[tuple[object, ...], WheelPart] = {}
        self._rim, self._laid_out = Rim.of(turn), laid_out
        self._kind_of, self._channel_of_kind = self._kinds()
        self._struck_by: dict[Keys, tuple[Ints, Ints]] = {}
        onsets = distinct(turn.onset_ticks[turn.onset_ticks < turn.turn_ticks])
        self._on_turn = OnTurn.of(onsets, self._start_ticks, turn.turn_ticks)
        self._patterns_of: dict[int, Patterns] = {}
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

    def _kinds(self) -> tuple[Ints, list[int]]:
        """A number for each channel of the wheel, equal where holes and gaps are, and the first channel of each."""
        gaps, numbers = self._gaps, dict[tuple[object, ...], int]()
        likeness = zip(
            map(id, self._grid.lines), (of.tobytes() for of in gaps.between), gaps.least.tolist(), strict=True
        )
        kind_of = [numbers.setdefault(like, len(numbers)) for like in likeness]
        return np.array(kind_of), [kind_of.index(kind) for kind in range(len(numbers))]

    def _likeness(self, part: PartDemand) -> tuple[object, ...]:
        """Equal for parts that are worth the same."""
        return tuple(self._kind_of[part.channels].tolist()), part.limits, part.demand

    def holes(self, channels: list[int], starts: list[int]) -> Holes:
        """The holes of some channels at some starts, start by start; laid out once for equal lines."""
        lines = [self._grid.lines[channel] for _ in starts for channel in channels]
        start_ticks = np.repeat(self._start_ticks[starts], len(channels)).tolist()
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
        if keys not in self._struck_by:
            turn = self.turn
            here = among(self.key, keys) & (turn.onset_ticks < turn.turn_ticks)
            onset, weight = turn.onset_ticks[here], self._weight[here]
            order = np.lexsort([-weight, onset])
            onset, first = np.unique(onset[order], return_index=True)
            self._struck_by[keys] = onset, weight[order][first]
        return self._struck_by[keys]

    def bounds(self, demands: Sequence[PartDemand]) -> list[Worth]:
        """Of each part every strike at every start, shape (s, starts): its worth if it is settled, else bounds.

        Parts without shared pitches are bounded many in one pass, since each takes little beside the pass itself.
        """
        bound_of = {number: self._bound_shared(part) for number, part in enumerate(demands) if part.shared}
        strikes = {
            number: self.strikes(part.demand, len(part.channels), 1)
            for number, part in enumerate(demands)
            if not part.shared
        }
        up_to = accumulate(len(own.onset) * self.start_count for own in strikes.values())
        for _, together in groupby(zip(strikes, up_to, strict=True), lambda of: of[1] // TOGETHER):
            numbers = [number for number, _ in together]
            bounds = self._bounds_apart(
                [demands[number] for number in numbers], [strikes[number] for number in numbers]
            )
            bound_of.update(zip(numbers, bounds, strict=True))
        return [bound_of[number] for number in range(len(demands))]

    def _bound_shared(self, part: PartDemand) -> Worth:
        """The bound of a part where pitches are shared: each strike by itself."""
        strikes = self.strikes(part.demand, len(part.channels), self.start_count)
        holes = self.holes(part.channels, list(range(self.start_count)))
        chosen = nearest(pairs_in_reach(strikes, holes, self.turn))
        worth = placed_worths(strikes, holes, chosen, self.turn, np.zeros(len(chosen), dtype=bool))
        return Worth(*(column.reshape(self.start_count, -1).T for column in worth.columns))

    def _bounds_apart(self, demands: Sequence[PartDemand], strikes: Sequence[Strikes]) -> list[Worth]:
        """The bounds of parts without shared pitches: without their limits, and settled where that keeps them."""
        ends = list(accumulate((len(own.onset) for own in strikes), initial=0))
        width = [len(of.channels) for of in demands]
        before = np.repeat(list(accumulate(width, initial=0))[:-1], np.diff(ends))
        channel, onset, weight = (
            np.concatenate([getattr(own, name) for own in strikes]) for name in ("channel", "onset", "weight")
        )
        lane, nothing = before + channel, np.full(len(onset), -1)
        on = np.array([channel for of in demands for channel in of.channels], dtype=np.int64)[lane]
        kind = self._kind_of[on]
        each = tuple((number,) for number in range(len(self._channel_of_kind)))
        everywhere = at_every_start(
            Strikes(nothing, kind, onset, weight, nothing, kind, each),
            lane,
            self._met(on, onset),
            self.holes(self._channel_of_kind, [0]),
            self._gaps.of(self._channel_of_kind),
            self._start_ticks,
            self.turn,
        )
        settled = np.ones(everywhere.placed.shape, dtype=bool)
        spans = list(starmap(slice, pairwise(ends)))
        for of, span in zip(demands, spans, strict=True):
            number, start = np.nonzero(everywhere.placed[span])
            for limit in of.limits:
                stand = channel[span][number], everywhere.position[span][number, start], self.turn.turn_ticks, start
                full = overfull(limit, *stand)
                settled[span][number[full], start[full]] = False
        worth = replace(everywhere.worth, settled=settled, proved=settled)
        return [Worth(*(column[span] for column in worth.columns)) for span in spans]

    def _met(self, channel: Ints, onset: Ints) -> Ints:
        """Shape (s, starts): numbers that are equal where a strike meets the same holes.

        Args:
            channel: of the wheel, of each strike.
            onset: of each strike, in ticks.
        """
        at = np.searchsorted(self._on_turn.onsets, onset)
        number = np.empty((len(onset), self.start_count), dtype=np.int64)
        for on in distinct(channel).tolist():
            own = np.flatnonzero(channel == on)
            number[own] = self._patterns(on).number[:, at[own]].T
        return number

    def _patterns(self, channel: int) -> Patterns:
        """What every onset meets on a channel's line of holes."""
        line = id(self._grid.lines[channel])
        if line not in self._patterns_of:
            self._patterns_of[line] = patterns_of(self._on_turn, self.holes([channel], [0]), self.turn)
        return self._patterns_of[line]

    def groups(self, channels: list[int], gaps: Gaps, limits: tuple[Limit, ...], strikes: Strikes) -> Groups:
        """The groups of a part with some channels.

        Args:
            channels: of the part.
            gaps: least distances on each of them.
            limits: on strikes of several of them.
            strikes: of the part at one start.
        """
        kinds = self._kind_of[channels].tolist()
        patterns = [self._patterns(channel) for channel in channels]
        onset = np.searchsorted(self._on_turn.onsets, strikes.onset)
        return Groups(strikes, onset, patterns, kinds, gaps.greatest, limits, self.turn.turn_ticks, self._known)


class WheelPart:
    """Channels that do not depend on others, with what they are asked to sound."""

    def __init__(self, parts: Parts, own: PartDemand, bound: Worth) -> None:
        self._parts, self._own = parts, own
        self._channels, self._gaps, self._limits, self._demand = own
        self._groups: Groups | None = None
        self._priced: set[int] = set()  # starts
        self.worth = bound.total()

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
            starts = self._parts.start_count
            place = groups.of_strike[:, None] * starts + np.arange(starts)
            bounds = self._parts.bounds([self._own])[0].sums(place, groups.count * starts)
            alone = np.repeat(np.bincount(groups.of_strike, minlength=groups.count) == 1, starts)
            settled = bounds.settled | alone
            groups.begin(replace(bounds, settled=settled, proved=settled))
            self._groups = groups
        return self._groups

    def _place(self, groups: Groups) -> Ints:
        """Of every strike at every start, one start after another: its place in a column of groups times starts."""
        starts, of = self._parts.start_count, groups.of_strike
        place: Ints = np.tile(of, starts) * starts + np.repeat(np.arange(starts), len(of))
        return place
