"""The strikes of joined channels in groups that cannot bear on one another, whatever the start.

At another start the same strikes meet other holes, but not many other ones: rows repeat after a step or two, and only
seams and lost holes break that. So a group meets the same holes, seen from its notes, at many starts, and is
worth the same there. What it meets is its pattern: for each strike and channel the holes within reach, by how far
each is from the note, its row and its pin type. A pattern that is solved once is known for every start, and for every
transposition in which the same strikes fall on channels alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from pegwright.columns import Ints, distinct
from pegwright.fit.caps import Joined
from pegwright.fit.limits import Limit
from pegwright.fit.quantise import Holes, Strikes
from pegwright.fit.turn import Turn
from pegwright.frozen import frozen
from pegwright.search.choices import Truths, Worth

Solved: TypeAlias = tuple[Any, ...]  # a value for each column of `Worth`
Known: TypeAlias = dict[tuple[object, bytes], Solved]  # by group and pattern

NEVER = 2**40  # ticks: no hole within reach at any start


@frozen(eq=False)
class Patterns:
    """What every onset of a song meets on one line of holes.

    Args:
        number: shape (starts, onsets), equal where the holes within reach are, seen from the onset.
        holes: of each pattern.
        earliest, latest: shape (onsets,), the places of the first and the last hole within reach at any start.
    """

    number: Ints
    holes: list[frozenset[int]]
    earliest: Ints
    latest: Ints


class OnTurn(NamedTuple):
    """Where the onsets of a song fall at all its starts.

    Args:
        onsets: each once.
        place: the places, each once, in ticks of the turn from the first of the starts.
        which: shape (starts, onsets), which of the places each has.
    """

    onsets: Ints
    place: Ints
    which: Ints

    @classmethod
    def of(cls, onsets: Ints, start_ticks: Ints, turn_ticks: int) -> OnTurn:
        """Those of onsets.

        Args:
            onsets: each once.
            start_ticks: shape (starts,), where on the turn tick 0 of the song falls.
            turn_ticks: once round.
        """
        on_turn = (onsets + (start_ticks - start_ticks[0])[:, None]) % turn_ticks
        place = distinct(on_turn.ravel())
        return cls(onsets, place, np.searchsorted(place, on_turn))


def patterns_of(at: OnTurn, holes: Holes, turn: Turn) -> Patterns:
    """The patterns of a line.

    Args:
        at: where onsets fall.
        holes: of the line alone, for the first of the starts.
        turn: reach and length of the turn.
    """
    onsets, place, which = at
    low, past = holes.within(np.zeros_like(place), place, turn.reach_ticks)
    reach = np.arange(int((past - low).max(initial=0)))
    hole = low[:, None] + reach
    there = hole < past[:, None]
    hole = np.where(there, hole, 0)
    away = holes.position[hole] - place[:, None]
    row_count, pin_count = int(holes.row.max(initial=0)) + 1, int(holes.pin.max(initial=0)) + 1
    code = ((away + turn.reach_ticks) * row_count + holes.row[hole]) * pin_count + holes.pin[hole]
    met, number = np.unique(np.where(there, code, -1), axis=0, return_inverse=True)
    earliest = np.where(there, away, NEVER).min(axis=1, initial=NEVER)
    latest = np.where(there, away, -NEVER).max(axis=1, initial=-NEVER)
    return Patterns(
        number=number.reshape(-1)[which],
        holes=[frozenset(holes) - {-1} for holes in met.tolist()],
        earliest=onsets + earliest[which].min(axis=0, initial=NEVER),
        latest=onsets + latest[which].max(axis=0, initial=-NEVER),
    )


class Groups:
    """The groups of a part and what is known of them.

    Args:
        strikes: of the part at one start, in order of their sets of channels, then onset.
        onset: shape (s,), which of the onsets of the patterns each strike has.
        patterns: of each channel.
        kinds: of each channel: equal where holes and gaps are.
        clear: shape (channels,), the distance from which on pins of a channel do not bear on one another.
        limits: on strikes of several channels.
        turn_ticks: once round.
        known: what has been solved, to be looked up and added to.
    """

    def __init__(
        self,
        strikes: Strikes,
        onset: Ints,
        patterns: Sequence[Patterns],
        kinds: Sequence[int],
        clear: Ints,
        limits: Sequence[Limit],
        turn_ticks: int,
        known: Known,
    ) -> None:
        self._known = known
        strike, channel = strikes.channels_of_each()
        at = onset[strike]
        number = np.empty((len(patterns[0].number), len(strike)), dtype=np.int64)
        earliest, latest = np.empty_like(strike), np.empty_like(strike)
        for place, pattern in enumerate(patterns):
            own = np.flatnonzero(channel == place)
            number[:, own] = pattern.number[:, at[own]]
            earliest[own], latest[own] = pattern.earliest[at[own]], pattern.latest[at[own]]
        self.of_strike = _group_numbers(strike, channel, earliest, latest, clear, limits, turn_ticks)
        self.count = int(self.of_strike.max(initial=-1)) + 1
        self._patterns = patterns
        self._lay_out(strikes, strike, channel, kinds, limits, number)

    def _lay_out(
        self, strikes: Strikes, strike: Ints, channel: Ints, kinds: Sequence[int], limits: Sequence[Limit], number: Ints
    ) -> None:
        """Number the patterns of each group: shape (groups, starts)."""
        order = np.argsort(self.of_strike[strike], kind="stable")
        strike, channel, number = strike[order], channel[order], number[:, order]
        ends = np.searchsorted(self.of_strike[strike], np.arange(self.count + 1)).tolist()
        numbers: dict[tuple[int, bytes], int] = {}
        self._key: list[tuple[object, bytes]] = []
        self._cell = np.empty((self.count, len(number)), dtype=np.int64)
        self._cells: list[range] = []
        self._met: list[list[frozenset[int]]] = []
        for group, (start, stop) in enumerate(pairwise(ends)):
            members = strike[start:stop]
            onset, weight = strikes.onset[members], strikes.weight[members]
            names = {on: place for place, on in enumerate(dict.fromkeys(channel[start:stop].tolist()))}
            layout = (
                (onset - onset.min()).tobytes(),
                weight.tobytes(),
                (members - members[0]).tobytes(),
                tuple(names[on] for on in channel[start:stop].tolist()),
                tuple(kinds[on] for on in names),
                tuple(renamed(limit, names) for limit in limits),
            )
            before = len(self._key)
            for place, row in enumerate(number[:, start:stop]):
                pattern = row.tobytes()
                cell = numbers.setdefault((group, pattern), len(numbers))
                self._cell[group, place] = cell
                if cell == len(self._key):
                    self._key.append((layout, pattern))
                    met = zip(channel[start:stop].tolist(), row.tolist(), strict=True)
                    self._met.append([self._patterns[on].holes[which] for on, which in met])
            self._cells.append(range(before, len(self._key)))

    def begin(self, bounds: Worth) -> None:
        """Start from bounds, or from what is settled: shape (groups x starts,)."""
        count = len(self._key)
        nothing, false = np.zeros((3, count), dtype=np.int64), np.zeros((2, count), dtype=bool)
        self._worth = Worth(*nothing, *false)
        for column, values in zip(self._worth.columns, bounds.columns, strict=True):
            column[self._cell] = values.reshape(self._cell.shape)
        for group, cells in enumerate(self._cells):
            for cell in cells:
                if not self._worth.settled[cell] and self._key[cell] in self._known:
                    self._write(group, cell, self._known[self._key[cell]])

    def tighten(self, weight: Ints, cost_ticks: Ints) -> None:
        """Lower the bounds of what is not settled.

        Args:
            weight: shape (groups, starts), what cannot be exceeded.
            cost_ticks: the same; what it cannot be less than with that weight.
        """
        cell, known = self._cell, self._worth
        lower = (weight < known.weight[cell]) | ((weight == known.weight[cell]) & (cost_ticks > known.cost_ticks[cell]))
        lower &= ~known.settled[cell]
        known.weight[cell[lower]], known.cost_ticks[cell[lower]] = weight[lower], cost_ticks[lower]

    def unsettled(self, start: int) -> Truths:
        """Shape (groups,): which are to be solved at a start."""
        open_ones: Truths = ~self._worth.settled[self._cell[:, start]]
        return open_ones

    def settle(self, start: int, which: Ints, worths: Worth) -> None:
        """Write down what was solved at a start.

        Args:
            start: which.
            which: the strikes that were solved, all those of the unsettled groups.
            worths: what they are worth.
        """
        solved = worths.sums(self.of_strike[which], self.count)
        for group in distinct(self.of_strike[which]).tolist():
            cell = int(self._cell[group, start])
            self._known[self._key[cell]] = tuple(column[group].item() for column in solved.columns)
            self._write(group, cell, self._known[self._key[cell]])

    def _write(self, group: int, cell: int, solved: Solved) -> None:
        """Settle a pattern of a group. One that has some of its holes and no others cannot be worth more."""
        for column, value in zip(self._worth.columns, solved, strict=True):
            column[cell] = value
        known, (weight, cost, *_, proved) = self._worth, solved
        for other in self._cells[group] if proved else ():
            better = (-known.weight[other], known.cost_ticks[other]) < (-weight, cost)
            if better and not known.settled[other] and all(map(frozenset.issubset, self._met[other], self._met[cell])):
                known.weight[other], known.cost_ticks[other] = weight, cost

    def worth(self) -> Worth:
        """What the groups are worth together at every start."""
        return self._worth.at(self._cell).total()


def renamed(limit: Limit, names: Mapping[int, int]) -> Limit:
    """A limit on those of its channels that have a name, by their names."""
    own = (names[channel] for channel in limit.channels if channel in names)
    return Limit(tuple(sorted(own)), limit.most, limit.window_ticks)


def _group_numbers(
    strike: Ints, channel: Ints, earliest: Ints, latest: Ints, clear: Ints, limits: Sequence[Limit], turn_ticks: int
) -> Ints:
    """Shape (strikes,): the group of each, from 0."""
    ever = np.flatnonzero(latest > -NEVER // 2)
    joined = Joined(int(strike.max(initial=-1)) + 1)
    runs = [(ever[channel[ever] == on], int(clear[on])) for on in distinct(channel[ever]).tolist()]
    runs += [(ever[np.isin(channel[ever], limit.channels)], limit.window_ticks) for limit in limits]
    for own, distance in runs:
        for one, other in _near(strike[own], earliest[own], latest[own], distance, turn_ticks):
            joined.join(one, other)
    heads = [joined.head(number) for number in range(int(strike.max(initial=-1)) + 1)]
    return np.unique(np.array(heads, dtype=np.int64), return_inverse=True)[1]


def _near(strike: Ints, earliest: Ints, latest: Ints, distance: int, turn_ticks: int) -> list[tuple[int, int]]:
    """Strikes to be joined, so that those not joined have all their holes so far from one another, round the turn."""
    if len(strike) < 2:
        return []
    order = np.argsort(earliest, kind="stable")
    strike, earliest, latest = strike[order], earliest[order], np.maximum.accumulate(latest[order])
    near = np.flatnonzero(earliest[1:] - latest[:-1] < distance)
    wrapped = strike[earliest + turn_ticks - latest[-1] < distance]
    last = int(strike[-1])
    return [
        *zip(strike[near].tolist(), strike[near + 1].tolist(), strict=True),
        *((number, last) for number in wrapped.tolist()),
    ]
