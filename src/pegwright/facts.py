"""What follows from a wheel: how many holes, how fast it runs, what it can play, what its seams cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Ints, frozen_ints, tuples
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.grid import Loss, edges_mm, hole_grid
from pegwright.units import listed
from pegwright.wheel import Wheel

COMMON_METRES = ((2, 4), (3, 4), (4, 4), (5, 4), (2, 2), (3, 8), (6, 8), (9, 8), (12, 8))


@frozen(eq=False)
class HoleCount:
    """The holes of one set of plates that no seam or fault takes.

    Args:
        holes: shape (channels, plates, rows); rows as in `Wheel.rows`. Where sets differ, those that all have.
        lost_count: holes of the set that are lost.
        of_sets: holes in each set of plates that is owned.
    """

    holes: Ints
    lost_count: int
    of_sets: tuple[int, ...]

    @property
    def plate_sets(self) -> int:
        """Sets of plates owned."""
        return len(self.of_sets)

    @property
    def set_count(self) -> int:
        """Holes in a set of plates."""
        return int(self.holes.sum())

    @property
    def show_count(self) -> int:
        """Holes in all sets."""
        return sum(self.of_sets)


def count_holes(wheel: Wheel) -> HoleCount:
    """Count the holes of `wheel`."""
    holes = np.zeros((len(wheel.channels), wheel.plate_count, len(wheel.rows)), dtype=np.int64)
    lost_count = 0
    for channel, line in enumerate(hole_grid(wheel).lines):
        live = line.loss == Loss.NONE
        np.add.at(holes[channel], (line.plate[live], line.row[live]), 1)
        lost_count += int(np.count_nonzero(~live))
    return HoleCount(frozen_ints(holes), lost_count, _of_sets(wheel, int(holes.sum())))


def _of_sets(wheel: Wheel, every: int) -> tuple[int, ...]:
    """Holes in each set of plates, `every` being in all of them."""
    if not wheel.sets_differ:
        return (every,) * wheel.plate_sets
    wheels = map(wheel.of_set, range(wheel.plate_sets))
    return tuple(sum(int(np.count_nonzero(line.loss == Loss.NONE)) for line in hole_grid(one).lines) for one in wheels)


@frozen()
class Metre:
    """How bars of a metre fit the wheel.

    Args:
        beats, beat_type: such as 3 and 4.
        steps_per_bar: steps in a bar.
        places_per_bar: different places in time for a strike, over all rows, if no hole were lost.
        bars_per_turn, bars_per_plate: bars that a turn and a plate hold.
    """

    beats: int
    beat_type: int
    steps_per_bar: Fraction
    places_per_bar: Fraction
    bars_per_turn: Fraction
    bars_per_plate: Fraction


def metre_on(wheel: Wheel, beats: int, beat_type: int) -> Metre:
    """How bars of a metre fit a wheel.

    Args:
        wheel: the wheel.
        beats: of a bar, such as 3.
        beat_type: of the metre, such as 4.
    """
    bar_quarters = Fraction(4 * beats, beat_type)
    steps = bar_quarters / wheel.step_quarters
    places = {steps for row in wheel.rows for steps in row.positions_steps(wheel.steps_per_plate)}
    return Metre(
        beats=beats,
        beat_type=beat_type,
        steps_per_bar=steps,
        places_per_bar=steps * len(places) / wheel.steps_per_plate,
        bars_per_turn=wheel.turn_quarters / bar_quarters,
        bars_per_plate=wheel.steps_per_plate / steps,
    )


def length_keys(wheel: Wheel, names: Sequence[str]) -> list[str]:
    """Names of lengths, which end in `_mm`, as keys of the wheel file in the unit of the wheel."""
    return [f"{name.removesuffix('_mm')}_{wheel.unit}" for name in names]


def tempo_tenths(wheel: Wheel) -> tuple[int | None, int | None]:
    """The slowest and the fastest tempo at which a wheel can turn, in tenths of a quarter note a minute, within both.

    Each is None where the wheel file gives no bound.
    """
    at_a_second = 600 * wheel.turn_quarters  # a turn in a second
    slowest_s, fastest_s = wheel.slowest_turn_s, wheel.fastest_turn_s
    lowest = None if slowest_s is None else math.ceil(at_a_second / Fraction(slowest_s))
    return lowest, None if fastest_s is None else math.floor(at_a_second / Fraction(fastest_s))


def require_lengths(wheel: Wheel, names: Sequence[str], why: str) -> None:
    """Refuse a wheel on which something needs lengths that its file does not give.

    Args:
        wheel: the wheel.
        names: of lengths, with `_mm`.
        why: they are needed, in a sentence without a full stop.

    Raises:
        UsageError: some are not known.
    """
    lacking = [name for name in wheel.geometry.unknown if name in names]
    if lacking:
        keys = listed(length_keys(wheel, lacking))
        message = f"{why}; [geometry] does not give {keys}"
        raise UsageError(message, where=wheel.name, hint="measure and add them: docs/wheel-file.md")


def require_all_lengths(wheel: Wheel) -> None:
    """Refuse a wheel on which nothing can be pinned, for want of lengths that decide where pins can stand.

    Raises:
        UsageError: some are not known.
    """
    require_lengths(wheel, wheel.geometry.unchecked, "pin sheets need every length")


@frozen()
class Speed:
    """How the rim runs at a tempo.

    Args:
        quarters_per_minute: the tempo.
        turn_s: seconds a turn.
        rim_mm_per_s: surface speed of the rim.
        ms_per_mm: time that passes over a mm of rim.
        step_ms: time a step takes.
    """

    quarters_per_minute: float
    turn_s: float
    rim_mm_per_s: float
    ms_per_mm: float
    step_ms: float

    @property
    def turns_per_minute(self) -> float:
        """Revolutions of the wheel a minute."""
        return 60 / self.turn_s


def speed_at(wheel: Wheel, quarters_per_minute: float) -> Speed:
    """How the rim of `wheel` runs at a tempo in quarter notes a minute.

    Source: uniform circular motion, v = pi D / T.
    """
    turn_s = float(wheel.turn_quarters) * 60 / quarters_per_minute
    rim_mm_per_s = wheel.geometry.circumference_mm / turn_s
    return Speed(quarters_per_minute, turn_s, rim_mm_per_s, 1000 / rim_mm_per_s, turn_s * 1000 / wheel.turn_steps)


def pitch_channels(wheel: Wheel) -> dict[int, tuple[str, ...]]:
    """Names of the channels that sound each MIDI pitch, by ascending pitch."""
    pitches = sorted({pitch for channel in wheel.channels for pitch in channel.pitches})
    return {pitch: tuple(channel.name for channel in wheel.channels if pitch in channel.pitches) for pitch in pitches}


def drum_key_channels(wheel: Wheel) -> dict[int, tuple[str, ...]]:
    """Names of the channels that play each General MIDI percussion key, by ascending key."""
    keys = sorted({key for channel in wheel.channels for key in channel.drum_keys})
    return {key: tuple(channel.name for channel in wheel.channels if key in channel.drum_keys) for key in keys}


@frozen()
class LostGroup:
    """One hole of a row that is lost for one reason.

    Args:
        row, index: row as an index into `Wheel.rows`; hole in the row on a plate, 0-based.
        loss: why.
        edge_mm: from the hole's middle to the cut edge that takes it, below 0 beyond the edge; None if declared.
        needed_mm: the minimum that it would have to be; None if declared.
        plates: 0-based plates concerned.
        channel_count: channels concerned.
        lost_count: holes lost in a set of plates.
        plate_set: the only set that lacks them, 0-based; None where all do.
    """

    row: int
    index: int
    loss: Loss
    edge_mm: float | None
    needed_mm: float | None
    plates: tuple[int, ...]
    channel_count: int
    lost_count: int
    plate_set: int | None = None


def lost_groups(wheel: Wheel) -> tuple[LostGroup, ...]:
    """Every lost hole of a set of plates, grouped by row, index and reason; those of single sets come last."""
    if not wheel.sets_differ or wheel.plate_set is not None:
        return _groups(wheel, _lost_holes(wheel))
    of_all = _lost_holes(replace(wheel, lost=tuple(lost for lost in wheel.lost if lost.plate_set is None)))
    groups = list(_groups(wheel, of_all))
    for number in range(wheel.plate_sets):
        own = {place: loss for place, loss in _lost_holes(wheel.of_set(number)).items() if place not in of_all}
        groups += _groups(wheel, own, number)
    return tuple(groups)


_Places = dict[tuple[int, int, int, int], int]  # row, index, channel and plate of holes, with the loss of each


def _lost_holes(wheel: Wheel) -> _Places:
    places: _Places = {}
    for channel, line in enumerate(hole_grid(wheel).lines):
        gone = line.loss != Loss.NONE
        for row, index, plate, loss in tuples(line.row[gone], line.index[gone], line.plate[gone], line.loss[gone]):
            places[row, index, channel, plate] = loss
    return places


def _groups(wheel: Wheel, lost: _Places, plate_set: int | None = None) -> tuple[LostGroup, ...]:
    groups: dict[tuple[int, int, int], list[tuple[int, int]]] = {}
    for (row, index, channel, plate), loss in lost.items():
        groups.setdefault((row, index, loss), []).append((channel, plate))
    return tuple(replace(_lost_group(wheel, key, groups[key]), plate_set=plate_set) for key in sorted(groups))


def _lost_group(wheel: Wheel, key: tuple[int, int, int], holes: list[tuple[int, int]]) -> LostGroup:
    row, index, loss = key
    lead_mm, trail_mm = edges_mm(wheel, row, index)
    edge_mm = {Loss.LEAD_EDGE: lead_mm, Loss.TRAIL_EDGE: trail_mm}.get(Loss(loss))
    return LostGroup(
        row=row,
        index=index,
        loss=Loss(loss),
        edge_mm=edge_mm,
        needed_mm=None if edge_mm is None else wheel.geometry.edge_needed_mm,
        plates=tuple(sorted({plate for _, plate in holes})),
        channel_count=len({channel for channel, _ in holes}),
        lost_count=len(holes),
    )
