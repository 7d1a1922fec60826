"""Voices with a pitch: chime bars struck with a wooden hammer, and plucked strings.

Levels, decay times and the place where a bar is struck were chosen by measuring and listening to spectra; they are
common practice, no source.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats, frozen_floats
from pegwright.preview.modal import Burst, Voice, modes

LOWEST_BAR_MIDI = 60  # from middle C upwards a channel sounds as a bar, below as a string

# Roots of cosh(x) cos(x) = 1, the free-free beam of Euler and Bernoulli; frequencies go with their squares, so that the
# partials stand as 1 : 2.757 : 5.404 : 8.933. A test solves the equation.
BAR_ROOTS = frozen_floats([4.730040745, 7.853204624, 10.995607838, 14.137165491])

_STRUCK_AT = 0.44  # of the bar's length: near the middle, where the second partial has a node
_CONTACT_S = 0.00028  # how long the hammer touches, at a medium velocity
_TUBE = 1.25  # how much a resonator under the bar favours its lowest partial
_TWIN, _TWIN_LEVEL = 1.0009, 0.22  # a bar on two cords swings in two ways almost in tune: a slow beat
_STRING_PARTIALS = 36
_LASTING = 10  # partials that are still audible when the first plane has decayed
_PLUCKED_AT = 0.19  # of the string's length
_STIFFNESS = 9e-5


def pitch_hz(pitch_midi: int) -> float:
    """Frequency of a MIDI pitch, with A4 (69) at 440 Hz."""
    return float(440.0 * 2.0 ** ((pitch_midi - 69) / 12))


def bar_shape(place: float) -> Floats:
    """How far each mode of a free bar swings at a place from 0 to 1 of its length, shape (4,), up to one factor.

    Source: the mode shapes of the free-free beam, cosh bx + cos bx - s (sinh bx + sin bx) with
        s = (cosh b - cos b) / (sinh b - sin b), as in Fletcher and Rossing, chapter 2 (from memory).
    """
    along = BAR_ROOTS * place
    ratio = (np.cosh(BAR_ROOTS) - np.cos(BAR_ROOTS)) / (np.sinh(BAR_ROOTS) - np.sin(BAR_ROOTS))
    return frozen_floats(np.cosh(along) + np.cos(along) - ratio * (np.sinh(along) + np.sin(along)))


def bar(pitch_midi: int, velocity: int) -> Voice:
    """A chime bar over a resonator, struck a little beside its middle."""
    first_hz = pitch_hz(pitch_midi)
    hz = first_hz * (BAR_ROOTS / BAR_ROOTS[0]) ** 2
    level = np.abs(bar_shape(_STRUCK_AT)) * _below(hz, _contact_s(_CONTACT_S, velocity))
    level[0] *= _TUBE
    longest_s = 2.3 * (523.25 / first_hz) ** 0.55
    t60_s = longest_s * (first_hz / hz) ** 1.15
    knock = Burst(900.0, 3800.0, 0.03 * _hardness(velocity), 0.03)
    level = level / level[0]
    swings = modes(np.append(hz, hz[0] * _TWIN), np.append(level, _TWIN_LEVEL), np.append(t60_s, t60_s[0]))
    return Voice(swings, (knock,))


def string(pitch_midi: int, velocity: int) -> Voice:
    """A gut-like string over a body, plucked with something soft; each partial swings in two planes.

    Source: plucked at a share p of its length, partial n of an ideal string moves the bridge in proportion to
        sin(n pi p) / n; a stiff string's partials stand at n f sqrt(1 + B n n): Fletcher and Rossing, chapter 2
        (from memory).
    """
    number = np.arange(1, _STRING_PARTIALS + 1)
    stretch = np.sqrt((1 + _STIFFNESS * number**2) / (1 + _STIFFNESS))
    hz = pitch_hz(pitch_midi) * number * stretch
    softened = _below(hz, _contact_s(0.00055, velocity))
    level = np.abs(np.sin(number * np.pi * _PLUCKED_AT)) / number * softened * _body(hz)
    t60_s = 1.9 * (130.8 / pitch_hz(pitch_midi)) ** 0.35 / (1 + 0.16 * (number - 1) + 0.006 * (number - 1) ** 2)
    lasting = slice(_LASTING)
    swings = modes(
        np.append(hz, hz[lasting] * 1.0003),
        np.append(0.72 * level, 0.28 * level[lasting]),
        np.append(t60_s, 1.7 * t60_s[lasting]),
    )
    pluck = Burst(500.0, 2600.0, 0.025 * _hardness(velocity), 0.025)
    return Voice(swings, (pluck,))


def _hardness(velocity: int) -> float:
    """1 at a medium velocity of 80, more for harder blows."""
    return velocity / 80


def _contact_s(medium_s: float, velocity: int) -> float:
    """A harder blow is a shorter one, and so a brighter one.

    Source: for a sphere on a plate the time goes with velocity to the power of -1/5 (Hertz, from memory); felt and
        leather, which get stiffer under pressure, change it more.
    """
    return float(medium_s * _hardness(velocity) ** -0.6)


def _below(hz: Floats, contact_s: float) -> Floats:
    """How much of each frequency is in a push of that length: the envelope of the spectrum of half a sine."""
    return 1 / (1 + (2 * hz * contact_s) ** 2)


def _body(hz: Floats) -> Floats:
    """The radiation of a wooden body at each frequency: its air, its top, and a decrease above."""
    air, top = (1 / (1 + ((hz / middle - middle / hz) * 2.2) ** 2) for middle in (108.0, 210.0))
    return (0.55 + 0.5 * air + 0.5 * top) / np.sqrt(1 + (hz / 2600.0) ** 2)
