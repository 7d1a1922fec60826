"""The fewest physical changes to a wheel that would let a song in.

Every loss that the wheel itself causes can be cured by some change: a channel retuned or added, one more hammer, one
more row of holes. Which of them are enough, and as few as may be, is an exact cover of the losses; then the song is
fitted to the changed wheel, and what still does not go in is looked at again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from pegwright.fit.fit_song import place_song
from pegwright.fit.options import FitOptions
from pegwright.fit.remedy import sounding_notes
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.units import fraction_text, pitch_name, plural
from pegwright.wheel import Channel, Kind, Row, Wheel

MOST_ROUNDS = 4
MOST_NEW_PHASES = 12  # holes in a period of a new row; a denser row would be a slot
PERIODS = (1, 2, 4)  # steps after which a new row may repeat
QUICKEST_SHARE = Fraction(1, 2)  # a hammer made quicker than this is another machine

CURABLE = (
    Outcome.NO_CHANNEL,
    Outcome.OFF_GRID,
    Outcome.LOST_AT_SEAM,
    Outcome.HOLE_USED,
    Outcome.RESTRIKE,
    Outcome.PINS_TOUCH,
)


@dataclass(frozen=True, slots=True)
class WheelChange:
    """One thing to do to a wheel.

    Args:
        words: what is done: `add a channel for C#5 (73)`.
        retuned: the channel that sounds something else from now on, or None.
        added: a channel more, or None.
        row: a row of holes more, for the channels named in `row_channels`, or None.
        row_channels: names of channels.
    """

    words: str
    retuned: Channel | None = None
    added: Channel | None = None
    row: Row | None = None
    row_channels: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WheelRemedy:
    """Changes to a wheel and what they do.

    Args:
        changes: as few as let in all that any such change can let in.
        silent: notes of the song without a sounding pin on the changed wheel.
        silent_now: the same on the wheel as it is.
    """

    changes: tuple[WheelChange, ...]
    silent: int
    silent_now: int


def change_wheel(wheel: Wheel, changes: Sequence[WheelChange]) -> Wheel:
    """The wheel with changes made; its hash is marked, for it is no longer the file's."""
    channels = {channel.name: channel for channel in wheel.channels}
    rows = list(wheel.rows)
    for change in changes:
        for channel in (change.retuned, change.added):
            if channel:
                channels[channel.name] = channel
        if change.row:
            rows.append(change.row)
            for name in change.row_channels:
                channels[name] = replace(channels[name], rows=(*channels[name].rows, change.row.name))
    return replace(wheel, rows=tuple(rows), channels=tuple(channels.values()), sha256=f"{wheel.sha256}+{len(changes)}")


