"""How a player with a tempo that moves goes from one onset to the next: places in the quarter, tempi, and pauses.

Tempo changes little from note to note, and now and then a lot: a mixture of a narrow and a wide law. An onset may come
late by a pause, after which the beat goes on from that onset.

Source: F. Krebs, S. Böck and G. Widmer, "An efficient state-space model for joint tempo and meter tracking", ISMIR
(2015), for a tempo that moves on a logarithmic grid; C. Raphael, "A hybrid graphical model for rhythmic parsing",
Artificial Intelligence 137 (2002), for a tempo that now and then changes a lot. Both from memory.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.model import TINY, rhythm_model
from pegwright.played.steps import MIN_CHANCE, PRIOR_SILENCE, PRIOR_STEPS, chances

Table = NDArray[np.float64]
Narrow = NDArray[np.float32]

# Constants set by hand; checked on the building half of the bench (tests/benchmarks/bench_played.py).
TEMPO_STEP = 0.05  # of the logarithm of a quarter's length, from one tempo to the next
NARROW, WIDE, WIDE_SHARE = 0.03, 0.15, 0.05  # change of tempo in half a second, as shares
USUAL_GAP_S = 0.5
LEAST_NARROW = 1e-3
GAPS_S = tuple(0.06 * 1.6**step for step in range(9))  # for which changes of tempo are tabulated
NOISE_S = 0.022  # of an onset about the beat
STEP_NOISE = 0.03  # of the beat itself, as a share of the step
PAUSE_SHARE, PAUSE_S = 0.15, 0.2  # a note that is held back,
REST_SHARE, REST_S = 0.003, 0.8  # and a pause
EARLY = 0.35  # quarters that an onset may be early; later than this before the next, it is late
STRAY_DENSITY = 2e-4
MIN_SILENT, MOST_SILENT = 0.4, 0.9
LEAST_USED = 0.01  # of onsets, below which the song does not use a place


@frozen(eq=False)
class PlaceSteps:
    """Places in a quarter and how likely each step from one to another is.

    Args:
        quarters: shape (p,), rising from 0 to below 1.
        first: shape (p,), chance of the first onset.
        here: shape (p, p), logarithm of the chance that the next onset is at the second place of the same quarter.
        there: shape (p, p), the same for the next quarter in which there is an onset.
        silent: logarithm of the chance that a quarter has no onset.
        noise_s: standard deviation of onsets about the beat.
    """

    quarters: Floats
    first: Floats
    here: Table
    there: Table
    silent: float
    noise_s: float = NOISE_S


def usual_steps(places: tuple[Fraction, ...]) -> PlaceSteps:
    """As counted in other music.

    Args:
        places: where holes lie in a quarter.
    """
    model, (first, table) = rhythm_model(places), chances(places)
    count = len(model.places)
    here, there = table[:, :count].copy(), table[:, count:].copy()
    here[np.tril_indices(count)] = 0.0
    total = (here.sum(axis=1) + there.sum(axis=1))[:, None]
    silent = math.log(max(1 - float(first.sum()), MIN_SILENT))
    at = model.places / model.resolution
    return PlaceSteps(at, first / first.sum(), _log(here / total), _log(there / total), silent)


def steps_as_played(usual: PlaceSteps, place: Ints, step_quarters: Floats, noise_s: float) -> PlaceSteps:
    """What the song itself does, of which the usual is a small part; places that it does not use are left out.

    Args:
        usual: steps in other music.
        place: shape (c,), the place of each onset.
        step_quarters: shape (c - 1,), from each onset to the next; 0 inside a chord.
        noise_s: standard deviation of the song's onsets about the beat.
    """
    count = len(usual.quarters)
    here, there = PRIOR_STEPS * np.exp(usual.here), PRIOR_STEPS * np.exp(usual.there)
    before, after = place[:-1], place[1:]
    moved = step_quarters > 0
    inside = moved & (step_quarters < 1) & (after > before)
    across = moved & ~inside
    np.add.at(here, (before[inside], after[inside]), 1.0)
    np.add.at(there, (before[across], after[across]), 1.0)
    share = np.bincount(place, minlength=count) / len(place)
    used = np.flatnonzero((share >= LEAST_USED) | (usual.quarters == 0))
    here, there = here[np.ix_(used, used)], there[np.ix_(used, used)]
    total = (here.sum(axis=1) + there.sum(axis=1))[:, None]
    first = share[used] + MIN_CHANCE
    quarters = PRIOR_SILENCE + float(step_quarters.sum())
    silences = PRIOR_SILENCE * math.exp(usual.silent) + float(np.maximum(step_quarters[across] - 1, 0).round().sum())
    silent = math.log(min(silences / quarters, MOST_SILENT))
    return PlaceSteps(
        usual.quarters[used], first / first.sum(), _log(here / total), _log(there / total), silent, noise_s
    )


def _log(values: Table) -> Table:
    logs: Table = np.log(np.maximum(values, TINY))
    return logs


@frozen(eq=False)
class TempoBand:
    """Tempi between which a player moves.

    Args:
        quarter_s: shape (k,), rising: seconds a quarter.
        changes: for each of `GAPS_S`, shape (k, k): logarithm of the chance of going from one to another.
    """

    quarter_s: Floats
    changes: tuple[Narrow, ...]

    def change(self, gap_s: float) -> Narrow:
        """Of the gap in the table that is nearest to one between two onsets."""
        step = round(math.log(max(gap_s, GAPS_S[0]) / GAPS_S[0]) / math.log(GAPS_S[1] / GAPS_S[0]))
        return self.changes[min(step, len(self.changes) - 1)]


def tempo_band(quarter_s: float, reach: float) -> TempoBand:
    """Tempi about a middle one.

    Args:
        quarter_s: the middle one.
        reach: the slowest is this number of times slower, the fastest as many times faster.
    """
    steps = np.arange(-int(math.log(reach) / TEMPO_STEP), int(math.log(reach) / TEMPO_STEP) + 1)
    away = np.abs(steps[:, None] - steps) * TEMPO_STEP
    return TempoBand(quarter_s * np.exp(TEMPO_STEP * steps), tuple(_changes(away, gap_s) for gap_s in GAPS_S))


def _changes(away: Table, gap_s: float) -> Narrow:
    grown = math.sqrt(gap_s / USUAL_GAP_S)
    total = np.zeros(away.shape)
    for share, spread in ((1 - WIDE_SHARE, max(NARROW * grown, LEAST_NARROW)), (WIDE_SHARE, WIDE * grown)):
        half = TEMPO_STEP / 2
        cell = np.exp(-(away - half) / spread) / 2 - np.exp(-(away + half) / spread) / 2
        total += share * np.where(away < half, 1 - math.exp(-half / spread), cell)
    return _narrow(_log(total / total.sum(axis=1, keepdims=True)))


@frozen(eq=False)
class BeatMoves:
    """Ways to the next onset; shape (p, p, k): place before, place after, tempo after.

    Args:
        score: logarithm of their likelihoods.
        quarters: how far each goes.
        shift_s: how far the beat is moved by the onset.
    """

    score: Narrow
    quarters: Narrow
    shift_s: Narrow


class TempoMoves:
    """What every move between two places has in common, wherever in a song.

    Single precision throughout: it is enough for chances, and takes a third of the time.

    Args:
        places: and the chances of steps.
        band: the tempi.
    """

    def __init__(self, places: PlaceSteps, band: TempoBand) -> None:
        apart = (places.quarters[None, :] - places.quarters[:, None]) % 1.0
        self._least = _narrow(np.where(apart == 0, 1.0, apart))[:, :, None]
        self._inside = (places.quarters[None, :] > places.quarters[:, None])[:, :, None]
        self._here, self._there = _narrow(places.here)[:, :, None], _narrow(places.there)[:, :, None]
        self._quarter_s, self._silent, self._noise = _narrow(band.quarter_s), places.silent, places.noise_s**2

    def onward(self, since_s: Table) -> BeatMoves:
        """Every way to the next onset: the shortest step between two places, and as many whole quarters as fit best.

        Args:
            since_s: shape (p, k), seconds from the beat at the place before to the onset.
        """
        since = _narrow(since_s)[:, None, :]
        more = np.maximum(np.floor(since / self._quarter_s - self._least + EARLY), 0)
        quarters = self._least + more
        lasts_s = quarters * self._quarter_s
        away_s = since - lasts_s
        variance = 1.5 * self._noise + (STEP_NOISE * lasts_s) ** 2
        on_beat = np.exp(-0.5 * away_s**2 / variance) / np.sqrt(2 * math.pi * variance)
        held_s = np.maximum(away_s, 0)
        held = PAUSE_SHARE / PAUSE_S * np.exp(-held_s / PAUSE_S) + REST_SHARE / REST_S * np.exp(-held_s / REST_S)
        total = on_beat + (away_s > 0) * held + STRAY_DENSITY
        silent = self._there + self._silent * (more - self._inside)
        chance = np.where(self._inside & (more == 0), self._here, silent)
        pull = 1 - on_beat / total * (self._noise / variance)
        return BeatMoves(np.log(total) + chance, quarters, pull * away_s)


def _narrow(values: Table) -> Narrow:
    return values.astype(np.float32)
