"""What is checked, with all that follows from it by arithmetic and that several rules need."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pegwright.check.columns import Bools, Ints
from pegwright.check.sentences import each
from pegwright.check.wheel import HoleTable, PinOffsets, held_ticks, hole_table, pin_offsets, sounding_kinds
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.wheel import StrikeLimit, Wheel


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """A wheel at a tempo, in whole ticks: what the rules of pins need that hold without a score.

    Args:
        wheel: see there.
        resolution: ticks per quarter.
        us_per_quarter: the tempo.
        turn_ticks: once round.
        holes: of the wheel.
        offsets: of the wheel's pin types.
    """

    wheel: Wheel
    resolution: int
    us_per_quarter: int
    turn_ticks: int
    holes: HoleTable
    offsets: PinOffsets


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A placement with its score and wheel; all ticks are at the placement's resolution.

    Args:
        score, wheel, placement: see there.
        tolerance_ticks: the score's own rounding.
        onset_ticks: shape (n,).
        weight: shape (n,), what each note adds to the weight placed.
        placed: shape (p,), numbers of the notes that have a pin.
        sounds: shape (channels, n), whether a channel may sound a note.
        kind: shape (n,), equal for notes that the same channels may sound.
        rim: the wheel at the placement's tempo and resolution.
    """

    score: Score
    wheel: Wheel
    placement: Placement
    tolerance_ticks: int
    onset_ticks: Ints
    weight: Ints
    placed: Ints
    sounds: Bools
    kind: Ints
    rim: Rim

    @property
    def turn_ticks(self) -> int:
        """Once round."""
        return self.rim.turn_ticks

    @property
    def holes(self) -> HoleTable:
        """Of the wheel."""
        return self.rim.holes

    @property
    def offsets(self) -> PinOffsets:
        """Of the wheel's pin types."""
        return self.rim.offsets

    def each(self, broken: Bools, what: str) -> Iterator[str]:
        """A sentence for each note of the score that breaks a rule."""
        return each(self.score, broken, what)

    def each_of(self, notes: Ints, broken: Bools, what: str) -> Iterator[str]:
        """A sentence for each of some notes that breaks a rule.

        Args:
            notes: shape (m,), numbers of the notes.
            broken: shape (m,), whether each breaks the rule.
            what: the end of the sentence.
        """
        of_all = np.zeros(self.score.note_count, dtype=bool)
        of_all[notes] = broken
        return each(self.score, of_all, what)


@dataclass(frozen=True, slots=True, eq=False)
class CheckedPins:
    """Pins in holes; columns of shape (p,).

    Args:
        note: numbers of the notes that they begin; of a pin map without its score, those of the pins.
        channel, pin_type: see `Placement`.
        hole: place in the hole table.
        position_ticks: where in the turn the pin trips.
        collar_ticks: where in the turn the middle of its collar is.
    """

    note: Ints
    channel: Ints
    pin_type: Ints
    hole: Ints
    position_ticks: Ints
    collar_ticks: Ints


def subject_of(score: Score, wheel: Wheel, placement: Placement) -> Subject:
    """Compute what several rules need.

    Args:
        score: what was fitted.
        wheel: what it was fitted to.
        placement: with columns that fit (see `shape`).
    """
    scale = placement.resolution // score.resolution
    priority, (sounds, kind) = _priority(score, placement), _sounding(score, wheel, placement)
    return Subject(
        score=score,
        wheel=wheel,
        placement=placement,
        tolerance_ticks=score.tolerance_ticks * scale,
        onset_ticks=score.onset_ticks * scale,
        weight=128 * priority + score.velocity,
        placed=np.flatnonzero(placement.outcome == Outcome.PLACED),
        sounds=sounds,
        kind=kind,
        rim=rim_of(wheel, placement.resolution, placement.us_per_quarter),
    )


def rim_of(wheel: Wheel, resolution: int, us_per_quarter: int) -> Rim:
    """A wheel in whole ticks.

    Args:
        wheel: the wheel.
        resolution: ticks per quarter, at which every hole is a whole number of them.
        us_per_quarter: the tempo.
    """
    turn_ticks = int(wheel.turn_quarters * resolution)
    holes, offsets = hole_table(wheel, resolution), pin_offsets(wheel, turn_ticks)
    return Rim(wheel, resolution, us_per_quarter, turn_ticks, holes, offsets)