def fewest_changes(score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> WheelRemedy | None:
    """The fewest changes to the wheel that cure all its losses of a song, or as many as can be cured.

    Args:
        score: the song.
        wheel: the wheel.
        options: as the song was fitted.
        placement: what came of it.

    Returns:
        None where no change helps, or none is needed.
    """
    changes: tuple[WheelChange, ...] = ()
    silent_now = silent = int(np.count_nonzero(~sounding_notes(placement)))
    for _ in range(MOST_ROUNDS):
        changed = change_wheel(wheel, changes)
        cures = _cures(score, changed, placement)
        if not cures:
            break
        more = _least_cover(cures)
        trial = (*changes, *more)
        placement_then = place_song(score, change_wheel(wheel, trial), options)
        silent_then = int(np.count_nonzero(~sounding_notes(placement_then)))
        if silent_then >= silent:
            break
        changes, placement, silent = trial, placement_then, silent_then
    changes, silent = _without_idle(score, wheel, options, changes, silent)
    return WheelRemedy(changes, silent, silent_now) if changes else None


def _without_idle(
    score: Score, wheel: Wheel, options: FitOptions, changes: tuple[WheelChange, ...], silent: int
) -> tuple[tuple[WheelChange, ...], int]:
    """Leave out every change that the song is as well without."""
    for change in reversed(changes):
        fewer = tuple(other for other in changes if other is not change)
        try:
            placement = place_song(score, change_wheel(wheel, fewer), options)
        except KeyError:  # the change made a channel that a later one gives a row to
            continue
        without = int(np.count_nonzero(~sounding_notes(placement)))
        if without <= silent:
            changes, silent = fewer, without
    return changes, silent


def _cures(score: Score, wheel: Wheel, placement: Placement) -> dict[int, list[WheelChange]]:
    """From each loss that a change can cure to the changes that do."""
    sounding = sounding_notes(placement)
    lost = np.flatnonzero(~sounding & np.isin(placement.outcome, CURABLE))
    percussion = score.percussion_notes()
    idle = _idle_channels(wheel, placement)
    rows = _row_cures(score, wheel, placement, [int(note) for note in lost])
    cures: dict[int, list[WheelChange]] = {}
    for note in lost.tolist():
        outcome, channel = placement.outcome[note], int(placement.channel[note])
        if outcome == Outcome.NO_CHANNEL:
            cures[note] = _channel_for(score, wheel, placement, note, bool(percussion[note]), idle)
        elif outcome in (Outcome.OFF_GRID, Outcome.LOST_AT_SEAM):
            cures[note] = [change for change, notes in rows if note in notes]
        else:
            cures[note] = [_second_hammer(wheel.channels[channel], wheel)]
    return {note: changes for note, changes in cures.items() if changes}


def _idle_channels(wheel: Wheel, placement: Placement) -> list[Channel]:
    used = set(placement.channel.tolist())
    return [channel for number, channel in enumerate(wheel.channels) if number not in used]


def _channel_for(
    score: Score, wheel: Wheel, placement: Placement, note: int, percussion: bool, idle: list[Channel]
) -> list[WheelChange]:
    """A channel added for a note's pitch, or an idle channel of its kind retuned to it."""
    written = int(score.pitch_midi[note])
    if percussion:
        key = dict(placement.drum_keys).get(written, written)
        like = next((channel for channel in wheel.channels if channel.drum_keys), wheel.channels[0])
        name = _new_name(wheel, drum_key_name(key))
        made = replace(like, name=name, pitches=(), drum_keys=(key,))
        return [WheelChange(f"add a channel for {drum_key_name(key)} (percussion key {key})", added=made)]
    pitch = written + placement.transpose_semitones
    if not 0 <= pitch <= 127:
        return []
    voices = [channel for channel in wheel.channels if channel.pitches]
    like = min(voices or wheel.channels, key=lambda channel: min(abs(p - pitch) for p in channel.pitches or (pitch,)))
    sound = f"{pitch_name(pitch)} ({pitch})"
    made = replace(like, name=_new_name(wheel, pitch_name(pitch)), pitches=(pitch,), drum_keys=(), kind=Kind.STRIKE)
    changes = [WheelChange(f"add a channel for {sound}", added=made)]
    free = [channel for channel in idle if channel.pitches and abs(channel.pitches[0] - pitch) <= 12]
    if free:
        nearest = min(free, key=lambda channel: (abs(channel.pitches[0] - pitch), channel.pitches[0]))
        words = f"retune {nearest.name}, which the song does not use, to {sound}"
        changes.insert(0, WheelChange(words, retuned=replace(nearest, pitches=(pitch,))))
    return changes


def _second_hammer(channel: Channel, wheel: Wheel) -> WheelChange:
    made = replace(channel, name=_new_name(wheel, channel.name))
    return WheelChange(f"add a second hammer for {channel.name}, on a channel of its own", added=made)


def _new_name(wheel: Wheel, base: str) -> str:
    names = {channel.name for channel in wheel.channels}
    number = 2
    while f"{base}, {number}" in names:
        number += 1
    return f"{base}, {number}"


def _row_cures(
    score: Score, wheel: Wheel, placement: Placement, lost: list[int]
) -> list[tuple[WheelChange, frozenset[int]]]:
    """Rows of holes that would have a hole for notes off the grid, each with the notes it is for."""
    off = [note for note in lost if placement.outcome[note] == Outcome.OFF_GRID]
    cures = []
    for period in PERIODS:
        if wheel.steps_per_plate % period:
            continue
        phases = {note: _phase(score, wheel, placement, note, period) for note in off}
        wanted = sorted(set(phases.values()))
        if not wanted or len(wanted) > MOST_NEW_PHASES:
            continue
        channels = tuple(dict.fromkeys(wheel.channels[int(placement.channel[note])].name for note in off))
        name = _row_name(wheel)
        row = Row(name, tuple(wanted), period, lateral_mm=wheel.rows[0].lateral_mm)
        places = ", ".join(fraction_text(phase) for phase in wanted)
        every = "every step" if period == 1 else f"every {period} steps"
        words = f"add a row of holes at {places} of {every} to {plural(len(channels), 'channel')}"
        cures.append((WheelChange(words, row=row, row_channels=channels), frozenset(off)))
    return cures


def _row_name(wheel: Wheel) -> str:
    names = {row.name for row in wheel.rows}
    number = 1
    while f"new {number}" in names:
        number += 1
    return f"new {number}"


def _phase(score: Score, wheel: Wheel, placement: Placement, note: int, period_steps: int) -> Fraction:
    ticks = int(score.onset_ticks[note]) * (placement.resolution // score.resolution) + placement.start_ticks
    steps = Fraction(ticks, placement.resolution) / wheel.step_quarters
    return steps % period_steps


def _least_cover(cures: dict[int, list[WheelChange]]) -> tuple[WheelChange, ...]:
    """As few changes as cure every loss, an idle channel being retuned once only; earlier changes on ties."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415  # heavy, and seldom needed

    changes = list(dict.fromkeys(change for options in cures.values() for change in options))
    covers = np.array([[change in options for change in changes] for options in cures.values()], dtype=float)
    retuned = [change.retuned.name if change.retuned else None for change in changes]
    once = [[name == channel for name in retuned] for channel in dict.fromkeys(retuned) if channel]
    limits = [LinearConstraint(covers, lb=1)]
    if once:
        limits.append(LinearConstraint(np.array(once, dtype=float), ub=1))
    # Far below one change in all, so that ties go to retuning before adding and to the earlier loss.
    later = np.array([(change.added is not None) * len(changes) + place for place, change in enumerate(changes)])
    cost = 1 + later / (4.0 * len(changes) ** 2 + 1)
    solved = milp(cost, constraints=limits, integrality=np.ones(len(changes), dtype=np.int64), bounds=Bounds(0, 1))
    assert solved.x is not None, solved.message  # noqa: S101  # adding a channel or hammer is always possible
    return tuple(change for change, taken in zip(changes, solved.x > 0.5, strict=True) if taken)
