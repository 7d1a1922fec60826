"""Songs longer than a turn: which set of plates carries which pinning when, and the running order.

A song of several turns has a pinning for each turn; turns with equal pins share one. A pinning is named by
a letter, so that "A A B A" is a song of four turns with two pinnings.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.units import plural

_NEVER = 1 << 60


@frozen()
class PlateUse:
    """The use of a set of plates for one pinning during some turns of a song.

    Args:
        pinning: index among the pinnings of the song.
        slot: which of the sets that the song takes, in the order in which it takes them.
        first_turn, last_turn: the first and the last turn for which it is on the wheel, 0-based, passes counted.
    """

    pinning: int
    slot: int
    first_turn: int
    last_turn: int


@frozen()
class Turns:
    """How one song runs through its pinnings and sets of plates.

    Args:
        running: the pinning of each turn of one pass.
        times: passes.
        uses: by first turn.
        played: for each turn of all passes, the index of its use.
    """

    running: tuple[int, ...]
    times: int
    uses: tuple[PlateUse, ...]
    played: tuple[int, ...]

    @property
    def slot_count(self) -> int:
        """Sets of plates that the song takes."""
        return 1 + max(use.slot for use in self.uses)

    @property
    def pinning_count(self) -> int:
        """Different pinnings: the sets of plates it would take without any swap while it plays."""
        return len(set(self.running))

    @property
    def swaps_within(self) -> int:
        """Sets that must be pinned anew while the song plays."""
        return len(self.uses) - self.slot_count

    @property
    def changes_within(self) -> int:
        """How often the set on the wheel is changed while the song plays."""
        return sum(one != other for one, other in zip(self.played, self.played[1:], strict=False))

    def of_slot(self, slot: int) -> tuple[int, ...]:
        """The pinnings that a slot carries one after another."""
        return tuple(use.pinning for use in self.uses if use.slot == slot)

    def freed(self) -> tuple[int, ...]:
        """The slots in the order in which they come free."""
        last = {use.slot: use.last_turn for use in self.uses}
        return tuple(sorted(last, key=lambda slot: last[slot]))


def turns_of(running: Sequence[int], times: int, sets: int) -> Turns:
    """Assign sets of plates to the turns of a song, with the minimum of pinning while it plays.

    Where the song has more pinnings than there are sets, the set that is needed again last is pinned
    anew; the set on the wheel only if there is no other. Of sets that are not needed again, the one
    that has been off the wheel the longest.

    Args:
        running: the pinning of each turn of one pass, as `running_order` numbers them.
        times: how often the song is played through.
        sets: sets of plates owned.

    Source: L. A. Belady, A study of replacement algorithms for a virtual-storage computer, IBM
        Systems Journal 5 (1966) 78-101 (from memory): what is needed last is replaced.
    """
    if not running or times < 1 or sets < 1:
        raise UsageError("a song needs at least one turn, one pass and one set of plates", where="turns")
    sequence = list(running) * times
    wanted: dict[int, list[int]] = {}
    for turn, pinning in enumerate(sequence):
        wanted.setdefault(pinning, []).append(turn)
    uses: list[list[int]] = []  # pinning, slot, first turn, last turn
    carried: list[int] = []  # for each slot the use that it carries
    played: list[int] = []
    for turn, pinning in enumerate(sequence):
        slot = next((slot for slot, use in enumerate(carried) if uses[use][0] == pinning), None)
        if slot is None:
            slot = len(carried) if len(carried) < sets else _slot_to_pin(uses, carried, wanted, turn)
            carried[slot : slot + 1] = [len(uses)]
            uses.append([pinning, slot, turn, turn])
        uses[carried[slot]][3] = turn
        played.append(carried[slot])
    return Turns(tuple(running), times, tuple(PlateUse(*use) for use in uses), tuple(played))


def sets_short_words(pinning_count: int, swaps_within: int, plate_sets: int) -> str:
    """`needs 9 sets of plates and 3 are owned: 6 sets must be pinned anew while it plays`.

    Args:
        pinning_count: different pinnings of a song.
        swaps_within: sets that are pinned anew while it plays, at least one.
        plate_sets: sets of plates owned.
    """
    owned = f"{plate_sets} {'is' if plate_sets == 1 else 'are'} owned"
    needed, swaps = plural(pinning_count, "set"), plural(swaps_within, "set")
    return f"needs {needed} of plates and {owned}: {swaps} must be pinned anew while it plays"


def sets_taken(songs: Sequence[Turns], plate_sets: int) -> tuple[tuple[int, ...], ...]:
    """For each song in playing order the sets of plates that its slots take: those free the longest.

    Where every song takes one set, song number i takes set number i modulo the sets.
    """
    queue = list(range(plate_sets))
    by_song = []
    for turns in songs:
        taken = tuple(queue[: turns.slot_count])
        queue = queue[turns.slot_count :] + [taken[slot] for slot in turns.freed()]
        by_song.append(taken)
    return tuple(by_song)


def _slot_to_pin(uses: list[list[int]], carried: list[int], wanted: dict[int, list[int]], turn: int) -> int:
    def next_need(slot: int) -> int:
        ahead = wanted[uses[carried[slot]][0]]
        place = bisect_right(ahead, turn)
        return ahead[place] if place < len(ahead) else _NEVER

    on_wheel = next(slot for slot, use in enumerate(carried) if uses[use][3] == turn - 1)
    others = [slot for slot in range(len(carried)) if slot != on_wheel]
    return max(others or [on_wheel], key=lambda slot: (next_need(slot), -uses[carried[slot]][3]))
