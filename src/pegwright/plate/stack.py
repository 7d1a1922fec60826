"""Tolerances to milliseconds: the worst case, the root sum square and a simulation of turns.

Every turn that is simulated draws the whole wheel anew. The simulation ends when the judged error within which 95 % of
all notes lie is steady to 1 %, or after a maximum number of turns.

Sources:
    JCGM 100:2008 (GUM), 5.1.2 (clauses from memory): uncertainties of independent sources add as squares.
    JCGM 101:2008 (GUM Supplement 1), 7.9: trials go on until twice the standard deviation of the mean of the results
    of batches is below the tolerance that was asked for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from pegwright.columns import Floats, frozen_floats
from pegwright.frozen import frozen
from pegwright.making import PlateFile, Tolerance
from pegwright.plate.effects import Effect, NotePlaces, effects_of
from pegwright.wheel import Wheel

MAX_TURNS = 100_000
STEADY = 0.01
COVERED = 0.95
NEARLY_NONE = 0.01
BATCHES = 10  # that a simulation has at least
BATCH_TURNS = 2_000  # of a batch at most
BATCH_VALUES = 100_000  # notes of all turns of a batch, at most; it keeps the memory small
_BINS = 20_000  # of the errors, from 0 to the worst case; those beyond are in the last


@frozen()
class SourceShare:
    """What one tolerance comes to, in ms.

    Args:
        tolerance: whose it is.
        greatest_ms, std_ms: the greatest error of any note, and the standard uncertainty over all notes.
        judged_greatest_ms, judged_std_ms: likewise, of the error by which notes are judged.
        halved_95_ms: the judged error within which 95 % of all notes lie where it is halved.
        halved_noticed: the share of notes that are slight or audible then.
    """

    tolerance: Tolerance
    greatest_ms: float
    std_ms: float
    judged_greatest_ms: float
    judged_std_ms: float
    halved_95_ms: float
    halved_noticed: float


@frozen()
class Total:
    """All tolerances together, in ms.

    Args:
        worst_ms: where everything is off by its half-width, in the worst way, for the note for which it is greatest.
        rss_ms: the standard uncertainty by the root sum square, over all notes.
        simulated_ms: the same by the simulation.
        within_95_ms: within which 95 % of the notes were in the simulation.
    """

    worst_ms: float
    rss_ms: float
    simulated_ms: float
    within_95_ms: float


@frozen(eq=False)
class Stack:
    """The tolerances of a plate file, in ms at a tempo.

    Args:
        places: of the notes.
        tempo: in quarter notes a minute.
        shares: of each tolerance.
        size: of a note's place, against where it was meant.
        judged: of the error by which notes are judged.
        unheard, slight, audible: shares of the notes of all turns.
        turns: that were simulated.
        steady: whether the 95 % value of `judged` became steady to 1 %.
        worst_ms, double_ms: shape (2, n): of size and of the judged error, for each note: its worst case, and twice its
            standard uncertainty.
        example_ms: shape (2, n): both for the first turn that was simulated.
    """

    places: NotePlaces
    tempo: float
    shares: tuple[SourceShare, ...]
    size: Total
    judged: Total
    unheard: float
    slight: float
    audible: float
    turns: int
    steady: bool
    worst_ms: NDArray[np.float64]
    double_ms: NDArray[np.float64]
    example_ms: NDArray[np.float64]

    @property
    def best(self) -> SourceShare:
        """The tolerance that helps most where it is halved.

        By the share of notes that are slight or audible; by the 95 % value where nearly none is.
        """
        if self.slight + self.audible >= NEARLY_NONE:
            return min(self.shares, key=lambda share: share.halved_noticed)
        return min(self.shares, key=lambda share: share.halved_95_ms)


def stack_of(
    plate: PlateFile,
    wheel: Wheel,
    places: NotePlaces,
    tempo: float,
    generator: Generator,
    max_turns: int = MAX_TURNS,
) -> Stack:
    """What the tolerances of a plate file come to.

    Args:
        plate: with one tolerance at least.
        wheel: that it names, with every length known.
        places: of at least one note.
        tempo: in quarter notes a minute.
        generator: of the draws.
        max_turns: that are simulated.
    """
    effects = effects_of(plate, wheel, places, tempo)
    parts = [[each.size_ms for each in effects], [each.judged_ms for each in effects]]
    worst_ms = np.array([_worst(effects, part) for part in parts])
    variance = np.array([_variance(effects, part) for part in parts])
    trials = _Trials(effects, places, worst_ms.max(axis=1))
    steady = False
    while trials.turns < max_turns and not steady:
        trials.batch(generator, max_turns)
        steady = trials.is_steady
    totals = [
        Total(
            float(worst_ms[part].max()),
            float(np.sqrt(variance[part].mean())),
            float(np.sqrt(trials.squares[part] / trials.values)),
            trials.covered_ms(part),
        )
        for part in range(2)
    ]
    noticed = trials.noticed / trials.values
    return Stack(
        places=places,
        tempo=tempo,
        shares=tuple(trials.share(number) for number in range(len(effects))),
        size=totals[0],
        judged=totals[1],
        unheard=float(1 - noticed[0]),
        slight=float(noticed[0] - noticed[1]),
        audible=float(noticed[1]),
        turns=trials.turns,
        steady=steady,
        worst_ms=worst_ms,
        double_ms=2 * np.sqrt(variance),
        example_ms=trials.example_ms,
    )


def _worst(effects: Sequence[Effect], parts: Sequence[NDArray[np.float64]]) -> Floats:
    each = [effect.greatest_ms(part) for effect, part in zip(effects, parts, strict=True)]
    return frozen_floats(np.sum(each, axis=0))


def _variance(effects: Sequence[Effect], parts: Sequence[NDArray[np.float64]]) -> Floats:
    each = [effect.variance(part) for effect, part in zip(effects, parts, strict=True)]
    return frozen_floats(np.sum(each, axis=0))


class _Trials:
    """The turns that were simulated so far.

    Args:
        effects: of the tolerances.
        places: of the notes.
        worst_ms: the greatest worst case of size and of the judged error.
    """

    def __init__(self, effects: Sequence[Effect], places: NotePlaces, worst_ms: Floats) -> None:
        self.effects, self.places = effects, places
        self.turns = self.values = self.batches = 0
        self.squares = np.zeros(2)
        self.noticed = np.zeros(2, dtype=np.int64)  # above the limit of unheard; above that of slight
        self.example_ms = np.zeros((2, places.count))
        self._scale = [_BINS / (worst or 1.0) for worst in worst_ms.tolist()]
        self._size = np.zeros(_BINS + 1, dtype=np.int64)
        self._judged = np.zeros((BATCHES, _BINS + 1), dtype=np.int64)
        self._halved = np.zeros((len(effects), _BINS + 1), dtype=np.int64)
        self._halved_noticed = np.zeros(len(effects), dtype=np.int64)

    def batch(self, generator: Generator, max_turns: int) -> None:
        """Simulate some more turns.

        Args:
            generator: of the draws.
            max_turns: of all batches together.
        """
        turns = max(1, min(BATCH_TURNS, BATCH_VALUES // self.places.count, max_turns - self.turns))
        shape = (turns, self.places.count)
        size_ms, judged_ms, each_ms = np.zeros(shape), np.zeros(shape), []
        for effect in self.effects:
            draws = effect.draws(generator, turns)
            size_ms += effect.errors_ms(draws, effect.size_ms)
            each_ms.append(effect.errors_ms(draws, effect.judged_ms))
            judged_ms += each_ms[-1]
        if not self.batches:
            self.example_ms = np.array([size_ms[0], judged_ms[0]])
        self.squares += [float(np.square(size_ms).sum()), float(np.square(judged_ms).sum())]
        self._size += self._binned(np.abs(size_ms), 0)
        absolute_ms = np.abs(judged_ms)
        self._judged[self.batches % BATCHES] += self._binned(absolute_ms, 1)
        limits_ms = (self.places.unheard_ms, self.places.slight_ms)
        self.noticed += [int(np.count_nonzero(absolute_ms > limit_ms)) for limit_ms in limits_ms]
        for number, own_ms in enumerate(each_ms):
            absolute_ms = np.abs(judged_ms - own_ms / 2)
            self._halved[number] += self._binned(absolute_ms, 1)
            self._halved_noticed[number] += int(np.count_nonzero(absolute_ms > self.places.unheard_ms))
        self.turns, self.values, self.batches = self.turns + turns, self.values + size_ms.size, self.batches + 1

    @property
    def is_steady(self) -> bool:
        """Whether twice the standard uncertainty of the 95 % value is below 1 % of it."""
        if self.batches < BATCHES:
            return False
        values = np.array([self._covered(counts, 1) for counts in self._judged])
        return 2 * float(values.std(ddof=1)) / math.sqrt(BATCHES) <= STEADY * float(values.mean())

    def covered_ms(self, part: int) -> float:
        """Within which 95 % of all notes were, of size (0) or of the judged error (1)."""
        return self._covered(self._judged.sum(axis=0) if part else self._size, part)

    def share(self, number: int) -> SourceShare:
        """What one tolerance comes to."""
        effect = self.effects[number]
        parts = (effect.size_ms, effect.judged_ms)
        greatest_ms = [float(effect.greatest_ms(part).max()) for part in parts]
        std_ms = [float(np.sqrt(effect.variance(part).mean())) for part in parts]
        return SourceShare(
            tolerance=effect.tolerance,
            greatest_ms=greatest_ms[0],
            std_ms=std_ms[0],
            judged_greatest_ms=greatest_ms[1],
            judged_std_ms=std_ms[1],
            halved_95_ms=self._covered(self._halved[number], 1),
            halved_noticed=float(self._halved_noticed[number] / self.values),
        )

    def _binned(self, absolute_ms: NDArray[np.float64], part: int) -> NDArray[np.int64]:
        """How many errors fall into each bin."""
        bins = np.minimum((absolute_ms * self._scale[part]).astype(np.int64), _BINS)
        return np.bincount(bins.ravel(), minlength=_BINS + 1)

    def _covered(self, counts: NDArray[np.int64], part: int) -> float:
        """The upper end of the bin with which 95 % are reached; 0 where no error is above 0."""
        place = int(np.searchsorted(np.cumsum(counts), COVERED * counts.sum()))
        return (place + 1) / self._scale[part] if place else 0.0