def pins_of(subject: Subject) -> CheckedPins:
    """Where the pins are; every one must be in a hole (see `holes`)."""
    placement, placed = subject.placement, subject.placed
    hole = subject.holes.numbers[placement.row[placed], placement.plate[placed], placement.index[placed]]
    return standing_pins(subject.rim, placed, placement.channel[placed], placement.pin_type[placed], hole)


def standing_pins(rim: Rim, note: Ints, channel: Ints, pin_type: Ints, hole: Ints) -> CheckedPins:
    """Pins with the places at which they trip.

    Args:
        rim: what they are set on.
        note: shape (p,); this and the other columns are those of `CheckedPins`.
        channel: shape (p,).
        pin_type: shape (p,).
        hole: shape (p,).
    """
    middle = rim.holes.position[hole]
    position = (middle + rim.offsets.whole_ticks[pin_type]) % rim.turn_ticks
    collar = (middle + rim.offsets.collar_ticks[pin_type]) % rim.turn_ticks
    return CheckedPins(note, channel, pin_type, hole, position, collar)


def too_soon(rim: Rim, channel: Ints, apart_ticks: Ints) -> Bools:
    """Whether two strikes of a channel, `apart_ticks` apart, are too near in time once a single pin has let go.

    Args:
        rim: see there.
        channel: shape (m,).
        apart_ticks: shape (m,), from 0.

    Returns:
        Shape (m,).
    """
    restrike_us = np.array([round(one.restrike_ms * 1000) for one in rim.wheel.channels], dtype=np.int64)
    needed = restrike_us[channel] * rim.resolution
    free = apart_ticks - held_ticks(rim.wheel, rim.turn_ticks)[channel]
    enough = -(-needed // rim.us_per_quarter)  # of ticks: a product with a slow tempo could exceed 64 bits
    return np.asarray((apart_ticks == 0) | (free < enough), dtype=bool)


def limited(wheel: Wheel, limit: StrikeLimit, channel: Ints) -> Bools:
    """Whether a limit counts each channel of a column.

    Args:
        wheel: with the channels.
        limit: on some of them.
        channel: shape (m,).
    """
    return np.array([one.name in limit.channels for one in wheel.channels], dtype=bool)[channel]


def within(rim: Rim, limit: StrikeLimit, apart_ticks: Ints) -> Bools:
    """Whether strikes `apart_ticks` apart are within one window of a limit, whose end is not counted.

    Args:
        rim: for its tempo and resolution.
        limit: with the window.
        apart_ticks: shape (m,), from 0.
    """
    window = round(limit.window_ms * 1000) * rim.resolution
    enough = -(-window // rim.us_per_quarter)  # of ticks, as above
    return np.asarray((apart_ticks == 0) | (apart_ticks < enough), dtype=bool)


def _priority(score: Score, placement: Placement) -> Ints:
    """The priority of each note's part, shape (n,)."""
    given = dict(placement.part_priorities)
    parts, part = np.unique(score.part, return_inverse=True)  # a turn may have notes of few of very many
    return np.array([given.get(score.parts[number].name, 1) for number in parts.tolist()], dtype=np.int64)[part]


def _sounding(score: Score, wheel: Wheel, placement: Placement) -> tuple[Bools, Ints]:
    """Which channel may sound which note, shape (channels, n), and a number for each note, equal for equal ones."""
    patterns = dict(placement.part_channels)
    listed = tuple(dict.fromkeys((*patterns.values(), "*")))
    by_name = {name: listed.index(pattern) for name, pattern in patterns.items()}
    parts, part = np.unique(score.part, return_inverse=True)  # a turn may have notes of few of very many
    names = (score.parts[number].name for number in parts.tolist())
    table = np.array([by_name.get(name, listed.index("*")) for name in names], dtype=np.int64)[part]
    which = 256 * table + 128 * score.percussion_notes() + score.pitch_midi
    all_of, kind = sounding_kinds(wheel, placement, listed)
    return all_of[:, which], kind[which]
