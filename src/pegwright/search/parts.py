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

from dataclasses import replace
from typing import TypeAlias

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
Demand: TypeAlias = tuple[tuple[Choices, Keys], ...]  # sets of channels with the keys that they sound

MANY = 100  # strikes of a group; fewer are solved about as fast as they are priced


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
        self._onsets = distinct(turn.onset_ticks[turn.onset_ticks < turn.turn_ticks])
        self._patterns: dict[int, Patterns] = {}
        self._kinds: dict[tuple[int, bytes, int], int] = {}
        self._known: Known = {}

    def of(self, keys_of: dict[Choices, Keys]) -> list[WheelPart]:
        """The parts that sound something, given which keys each set of channels sounds."""
        component = components(self._channel_count, self.limits, list(keys_of)).tolist()
        by_component: dict[int, list[Choices]] = {}
        for choices in keys_of:
            by_component.setdefault(component[choices[0]], []).append(choices)
        return [
            self._part([channel for channel in range(self._channel_count) if component[channel] == head], keys_of, sets)
            for head, sets in by_component.items()
        ]

    def _part(self, channels: list[int], keys_of: dict[Choices, Keys], sets: list[Choices]) -> WheelPart:
        """The part of some channels, one for all that are alike."""
        sounding = sorted({channel for choices in sets for channel in choices})
        place = {channel: number for number, channel in enumerate(sounding)}
        limits = tuple(
            renamed(limit, place) for limit in self.limits if any(channel in channels for channel in limit.channels)
        )
        demand: Demand = tuple(sorted((tuple(place[on] for on in choices), keys_of[choices]) for choices in sets))
        lines = [self._grid.lines[channel] for channel in sounding]
        gaps = self._gaps.of(sounding)
        key = (
            tuple(map(id, lines)),
            tuple(limits_of.tobytes() for limits_of in gaps.between),
            tuple(gaps.least.tolist()),
            limits,
            demand,
        )
        if key not in self._done:
            self._done[key] = WheelPart(self, sounding, gaps, limits, demand)
        return self._done[key]

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
        turn, columns = self.turn, []
        for number, (_, keys) in enumerate(demand):
            here = among(self.key, keys) & (turn.onset_ticks < turn.turn_ticks)
            onset, weight = turn.onset_ticks[here], self._weight[here]
            order = np.lexsort([-weight, onset])
            onset, first = np.unique(onset[order], return_index=True)
            columns.append((np.full(len(onset), number), onset, weight[order][first]))
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
        kinds = [
            self._kinds.setdefault((id(line), between.tobytes(), least), len(self._kinds))
            for line, between, least in zip(lines, gaps.between, gaps.least.tolist(), strict=True)
        ]
        patterns = [self._patterns[id(line)] for line in lines]
        onset = np.searchsorted(self._onsets, strikes.onset)
        return Groups(strikes, onset, patterns, kinds, gaps.greatest, limits, self.turn.turn_ticks, self._known)


class WheelPart:
    """Channels that do not depend on others, with what they are asked to sound."""

    def __init__(
        self, parts: Parts, channels: list[int], gaps: Gaps, limits: tuple[Limit, ...], demand: Demand
    ) -> None:
        self._parts, self._channels, self._gaps, self._limits, self._demand = parts, channels, gaps, limits, demand
        self._groups: Groups | None = None
        self._priced: set[int] = set()  # starts
        bound, start = self._bound()
        self.worth = bound.sums(start, parts.start_count)

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
            bounds = self._bound()[0].sums(self._place(groups), groups.count * self._parts.start_count)
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

    def _bound(self) -> tuple[Worth, Ints]:
        """Every strike at every start, one start after another: its worth if it is settled, else bounds; its start."""
        parts, count, starts = self._parts, len(self._channels), self._parts.start_count
        strikes = parts.strikes(self._demand, count, starts)
        holes = parts.holes(self._channels, list(range(starts)))
        start_of, channel_of = np.divmod(strikes.channel, count)
        if strikes.shared:
            chosen = nearest(pairs_in_reach(strikes, holes, parts.turn))
            return placed_worths(strikes, holes, chosen, parts.turn, np.zeros(len(chosen), dtype=bool)), start_of
        chosen = assign_apart(strikes, holes, self._gaps.of(list(range(count)) * starts), parts.turn)
        settled = np.ones(len(chosen), dtype=bool)
        for start in range(starts if self._limits else 0):
            here = np.flatnonzero((start_of == start) & (chosen >= 0))
            channel, position = channel_of[here], holes.position[chosen[here]]
            for limit in self._limits:
                settled[here[overfull(limit, channel, position, parts.turn.turn_ticks)]] = False
        return placed_worths(strikes, holes, chosen, parts.turn, settled), start_of
