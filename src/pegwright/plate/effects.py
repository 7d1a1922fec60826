"""How much each tolerance of a plate file makes notes early or late, as coefficients of independent draws.

The error of a note is the sum over all sources of what that source's draws come to at its place. A hole, a pin and a
reader are off by themselves, and are judged by their size. Plates and the wheel shift many notes alike, and are judged
by the change from one note to the next: of a plate that stands off its place nothing is noticed but at its seams.

On dowels a plate grows from its first dowel, or from its middle without one. Plates edge to edge grow from the leading
end, and push those after them, from the datum plate on round the turn.
"""

from __future__ import annotations

import math
from enum import Enum, auto

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from pegwright.columns import Floats, Ints, frozen_floats
from pegwright.facts import speed_at
from pegwright.frozen import frozen
from pegwright.making import Holding, HoleKind, PlateFile, Source, Spread, Tolerance
from pegwright.plate.tolerance import DIVISORS
from pegwright.wheel import Wheel


@frozen(eq=False)
class NotePlaces:
    """Notes, or steps in their place; columns of shape (n,).

    Args:
        plate: on which each is, from 0.
        along_mm: along the rim from the plate's first step.
        channel: index into `Wheel.channels`.
        beside: the note whose time each is judged against: the nearest other of its part, itself where there is none.
        unheard_ms, slight_ms: the maximum error that goes unheard, and that is no more than slight.
    """

    plate: Ints
    along_mm: Floats
    channel: Ints
    beside: Ints
    unheard_ms: Floats
    slight_ms: Floats

    @property
    def count(self) -> int:
        """Notes in all."""
        return len(self.plate)


class Draw(Enum):
    """What is drawn anew: for each note, for each column of coefficients, or one phase for two columns."""

    NOTE = auto()
    COLUMN = auto()
    PHASE = auto()


@frozen(eq=False)
class Effect:
    """What one tolerance does to every note, in ms at a tempo.

    Args:
        tolerance: whose effect it is.
        draw: what is drawn.
        size_ms: shape (n, draws): by how much a draw of 1, the half-width, makes each note late.
        judged_ms: likewise, of the error by which it is judged.
    """

    tolerance: Tolerance
    draw: Draw
    size_ms: NDArray[np.float64]
    judged_ms: NDArray[np.float64]

    def greatest_ms(self, part_ms: NDArray[np.float64]) -> Floats:
        """The greatest error of each note, of `size_ms` or `judged_ms`."""
        if self.draw is Draw.PHASE:
            return frozen_floats(np.hypot(part_ms[:, 0], part_ms[:, 1]))
        return frozen_floats(np.abs(part_ms).sum(axis=1))

    def variance(self, part_ms: NDArray[np.float64]) -> Floats:
        """The variance of the error of each note, of `size_ms` or `judged_ms`."""
        return frozen_floats(np.square(part_ms).sum(axis=1) / DIVISORS[self.tolerance.spread] ** 2)

    def draws(self, generator: Generator, turns: int) -> NDArray[np.float64]:
        """Shape (turns, draws): what each draw of each turn comes to, from -1 to 1 but for a normal distribution.

        Args:
            generator: of the draws.
            turns: that are simulated.
        """
        if self.draw is Draw.PHASE:
            phase = generator.uniform(0, 2 * math.pi, (turns, 1))
            return np.hstack([np.cos(phase), np.sin(phase)])
        shape = (turns, len(self.size_ms) if self.draw is Draw.NOTE else self.size_ms.shape[1])
        match self.tolerance.spread:
            case Spread.NORMAL:
                return generator.standard_normal(shape) / DIVISORS[Spread.NORMAL]
            case Spread.ARCSINE:
                return np.sin(generator.uniform(0, 2 * math.pi, shape))
        return generator.uniform(-1, 1, shape)

    def errors_ms(self, draws: NDArray[np.float64], part_ms: NDArray[np.float64]) -> NDArray[np.float64]:
        """Shape (turns, n): the error of each note in each turn, of `size_ms` or `judged_ms`."""
        if self.draw is Draw.NOTE:
            return draws * part_ms[:, 0]
        return draws @ part_ms.T


def effects_of(plate: PlateFile, wheel: Wheel, places: NotePlaces, tempo: float) -> tuple[Effect, ...]:
    """The effect of every tolerance of a plate file.

    Args:
        plate: the plate file.
        wheel: that it names, with every length known.
        places: of the notes.
        tempo: in quarter notes a minute.
    """
    coefficients = _Coefficients(plate, wheel, places, tempo)
    effects = []
    for tolerance in plate.tolerances:
        draw, size_ms = coefficients.of(tolerance)
        shared = tolerance.source not in {Source.HOLE, Source.PIN_LEAN, Source.READER}
        judged_ms = size_ms - size_ms[places.beside] if shared else size_ms
        effects.append(Effect(tolerance, draw, size_ms, judged_ms))
    return tuple(effects)


