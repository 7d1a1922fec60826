"""What a song does in its bars, learnt on the way: steps from place to place, and what is struck at which place.

The bar is followed together with the rhythm, so that a slip costs for as long as it lasts: what was struck before at a
place of the bar is then struck at another.

Source: F. Krebs, S. Böck and G. Widmer, "An efficient state-space model for joint tempo and meter tracking", ISMIR
(2015), for the place in the bar as a state, from memory.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen
from pegwright.played.model import TINY, rhythm_model
from pegwright.played.steps import PRIOR_SILENCE, chances
from pegwright.played.struck import Struck

# How much likelier what looks strong is on a place: by its denominator in quarters, and on beats of the bar.
STRENGTH = {1: 0.3, 2: 0.1, 3: -0.7, 4: -0.55, 6: -0.7}
WEAKEST = -1.4
BAR, HALF_BAR, BEAT, EIGHTH_OF_THREE = 2.4, 1.75, 0.5, 0.0
LEAST_CHANCE = 1e-4
OF_KIND, OF_ALIKE = 0.5, 0.8  # weights of what kinds of strikes did, and of what is like something before
PRIOR_STEPS = 29.0  # how many steps from each place the usual counts as
PRIOR_MARKS = 10.0  # and how many strikes: for kinds of strikes,
PRIOR_ALIKE = 1.3  # and for what is like something before
MIN_SILENT, MOST_SILENT = 0.4, 0.9
OTHER_FAMILY = 2.9  # cost, as a logarithm, of going on in triplets after halves of eighths, or the reverse
FEWEST_PLACES, FEWEST_IN_BEAT = 4, 2


@frozen()
class SongMetre:
    """Lengths of a bar and of its beats, in quarters, and where in its bar a song begins.

    Args:
        bar_quarters, beat_quarters: lengths.
        first_quarters: from the bar line to the first onset; None where that is not known.
    """

    bar_quarters: Fraction
    beat_quarters: Fraction
    first_quarters: Fraction | None = None


def metre_of(text: str, first_quarters: Fraction | None = None) -> SongMetre:
    """A metre as it is written, such as `3/4`.

    Args:
        text: numerator and denominator.
        first_quarters: as in `SongMetre`.
    """
    number, _, kind = text.partition("/")
    beats, unit = int(number), Fraction(4, int(kind))
    compound = unit < 1 and beats % 3 == 0
    return SongMetre(beats * unit, Fraction(3, 2) if compound else unit, first_quarters)


class BarHabits:
    """Chances of steps and of places in the bar, for one search.

    Args:
        places: where holes lie in a quarter, in quarters.
        metre: of the song.
        struck: the onsets.
    """

    def __init__(self, places: tuple[Fraction, ...], metre: SongMetre, struck: Struck) -> None:
        model, (first, table) = rhythm_model(places), chances(places)
        self.resolution, self.units, self._struck = model.resolution, model.places, struck
        self.bar_units = _units(metre.bar_quarters, model.resolution)
        self._beat_units = _units(metre.beat_quarters, model.resolution)
        # Of the beats that a stop is counted in: quarters, in compound time eighths.
        self.step_units = (
            model.resolution if self._beat_units % model.resolution == 0 else max(model.resolution // 2, 1)
        )
        count = len(model.places)
        away = np.abs(np.append(model.places, model.resolution)[:, None] - np.arange(model.resolution))
        self.nearest: Ints = away.argmin(axis=0)
        steps = table.copy()
        steps[:, :count][np.tril_indices(count)] = 0.0
        self._steps = PRIOR_STEPS * (steps / steps.sum(axis=1, keepdims=True) + LEAST_CHANCE)
        self._steps[:, :count][np.tril_indices(count)] = 0.0
        self.family = np.array([_family(Fraction(int(each), self.resolution)) for each in self.units])
        self._other = -OTHER_FAMILY * np.tile(_differs(self.family), 2)
        log_steps = np.log(np.maximum(self._steps / self._steps.sum(axis=1, keepdims=True), TINY))
        self.log_steps = self._other[:, None, :] + log_steps
        self._silences, self._quarters = PRIOR_SILENCE * max(1 - float(first.sum()), MIN_SILENT), PRIOR_SILENCE
        self._strength = _strengths(self.bar_units, self._beat_units, self.resolution)
        self._marks = np.zeros((int(struck.mark.max(initial=0)) + 1, self.bar_units))
        self._every = np.zeros(self.bar_units)  # the sum of all marks
        self._in_beat = np.arange(self.bar_units) % self._beat_units
        self._used, self._used_in_beat = set[int](), set[int]()
        self._unit = np.full(len(struck.time_s), -1)

    @property
    def silent(self) -> float:
        """Logarithm of the chance that a quarter has no onset."""
        return math.log(min(self._silences / self._quarters, MOST_SILENT))

    def place(self, unit: Ints) -> Ints:
        """Index of the place of a quarter at which a hole lies."""
        return self.nearest[unit % self.resolution] % len(self.units)

    def arrival(self, cluster: int) -> NDArray[np.float64]:
        """Shape (bar_units,): how much likelier each place of the bar is by what a cluster looks like, a logarithm."""
        mark = self._struck.mark[cluster]
        own, every = self._marks[mark], self._every
        usual = (own.sum() + 1) / (every.sum() + len(self._marks))
        score: NDArray[np.float64] = self._struck.weight[cluster] * self._strength
        score = score + OF_KIND * np.log((own + PRIOR_MARKS * usual) / (every + PRIOR_MARKS) / usual)
        known = self._unit[self._struck.alike[cluster]]
        known = known[known >= 0]
        return score + OF_ALIKE * self._as_before(known) if len(known) else score

    def _as_before(self, unit: Ints) -> NDArray[np.float64]:
        """The same by where clusters like it lay: in the bar, and in the quarter."""
        in_bar = np.bincount(unit, minlength=self.bar_units)
        in_beat = np.bincount(unit % self._beat_units, minlength=self._beat_units)
        usual = 1 / max(len(self._used), FEWEST_PLACES) + 1 / max(len(self._used_in_beat), FEWEST_IN_BEAT)
        seen = in_bar + in_beat[self._in_beat]
        ratio: NDArray[np.float64] = np.log((PRIOR_ALIKE + seen) / (PRIOR_ALIKE + len(unit) * usual))
        return ratio

    def learn(self, cluster: int, unit: int, following: int) -> None:
        """Take a cluster's hole, and that of the next one, as known.

        Args:
            cluster: its number.
            unit: its hole.
            following: hole of the cluster after it.
        """
        place = unit % self.bar_units
        self._unit[cluster] = place
        self._used.add(place)
        self._used_in_beat.add(place % self._beat_units)
        self._marks[self._struck.mark[cluster], place] += 1
        self._every[place] += 1
        if following <= unit:
            return
        (first, before), (last, after) = self._quarter_and_place(unit), self._quarter_and_place(following)
        quarters = last - first
        if not quarters and after <= before:
            return  # both lie nearest to the same place: no step of the wheel
        self._steps[before, after + (len(self.units) if quarters else 0)] += 1.0
        row = self._steps[before]
        self.log_steps[:, before] = self._other + np.log(np.maximum(row / row.sum(), TINY))
        if quarters:
            self._silences += quarters - 1
            self._quarters += quarters

    def _quarter_and_place(self, unit: int) -> tuple[int, int]:
        """The quarter and the index of the place nearest to a hole, late in a quarter perhaps those of the next."""
        quarter, inside = divmod(unit, self.resolution)
        later, place = divmod(int(self.nearest[inside]), len(self.units))
        return quarter + later, place


def _family(place: Fraction) -> int:
    """1 for triplets, 0 for halves of eighths and shorter, -1 for what belongs to both."""
    if place.denominator % 3 == 0:
        return 1
    return -1 if place.denominator <= 2 else 0


def _differs(family: Ints) -> NDArray[np.bool_]:
    """Shape (3, places): whether each place is of another family than the one before, for -1 (none), 0 and 1."""
    before = np.array([-1, 0, 1])[:, None]
    differs: NDArray[np.bool_] = (before >= 0) & (family >= 0) & (family != before)
    return differs


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
