"""The voice of a channel that holds: a wooden pipe with a soft onset that sounds for as long as its pins hold it.

Levels and onset times were chosen by measuring; they are common practice, no source.
"""

from __future__ import annotations

import numpy as np

from pegwright.columns import Floats
from pegwright.preview.modal import RATE_HZ
from pegwright.preview.pitched import pitch_hz

SPEECH_S, SILENCE_S = 0.03, 0.06  # from its onset to full level, and from its release to silence
_LEVELS = (1.0, 0.42, 0.26, 0.1, 0.06, 0.03)  # of the partials of an open pipe of wood
_HIGHEST_HZ = 0.45 * RATE_HZ


def pipe(pitch_midi: int, seconds: float) -> Floats:
    """The samples of a pipe that is held for `seconds`, shape (n,) at `RATE_HZ`, 1 being full level.

    Source: a blown pipe's steady tone is strictly harmonic: Fletcher and Rossing, The Physics of Musical Instruments,
        chapter 16 (from memory).
    """
    time_s = np.arange(round((seconds + SILENCE_S) * RATE_HZ)) / RATE_HZ
    tone = np.zeros(len(time_s))
    for number, level in enumerate(_LEVELS, 1):
        if number * pitch_hz(pitch_midi) < _HIGHEST_HZ:
            tone += level * np.sin(2 * np.pi * number * pitch_hz(pitch_midi) * time_s)
    speaks = np.sin(np.clip(time_s / SPEECH_S, 0.0, 1.0) * np.pi / 2) ** 2
    stays = np.cos(np.clip((time_s - seconds) / SILENCE_S, 0.0, 1.0) * np.pi / 2) ** 2
    samples: Floats = tone * speaks * stays / sum(_LEVELS)
    return samples
