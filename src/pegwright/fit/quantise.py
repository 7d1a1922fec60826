"""Scored notes against the grid: the strikes asked for, and the holes within reach of each.

Onsets mean what they say, so the comparison is exact: every distance is a whole number of ticks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints, firsts, frozen_ints, read_only
from pegwright.fit.arrange import Arrangement, Choices
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen
from pegwright.grid import HoleGrid, Line, Loss

NO_NOTE = -1


@frozen(eq=False)
class Strikes:
    """Strikes asked for within the turn, one for each onset and set of channels that can sound it; shape (s,).

    They are in order of turns, then of the sets, then of onsets; so those of a turn that have a single channel are in
    order of channel, then onset.

    Args:
        note: the note that stands for the strike: the heaviest, then the first.
        channel: the first that can sound that note.
        onset, weight: of that note, onset in ticks.
        unison: shape (n,), for every other note of a strike the note that stands for it, or -1.
        choice: which of `choices` can sound it.
        choices: sets of channels, each in wheel order.
        turn: which of several turns that are fitted together each is in; empty for the strikes of one turn.
    """

    note: Ints
    channel: Ints
    onset: Ints
    weight: Ints
    unison: Ints
    choice: Ints
    choices: tuple[Choices, ...]
    turn: Ints = field(default_factory=lambda: frozen_ints([]))

    @property
    def shared(self) -> bool:
        """Whether any strike has more than one channel to choose from."""
        return any(len(channels) > 1 for channels in self.choices)

    def channels_of_each(self) -> tuple[Ints, Ints]:
        """Every strike with every channel that can sound it, by strike, the channels of each in wheel order."""
        counts = np.array([len(channels) for channels in self.choices], dtype=np.int64)
        listed = np.array([channel for channels in self.choices for channel in channels], dtype=np.int64)
        width = counts[self.choice]
        strike = np.repeat(np.arange(len(width)), width)
        number = np.arange(len(strike)) - np.repeat(np.cumsum(width) - width, width)
        return strike, listed[(np.cumsum(counts) - counts)[self.choice[strike]] + number]

    def some(self, which: Ints | slice) -> Strikes:
        """Some of the strikes."""
        note, channel, onset = self.note[which], self.channel[which], self.onset[which]
        turn = self.turn[which] if len(self.turn) else self.turn
        return Strikes(note, channel, onset, self.weight[which], self.unison, self.choice[which], self.choices, turn)

    def later(self, ticks: int, turn_ticks: int) -> Strikes:
        """The strikes some ticks later on the turn."""
        return replace(self, onset=(self.onset + ticks) % turn_ticks)


def strikes_of(arrangement: Arrangement, turn: Turn, turn_of_note: Ints | None = None) -> Strikes:
    """Gather the notes that have a channel and begin within the turn into strikes.

    Args:
        arrangement: of the notes.
        turn: with their onsets.
        turn_of_note: shape (n,), rising, which of several turns each note is in; None for one turn.
    """
    several = turn_of_note is not None
    number = turn_of_note if turn_of_note is not None else np.zeros_like(turn.onset_ticks)
    note = np.flatnonzero((arrangement.channel >= 0) & (turn.onset_ticks < turn.turn_ticks))
    choices = sorted(set(arrangement.choices) - {()})
    numbers = {channels: number for number, channels in enumerate(choices)}
    choice = np.array([numbers.get(channels, -1) for channels in arrangement.choices], dtype=np.int64)[note]
    onset, weight, number = turn.onset_ticks[note], arrangement.weight[note], number[note]
    order = np.lexsort([note, -weight, onset, choice, number])
    note, choice, onset, weight, number = (column[order] for column in (note, choice, onset, weight, number))
    new = firsts(number, choice, onset)
    head = note[new]
    unison = np.full(len(turn.onset_ticks), NO_NOTE, dtype=np.int64)
    unison[note] = head[np.cumsum(new) - 1]
    unison[head] = NO_NOTE
    columns = head, arrangement.channel[head], onset[new], weight[new], unison, choice[new]
    note, channel, onset, weight, unison, choice = map(frozen_ints, columns)
    of = frozen_ints(number[new] if several else number[:0])
    return Strikes(note, channel, onset, weight, unison, choice, tuple(choices), of)


@frozen(eq=False)
class Holes:
    """Holes of every channel laid out from tick 0 of the song; those near either end stand a turn away too.

    So the holes within reach of any onset are neighbours in the list. A hole is listed once for each pin type that
    trips at a place of its own. Columns have shape (h,), in order of channel, then position, row and pin type.

    Args:
        key: rising through the whole list: position plus a stretch of its own for each channel.
        position: where its pin trips, in ticks from tick 0 of the song, from minus the reach to below a turn and
            the reach.
        channel, row: where it is.
        place: which hole of the channel's `Line` it is.
        pin: which of `Turn.pin_types` it is listed for, 0 being the plain one.
        past: shape (channels,), where the list of each channel ends.
        stretch_ticks, margin_ticks: key = channel * stretch + margin + position.
        pin_count: of `Turn.pin_types`.
    """

    key: Ints
    position: Ints
    channel: Ints
    row: Ints
    place: Ints
    pin: Ints
    past: Ints
    stretch_ticks: int
    margin_ticks: int
    pin_count: int

    def likeness(self, which: Ints) -> Ints:
        """What the pins of some of the holes are like: equal for one row and one of `Turn.pin_types`."""
        return self.row[which] * self.pin_count + self.pin[which]

    def before(self, channel: Ints, position: Ints) -> Ints:
        """How many holes of the list come before each position on its channel."""
        return np.searchsorted(self.key, channel * self.stretch_ticks + self.margin_ticks + position)

    def within(self, channel: Ints, onset: Ints, reach_ticks: int) -> tuple[Ints, Ints]:
        """The first hole within reach of each onset, and the first past it.

        Args:
            channel: shape (s,), of each onset.
            onset: shape (s,), in ticks.
            reach_ticks: how far a hole may be from it.
        """
        return self.before(channel, onset - reach_ticks), self.before(channel, onset + reach_ticks + 1)


class Rim(NamedTuple):
    """What of a `Turn` says where holes lie, whatever the song: equal for all turns of one song."""

    resolution: int
    turn_ticks: int
    reach_ticks: int
    offset_ticks: tuple[int, ...]
    overhanging: tuple[tuple[int, int, int], ...]

    @classmethod
    def of(cls, turn: Turn) -> Rim:
        """That of a turn."""
        return cls(
            turn.resolution, turn.turn_ticks, turn.reach_ticks, tuple(turn.offset_ticks.tolist()), turn.overhanging
        )


def lay_out(grid: HoleGrid, turn: Turn, with_lost: bool = False) -> Holes:
    """List the holes of a wheel from the song's start.

    Args:
        grid: the wheel's holes.
        turn: where the song starts, and how far ends are repeated.
        with_lost: whether lost holes are listed too.
    """
    return _laid_out(grid, turn.start_ticks, Rim.of(turn), with_lost)


@lru_cache(maxsize=4)  # the turns of a song are fitted one after another
def _laid_out(grid: HoleGrid, start_ticks: int, rim: Rim, with_lost: bool) -> Holes:
    return lay_out_lines(grid.lines, [start_ticks] * len(grid.lines), grid.resolution, rim, with_lost)


def lay_out_lines(
    lines: Sequence[Line], starts_ticks: Sequence[int], grid_resolution: int, rim: Rim, with_lost: bool = False
) -> Holes:
    """List the holes of channels of which each may have a start of its own.

    Args:
        lines: the holes of each channel.
        starts_ticks: where on the turn tick 0 of the song falls, for each channel.
        grid_resolution: units per quarter of the lines.
        rim: its length, and how far its ends are repeated.
        with_lost: whether lost holes are listed too.
    """
    scale = rim.resolution // grid_resolution
    columns = [
        _from_start(line, start_ticks, rim, scale, with_lost)
        for line, start_ticks in zip(lines, starts_ticks, strict=True)
    ]
    position, row, place, pin = map(np.concatenate, zip(*columns, strict=True))
    counts = [len(column) for column, *_ in columns]
    channel = np.repeat(np.arange(len(counts)), counts)
    margin = rim.reach_ticks
    stretch = rim.turn_ticks + 2 * margin + 1
    key = channel * stretch + margin + position
    key, position, channel, row, place, pin, past = map(
        read_only, (key, position, channel, row, place, pin, np.cumsum(counts))
    )
    return Holes(key, position, channel, row, place, pin, past, stretch, margin, len(rim.offset_ticks))


@lru_cache(maxsize=64)  # starts of one line, and channels with equal lines, come one after another
def once_round(line: Line, rim: Rim, scale: int, with_lost: bool = False) -> tuple[Ints, Ints, Ints, Ints]:
    """Position in the turn, row, place and pin of a channel's holes, in order of position, row and pin.

    Args:
        line: the holes of the channel.
        rim: the turn, and the pins there are.
        scale: ticks per unit of the line.
        with_lost: whether lost holes are among them, and pins that would reach over an edge.
    """
    place = np.arange(len(line.position)) if with_lost else np.flatnonzero(line.loss == Loss.NONE)
    types = len(rim.offset_ticks)
    pin, place = np.tile(np.arange(types), len(place)), np.repeat(place, types)
    if rim.overhanging and not with_lost:
        stands = ~_among(rim.overhanging, pin, line.row[place], line.index[place])
        pin, place = pin[stands], place[stands]
    position = (line.position[place] * scale + np.array(rim.offset_ticks)[pin]) % rim.turn_ticks
    order = np.lexsort([pin, line.row[place], position])
    return position[order], line.row[place[order]], place[order], pin[order]


def _among(listed: Sequence[tuple[int, int, int]], *columns: Ints) -> NDArray[np.bool_]:
    """Which rows of some columns are in a list."""
    among = set(listed)
    return np.array([row in among for row in zip(*(column.tolist() for column in columns), strict=True)], dtype=bool)


@lru_cache(maxsize=64)
def _from_start(line: Line, start_ticks: int, rim: Rim, scale: int, with_lost: bool) -> tuple[Ints, Ints, Ints, Ints]:
    """The same from the reach before a start to the reach past its turn; those near the start are listed twice.

    Args:
        line: the holes of a channel.
        start_ticks: on the turn, from 0 to below it.
        rim: its length, and how far its ends are repeated.
        scale: ticks per unit of the line.
        with_lost: whether lost holes are among them.

    Returns:
        Positions from the start, then rows, places and pins.
    """
    position, row, place, pin = once_round(line, rim, scale, with_lost)
    count, turn, reach = len(position), rim.turn_ticks, rim.reach_ticks
    ends = np.array([start_ticks - reach, start_ticks + turn + reach])  # the turns before and after lie beside it
    low, past = np.searchsorted(position, ends % turn) + ends // turn * count
    lap, which = np.divmod(np.arange(low, past), count)
    return position[which] + lap * turn - start_ticks, row[which], place[which], pin[which]


@frozen(eq=False)
class Pairs:
    """Every strike with every hole within its reach, by strike, then hole; columns of shape (p,).

    Args:
        first: shape (s + 1,), where the pairs of each strike begin, and the count at the end.
        strike, hole: indexes into the strikes and the list of holes.
        distance: ticks between the two, 0 and above.
        cost: what of that is beyond what counts as exact.
        odd: 1 for another pin than the plain one, else 0.
    """

    first: Ints
    strike: Ints
    hole: Ints
    distance: Ints
    cost: Ints
    odd: Ints


def pairs_of(onset: Ints, low: Ints, past: Ints, holes: Holes, tolerance_ticks: int) -> Pairs:
    """Write out the holes `low` to below `past` of each strike.

    Args:
        onset: shape (s,), in ticks.
        low: shape (s,), index of the first hole of each.
        past: shape (s,), index past the last hole of each.
        holes: those that exist.
        tolerance_ticks: a distance that counts as exact.
    """
    count = past - low
    first = np.concatenate([[0], np.cumsum(count)])
    strike = np.repeat(np.arange(len(count)), count)
    hole = np.arange(first[-1]) - first[strike] + low[strike]
    distance = np.abs(holes.position[hole] - onset[strike])
    odd = (holes.pin[hole] > 0).astype(np.int64)
    return Pairs(first, strike, hole, distance, np.maximum(distance - tolerance_ticks, 0), odd)


def pairs_in_reach(strikes: Strikes, holes: Holes, turn: Turn) -> Pairs:
    """Write out the holes within reach of each strike, those of its first channel first.

    Args:
        strikes: in order of their sets of channels, then onset.
        holes: those that exist.
        turn: reach and tolerance.
    """
    strike, channel = strikes.channels_of_each()
    onset = strikes.onset[strike]
    low, past = holes.within(channel, onset, turn.reach_ticks)
    pairs = pairs_of(onset, low, past, holes, turn.tolerance_ticks)
    first = pairs.first[np.searchsorted(strike, np.arange(len(strikes.onset) + 1))]
    return replace(pairs, first=first, strike=strike[pairs.strike])


def nearest(pairs: Pairs) -> Ints:
    """Shape (s,): the hole that each strike prefers, or -1 where none is within reach.

    That is the hole of least cost, of those one for a plain pin, of those the nearest, and then the first in the list.
    """
    chosen = np.full(len(pairs.first) - 1, -1, dtype=np.int64)
    some = np.flatnonzero(np.diff(pairs.first))
    if len(some):
        stretch = int(pairs.distance.max()) + 1
        rank = (2 * pairs.cost + pairs.odd) * stretch + pairs.distance
        least = np.minimum.reduceat(rank, pairs.first[some])
        equal = np.flatnonzero(rank == np.repeat(least, np.diff(pairs.first)[some]))
        strike, first = np.unique(pairs.strike[equal], return_index=True)
        chosen[strike] = pairs.hole[equal[first]]
    return chosen
