"""Additions to the wheel that the notes left out of a song lack."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import compress
from typing import TypeAlias

import numpy as np

from pegwright.columns import Ints
from pegwright.placement import Outcome, Placement
from pegwright.remedy.additions import Addition, AdditionKind, row_additions
from pegwright.remedy.new_rows import FINER_ROWS
from pegwright.score import Score
from pegwright.wheel import Wheel

Placements: TypeAlias = Sequence[Placement]  # of the turns of a song
Additions: TypeAlias = frozenset[Addition]

NOT_KNOWN = 2**62  # more notes than any song has
PITCHES = range(128)  # that a channel can have


def any_addition(_addition: Addition) -> bool:
    """True: everything can be added."""
    return True


def silent_count(placements: Placements) -> int:
    """Notes of a song that do not sound."""
    return sum(placement.note_count - int(np.count_nonzero(placement.sounding)) for placement in placements)


def silent_count_if_known(placements: Placements | None) -> int:
    """The same; more than any song has where the placements are not known."""
    return NOT_KNOWN if placements is None else silent_count(placements)


def without_idle(additions: Additions, silent_with: Callable[[Additions], int]) -> Additions:
    """Leave out, one after another, every addition without which as many notes sound.

    Args:
        additions: that are added to a wheel.
        silent_with: how many notes do not sound with some of them.
    """
    while True:
        silent = silent_with(additions)
        fewer = (additions - {addition} for addition in sorted(additions, key=Addition.order, reverse=True))
        without = next((some for some in fewer if silent_with(some) <= silent), None)
        if without is None:
            return additions
        additions = without


def lacked_by_note(
    score: Score, placement: Placement, wheel: Wheel, can_add: Callable[[Addition], bool] = any_addition
) -> dict[int, tuple[Addition, ...]]:
    """What each silent note of a turn lacks to have a hole: any of these additions, the simplest first.

    A note without a channel lacks a channel for its pitch as transposed, or for its drum key as replaced; a note off
    the grid lacks a row, one of `row_additions` with a hole within its reach. No channel and no row helps the others.

    Args:
        score: the notes of the turn.
        placement: of those, on this wheel or on this wheel with some additions.
        wheel: the wheel as it is.
        can_add: whether a row can be added; asked only of those that a note could use.
    """
    silent = np.flatnonzero(~placement.sounding)
    lacks: dict[int, tuple[Addition, ...]] = dict.fromkeys(silent.tolist(), ())
    outcome = placement.outcome[silent]
    lacks |= _channels(score, placement, silent[outcome == Outcome.NO_CHANNEL])
    lacks |= _rows(score, placement, silent[outcome == Outcome.OFF_GRID], wheel, can_add)
    return lacks


def _channels(score: Score, placement: Placement, notes: Ints) -> dict[int, tuple[Addition, ...]]:
    sounds = list(zip(score.pitch_midi[notes].tolist(), score.percussion_notes()[notes].tolist(), strict=True))
    instead = dict(placement.drum_keys)
    channel: dict[tuple[int, bool], tuple[Addition, ...]] = {}
    for written, drum in set(sounds):
        key = instead.get(written, written) if drum else written + placement.transpose_semitones
        addition = Addition(AdditionKind.DRUM_KEY if drum else AdditionKind.PITCH, key)
        channel[written, drum] = (addition,) if key in PITCHES else ()
    return {note: channel[sound] for note, sound in zip(notes.tolist(), sounds, strict=True)}


def _rows(
    score: Score, placement: Placement, notes: Ints, wheel: Wheel, can_add: Callable[[Addition], bool]
) -> dict[int, tuple[Addition, ...]]:
    """For each note the rows with a hole within its reach."""
    if not len(notes):
        return {}
    candidates = row_additions(wheel)
    longest = math.lcm(*(addition.period_steps for addition in candidates))
    fineness = math.lcm(*FINER_ROWS, *(phase.denominator for row in wheel.rows for phase in row.phases))
    step_units = int(wheel.step_quarters * placement.resolution) * fineness
    onset = score.onset_ticks[notes] * (placement.resolution // score.resolution)
    place, which = np.unique((onset + placement.start_ticks) * fineness % (longest * step_units), return_inverse=True)
    distance = [_distance(place, addition, step_units) for addition in candidates]
    near = np.stack(distance, axis=1) <= placement.reach_ticks * fineness
    reached = np.any(near, axis=0)
    near &= np.array([some and can_add(row) for row, some in zip(candidates, reached, strict=True)], dtype=bool)
    rows = [tuple(compress(candidates, reached)) for reached in near.tolist()]
    return {note: rows[number] for note, number in zip(notes.tolist(), which.tolist(), strict=True)}


def _distance(place: Ints, row: Addition, step_units: int) -> Ints:
    """From each place to the nearest hole of a row."""
    holes = np.array([int(phase * step_units) for phase in row.phases], dtype=np.int64)
    period = row.period_steps * step_units
    after = (place[:, None] - holes) % period
    nearest: Ints = np.minimum(after, period - after).min(axis=1)
    return nearest
