"""The outcome of every note: placed in a hole, or left out for one reason.

Notes in = placed + sounded by the pin of another note + left out, always.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from enum import IntEnum
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.frozen import frozen


class Outcome(IntEnum):
    """The outcome of a note: `PLACED`, or the one reason for which it was left out.

    >>> Outcome.LOST_AT_SEAM.words
    'lost at a seam'
    """

    PLACED = 0
    NO_CHANNEL = 1
    OFF_GRID = 2
    LOST_AT_SEAM = 3
    HOLE_USED = 4
    RESTRIKE = 5
    PINS_TOUCH = 6
    TOO_MANY = 7
    PAST_TURN = 8

    @property
    def words(self) -> str:
        """The outcome in the plain words that every output uses."""
        return _WORDS[self]


_WORDS = {
    Outcome.PLACED: "placed",
    Outcome.NO_CHANNEL: "no channel for this pitch",
    Outcome.OFF_GRID: "off the grid",
    Outcome.LOST_AT_SEAM: "lost at a seam",
    Outcome.HOLE_USED: "hole already used",
    Outcome.RESTRIKE: "re-strike too soon",
    Outcome.PINS_TOUCH: "pins would touch",
    Outcome.TOO_MANY: "too many at once",
    Outcome.PAST_TURN: "past the end of the turn",
}


class Status(IntEnum):
    """Whether the placement is proved to be the best one.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> fitted = fit_file(bundled_songs()[0], load_wheel(bundled_wheel()))
    >>> fitted.turns[0].placement.status == Status.OPTIMAL
    True
    """

    OPTIMAL = 0  # proved
    BOUNDED = 1  # the best found in the time allowed; `weight_bound` says how much better one could be


@frozen(eq=False)
class Placement:
    """The outcome of every note of a score on a wheel, for one turn.

    Notes keep the score's order; columns have shape (n,). Where a note is left out its hole
    columns are -1 and its deviations 0.

    Args:
        outcome: an `Outcome` value.
        channel: index into `Wheel.channels`; also given for a left-out note that has a channel: that of the
            nearest hole, lost only where no other is within reach, or the first where none is.
        plate, row, index: the hole: plate, row as an index into `Wheel.rows`, hole in row and plate.
        pin_type: index into `Wheel.pin_types`.
        deviation_ticks: hole minus note, at `resolution`; later is positive.
        deviation_ms: the same in ms at `us_per_quarter`; 0 where the deviation is no more than the
            score's tolerance, which counts as exact.
        unison: the note whose pin sounds this one too (same channel, same onset), or -1; such a
            note has outcome `HOLE_USED` if that note is placed.
        resolution: ticks per quarter of the computation: common to score and wheel.
        start_ticks: where on the turn tick 0 of the score falls, at `resolution`.
        transpose_semitones: added to every pitch that is not percussion.
        us_per_quarter: the one tempo at which the wheel turns.
        reach_ticks: how far a note was allowed to move, at `resolution`.
        score_sha256, wheel_sha256: what was fitted to what.
        weight, weight_bound: total weight placed, and what no placement can exceed.
        cost_ticks: total deviation beyond the score's tolerance.
        status: proved best, or bounded.
        fold_octaves: whether a pitch without a channel may sound some octaves away.
        part_priorities: part names with what they weigh; parts not named weigh 1.
        drum_keys: percussion keys with the keys used instead.
        part_channels: part names with the pattern of channel names that may sound them; parts not named may
            be sounded by every channel.
        channel_rule: `prefer` or `alternate`, for channels that share a pitch; `spread` in older maps.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> placement = fit_file(bundled_songs()[2], load_wheel(bundled_wheel())).turns[0].placement
    >>> placement.note_count == placement.sounding_count + placement.left_out_count
    True
    >>> (placement.outcome != Outcome.PLACED).nonzero()[0].tolist()
    [140]
    """

    outcome: Ints
    channel: Ints
    plate: Ints
    row: Ints
    index: Ints
    pin_type: Ints
    deviation_ticks: Ints
    deviation_ms: Floats
    unison: Ints
    resolution: int
    start_ticks: int
    transpose_semitones: int
    us_per_quarter: int
    reach_ticks: int
    score_sha256: str
    wheel_sha256: str
    weight: int
    weight_bound: int
    cost_ticks: int
    status: Status
    fold_octaves: bool = False
    part_priorities: tuple[tuple[str, int], ...] = ()
    drum_keys: tuple[tuple[int, int], ...] = ()
    part_channels: tuple[tuple[str, str], ...] = ()
    channel_rule: str = "prefer"

    @property
    def note_count(self) -> int:
        """Notes in."""
        return len(self.outcome)

    @property
    def placed_count(self) -> int:
        """Notes that have a pin of their own."""
        return int(np.count_nonzero(self.outcome == Outcome.PLACED))

    @property
    def sounding_count(self) -> int:
        """Notes that a pin sounds, their own or a shared one."""
        return int(np.count_nonzero(self.sounding))

    @property
    def left_out_count(self) -> int:
        """Notes that no pin sounds."""
        return self.note_count - self.sounding_count

    @property
    def shared(self) -> NDArray[np.bool_]:
        """Shape (n,): whether a note has no pin of its own, but another note's pin sounds it too."""
        sounded: NDArray[np.bool_] = (self.outcome == Outcome.HOLE_USED) & (self.unison >= 0)
        sounded[sounded] = self.outcome[self.unison[sounded]] == Outcome.PLACED
        return sounded

    @property
    def sounded_by(self) -> Ints:
        """Shape (n,): the note whose pin sounds each, itself where it shares none."""
        return frozen_ints(np.where(self.shared, self.unison, np.arange(self.note_count)))

    @property
    def sounding(self) -> NDArray[np.bool_]:
        """Shape (n,): whether a pin sounds each note, its own or one that it shares."""
        sounded: NDArray[np.bool_] = (self.outcome == Outcome.PLACED) | self.shared
        return sounded