@frozen(eq=False)
class _Coefficients:
    """What the coefficients of every source are computed from."""

    plate: PlateFile
    wheel: Wheel
    places: NotePlaces
    tempo: float

    def of(self, tolerance: Tolerance) -> tuple[Draw, NDArray[np.float64]]:
        """How a tolerance is drawn, and its coefficients in ms, shape (n, draws)."""
        places = self.places
        turn_ms = 1000 * speed_at(self.wheel, self.tempo).turn_s
        half_width, lengths_mm = tolerance.half_width, np.ones((places.count, 1))
        draw = Draw.COLUMN
        match tolerance.source:
            case Source.HOLE | Source.PIN_LEAN:
                draw = Draw.NOTE
            case Source.READER:
                lengths_mm = _one_hot(places.channel, len(self.wheel.channels))
            case Source.REGISTER:
                lengths_mm = _one_hot(places.plate, self.wheel.plate_count)
            case Source.SEAM:
                lengths_mm = self._seams()
            case Source.LENGTH:
                lengths_mm = self._growth()
            case Source.K | Source.HEAT:
                lengths_mm = self._growth().sum(axis=1, keepdims=True) * self._plate_mm_each(tolerance.source)
            case Source.RUN_OUT:
                draw, lengths_mm = Draw.PHASE, self._waves(tolerance.cycles)
            case Source.SPEED:  # a share d of the speed, to and fro, is d T / (2 pi) of time for each cycle
                swing_ms = half_width * turn_ms / (2 * math.pi * tolerance.cycles)
                return Draw.PHASE, self._waves(tolerance.cycles) * swing_ms
        return draw, lengths_mm * half_width * speed_at(self.wheel, self.tempo).ms_per_mm

    def _plate_mm_each(self, source: Source) -> float:
        """By how much a plate grows for a `k` that is 1 more, or for a kelvin.

        Source: a flat length s R_n / R, with R_n = R - (1 - k) t; linear expansion, (a_plate - a_rim) L dT.
        """
        layer = next((each for each in self.plate.layers if each.pin_holes), self.plate.layers[0])
        if source is Source.K:
            return self.wheel.plate_mm * layer.thickness_mm / self.wheel.geometry.radius_mm
        held = self.plate.held
        rim = (held.rim.expansion_per_k if held and held.rim else None) or 0.0
        return ((layer.material.expansion_per_k or 0.0) - rim) * self.wheel.plate_mm

    @property
    def _butted(self) -> bool:
        return self.plate.held is not None and self.plate.held.how is Holding.BUTTED

    def _before(self) -> NDArray[np.float64]:
        """Shape (n, plates): 1 where a plate, and the seam after it, lies between the datum plate and a note's."""
        count, datum = self.wheel.plate_count, self.plate.held.datum if self.plate.held else 0
        from_datum = (self.places.plate - datum) % count
        return ((np.arange(count)[None] - datum) % count < from_datum[:, None]).astype(np.float64)

    def _seams(self) -> NDArray[np.float64]:
        """Of dowelled plates each stands off by itself; of butted ones a seam shifts all plates after it."""
        return self._before() if self._butted else _one_hot(self.places.plate, self.wheel.plate_count)

    def _growth(self) -> NDArray[np.float64]:
        """Shape (n, plates): how far a note moves along the rim where a plate grows by 1."""
        own = _one_hot(self.places.plate, self.wheel.plate_count)
        share = self.places.along_mm / self.wheel.plate_mm
        if self._butted:
            return self._before() + own * share[:, None]
        dowels = [each.along_mm for each in self.plate.fixings if each.kind is HoleKind.DOWEL]
        fixed = dowels[0] / self.wheel.plate_mm if dowels else 0.5
        return own * (share - fixed)[:, None]

    def _waves(self, cycles: int) -> NDArray[np.float64]:
        """Shape (n, 2): the sine and the cosine of each note's angle, times the cycles of a turn."""
        turn_mm = self.wheel.plate_mm * self.wheel.plate_count
        angle = 2 * math.pi * cycles * (self.places.plate * self.wheel.plate_mm + self.places.along_mm) / turn_mm
        return np.column_stack([np.sin(angle), np.cos(angle)])


def _one_hot(numbers: Ints, count: int) -> NDArray[np.float64]:
    """Shape (n, count): 1 in the column that each number names."""
    columns: NDArray[np.float64] = (np.arange(count)[None] == numbers[:, None]).astype(np.float64)
    return columns
