"""Which changes are worth trying on a song: those that concern the losses it has."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import zip_longest
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from pegwright.ask.options import FitOptions
from pegwright.columns import Ints
from pegwright.facts import tempo_tenths
from pegwright.fit.arrange import arrange
from pegwright.fit.quantise import lay_out, nearest, pairs_in_reach, strikes_of
from pegwright.fit.turn import turn_of
from pegwright.grid import meant_grid
from pegwright.placement import Outcome, Placement
from pegwright.remedy.budget import Budget, WorkOf
from pegwright.remedy.changes import Change, drum_for, fold, move_octaves, slower, start_on, transpose, wider_reach
from pegwright.remedy.starts import best_start, nearest_starts
from pegwright.score import Score
from pegwright.search.table import search_turns
from pegwright.tell.hints import plain_reach, plain_tempo_tenths
from pegwright.units import us_per_quarter
from pegwright.wheel import Wheel

FARTHEST_SEMITONES = 12
MAX_STARTS = 64  # tried one by one; as many as a plate usually has steps, after which they repeat
TRANSPOSITIONS = 8  # the best by weight are fitted
MAX_PARTS = 8  # the parts with most notes without a channel
MAX_KEYS = 3  # percussion keys with most notes without a channel
MAX_TEMPI = 4
MAX_REACHES = 2
Fitted: TypeAlias = tuple[Score, Placement]  # a turn and its placement
SLOWEST = Fraction(1, 2)  # of the tempo: a song at less than half speed is another song


def changes_to_try(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, placements: Sequence[Placement], budget: Budget
) -> tuple[Change, ...]:
    """Single changes that may help, without duplicates: the first of each kind, then the second of each, and so on.

    Args:
        turns: of the song in playing order.
        wheel: the wheel.
        options: as every turn was fitted.
        placements: of each turn.
        budget: of which the searches for transpositions and starts are paid.
    """
    fitted = list(zip(turns, placements, strict=True))
    work = WorkOf(turns, wheel, options, placements[0].us_per_quarter)
    kinds = (
        _transpositions(turns, wheel, options, budget, work),
        _starts(turns, wheel, options, budget, work),
        _octaves(fitted, options),
        _drums(fitted, wheel, options),
        _tempi(fitted, wheel, options),
        _reaches(fitted, wheel, options),
    )
    by_turns = zip_longest(*(list(kind) for kind in kinds))
    return tuple(dict.fromkeys(change for each in by_turns for change in each if change))


def _starts(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, budget: Budget, work: WorkOf
) -> Iterator[Change]:
    """The nearest start of every distinct kind; where these are too many, the best and the nearest."""
    nearest = nearest_starts(wheel, options)
    if len(nearest) > MAX_STARTS:
        budget.complete = False
        best = best_start(turns, wheel, options, budget, work)
        nearest = [*([] if best is None or best == options.start_steps else [best]), *nearest[: MAX_STARTS - 1]]
    for start in nearest:
        yield start_on(start, options, wheel)


def _transpositions(
    turns: Sequence[Score], wheel: Wheel, options: FitOptions, budget: Budget, work: WorkOf
) -> Iterator[Change]:
    semitones = list(range(-FARTHEST_SEMITONES, FARTHEST_SEMITONES + 1))
    start, few = int(options.start_steps) % wheel.turn_steps, TRANSPOSITIONS + 1
    if not budget.take(work.search(1, len(semitones), few), kept=budget.left // 2):  # the rest is for other changes
        return
    for choice in search_turns(turns, wheel, options, semitones, [start], best_few=few).ranked(few):
        if choice.transpose_semitones != options.transpose_semitones:
            yield transpose(choice.transpose_semitones)


def _octaves(fitted: Sequence[Fitted], options: FitOptions) -> Iterator[Change]:
    parts = [part for score, placement in fitted for part in score.part[_missing(score, placement, False)].tolist()]
    if parts and not options.fold_octaves:
        yield fold()
    for part in _most_frequent(parts)[:MAX_PARTS]:
        for octaves in (-1, 1, -2, 2):
            yield move_octaves(fitted[0][0].parts[part].name, octaves)


def _drums(fitted: Sequence[Fitted], wheel: Wheel, options: FitOptions) -> Iterator[Change]:
    keys = [key for score, placement in fitted for key in score.pitch_midi[_missing(score, placement, True)].tolist()]
    there = sorted({key for channel in wheel.channels for key in channel.drum_keys[:1]})
    for key in _most_frequent(keys)[:MAX_KEYS]:
        for instead in there:
            yield drum_for(key, instead, options)


def _missing(score: Score, placement: Placement, percussion: bool) -> NDArray[np.bool_]:
    """Shape (n,): whether a note has no channel, of percussion or of the others."""
    missing: NDArray[np.bool_] = (placement.outcome == Outcome.NO_CHANNEL) & (score.percussion_notes() == percussion)
    return missing


def _most_frequent(numbers: Sequence[int]) -> list[int]:
    """The distinct numbers, the most frequent first, then the lowest."""
    return [number for number, _ in Counter(sorted(numbers)).most_common()]


def _tempi(fitted: Sequence[Fitted], wheel: Wheel, options: FitOptions) -> Iterator[Change]:
    """The fastest tempi, not below half, at which notes too close for a channel or a limit are far enough apart."""
    now = fitted[0][1].us_per_quarter
    needed = {tempo for score, placement in fitted for tempo in _turn_tempi(score, placement, wheel, options)}
    slow_enough = sorted(value for value in needed if now < value <= now / SLOWEST)
    lowest, _ = tempo_tenths(wheel)
    slowest = us_per_quarter(Fraction(lowest, 10)) if lowest else math.inf
    for tempo in [each for each in _plain_tempi(slow_enough) if each <= slowest][:MAX_TEMPI]:
        yield slower(tempo, now)


def _turn_tempi(score: Score, placement: Placement, wheel: Wheel, options: FitOptions) -> set[int]:
    """The fastest tempi at which some notes of a turn that are too close now are far enough apart."""
    restrike, too_many = placement.outcome == Outcome.RESTRIKE, placement.outcome == Outcome.TOO_MANY
    if not np.any(restrike | too_many):
        return set()
    turn, _ = turn_of(score, wheel, options)
    arrangement = arrange(score, wheel, options)
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
    return needed


def _needed_tempi(apart_ticks: Ints, needed_ms: float, resolution: int) -> set[int]:
    """The fastest tempi, in microseconds a quarter note, at which some distances last as long as needed."""
    needed_us = round(needed_ms * 1000)
    return {-(-needed_us * resolution // ticks) for ticks in np.unique(apart_ticks[apart_ticks > 0]).tolist()}


def _plain_tempi(needed: list[int]) -> list[int]:
    """The fastest tempi in whole tenths of a quarter a minute that are slow enough."""
    tenths = filter(None, (plain_tempo_tenths(Fraction(value)) for value in needed))
    return list(dict.fromkeys(us_per_quarter(Fraction(each, 10)) for each in tenths))


def _reaches(fitted: Sequence[Fitted], wheel: Wheel, options: FitOptions) -> Iterator[Change]:
    """The minimum reach for one more note that is off the grid, and the minimum for all of them."""
    needed = sorted({reach for score, placement in fitted for reach in _turn_reaches(score, placement, wheel, options)})
    for reach in dict.fromkeys((*needed[: MAX_REACHES - 1], *needed[-1:])):
        yield wider_reach(reach)


def _turn_reaches(score: Score, placement: Placement, wheel: Wheel, options: FitOptions) -> set[Fraction]:
    """How far the notes of a turn that are off the grid are from their nearest holes, as plain reaches."""
    off = np.flatnonzero(placement.outcome == Outcome.OFF_GRID)
    if not len(off):
        return set()
    anywhere = replace(options, reach_quarters=wheel.turn_quarters * Fraction(99, 200))  # it must be below half a turn
    turn, _ = turn_of(score, wheel, anywhere)
    arrangement = arrange(score, wheel, anywhere)
    strikes, holes = strikes_of(arrangement, turn), lay_out(meant_grid(wheel), turn)
    strikes = strikes.some(np.flatnonzero(np.isin(strikes.note, off)))
    chosen = nearest(pairs_in_reach(strikes, holes, turn))
    some = chosen >= 0
    away = np.abs(holes.position[chosen[some]] - strikes.onset[some])
    return {plain_reach(Fraction(ticks, turn.resolution)) for ticks in np.unique(away).tolist()}