def joined_placements(placements: Sequence[Placement]) -> Placement:
    """The outcome of every note of a song from the placements of its turns, holes as on the plates of each turn.

    Args:
        placements: in playing order, at least one, all with the same options.
    """
    first = placements[0]
    if len(placements) == 1:
        return first
    before = [0, *accumulate(placement.note_count for placement in placements)]
    unison = [
        np.where(placement.unison >= 0, placement.unison + offset, -1)
        for placement, offset in zip(placements, before, strict=False)
    ]
    columns = ("outcome", "channel", "plate", "row", "index", "pin_type", "deviation_ticks")
    parts = {name: [getattr(placement, name) for placement in placements] for name in columns} | {"unison": unison}
    joined: dict[str, Any] = {name: frozen_ints(np.concatenate(of_turns)) for name, of_turns in parts.items()}
    return replace(
        first,
        **joined,
        deviation_ms=frozen_floats(np.concatenate([placement.deviation_ms for placement in placements])),
        weight=sum(placement.weight for placement in placements),
        weight_bound=sum(placement.weight_bound for placement in placements),
        cost_ticks=sum(placement.cost_ticks for placement in placements),
        status=max(placement.status for placement in placements),
    )


@frozen(eq=False)
class PinMap:
    """The pins of one set of plates, ordered by channel, then place in the turn; columns of shape (p,).

    Args:
        title: of the song.
        wheel_name: for headings.
        channel, plate, row, index, pin_type: the hole and the pin, as in `Placement`.
        note: which note of the score the pin sounds, or -1 where that is not known.
        us_per_quarter: the tempo the song was fitted at; 0 where it is not known.
        score_sha256, wheel_sha256: what was fitted to what.
        plate_set: the set of plates, 0-based, whose holes the pins are in; None if they are in holes of every set.

    >>> import numpy as np
    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel
    >>> pins = fit_file(bundled_songs()[2], load_wheel(bundled_wheel())).turns[0].pins
    >>> np.bincount(pins.plate).tolist()  # pins on each plate
    [34, 39, 34, 33, 32, 31]
    """

    title: str
    wheel_name: str
    channel: Ints
    plate: Ints
    row: Ints
    index: Ints
    pin_type: Ints
    note: Ints
    us_per_quarter: int
    score_sha256: str
    wheel_sha256: str
    plate_set: int | None = None

    @property
    def pin_count(self) -> int:
        """Pins in all."""
        return len(self.channel)


def pin_map_sha256(pins: PinMap) -> str:
    """The hash that names a pinning: equal for equal pins in equal holes, whatever the song is called.

    It is taken over ASCII text: the line `pegwright pins 1`, then for each pin, in rising order, a
    line `channel plate row hole type` of numbers that count from 1; every line ends with a line feed.

    Returns:
        64 hex digits.
    """
    columns = np.stack([pins.channel, pins.plate, pins.row, pins.index, pins.pin_type], axis=1) + 1
    lines = (" ".join(map(str, pin)) + "\n" for pin in sorted(columns.tolist()))
    return hashlib.sha256(("pegwright pins 1\n" + "".join(lines)).encode("ascii")).hexdigest()
