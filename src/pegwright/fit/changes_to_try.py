"""Which changes are worth trying on a song: those that bear on the losses it has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.columns import Ints
from pegwright.fit.arrange import arrange
from pegwright.fit.changes import (
    Change,
    drum_for,
    fold,
    move_octaves,
    slower,
    start_on,
    told_reach,
    transpose,
    wider_reach,
)
from pegwright.fit.options import FitOptions
from pegwright.fit.quantise import lay_out, nearest, pairs_in_reach, strikes_of
from pegwright.fit.search import grid_period_steps, search
from pegwright.fit.turn import turn_of
from pegwright.grid import hole_grid
from pegwright.percussion import drum_key_name
from pegwright.placement import Outcome, Placement
from pegwright.score import Score
from pegwright.units import MICROSECONDS_PER_MINUTE, us_per_quarter
from pegwright.wheel import Wheel

FARTHEST_SEMITONES = 12
TRANSPOSITIONS = 8  # the best by weight are tried in full
MOST_PARTS = 8  # the parts that miss most
MOST_KEYS = 3  # percussion keys that miss most
MOST_TEMPI = 4
MOST_REACHES = 2
SLOWEST = Fraction(1, 2)  # of the tempo: a song at less than half speed is another song


def changes_to_try(score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> tuple[Change, ...]:
    """Single changes that may help, in a fixed order, each once.

    Args:
        score: the song.
        wheel: the wheel.
        options: as the song was fitted.
        placement: what came of it.
    """
    found = (
        *_starts(wheel, options),
        *_transpositions(score, wheel, options),
        *_octaves(score, options, placement),
        *_drums(score, wheel, options, placement),
        *_tempi(score, wheel, options, placement),
        *_reaches(score, wheel, options, placement),
    )
    return tuple(dict.fromkeys(found))


def _starts(wheel: Wheel, options: FitOptions) -> Iterator[Change]:
    """The nearest start of every kind there is: the hole grid looks the same after its period."""
    period = grid_period_steps(hole_grid(wheel), wheel)
    now = int(options.start_steps)
    for away in range(1, period):
        nearest = away if away <= period // 2 else away - period
        yield start_on((now + nearest) % wheel.turn_steps, options, wheel)


def _transpositions(score: Score, wheel: Wheel, options: FitOptions) -> Iterator[Change]:
    semitones = list(range(-FARTHEST_SEMITONES, FARTHEST_SEMITONES + 1))
    start, few = int(options.start_steps) % wheel.turn_steps, TRANSPOSITIONS + 1
    for choice in search(score, wheel, options, semitones, [start], best_few=few).ranked(few):
        if choice.transpose_semitones != options.transpose_semitones:
            yield transpose(choice.transpose_semitones)


def _octaves(score: Score, options: FitOptions, placement: Placement) -> Iterator[Change]:
    missing = placement.outcome == Outcome.NO_CHANNEL
    if not np.any(missing & ~score.percussion_notes()):
        return
    if not options.fold_octaves:
        yield fold()
    counts = Counter(score.part[missing].tolist())
    for part, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:MOST_PARTS]:
        if not score.parts[part].percussion:
            for octaves in (-1, 1, -2, 2):
                yield move_octaves(score.parts[part].name, octaves)


def _drums(score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> Iterator[Change]:
    missing = (placement.outcome == Outcome.NO_CHANNEL) & score.percussion_notes()
    counts = Counter(score.pitch_midi[missing].tolist())
    there = sorted({key for channel in wheel.channels for key in channel.drum_keys[:1]})
    for key, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:MOST_KEYS]:
        for instead in there:
            yield drum_for(key, instead, options, (drum_key_name(key), drum_key_name(instead)))


def _tempi(score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> Iterator[Change]:
    """The fastest tempi, not below half, at which notes too close for a channel or a limit are far enough apart."""
    restrike, too_many = placement.outcome == Outcome.RESTRIKE, placement.outcome == Outcome.TOO_MANY
    if not np.any(restrike | too_many):
        return
    turn, _ = turn_of(score, wheel, options)
    arrangement, _ = arrange(score, wheel, options)
    strikes = strikes_of(arrangement, turn)
    strike, channel = strikes.channels_of_each()
    onset = strikes.onset[strike]
    needed: set[int] = set()
    for on in np.unique(channel[restrike[strikes.note[strike]]]).tolist():
        apart = np.diff(np.unique(onset[channel == on]))
        needed |= _needed_tempi(apart, wheel.channels[on].restrike_ms, turn.resolution)
    for limit in wheel.strike_limits:
        own = np.isin(channel, [number for number, on in enumerate(wheel.channels) if on.name in limit.channels])
        if np.any(too_many[strikes.note[strike[own]]]):
            at = np.sort(strikes.onset[np.unique(strike[own])])
            needed |= _needed_tempi(at[limit.strikes :] - at[: -limit.strikes], limit.window_ms, turn.resolution)
    now = placement.us_per_quarter
    slow_enough = sorted(value for value in needed if now < value <= now / SLOWEST)
    for tempo in _told_tempi(slow_enough)[:MOST_TEMPI]:
        yield slower(tempo, now)


def _needed_tempi(apart_ticks: Ints, needed_ms: float, resolution: int) -> set[int]:
    """The fastest tempi, in microseconds a quarter note, at which some distances last so long."""
    needed_us = round(needed_ms * 1000)
    return {-(-needed_us * resolution // ticks) for ticks in np.unique(apart_ticks[apart_ticks > 0]).tolist()}


def _told_tempi(needed: list[int]) -> list[int]:
    """The fastest tempi in whole tenths of a quarter a minute that are slow enough."""
    told = []
    for value in needed:
        tenths = 10 * MICROSECONDS_PER_MINUTE // value
        while tenths and us_per_quarter(Fraction(tenths, 10)) < value:
            tenths -= 1
        if tenths:
            told.append(us_per_quarter(Fraction(tenths, 10)))
    return list(dict.fromkeys(told))


def _reaches(score: Score, wheel: Wheel, options: FitOptions, placement: Placement) -> Iterator[Change]:
    """The least reach that takes in one more note that is off the grid, and the least that takes in all."""
    off = np.flatnonzero(placement.outcome == Outcome.OFF_GRID)
    if not len(off):
        return
    anywhere = replace(options, reach_quarters=wheel.turn_quarters * Fraction(99, 200))  # it must be below half a turn
    turn, _ = turn_of(score, wheel, anywhere)
    arrangement, _ = arrange(score, wheel, anywhere)
    strikes, holes = strikes_of(arrangement, turn), lay_out(hole_grid(wheel), turn)
    strikes = strikes.some(np.flatnonzero(np.isin(strikes.note, off)))
    chosen = nearest(pairs_in_reach(strikes, holes, turn))
    some = chosen >= 0
    away = np.abs(holes.position[chosen[some]] - strikes.onset[some])
    needed = sorted({told_reach(Fraction(ticks, turn.resolution)) for ticks in np.unique(away).tolist()})
    for reach in dict.fromkeys((*needed[: MOST_REACHES - 1], *needed[-1:])):
        yield wider_reach(reach)
