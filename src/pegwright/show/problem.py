"""What is to be planned: the songs of a show with every start they may have, and what the work costs.

The wheel does not stop between the turns of a song, so the step on which a song begins is the same for all its turns:
every pinning of a song has the same list of starts, and a plan takes one index into it for the whole song.

A *visit* is what one song puts on one set of plates, one pinning after another, and a *strand* is a row of visits that
follow each other on the same plates. In general each set of plates is a strand, and a song of several sets couples
strands. Where every song takes one set, strands are independent; where every song takes all sets, the show is a single
strand and a visit is a whole song.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, pairwise

import numpy as np

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.errors import InternalError
from pegwright.frozen import frozen
from pegwright.show.time import SongTime, Timetable, WorkTimes, timetable
from pegwright.show.turns import Turns, sets_taken
from pegwright.show.work import Works


@dataclass(frozen=True)
class ShowSong:
    """One song of the show.

    Args:
        turns: how it runs through its pinnings.
        time: how long it takes.
        pinnings: for each of its pinnings its number in `Problem.works`; all have the same list of starts.
    """

    turns: Turns
    time: SongTime
    pinnings: tuple[int, ...]

    def of_use(self, use: int) -> int:
        """The pinning of one of its uses, numbered as in `Problem.works`."""
        return self.pinnings[self.turns.uses[use].pinning]

    @cached_property
    def units(self) -> tuple[tuple[int, ...], ...]:
        """For each of its slots what it carries one after another, numbered as in `Problem.works`."""
        return tuple(
            tuple(self.pinnings[pinning] for pinning in self.turns.of_slot(slot))
            for slot in range(self.turns.slot_count)
        )


@frozen()
class Chain:
    """What one set of plates carries in a show.

    Args:
        carried: the pinning it carries at the beginning, or empty plates; it has one start.
        pinnings: those of the songs, in order.
    """

    carried: int
    pinnings: tuple[int, ...]


@frozen()
class Visit:
    """What one song puts on a strand.

    Args:
        song: its number.
        slots: the slots of the song that the strand holds, one slot or all of them.
    """

    song: int
    slots: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Problem:
    """A show to be planned.

    Args:
        songs: in the order of the song set.
        works: what swaps cost, over all pinnings of all songs and what the sets carry at the beginning.
        carried: for each set of plates what it carries at the beginning, numbered as in `works`; one start each.
        times: how long the work takes.
        first, last: the song that must open the show and the one that must close it, or None.
        equal_starts: for each song how many starts it could have, of which `works` may hold some only; empty if it
            holds all.
    """

    songs: tuple[ShowSong, ...]
    works: Works
    carried: tuple[int, ...]
    times: WorkTimes
    first: int | None = None
    last: int | None = None
    equal_starts: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for number, song in enumerate(self.songs):
            counts = [self.works.starts(pinning) for pinning in song.pinnings]
            if len(set(counts)) > 1:
                raise InternalError(
                    f"the pinnings of song {number} have {counts} starts, not equally many", where="plan"
                )

    @cached_property
    def one_set_each(self) -> bool:
        """Whether every song takes one set of plates."""
        return all(song.turns.slot_count == 1 for song in self.songs)

    @property
    def plate_sets(self) -> int:
        """Sets of plates owned."""
        return len(self.carried)

    def fixed_places(self) -> dict[int, int]:
        """Places in the playing order that are bound to a song."""
        ends = {0: self.first, len(self.songs) - 1: self.last}
        return {place: song for place, song in ends.items() if song is not None}

    def first_order(self) -> tuple[int, ...]:
        """The order of the song set, except for songs whose place is bound."""
        fixed = self.fixed_places()
        others = iter(song for song in range(len(self.songs)) if song not in fixed.values())
        return tuple(fixed[place] if place in fixed else next(others) for place in range(len(self.songs)))

    def timetable(self, order: Sequence[int]) -> Timetable:
        """The clock of the show in a playing order."""
        played = [(self.songs[song].turns, self.songs[song].time) for song in order]
        return timetable(played, self.plate_sets, self.times.change_s)

    def chains(self, order: Sequence[int]) -> tuple[Chain, ...]:
        """What each set of plates carries in a playing order."""
        return tuple(
            Chain(first, tuple(chain.from_iterable(self.songs[song].units[slot] for song, slot in taken)))
            for first, taken in zip(self.carried, self._slots_by_set(order), strict=True)
        )

    def starts(self, song: int) -> int:
        """How many starts a song has."""
        return self.works.starts(self.songs[song].pinnings[0])

    @property
    def starts_tried(self) -> int:
        """Starts of all songs together."""
        return sum(map(self.starts, range(len(self.songs))))

    @cached_property
    def independent(self) -> int | None:
        """How many independent strands there are, place p being on strand p modulo that; None if songs couple them."""
        if self.one_set_each:
            return self.plate_sets
        return 1 if all(song.turns.slot_count == self.plate_sets for song in self.songs) else None

    @property
    def strand_count(self) -> int:
        """Strands of a show."""
        return self.independent or self.plate_sets

    @cached_property
    def visits(self) -> tuple[Visit, ...]:
        """All visits: one for each song where strands are independent, else one for each slot of each song."""
        slots = [range(song.turns.slot_count) for song in self.songs]
        if self.independent:
            return tuple(Visit(song, tuple(taken)) for song, taken in enumerate(slots))
        return tuple(Visit(song, (slot,)) for song, taken in enumerate(slots) for slot in taken)

    def strands(self, order: Sequence[int]) -> tuple[tuple[int, ...], ...]:
        """The visits of each strand in a playing order, by their numbers."""
        if self.independent:
            return tuple(tuple(order[strand :: self.independent]) for strand in range(self.independent))
        firsts = self.first_visits
        return tuple(tuple(firsts[song] + slot for song, slot in taken) for taken in self._slots_by_set(order))

    def begin(self, strand: int, visit: int) -> Ints:
        """Work before the show for a visit that comes first on a strand, by the start of its song, shape (starts,)."""
        first = self.visits[visit]
        units = self.songs[first.song].units
        sets = zip(self.carried[strand:], first.slots, strict=False)
        return self._added([self.works.between(carried, units[slot][0])[0] for carried, slot in sets])

    def link(self, old: int, new: int) -> Ints:
        """Work from one visit to the next on the same plates, by the starts of both songs, shape (starts, starts)."""
        if (old, new) not in self._links:
            before, after = self.visits[old], self.visits[new]
            olds, news = self.songs[before.song], self.songs[after.song]
            freed = [slot for slot in olds.turns.freed() if slot in before.slots]
            pairs = zip(freed, after.slots, strict=True)
            works = [self.works.between(olds.units[one][-1], news.units[other][0]) for one, other in pairs]
            self._links[old, new] = self._added(works)
        return self._links[old, new]

    def within(self, visit: int) -> Ints:
        """Work on the plates of a visit while its song plays, by the start of the song, shape (starts,)."""
        if visit not in self._within:
            song, slots = self.visits[visit].song, self.visits[visit].slots
            units = [self.songs[song].units[slot] for slot in slots]
            pairs = [pair for unit in units for pair in pairwise(unit)]
            works = [np.diagonal(self.works.between(old, new)) for old, new in pairs]
            self._within[visit] = self._added([np.zeros(self.starts(song), dtype=np.int64), *works])
        return self._within[visit]

    @cached_property
    def within_songs(self) -> tuple[Ints, ...]:
        """For each song the same over all its visits."""
        mine: list[list[Ints]] = [[] for _ in self.songs]
        for number, visit in enumerate(self.visits):
            mine[visit.song].append(self.within(number))
        return tuple(map(self._added, mine))

    @cached_property
    def weight(self) -> int:
        """More than all work before the show: work during the show is multiplied by it, so that it counts first."""
        max_pins = max(int(self.works.pins(pinning).max()) for song in self.songs for pinning in song.pinnings)
        return 1 + sum(int(self.works.pins(carried)[0]) + max_pins for carried in self.carried)

    def _slots_by_set(self, order: Sequence[int]) -> list[list[tuple[int, int]]]:
        """For each set of plates the songs and slots that it serves one after another."""
        served: list[list[tuple[int, int]]] = [[] for _ in self.carried]
        for song, taken in zip(
            order, sets_taken([self.songs[song].turns for song in order], self.plate_sets), strict=True
        ):
            for slot, plate_set in enumerate(taken):
                served[plate_set].append((song, slot))
        return served

    @staticmethod
    def _added(works: Sequence[Ints]) -> Ints:
        return works[0] if len(works) == 1 else frozen_ints(np.sum(works, axis=0))

    @cached_property
    def first_visits(self) -> dict[int, int]:
        """The number of the first visit of each song."""
        return {visit.song: number for number, visit in reversed(list(enumerate(self.visits)))}

    @cached_property
    def _links(self) -> dict[tuple[int, int], Ints]:
        return {}

    @cached_property
    def _within(self) -> dict[int, Ints]:
        return {}

    def needed_s(self, old: int, new: int) -> Floats:
        """Seconds of work from each start of one pinning to each of another, shape (starts, starts)."""
        if (old, new) not in self._needed_s:
            self._needed_s[old, new] = self._seconds(old, new)
        return self._needed_s[old, new]

    @cached_property
    def _needed_s(self) -> dict[tuple[int, int], Floats]:
        return {}

    def _seconds(self, old: int, new: int) -> Floats:
        work = self.works.between(old, new)
        more = self.works.pins(new)[None, :] - self.works.pins(old)[:, None]
        pulled = (work - more) // 2  # pulled + set = work, and set - pulled = what the new one has more
        return frozen_floats(self.times.needed_s(pulled, work - pulled))
