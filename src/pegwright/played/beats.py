"""Beat tracks: when each quarter of a performance begins, as given by a tempo map, by taps, or by a list."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats, frozen_ints
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.score import Score
from pegwright.units import plural

TAP_SPREAD_S = 0.02  # how evenly people tap: within the 30 to 50 ms of a loose ensemble (Rasch 1979), and steadier
MIN_BEATS = 2


@frozen(eq=False)
class BeatTrack:
    """When the beats of a performance fall; in between and beyond, time runs evenly.

    Args:
        seconds: shape (b,), at least two, strictly rising.
        quarters: shape (b,), musical time of each beat in quarters, strictly rising.
        spread_s: standard deviation of the beats given about the player's own, in seconds; 0 where they are exact.

    Raises:
        UsageError: too few beats, unequal columns, a value that is not a number, or a track that runs backwards.
    """

    seconds: Floats
    quarters: Floats
    spread_s: float = 0.0

    def __post_init__(self) -> None:
        if len(self.seconds) != len(self.quarters):
            raise UsageError(
                f"{len(self.seconds)} times and {len(self.quarters)} places of beats",
                hint="give each beat a time and a place in quarters",
            )
        if len(self.seconds) < MIN_BEATS:
            raise UsageError(
                f"{plural(len(self.seconds), 'beat')} given, fewer than {MIN_BEATS}", hint="give two beats or more"
            )
        for name, unit, column in (("time", "s", self.seconds), ("place", "quarters", self.quarters)):
            if not np.isfinite(column).all():
                beat = int(np.flatnonzero(~np.isfinite(column))[0])
                fault = f"{name} {column[beat]:g} is not a finite number"
                raise UsageError(fault, where=f"beat {beat + 1}", hint=f"give every {name} in {unit}")
            if (np.diff(column) <= 0).any():
                beat = int(np.flatnonzero(np.diff(column) <= 0)[0]) + 1
                raise UsageError(
                    f"{name} {column[beat]:g} {unit} does not come after {column[beat - 1]:g} {unit}",
                    where=f"beat {beat + 1}",
                    hint="give the beats in order, none twice, and decimals with a point",
                )

    def quarters_at(self, seconds: NDArray[np.float64]) -> NDArray[np.float64]:
        """Musical time at times in seconds, in quarters."""
        return _line(seconds, self.seconds, self.quarters)

    def seconds_at(self, quarters: NDArray[np.float64]) -> NDArray[np.float64]:
        """Time at places in quarters, in seconds."""
        return _line(quarters, self.quarters, self.seconds)

    def quarter_s_at(self, seconds: NDArray[np.float64]) -> NDArray[np.float64]:
        """Seconds a quarter at times in seconds."""
        lasts = np.diff(self.seconds) / np.diff(self.quarters)
        return lasts[np.clip(np.searchsorted(self.seconds, seconds, side="right") - 1, 0, len(lasts) - 1)]


def _line(at: NDArray[np.float64], x: Floats, y: Floats) -> NDArray[np.float64]:
    piece = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    return y[piece] + (at - x[piece]) * (np.diff(y) / np.diff(x))[piece]


def beats_of_tempo_map(score: Score) -> BeatTrack:
    """The beat track that a score's own tempo map states, from tick 0, exact."""
    tempo = score.tempo_map
    end = max(int(score.length_ticks), int(tempo.ticks[-1]), int(score.onset_ticks.max(initial=0))) + score.resolution
    ticks = np.append(tempo.ticks, end)
    seconds = np.concatenate([[0.0], np.cumsum(np.diff(ticks) * tempo.us_per_quarter / (score.resolution * 1e6))])
    return BeatTrack(frozen_floats(seconds), frozen_floats(ticks / score.resolution))


def seconds_of(score: Score, ticks: Ints) -> NDArray[np.float64]:
    """Times of ticks of a score by its tempo map, in seconds from tick 0."""
    return beats_of_tempo_map(score).seconds_at(ticks / score.resolution)


def tapped_beats(score: Score, part_name: str, beat_quarters: Fraction = Fraction(1)) -> tuple[Score, BeatTrack]:
    """Take the part with the tapped beat out of a score.

    Args:
        score: a performance with its taps.
        part_name: the part of the taps; each onset is a beat, whatever its pitch.
        beat_quarters: how long a beat is.

    Returns:
        The score without that part, and the beats.

    Raises:
        UsageError: there is no such part, or it holds too few taps.
    """
    names = [part.name for part in score.parts]
    if part_name not in names:
        near = [name for name in names if name.lower() == part_name.lower()]
        hint = f"the parts are {', '.join(names)}" if names else "the file has no parts"
        hint = f"did you mean {near[0]}?" if near else hint
        raise UsageError(f"no part {part_name!r} to take beats from", where=score.file, hint=hint)
    tapped = score.part == names.index(part_name)
    seconds = seconds_of(score, frozen_ints(np.unique(score.onset_ticks[tapped])))
    try:
        beats = BeatTrack(
            frozen_floats(seconds), frozen_floats(np.arange(len(seconds)) * float(beat_quarters)), TAP_SPREAD_S
        )
    except UsageError as error:
        raise UsageError(error.message, where=f"{score.file}:{part_name}", hint=error.hint) from None
    return score.with_notes(~tapped), beats


def first_line(quarters: float) -> int:
    """The whole quarter to count from for a first onset, with room for one played late from the quarter before."""
    return math.floor(quarters - 0.25)
