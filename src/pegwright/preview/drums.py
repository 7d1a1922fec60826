"""Voices of the General MIDI percussion keys: skins, blocks, metal and shakers.

Frequencies, levels and decay times are common practice, no source, unless a source is given beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from pegwright.columns import frozen_floats
from pegwright.preview.modal import Burst, Modes, Voice, modes

# Zeros of the Bessel functions J0, J1, J2, J0, J3, J1 over the first: modes (0,1) (1,1) (2,1) (0,2) (3,1) (1,2) of an
# ideal circular membrane. A test computes them.
SKIN_RATIOS = frozen_floats([1.0, 1.593340506, 2.135548787, 2.295417267, 2.653066405, 2.917295455])
_SKIN_LEVELS = (1.0, 0.62, 0.4, 0.22, 0.2, 0.12)

# Partials of a uniform wooden bar. Source: Csound manual, appendix of modal frequency ratios, "uniform wooden bar".
WOOD_RATIOS = (1.0, 2.572, 4.644, 6.984)

_TOMS_HZ = {41: 82.0, 43: 98.0, 45: 118.0, 47: 138.0, 48: 160.0, 50: 185.0}
_HAND_DRUMS_HZ = {60: 330.0, 61: 245.0, 62: 260.0, 63: 235.0, 64: 175.0, 65: 270.0, 66: 205.0, 78: 420.0, 79: 340.0}
_BLOCKS_HZ = {37: 830.0, 75: 2350.0, 76: 980.0, 77: 720.0}
_BELLS_HZ = {56: (562.0, 845.0), 67: (905.0, 1365.0), 68: (680.0, 1020.0), 71: (2350.0,), 72: (2100.0,)}
_CYMBALS_S = {42: 0.09, 44: 0.07, 46: 0.7, 49: 2.2, 51: 1.4, 52: 1.6, 53: 1.3, 55: 0.9, 57: 2.0, 59: 1.3}
_SHAKERS_S = {58: 0.5, 69: 0.09, 70: 0.06, 73: 0.12, 74: 0.3}


def drum(key: int) -> Voice:
    """The voice of a percussion key; keys without one of their own sound as a wooden block."""
    return _VOICES[key]() if key in _VOICES else _block(600.0)


def _clap() -> Voice:
    """Hands that come together three times."""
    return Voice(modes([], [], []), tuple(Burst(700, 3200, 0.4, 0.09, after_s) for after_s in (0.0, 0.011, 0.021)))


def _shaker(t60_s: float) -> Voice:
    return Voice(modes([], [], []), (Burst(3500, 11_000, 0.55, t60_s),))


def _bass_drum(first_hz: float) -> Voice:
    """A big skin, struck in the middle with a soft beater, so that its circular modes dominate."""
    level = [1.15, 0.4, 0.2, 0.5, 0.1, 0.06]
    t60_s = 0.75 / SKIN_RATIOS**1.1
    return Voice(modes(first_hz * SKIN_RATIOS, level, t60_s), (Burst(120, 900, 0.12, 0.05),))


def _skin(first_hz: float) -> Voice:
    t60_s = 0.6 * (160 / first_hz) ** 0.4 / SKIN_RATIOS**0.8
    return Voice(modes(first_hz * SKIN_RATIOS, _SKIN_LEVELS, t60_s), (Burst(900, 4000, 0.1, 0.03),))


def _snare() -> Voice:
    """A small skin, and the wires under it that sound a moment later."""
    t60_s = 0.22 / SKIN_RATIOS**0.5
    wires = Burst(1500, 8500, 0.30, 0.2, 0.001)
    return Voice(modes(186 * SKIN_RATIOS, _SKIN_LEVELS, t60_s), (Burst(500, 5000, 0.3, 0.03), wires))


def _block(first_hz: float) -> Voice:
    t60_s = [0.11, 0.06, 0.035, 0.02]
    hz = [first_hz * ratio for ratio in WOOD_RATIOS]
    return Voice(modes(hz, [1.4, 0.56, 0.28, 0.11], t60_s), (Burst(1200, 5000, 0.15, 0.012),))


def _bell(first_hz: Sequence[float]) -> Voice:
    """Two tones of a bent sheet that beat against each other, with some of its upper ones."""
    hz = [tone * ratio for tone in first_hz for ratio in (1.0, 2.71, 4.4)]
    level = [part for _ in first_hz for part in (0.6, 0.15, 0.08)]
    return Voice(modes(hz, level, [0.45, 0.25, 0.12] * len(first_hz)), (Burst(2000, 7000, 0.04, 0.015),))


def _metal(low_hz: float, high_hz: float, count: int, t60_s: float) -> Modes:
    """Many inharmonic tones: spread evenly in octaves, each shifted by its multiple of the golden ratio."""
    number = np.arange(count)
    hz = low_hz * (high_hz / low_hz) ** ((number + number * 0.6180339887 % 1.0 - 0.5).clip(0) / count)
    return modes(hz, 0.55 * (hz / low_hz) ** -0.35 / np.sqrt(count), t60_s * (low_hz / hz) ** 0.5)


def _cymbal(t60_s: float) -> Voice:
    return Voice(_metal(3100, 14_500, 14, t60_s), (Burst(5500, 13_000, 0.16, 0.75 * t60_s),))


def _tambourine() -> Voice:
    """Jingles that come together three times."""
    jingles = tuple(
        Burst(5200, 12_500, level, 0.2, after_s) for level, after_s in ((0.3, 0.0), (0.22, 0.014), (0.15, 0.03))
    )
    return Voice(_metal(4300, 11_500, 9, 0.25), (*jingles, Burst(300, 1500, 0.15, 0.03)))


def _triangle(t60_s: float) -> Voice:
    """A bent steel rod: few low tones, many high ones."""
    hz = [1180.0, 2520.0, 3310.0, 4630.0, 5970.0, 7420.0, 9120.0, 11_250.0, 13_400.0]
    level = [0.02, 0.09, 0.13, 0.2, 0.17, 0.13, 0.1, 0.06, 0.04]
    return Voice(modes(hz, level, [t60_s * (4000 / tone) ** 0.5 for tone in hz]), (Burst(6000, 13_000, 0.04, 0.02),))


_VOICES: dict[int, Callable[[], Voice]] = {
    35: partial(_bass_drum, 47.0),
    36: partial(_bass_drum, 54.0),
    38: _snare,
    39: _clap,
    40: _snare,
    54: _tambourine,
    80: partial(_triangle, 0.22),
    81: partial(_triangle, 2.0),
    **{key: partial(_skin, hz) for key, hz in (_TOMS_HZ | _HAND_DRUMS_HZ).items()},
    **{key: partial(_block, hz) for key, hz in _BLOCKS_HZ.items()},
    **{key: partial(_bell, hz) for key, hz in _BELLS_HZ.items()},
    **{key: partial(_cymbal, t60_s) for key, t60_s in _CYMBALS_S.items()},
    **{key: partial(_shaker, t60_s) for key, t60_s in _SHAKERS_S.items()},
}
