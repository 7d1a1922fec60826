"""What is checked, with all that follows from it by arithmetic and that several rules need."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TypeAlias

import numpy as np

from pegwright.check.columns import Bools, Ints
from pegwright.check.sentences import each
from pegwright.check.wheel import (
    HoleTable,
    PinOffsets,
    early_ticks,
    held_ticks,
    hole_table,
    pin_offsets,
    sounding_kinds,
)
from pegwright.placement import Outcome, Placement, joined_placements
from pegwright.score import Part, Score
from pegwright.units import printed
from pegwright.wheel import StrikeLimit, Wheel

Turn: TypeAlias = tuple[Score, Placement]


@dataclass(frozen=True, slots=True, eq=False)
class CheckedRim:
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

    def lane(self, turn: Ints, channel: Ints) -> Ints:
        """A number for each channel of each turn: as if turns were pinned on wheels side by side, with room between.

        Args:
            turn: shape (m,), of the channels in the next.
            channel: shape (m,).
        """
        return turn * lanes_apart(self.wheel) + channel


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """Turns of a song with their placements and wheel; all ticks are at the placements' resolution.

    The notes of all turns are in the same columns, turn after turn.

    Args:
        turns: each score with its placement, alike in their `settings`.
        wheel: see there.
        placement: of all notes; its holes are those on the plates of each turn.
        firsts: for each turn how many notes come before it, and how many there are.
        turn: shape (n,), which turn each note is in.
        tolerance_ticks: the score's own rounding.
        onset_ticks: shape (n,).
        weight: shape (n,), what each note adds to the weight placed.
        placed: shape (p,), numbers of the notes that have a pin.
        sounds: shape (channels, n), whether a channel may sound a note.
        kind: shape (n,), equal for notes that the same channels may sound.
        rim: the wheel at the placements' tempo and resolution.
    """

    turns: Sequence[Turn]
    wheel: Wheel
    placement: Placement
    firsts: tuple[int, ...]
    turn: Ints
    tolerance_ticks: int
    onset_ticks: Ints
    weight: Ints
    placed: Ints
    sounds: Bools
    kind: Ints
    rim: CheckedRim

    @property
    def note_count(self) -> int:
        """Notes of all turns."""
        return len(self.turn)

    def name(self, note: int) -> str:
        """A note by its number in its turn and its place in the song."""
        number = int(self.turn[note])
        own = note - self.firsts[number]
        return f"note {printed(own)} at {self.turns[number][0].source(own)}"

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
        """A sentence for each note that breaks a rule."""
        return each(self.name, broken, what)

    def each_of(self, notes: Ints, broken: Bools, what: str) -> Iterator[str]:
        """A sentence for each of some notes that breaks a rule.

        Args:
            notes: shape (m,), numbers of the notes.
            broken: shape (m,), whether each breaks the rule.
            what: the end of the sentence.
        """
        of_all = np.zeros(self.note_count, dtype=bool)
        of_all[notes] = broken
        return each(self.name, of_all, what)


@dataclass(frozen=True, slots=True, eq=False)
class CheckedPins:
    """Pins in holes; columns of shape (p,).

    Args:
        note: numbers of the notes that they begin; of a pin map without its score, those of the pins.
        turn: of each.
        channel, pin_type: see `Placement`.
        lane: see `CheckedRim.lane`.
        hole: place in the hole table.
        position_ticks: where in the turn the pin trips, and as much later as its channel's pins are set early.
        collar_ticks: where in the turn the middle of its collar is.
    """

    note: Ints
    turn: Ints
    channel: Ints
    lane: Ints
    pin_type: Ints
    hole: Ints
    position_ticks: Ints
    collar_ticks: Ints


def settings(score: Score, placement: Placement) -> Hashable:
    """All in which the turns of one `Subject` have to be alike."""
    of_score = score.resolution, score.tolerance_ticks, id(score.parts)
    sounds = placement.transpose_semitones, placement.fold_octaves, placement.drum_keys, placement.part_channels
    times = placement.resolution, placement.start_ticks, placement.us_per_quarter, placement.reach_ticks
    return *of_score, *sounds, placement.part_priorities, *times


def lanes_apart(wheel: Wheel) -> int:
    """From a channel to that of the next turn: so many that no pin of one turn is beside one of another."""
    return 2 * len(wheel.channels)


def lane_ticks(wheel: Wheel, placement: Placement) -> int:
    """How long the lanes of a turn are together, each with a turn to spare on either side."""
    return 4 * lanes_apart(wheel) * int(wheel.turn_quarters * placement.resolution)


def subject_of(turns: Sequence[Turn], wheel: Wheel) -> Subject:
    """Compute what several rules need.

    Args:
        turns: what was fitted, alike in its `settings`; with columns of the length that fits (see `shape`).
        wheel: what it was fitted to.
    """
    scores, placement = [score for score, _ in turns], joined_placements([placement for _, placement in turns])
    (first, _), *_ = turns  # in what follows they are all alike
    scale = placement.resolution // first.resolution
    parts, part = np.unique(np.concatenate([score.part for score in scores]), return_inverse=True)
    of_parts = [first.parts[number] for number in parts.tolist()]  # a turn may have notes of few of very many
    pitch = np.concatenate([score.pitch_midi for score in scores])
    sounds, kind = _sounding(of_parts, part, pitch, wheel, placement)
    counts = [score.note_count for score in scores]
    return Subject(
        turns=turns,
        wheel=wheel,
        placement=placement,
        firsts=tuple(accumulate(counts, initial=0)),
        turn=np.repeat(np.arange(len(turns)), counts),
        tolerance_ticks=first.tolerance_ticks * scale,
        onset_ticks=np.concatenate([score.onset_ticks for score in scores]) * scale,
        weight=128 * _priority(of_parts, placement)[part] + np.concatenate([score.velocity for score in scores]),
        placed=np.flatnonzero(placement.outcome == Outcome.PLACED),
        sounds=sounds,
        kind=kind,
        rim=rim_of(wheel, placement.resolution, placement.us_per_quarter),
    )


def rim_of(wheel: Wheel, resolution: int, us_per_quarter: int) -> CheckedRim:
    """A wheel in whole ticks.

    Args:
        wheel: the wheel.
        resolution: ticks per quarter, at which every hole is a whole number of them.
        us_per_quarter: the tempo.
    """
    turn_ticks = int(wheel.turn_quarters * resolution)
    holes, offsets = hole_table(wheel, resolution), pin_offsets(wheel, turn_ticks)
    return CheckedRim(wheel, resolution, us_per_quarter, turn_ticks, holes, offsets)


def pins_of(subject: Subject) -> CheckedPins:
    """Where the pins are; every one must be in a hole (see `holes`)."""
    placement, placed = subject.placement, subject.placed
    hole = subject.holes.numbers[placement.row[placed], placement.plate[placed], placement.index[placed]]
    lane = subject.turn[placed], placement.channel[placed]
    return standing_pins(subject.rim, placed, *lane, placement.pin_type[placed], hole)


def standing_pins(rim: CheckedRim, note: Ints, turn: Ints, channel: Ints, pin_type: Ints, hole: Ints) -> CheckedPins:
    """Pins with the places at which they trip.

    Args:
        rim: what they are set on.
        note: shape (p,); this and the other columns are those of `CheckedPins`.
        turn: shape (p,).
        channel: shape (p,).
        pin_type: shape (p,).
        hole: shape (p,).
    """
    middle = rim.holes.position[hole]
    early = early_ticks(rim.wheel, rim.turn_ticks)[channel]
    position = (middle + rim.offsets.whole_ticks[pin_type] + early) % rim.turn_ticks
    collar = (middle + rim.offsets.collar_ticks[pin_type]) % rim.turn_ticks
    return CheckedPins(note, turn, channel, rim.lane(turn, channel), pin_type, hole, position, collar)


def too_soon(rim: CheckedRim, channel: Ints, apart_ticks: Ints) -> Bools:
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


def within(rim: CheckedRim, limit: StrikeLimit, apart_ticks: Ints) -> Bools:
    """Whether strikes `apart_ticks` apart are within one window of a limit, whose end is not counted.

    Args:
        rim: for its tempo and resolution.
        limit: with the window.
        apart_ticks: shape (m,), from 0.
    """
    window = round(limit.window_ms * 1000) * rim.resolution
    enough = -(-window // rim.us_per_quarter)  # of ticks, as above
    return np.asarray((apart_ticks == 0) | (apart_ticks < enough), dtype=bool)


def _priority(parts: Sequence[Part], placement: Placement) -> Ints:
    """The priority of each part, shape (parts,)."""
    given = dict(placement.part_priorities)
    return np.array([given.get(part.name, 1) for part in parts], dtype=np.int64)


def _sounding(
    parts: Sequence[Part], part: Ints, pitch_midi: Ints, wheel: Wheel, placement: Placement
) -> tuple[Bools, Ints]:
    """Which channel may sound which note, shape (channels, n), and a number for each note, equal for equal ones.

    Args:
        parts: some of the song.
        part: shape (n,), which of them each note is of.
        pitch_midi: shape (n,).
        wheel: with the channels.
        placement: for its options.
    """
    patterns = dict(placement.part_channels)
    listed = tuple(dict.fromkeys((*patterns.values(), "*")))
    of_part = [256 * listed.index(patterns.get(one.name, "*")) + 128 * one.percussion for one in parts]
    which = np.array(of_part, dtype=np.int64)[part] + pitch_midi
    all_of, kind = sounding_kinds(wheel, placement, listed)
    return all_of[:, which], kind[which]
