"""Levels: the true peak of samples, and their conversion to 16 bits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats, frozen_floats
from pegwright.preview.modal import white

# Four times oversampling by a filter of 48 coefficients in four phases. Source: Recommendation ITU-R BS.1770-5 (2023),
# Annex 2 (as reproduced in public code; a test compares it with another oversampling).
_PHASE_0 = (
    *(0.0017089843750, 0.0109863281250, -0.0196533203125, 0.0332031250000, -0.0594482421875, 0.1373291015625),
    *(0.9721679687500, -0.1022949218750, 0.0476074218750, -0.0266113281250, 0.0148925781250, -0.0083007812500),
)
_PHASE_1 = (
    *(-0.0291748046875, 0.0292968750000, -0.0517578125000, 0.0891113281250, -0.1665039062500, 0.4650878906250),
    *(0.7797851562500, -0.2003173828125, 0.1015625000000, -0.0582275390625, 0.0330810546875, -0.0189208984375),
)
_PHASES = tuple(frozen_floats(taps) for taps in (_PHASE_0, _PHASE_1, _PHASE_1[::-1], _PHASE_0[::-1]))
_MAX_GAIN = max(float(np.abs(taps).sum()) for taps in _PHASES)
_BLOCK = 2048
_FULL_SCALE = 32_767
_DITHER_SEED = 2024


def true_peak(samples: Floats) -> float:
    """The maximum magnitude between and at the samples of each row of shape (channels, n); 1 is full scale.

    Blocks are examined from the loudest down, until no other can contain it: no phase of the filter amplifies by more
    than the sum of its coefficients' magnitudes.
    """
    if not samples.size:
        return 0.0
    taps = len(_PHASE_0)
    peak = float(max(samples.max(), -samples.min()))
    for row in samples:
        padded = np.pad(row, (taps, taps + (-len(row)) % _BLOCK))
        blocks = np.lib.stride_tricks.sliding_window_view(padded, _BLOCK + 2 * taps)[::_BLOCK]
        loudest = np.maximum(blocks.max(axis=1), -blocks.min(axis=1))  # np.abs would copy all of them
        for number in np.argsort(-loudest):
            if loudest[number] * _MAX_GAIN <= peak:
                break
            peak = max(peak, *(float(np.abs(np.convolve(blocks[number], phase, "valid")).max()) for phase in _PHASES))
    return peak


def decibels(magnitude: float) -> float:
    """A magnitude in dB, with 1 as 0 dB."""
    return 20 * float(np.log10(max(magnitude, 1e-9)))


def to_16_bits(samples: Floats) -> NDArray[np.int16]:
    """Samples of shape (2, n) as integers of shape (n, 2), dithered, so that a tail fades into uniform noise.

    Source: triangular dither of two steps' width makes the rounding error's mean and power independent of the signal:
        S. P. Lipshitz, R. A. Wannamaker, J. Vanderkooy, "Quantization and Dither: A Theoretical Survey", JAES 40(5),
        1992 (from memory).
    """
    levels = np.empty((samples.shape[1], 2), dtype=np.int16)
    for begin in range(0, len(levels), 2**18):
        block = samples[:, begin : begin + 2**18].T * _FULL_SCALE
        seed = _DITHER_SEED + begin
        dither = (white(block.size, seed) - white(block.size, seed + 1)).reshape(block.shape) / 2
        levels[begin : begin + len(block)] = np.clip(np.rint(block + dither), -_FULL_SCALE - 1, _FULL_SCALE)
    return levels
