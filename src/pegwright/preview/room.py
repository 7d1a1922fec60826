"""A small room with wooden walls: a few early reflections and a short, diffuse tail, the same on every run.

Reflections and decay times were chosen for a room that suits such an instrument; no source.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Floats
from pegwright.preview.modal import RATE_HZ, Burst, noise

TAIL_S = 1.0  # the maximum length of the reverberation
_SAME_SIDE = ((0.0113, 0.09), (0.0172, -0.07), (0.0239, 0.06), (0.0341, -0.045), (0.0437, 0.03))  # seconds, level
_OTHER_SIDE = ((0.0137, 0.08), (0.0198, 0.06), (0.0281, -0.05), (0.0379, 0.035), (0.0491, -0.025))
_TAIL_AFTER_S = 0.021
_TAIL = (Burst(90, 700, 0.0009, 0.95), Burst(700, 2800, 0.00105, 0.8), Burst(2800, 9000, 0.0008, 0.45))
_WOOD = np.array([0.3, 0.4, 0.2, 0.1])  # the reflection of a click by a wall: it attenuates high frequencies
_LOWEST_HZ = 18.0  # below this the room does not respond, and the recording has no constant part
_BLOCK = 2**17


def add_room(samples: Floats) -> None:
    """Put samples of shape (2, n), left and right, into the room, in place: the samples and its response.

    The samples are processed block by block; the response to each block continues into the next.
    """
    spectra = _response()
    tail = int(TAIL_S * RATE_HZ)
    carried = np.zeros((2, tail))
    for begin in range(0, samples.shape[1], _BLOCK - tail):
        block = samples[:, begin : begin + _BLOCK - tail]
        spectrum = np.fft.rfft(block, _BLOCK)
        response = np.fft.irfft(np.einsum("oik,ik->ok", spectra, spectrum), _BLOCK)
        response[:, :tail] += carried
        carried = response[:, block.shape[1] : block.shape[1] + tail]
        block[:] = response[:, : block.shape[1]]


@lru_cache(maxsize=1)
def _response() -> NDArray[np.complex128]:
    """Spectra of what reaches each ear from each side, shape (2, 2, k)."""
    count = int(TAIL_S * RATE_HZ)
    answer = np.zeros((2, 2, count))
    begin = int(_TAIL_AFTER_S * RATE_HZ)
    for ear in range(2):
        answer[ear, ear, 0] = 1.0
        for side in range(2):
            for time_s, level in _SAME_SIDE if ear == side else _OTHER_SIDE:
                at = int(time_s * RATE_HZ) + 7 * ear  # the two ears differ slightly
                answer[ear, side, at : at + 4] += level * _WOOD
            for number, band in enumerate(_TAIL):
                length = min(int(band.t60_s * RATE_HZ), count - begin)
                shared, own = (noise(band, length, seed + number) for seed in (1000, 1010 + 20 * ear + 10 * side))
                answer[ear, side, begin : begin + length] += 0.75 * shared + 0.66 * own  # wide, and centred
    rumble = 2 * np.pi * _LOWEST_HZ / RATE_HZ
    rumble_free = -rumble * np.exp(-rumble * np.arange(count))
    rumble_free[0] += 1.0
    both = np.fft.irfft(np.fft.rfft(answer, _BLOCK) * np.fft.rfft(rumble_free, _BLOCK), _BLOCK)
    return np.fft.rfft(both[..., :count], _BLOCK)
