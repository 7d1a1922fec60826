"""The bar that a song is counted in: its places, how strong each is, and which steps between them are usual.

Source: F. Krebs, S. Böck and G. Widmer, "An efficient state-space model for joint tempo and meter tracking", ISMIR
(2015), for the place in the bar as a state, from memory.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.compiled import compiled_in_place
from pegwright.played.model import rhythm_model
from pegwright.played.steps import chances

# How much likelier what looks strong is on a place: by its denominator in quarters, and on beats of the bar.
STRENGTH = {1: -0.5, 2: 0.38, 3: -0.23, 4: -0.27, 6: -0.62}
WEAKEST = -1.5
BAR, HALF_BAR, BEAT, EIGHTH_OF_THREE = 3.0, 2.7, 0.68, 0.0
LEAST_CHANCE = 1e-4
PRIOR_STEPS = 13.0  # how many steps from each place the usual counts as
MIN_SILENT = 0.4
HALF_NOTE = 2  # quarters
DOTTED = 3  # parts of a beat of compound time


@frozen()
class SongMetre:
    """Lengths of a bar and of its beats, in quarters, and where in its bar a song begins.

    Args:
        bar_quarters, beat_quarters: lengths.
        first_quarters: from the bar line to the first onset; None where that is not known.
        within_quarters: a part of the bar, within which alone that is known; None where it is known within the bar.
    """

    bar_quarters: Fraction
    beat_quarters: Fraction
    first_quarters: Fraction | None = None
    within_quarters: Fraction | None = None

    @property
    def compound(self) -> bool:
        """Whether beats are dotted notes."""
        return self.beat_quarters.numerator == DOTTED

    def first_units(self, resolution: int) -> list[int]:
        """Where in the bar the first onset may be, as far as that is known; empty where it is not.

        Args:
            resolution: units in a quarter.
        """
        if self.first_quarters is None:
            return []
        within = self.within_quarters or self.bar_quarters
        first = self.first_quarters % within
        return [round((first + turn * within) * resolution) for turn in range(math.ceil(self.bar_quarters / within))]


def metre_of(text: str, first_quarters: Fraction | None = None) -> SongMetre:
    """A metre as it is written, such as `3/4`.

    Args:
        text: numerator and denominator.
        first_quarters: as in `SongMetre`.
    """
    number, _, kind = text.partition("/")
    beats, unit = int(number), Fraction(4, int(kind))
    compound = unit < 1 and beats % 3 == 0
    return SongMetre(beats * unit, DOTTED * unit if compound else unit, first_quarters)


def counted_in(metre: SongMetre) -> SongMetre:
    """The metre in which a song that is written in one is followed: quarters, four of them rather than two.

    Two bars of two quarters show more of what comes again, and half notes are seldom all that is counted in.

    Args:
        metre: as it is written.
    """
    bar, first = metre.bar_quarters, metre.first_quarters
    if metre.beat_quarters == HALF_NOTE:
        bar = Fraction(4) if bar % 4 == 0 else bar
        return SongMetre(bar, Fraction(1), None if first is None else first % bar)
    if bar == HALF_NOTE and metre.beat_quarters == 1:
        return SongMetre(2 * bar, metre.beat_quarters, first, bar)
    return metre


class BarPlaces(NamedTuple):
    """What is fixed for a search; a named tuple, which compiled functions can read.

    Args:
        resolution: units in a quarter.
        units: shape (p,), where the places of a quarter lie.
        nearest: shape (resolution,), the place nearest to each unit; p is the first of the next quarter.
        family: shape (p,): 1 for triplets, 0 for halves of eighths and shorter, -1 for what belongs to both.
        steps: shape (p, 2 p), how often each step is counted at first, within a quarter and into the next.
        silence: the share of quarters without an onset, at first.
        strength: shape (bar_units,), how much likelier what looks strong is at each, a logarithm.
        in_beat: shape (bar_units,), place in its beat of each, in units.
        bar_units: its length.
        step_units: of the beats that a stop is counted in: quarters, in compound time eighths.
    """

    resolution: int
    units: Ints
    nearest: Ints
    family: Ints
    steps: NDArray[np.float64]
    silence: float
    strength: Floats
    in_beat: Ints
    bar_units: int
    step_units: int


@lru_cache(maxsize=32)
def bar_places(places: tuple[Fraction, ...], bar_quarters: Fraction, beat_quarters: Fraction) -> BarPlaces:
    """The places of a bar.

    Args:
        places: where holes lie in a quarter, in quarters.
        bar_quarters: length of a bar.
        beat_quarters: length of its beats.
    """
    model, (first, table) = rhythm_model(places), chances(places)
    count, resolution = len(model.places), model.resolution
    away = np.abs(np.append(model.places, resolution)[:, None] - np.arange(resolution))
    steps = table.copy()
    steps[:, :count][np.tril_indices(count)] = 0.0
    steps = PRIOR_STEPS * (steps / steps.sum(axis=1, keepdims=True) + LEAST_CHANCE)
    steps[:, :count][np.tril_indices(count)] = 0.0
    bar, beat = _units(bar_quarters, resolution), _units(beat_quarters, resolution)
    return BarPlaces(
        resolution=resolution,
        units=model.places,
        nearest=away.argmin(axis=0),
        family=np.array([_family(Fraction(int(each), resolution)) for each in model.places]),
        steps=steps,
        silence=max(1 - float(first.sum()), MIN_SILENT),
        strength=_strengths(bar, beat, resolution),
        in_beat=np.arange(bar) % beat,
        bar_units=bar,
        step_units=resolution if beat % resolution == 0 else max(resolution // 2, 1),
    )


@compiled_in_place
def place_at(places: BarPlaces, unit: int) -> int:
    """Index of the place of a quarter at which a hole lies."""
    place: int = places.nearest[unit % places.resolution] % len(places.units)
    return place


def _family(place: Fraction) -> int:
    if place.denominator % 3 == 0:
        return 1
    return -1 if place.denominator <= 2 else 0


def _units(quarters: Fraction, resolution: int) -> int:
    return max(1, round(quarters * resolution))


def _strengths(bar: int, beat: int, resolution: int) -> Floats:
    """Shape (bar,): of each unit of a bar.

    Args:
        bar: units in it.
        beat: units in it.
        resolution: units in a quarter.
    """
    strengths = [_strength(unit, beat, resolution) for unit in range(bar)]
    if bar % (2 * beat) == 0:
        strengths[:: 2 * beat] = [HALF_BAR] * (bar // (2 * beat))
    strengths[0] = BAR
    return np.array(strengths)


def _strength(unit: int, beat: int, resolution: int) -> float:
    if unit % beat == 0:
        return BEAT
    denominator = Fraction(unit, resolution).denominator
    if beat > resolution and denominator <= 2:  # an eighth of a compound metre is a third of its beat
        return EIGHTH_OF_THREE
    return STRENGTH.get(denominator, WEAKEST)
