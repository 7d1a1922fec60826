"""The clock of a show: when each set of plates is free for the next song, and whether that leaves enough time.

This is no musical time: minutes of people's work are compared with minutes of playing.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from typing import TypeVar

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.show.turns import Turns, sets_taken

Count = TypeVar("Count", float, "Ints | Floats")


@frozen()
class WorkTimes:
    """How long the work takes.

    Args:
        pull_s, set_s: seconds to pull a pin and to set one, the hole being found.
        find_s: seconds to find the right hole, for each pin moved.
        rest_percent: added to all of these.
        people: how many pin at the same time; the work is assumed to be shared evenly.
        change_s: seconds to take a set of plates off the wheel and put the next one on, the wheel stopped and locked.
    """

    pull_s: float
    set_s: float
    find_s: float = 0.0
    rest_percent: float = 0.0
    people: int = 1
    change_s: float = 0.0

    def needed_s(self, pulled: Count, set_count: Count) -> Count:
        """Seconds to pull and set the given counts of pins; numbers, or columns of equal shape."""
        alone_s = pulled * (self.pull_s + self.find_s) + set_count * (self.set_s + self.find_s)
        return alone_s * (1 + self.rest_percent / 100) / self.people


@frozen()
class SongTime:
    """How long a song takes.

    Args:
        turn_s: a turn of the wheel at the song's tempo.
        last_turn_s: what the song needs of its last turn.
        talk_s: talk and applause after it.
    """

    turn_s: float
    last_turn_s: float
    talk_s: float = 0.0


@frozen()
class Carried:
    """One pinning on one set of plates for some time during a show.

    Args:
        place: of the song in the playing order.
        use: which of `Turns.uses` of that song.
        plate_set: the set of plates.
        before: number of what the set carried before, among all of them; None if it is pinned before the show.
        first_s, last_s: seconds from the start of the show, when its first turn begins and its last one ends.
        free_s, due_s: when the set is free to be pinned and when it must be ready, on a clock that stands while
            sets are changed on the wheel; minus infinity and 0 if it is pinned before the show.
    """

    place: int
    use: int
    plate_set: int
    before: int | None
    first_s: float
    last_s: float
    free_s: float
    due_s: float

    @property
    def available_s(self) -> float:
        """Seconds there are for pinning it."""
        return max(0.0, self.due_s - self.free_s)


@frozen()
class Timetable:
    """A show against the clock.

    Args:
        carried: by the time each is first on the wheel.
        song_start_s, song_end_s: of each song in playing order.
        waits_s: after each song, how long the audience waits beyond the talk, because changing sets takes longer.
    """

    carried: tuple[Carried, ...]
    song_start_s: tuple[float, ...]
    song_end_s: tuple[float, ...]
    waits_s: tuple[float, ...]


def timetable(songs: Sequence[tuple[Turns, SongTime]], plate_sets: int, change_s: float = 0.0) -> Timetable:
    """Play songs in the order given, each on the sets that have been free the longest.

    Args:
        songs: in playing order.
        plate_sets: sets of plates owned.
        change_s: seconds to change the set on the wheel.
    """
    taken = sets_taken([turns for turns, _ in songs], plate_sets)
    latest: dict[int, int] = {}  # set: number of what it carries
    carried: list[Carried] = []
    mounted_s: list[float] = []  # when each set put on the wheel begins to turn
    starts, ends, waits = [], [], []
    clock_s = 0.0
    for place, (turns, time) in enumerate(songs):
        if place:
            gap_s = songs[place - 1][1].talk_s
            waits.append(max(0.0, change_s - gap_s))
            clock_s += max(gap_s, change_s)
        starts.append(clock_s)
        spans, mounts, clock_s = _play(turns, time, clock_s, change_s)
        mounted_s += mounts
        for number, (use, (first_s, last_s)) in enumerate(zip(turns.uses, spans, strict=True)):
            plate_set = taken[place][use.slot]
            before = latest.get(plate_set)
            free_s = -math.inf if before is None else _work_time(carried[before].last_s, mounted_s, change_s)
            due_s = 0.0 if before is None else _work_time(first_s, mounted_s, change_s)
            latest[plate_set] = len(carried)
            carried.append(Carried(place, number, plate_set, before, first_s, last_s, free_s, due_s))
        ends.append(clock_s)
    return Timetable(tuple(carried), tuple(starts), tuple(ends), tuple(waits))


def _play(
    turns: Turns, time: SongTime, clock_s: float, change_s: float
) -> tuple[list[tuple[float, float]], list[float], float]:
    """When each use is first and last on the wheel, when sets were put on, and when the song ends."""
    begins_s, ends_s, mounts_s = [], [], []
    for turn, use in enumerate(turns.played):
        if turn == 0 or use != turns.played[turn - 1]:
            clock_s += change_s if turn else 0.0
            mounts_s.append(clock_s)
        begins_s.append(clock_s)
        clock_s += time.turn_s if turn + 1 < len(turns.played) else time.last_turn_s
        ends_s.append(clock_s)
    return [(begins_s[use.first_turn], ends_s[use.last_turn]) for use in turns.uses], mounts_s, clock_s


def _work_time(clock_s: float, mounted_s: Sequence[float], change_s: float) -> float:
    """Time up to a moment, without the time spent on changing the set on the wheel."""
    if not change_s:
        return clock_s
    past = bisect_left(mounted_s, clock_s)  # sets that turned before this moment
    busy_s = (past - 1) * change_s  # the first was put on before the show
    if past < len(mounted_s):
        busy_s += max(0.0, clock_s - (mounted_s[past] - change_s))
    return clock_s - busy_s


def late_s(carried: Sequence[Carried], needed_s: Sequence[float]) -> tuple[float, ...]:
    """How long the show waits for each set, if the same people pin one after another what is needed next.

    A wait puts off all that comes after it.

    Args:
        carried: as in `Timetable`.
        needed_s: seconds of work for each; what is done before the show is never late.
    """
    waits: list[float] = []
    done_s = -math.inf
    for stint, work_s in zip(carried, needed_s, strict=True):
        if stint.before is None:
            waits.append(0.0)
            continue
        put_off_s = sum(
            wait_s for earlier, wait_s in zip(carried, waits, strict=False) if earlier.due_s <= stint.free_s
        )
        done_s = max(done_s, stint.free_s + put_off_s) + work_s
        waits.append(max(0.0, done_s - (stint.due_s + sum(waits))))
    return tuple(waits)


def hurry(needed_s: float, available_s: float) -> float:
    """What share of the available time the work needs: above 1 it does not fit."""
    if needed_s == 0 or math.isinf(available_s):
        return 0.0
    return needed_s / available_s if available_s > 0 else math.inf
