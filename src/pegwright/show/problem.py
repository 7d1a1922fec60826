"""What is to be planned: the songs of a show with every start they may have, and what the work costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

from pegwright.columns import Floats, frozen_floats
from pegwright.show.chain import Chain
from pegwright.show.time import SongTime, Timetable, WorkTimes, timetable
from pegwright.show.turns import Turns, sets_taken
from pegwright.show.work import Works


@dataclass(frozen=True)
class ShowSong:
    """One song of the show.

    Args:
        turns: how it runs through its pinnings.
        time: how long it takes.
        pinnings: for each of its pinnings its number in `Problem.works`.
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


@dataclass(frozen=True, eq=False)
class Problem:
    """A show to be planned.

    Args:
        songs: in the order of the song set.
        works: what swaps cost, over all pinnings of all songs and what the sets carry at the beginning.
        carried: for each set of plates what it carries at the beginning, numbered as in `works`; one start each.
        times: how long the work takes.
        first, last: the song that must open the show and the one that must close it, or None.
    """

    songs: tuple[ShowSong, ...]
    works: Works
    carried: tuple[int, ...]
    times: WorkTimes
    first: int | None = None
    last: int | None = None

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
        """The order of the song set, but for songs whose place is bound."""
        fixed = self.fixed_places()
        others = iter(song for song in range(len(self.songs)) if song not in fixed.values())
        return tuple(fixed[place] if place in fixed else next(others) for place in range(len(self.songs)))

    def timetable(self, order: Sequence[int]) -> Timetable:
        """The clock of the show in a playing order."""
        played = [(self.songs[song].turns, self.songs[song].time) for song in order]
        return timetable(played, self.plate_sets, self.times.change_s)

    def chains(self, order: Sequence[int]) -> tuple[Chain, ...]:
        """What each set of plates carries in a playing order."""
        if not self.one_set_each:
            return self._chains_of_slots(order)
        units = [self.songs[song].units[0] for song in order]
        return tuple(
            Chain(first, tuple(chain.from_iterable(units[plate_set :: self.plate_sets])))
            for plate_set, first in enumerate(self.carried)
        )

    def _chains_of_slots(self, order: Sequence[int]) -> tuple[Chain, ...]:
        carries: list[list[int]] = [[] for _ in self.carried]
        songs = [self.songs[song] for song in order]
        for song, taken in zip(songs, sets_taken([song.turns for song in songs], self.plate_sets), strict=True):
            for slot, plate_set in enumerate(taken):
                carries[plate_set] += song.units[slot]
        return tuple(Chain(first, tuple(pinnings)) for first, pinnings in zip(self.carried, carries, strict=True))

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
